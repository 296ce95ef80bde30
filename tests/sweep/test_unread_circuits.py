"""Circuits that were read only together with others: signs of the sums are found, sound readings do not contradict."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from logger.metrology.supply import SupplyKey
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.solver.answer import solve_sweep
from logger.sweep.solver.readings import Sweep, sweep_of_sets
from logger.sweep.solver.sweep_fit import DIRECTIONS, fit_sweep

NAMES = ("c0", "c1", "c2", "c3")
EVERY = frozenset(NAMES)
EACH_OFF = [frozenset(), EVERY, *(EVERY - {name} for name in NAMES)]
PAIRS = [frozenset(), EVERY, *(frozenset(pair) for pair in combinations(NAMES, 2))]


def exact_sweep(own: dict[str, complex], live: list[frozenset[str]]) -> Sweep:
    rows = [(on, abs(0.005 + sum(own[name] for name in on)), 0.011) for on in live]
    return sweep_of_sets([(on, float(volts), u_volts) for on, volts, u_volts in rows], NAMES)


def test_one_strong_circuit_against_the_others_is_found_where_each_was_off_alone() -> None:
    own: dict[str, complex] = {"c0": 0.883, "c1": -0.339, "c2": -0.26, "c3": -0.076}
    answer = solve_sweep(exact_sweep(own, EACH_OFF), "split")
    assert answer.consistent and answer.suspects == ()
    for effect in answer.circuits:
        assert effect.volts == pytest.approx(abs(own[effect.name]), abs=0.03)


@pytest.mark.parametrize("supply", ["split", "single", "three"])
@pytest.mark.parametrize("live", [EACH_OFF, PAIRS], ids=["each off", "pairs"])
def test_exact_readings_of_random_houses_do_not_contradict(
    supply: SupplyKey, live: list[frozenset[str]]
) -> None:
    random = np.random.default_rng(11)
    for _ in range(8):
        legs = random.choice(DIRECTIONS[supply], len(NAMES))
        sizes = 10 ** random.uniform(-1.3, 0.5, len(NAMES))
        own = dict(zip(NAMES, (sizes * legs).tolist(), strict=True))
        misfit = fit_sweep(exact_sweep(own, live), supply).misfit()
        assert not misfit.contradicts, (own, misfit)


def test_a_decimal_place_is_still_noticed_where_each_was_off_alone() -> None:
    own: dict[str, complex] = {"c0": 0.883, "c1": 0.339, "c2": 0.26, "c3": 0.076}
    sweep = exact_sweep(own, EACH_OFF)
    rows = [(row.on, row.volts * (10 if row.on == EVERY else 1), row.u_volts) for row in sweep.rows]
    answer = solve_sweep(sweep_of_sets(rows, NAMES), "split")
    assert not answer.consistent and 2 in answer.suspects


def test_a_reading_far_from_the_fit_widens_what_is_fitted() -> None:
    """Each circuit alone and off alone; one reading alone is 60 mV off."""
    live = [frozenset(), *(frozenset({name}) for name in NAMES), EVERY, *(EVERY - {name} for name in NAMES)]
    own: dict[str, complex] = {"c0": 0.8, "c1": 0.35, "c2": 0.26, "c3": 0.15}
    sound = exact_sweep(own, live)
    rows = [(r.on, r.volts - (0.06 if r.on == {"c0"} else 0.0), r.u_volts) for r in sound.rows]
    before = solve_sweep(sound, "split").circuits
    after = solve_sweep(sweep_of_sets(rows, NAMES), "split")
    assert after.consistent  # within what the uncertainties of a file may be understated by
    for old, new in zip(before, after.circuits, strict=True):
        assert old.u_volts is not None and new.volts is not None and new.u_volts is not None
        # Where the limits of the readings are the wider ones, they have widened the sound sweep already.
        assert new.u_volts > (1.5 if new.name == "c0" else 1.0) * old.u_volts
        assert abs(new.volts - abs(own[new.name])) < 2 * COVERAGE_FACTOR * new.u_volts
