"""A few of the homes of scripts/bench/remedies.py; the figures of 300 are in fixtures/figures/remedies.md."""

from __future__ import annotations

import pytest

from logger.plan.solver.remedies import Refusal
from scripts.bench.remedies import report, result_of
from tests.support.remedy_houses import optimum, remedies_of, remedy_house

CONTRADICTING = 38_000_067
"""A home in which a reading of the sweep was written down ten times too high."""


@pytest.mark.parametrize("seed", [38_000_002, 38_000_005])
def test_the_set_reaches_the_target_with_the_true_least_effort(seed: int) -> None:
    result = result_of(seed)
    assert result.optimum is not None and result.is_low_enough
    assert result.above_optimum is not None and result.above_optimum <= 1
    assert result.run.found is not None and result.run.found.proven
    known = [predicted for predicted in result.predictions if predicted.spot.is_known]
    assert known and all(predicted.is_near for predicted in known)
    assert "100.0 % (1 of 1)" in "".join(report([result])[:2])


def test_a_cheaper_set_that_may_do_is_tried_and_saves_the_electricians() -> None:
    """38000234: two electricians would be certain; three things in passing do, which only a reading tells."""
    result = result_of(38_000_234)
    assert result.run.chances and result.is_low_enough
    assert result.above_untried is not None and result.above_untried > 1
    assert result.above_optimum is not None and result.above_optimum <= 1


@pytest.mark.long
def test_a_mistaken_reading_that_stays_gives_no_set() -> None:
    result = result_of(CONTRADICTING)
    assert result.run.mistake == "ten times" and result.run.contradicted
    assert result.run.found is not None and result.run.found.refusal is Refusal.CONTRADICTORY
    assert result.worst_volts is None and result.predictions == ()


def test_the_true_optimum_is_no_set_of_what_must_stay_on() -> None:
    for seed in range(20):
        house = remedy_house(seed)
        remedies = [remedy for remedy in remedies_of(house) if remedy.takes <= house.keep]
        assert optimum(house, remedies)[1] == pytest.approx(house.volts_without(()).max())
