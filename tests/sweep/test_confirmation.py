"""Off, on, off: what is confirmed, and what is not."""

from __future__ import annotations

import random
from dataclasses import replace
from math import hypot
from statistics import NormalDist

import numpy as np
import pytest
from scipy import signal

from logger.metrology.posture import DEFAULT_REPEATABILITY, Repeatability
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
    # Three levels of u each, of which the middle one counts whole: u^2 (1 + 1/4 + 1/4), and u = 0.03 V / sqrt 2.
    assert once.significance == pytest.approx(2 * NormalDist().cdf(-((4 / 3) ** 0.5)))
    # Thirteen levels: the eleven in the middle count 1/6 each, the two at the ends 1/12.
    u_mean = 0.03 / 2**0.5 * (11 / 36 + 2 / 144) ** 0.5
    assert often.significance == pytest.approx(2 * NormalDist().cdf(-0.03 / u_mean))
    assert often.verdict is ConfirmationVerdict.CONFIRMED and often.repeats == 6
    assert often.u_volts == pytest.approx(hypot(u_mean, DEFAULT_REPEATABILITY.u_volts(0.03)))
    wild = effect_of([on(0.9), off(0.7), on(-0.4), off(-0.2), on(-0.5), off(0.3)])
    assert wild.verdict is not ConfirmationVerdict.CONFIRMED and wild.birge_ratio > 5


def test_a_step_that_claims_no_uncertainty_counts_with_what_a_body_repeats_to() -> None:
    assert effect_of([on(0.5, 0.0), off(-0.5, 0.0)]).u_volts > 0.0
    with pytest.raises(ValueError, match="step"):
        effect_of([])


def test_an_effect_in_words() -> None:
    assert (
        effect_text(effect_of([on(0.43), off(-0.43)]))
        == "+0.43 V ± 0.09 V, on 1 and off 1 time: confirmed (p < 0.001)"
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
    text = effect_text(effect_of([on(0.4, 0.001), off(-0.4, 0.001)] * 3, Repeatability(share=0.0)))
    assert text.startswith("+0.400 V ± 0.001 V")


def test_how_large_an_effect_is_depends_on_the_posture_and_whether_there_is_one_does_not():
    steps = [on(0.43, 0.002), off(-0.43, 0.002)]
    loose, tight = (effect_of(steps, Repeatability(share)) for share in (0.15, 0.01))
    assert loose.significance == tight.significance
    assert loose.u_volts > 10 * tight.u_volts


def off_on_off(
    random: np.random.Generator, cord_volts: float, time_constant_s: float, levels: int = 3
) -> list[SwitchedStep]:
    """The steps of levels that lasted 20 s at 5 samples/s, with noise of the first order and their true u.

    Args:
        random: draws the noise.
        cord_volts: what the cord gives.
        time_constant_s: of the noise; 0 for white noise.
        levels: how many levels, the first one off.
    """
    per_level = 100
    noise = first_order(random, levels * per_level, time_constant_s)
    means = 0.01 * noise.reshape(levels, per_level).mean(axis=1) + cord_volts * (np.arange(levels) % 2)
    u_level = 0.01 * u_of_mean(per_level, time_constant_s)
    return [SwitchedStep(n % 2 == 0, means[n + 1] - means[n], u_level * 2**0.5) for n in range(levels - 1)]


def correlation(time_constant_s: float) -> float:
    return float(np.exp(-0.2 / time_constant_s)) if time_constant_s else 0.0


def first_order(random: np.random.Generator, count: int, time_constant_s: float) -> np.ndarray:
    """Noise of unit variance, 5 samples/s."""
    kept = correlation(time_constant_s)
    start = random.normal()
    return signal.lfilter([(1 - kept**2) ** 0.5], [1, -kept], random.normal(size=count), zi=[kept * start])[0]


def u_of_mean(count: int, time_constant_s: float) -> float:
    """Standard deviation of the mean of such noise, by its autocorrelation."""
    lags = np.arange(1, count)
    return float(((1 + 2 * ((1 - lags / count) * correlation(time_constant_s) ** lags).sum()) / count) ** 0.5)


@pytest.mark.parametrize("levels", [3, pytest.param(5, marks=pytest.mark.long)])
@pytest.mark.parametrize(("time_constant_s", "lowest"), [(0.0, 0.04), (0.3, 0.04), (1.0, 0.03), (3.0, 0.02)])
def test_a_cord_that_does_nothing_is_confirmed_in_one_of_twenty(time_constant_s, lowest, levels):
    """Where the noise is slow, neighbouring levels err together, which the mean up and down cancels: fewer then."""
    random = np.random.default_rng(71)
    found = [effect_of(off_on_off(random, 0.0, time_constant_s, levels)) for _ in range(4000)]
    share = np.mean([effect.verdict is ConfirmationVerdict.CONFIRMED for effect in found])
    assert lowest <= share <= 0.06


@pytest.mark.parametrize("time_constant_s", [0.0, 1.0, 3.0])
def test_a_cord_of_half_a_tenth_of_a_volt_is_confirmed(time_constant_s):
    random = np.random.default_rng(72)
    found = [effect_of(off_on_off(random, 0.05, time_constant_s)) for _ in range(400)]
    assert np.mean([effect.verdict is ConfirmationVerdict.CONFIRMED for effect in found]) >= 0.98


def test_simulated_steps_are_marked_and_never_averaged_with_measured_ones() -> None:
    simulated = [replace(step, simulated=True) for step in (on(0.50), off(-0.51))]
    assert effect_text(effect_of(simulated)).endswith(", simulated")
    assert "simulated" not in effect_text(effect_of([on(0.50), off(-0.51)]))
    with pytest.raises(ValueError, match="no common effect"):
        effect_of([on(0.50), simulated[1]])
