"""Off, on, off: what is confirmed, and what is not."""

from __future__ import annotations

import random
from statistics import NormalDist

import pytest

from logger.settling.events import Step
from logger.settling.replay import replay
from logger.sweep.confirmation import (
    ConfirmationVerdict,
    SwitchedStep,
    confirmation_hint,
    effect_of,
    effect_text,
)


def on(volts: float, u: float = 0.01) -> SwitchedStep:
    return SwitchedStep(True, volts, u)


def off(volts: float, u: float = 0.01) -> SwitchedStep:
    return SwitchedStep(False, volts, u)


@pytest.mark.parametrize(
    ("steps", "verdict"),
    [
        ([on(0.50), off(-0.51)], ConfirmationVerdict.CONFIRMED),
        ([off(-0.50), on(0.51)], ConfirmationVerdict.CONFIRMED),
        (
            [on(-0.50), off(0.49)],
            ConfirmationVerdict.CONFIRMED,
        ),  # it cancelled something: the value falls when it is on
        ([on(0.50), off(-0.60)], ConfirmationVerdict.CONFIRMED),  # another posture
        ([on(0.50)], ConfirmationVerdict.NOT_CONFIRMED),
        ([on(0.50), on(0.51)], ConfirmationVerdict.NOT_CONFIRMED),
        ([on(0.50), off(-0.10)], ConfirmationVerdict.NOT_CONFIRMED),
        ([on(0.50), off(0.50)], ConfirmationVerdict.NOT_CONFIRMED),  # up, and up again: something else rose
        ([on(0.005), off(0.004)], ConfirmationVerdict.NOT_DISTINGUISHABLE),
        ([on(0.004)], ConfirmationVerdict.NOT_DISTINGUISHABLE),
    ],
)
def test_verdicts(steps: list[SwitchedStep], verdict: ConfirmationVerdict) -> None:
    assert effect_of(steps).verdict is verdict


def test_repeats_lower_the_uncertainty_and_scatter_raises_it() -> None:
    once = effect_of([on(0.03, 0.03), off(-0.03, 0.03)])
    often = effect_of([on(0.03, 0.03), off(-0.03, 0.03)] * 6)
    assert once.verdict is ConfirmationVerdict.NOT_DISTINGUISHABLE
    assert once.significance == pytest.approx(2 * NormalDist().cdf(-(2**0.5)))
    assert often.u_volts == pytest.approx(once.u_volts / 6**0.5)
    assert often.verdict is ConfirmationVerdict.CONFIRMED and often.repeats == 6
    assert often.significance == pytest.approx(2 * NormalDist().cdf(-(12**0.5)))
    wild = effect_of([on(0.9), off(0.7), on(-0.4), off(-0.2), on(-0.5), off(0.3)])
    assert wild.verdict is not ConfirmationVerdict.CONFIRMED and wild.birge_ratio > 5


def test_a_step_that_claims_no_uncertainty_counts_with_what_a_body_repeats_to() -> None:
    assert effect_of([on(0.5, 0.0), off(-0.5, 0.0)]).u_volts > 0.0
    with pytest.raises(ValueError, match="step"):
        effect_of([])


def test_an_effect_in_words() -> None:
    assert (
        effect_text(effect_of([on(0.43), off(-0.43)]))
        == "+0.43 V ± 0.01 V, on 1 and off 1 time: confirmed (p < 0.001)"
    )


def test_motion_in_between_does_not_spoil_it() -> None:
    """Each step is measured where it happened: a body that turns over in between changes the level, not the steps."""
    noise = random.Random(4)
    levels = [(60, 0.20), (60, 0.62), (4, 1.5), (60, 0.55), (60, 0.13), (3, 1.2), (60, 0.20), (60, 0.62)]
    volts = [
        level + noise.gauss(0, 0.4 if level > 1 else 0.002)
        for length, level in levels
        for _ in range(10 * length)
    ]
    events = replay([n / 10 for n in range(len(volts))], [abs(v) for v in volts])
    steps = [e for e in events if isinstance(e, Step)]
    mine = [s for s in steps if abs(abs(s.after_volts - s.before_volts) - 0.42) < 0.03]
    assert len(mine) >= 3
    found = effect_of(
        [
            SwitchedStep(s.after_volts > s.before_volts, s.after_volts - s.before_volts, s.u_volts)
            for s in mine
        ]
    )
    assert found.verdict is ConfirmationVerdict.CONFIRMED
    assert found.volts == pytest.approx(0.42, abs=0.01)


def test_the_hint_names_what_would_confirm_the_effect():
    assert "off again" in confirmation_hint(effect_of([on(0.4)]))
    assert "on again" in confirmation_hint(effect_of([off(-0.4)]))
    assert confirmation_hint(effect_of([on(0.4), off(-0.4)])) == ""
    assert "same posture" in confirmation_hint(effect_of([on(0.4), off(-0.1)]))
    assert "each repeat" in confirmation_hint(effect_of([on(0.004), off(-0.004)]))


def test_an_uncertainty_is_never_shown_as_zero():
    text = effect_text(effect_of([on(0.4, 0.001), off(-0.4, 0.001)] * 3))
    assert text.startswith("+0.400 V ± 0.001 V")
