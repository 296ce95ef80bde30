"""The effect of a cord or a circuit by repeated switching: the mean of its steps, its significance and a verdict.

In: the steps of one source, each measured where it was switched (so that motion in between does not matter), with
standard uncertainties. Out: the mean change when it is switched on, its uncertainty, and a verdict. All in volts.

Off, on and off again is the A-B-A scheme of comparison weighing (OIML R 111-1, annex C): the mean of the step up and
of the step down is `B - (A1 + A2) / 2`, in which a drift cancels. The level B is part of both steps: its error counts
whole in their mean, so that the steps are not independent (GUM 5.2.2).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from logger.metrology.posture import DEFAULT_REPEATABILITY, Repeatability
from logger.metrology.rounding import fixed, rounded, sign_of
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.repeats import MIN_U_VOLTS
from logger.statistics import SIGNIFICANT_BELOW, chi2_upper_tail, normal_two_sided, student_two_sided
from logger.translation import marked, tr

RETURNS_SIGMAS = 3.0
"""The step up and the step down of a source must be equal within so many standard uncertainties, those of its posture
counted in (the usual 3 sigma of a gross disagreement; no source, ours)."""

SHARED_VARIANCE = 0.5
"""A detector states the uncertainty of a step, not of its two levels: each level has this part of the variance."""


class ConfirmationVerdict(StrEnum):
    """The result of repeated switching."""

    CONFIRMED = "confirmed"
    NOT_CONFIRMED = "not confirmed"
    """It was switched one way only, or its steps up and down differ."""
    NOT_DISTINGUISHABLE = "not distinguishable from zero"


VERDICT_WORDS: Mapping[ConfirmationVerdict, str] = {
    ConfirmationVerdict.CONFIRMED: marked("confirmed"),
    ConfirmationVerdict.NOT_CONFIRMED: marked("not confirmed"),
    ConfirmationVerdict.NOT_DISTINGUISHABLE: marked("not distinguishable from zero"),
}
"""Each verdict as it goes through `tr` where it is shown."""


@dataclass(frozen=True, slots=True)
class SwitchedStep:
    """One step of one source.

    Args:
        turned_on: the source was switched on or plugged in; else off or unplugged.
        change_volts: level after the step minus the one before, V.
        u_volts: standard uncertainty of the change, V.
        shares_level: it starts from the level at which the step before it in the list ended. Only a step the other way
            can: between two steps the same way the source was switched back.
        simulated: nothing was measured.
    """

    turned_on: bool
    change_volts: float
    u_volts: float
    shares_level: bool = True
    simulated: bool = False

    @property
    def effect_volts(self) -> float:
        """The change when the source is switched on, V."""
        return self.change_volts if self.turned_on else -self.change_volts


@dataclass(frozen=True, slots=True)
class Effect:
    """The effect of switching a source on.

    Args:
        volts: mean change, V; negative where the value falls when the source is switched on.
        u_volts: standard uncertainty of the mean, V, with what the posture repeats to.
        ons: how often it was switched on.
        offs: how often it was switched off.
        significance: two-sided probability of so large a mean change if the source had no effect.
        birge_ratio: scatter of the steps over what their own uncertainties allow; 0 for one step.
        verdict: whether the effect is confirmed.
        simulated: whether its steps are simulated.
    """

    volts: float
    u_volts: float
    ons: int
    offs: int
    significance: float
    birge_ratio: float
    verdict: ConfirmationVerdict
    simulated: bool = False

    @property
    def is_confirmed_rise(self) -> bool:
        """Whether it is confirmed that the value rises where the source is switched on."""
        return self.verdict is ConfirmationVerdict.CONFIRMED and self.volts > 0

    @property
    def repeats(self) -> int:
        """How often the source was switched on and off again."""
        return min(self.ons, self.offs)


@dataclass(frozen=True, slots=True)
class _Mean:
    """The weighted mean of effects.

    Args:
        volts: the mean, V.
        u_volts: its standard uncertainty by those of the steps and what neighbours share, V.
        chi2: chi-square of the effects about a common value, with what neighbours share.
        degrees: one fewer than there are effects.
    """

    volts: float
    u_volts: float
    chi2: float
    degrees: int

    @property
    def birge_ratio(self) -> float:
        """Scatter over what the uncertainties allow; 0 for one effect."""
        return sqrt(self.chi2 / self.degrees) if self.degrees else 0.0

    @property
    def scatters(self) -> bool:
        """Whether they scatter by more than their uncertainties explain."""
        return self.degrees > 0 and chi2_upper_tail(self.chi2, self.degrees) < SIGNIFICANT_BELOW


def effect_of(
    switchings: Sequence[SwitchedStep], repeatability: Repeatability = DEFAULT_REPEATABILITY
) -> Effect:
    """Average the steps of one source.

    The mean is weighted with the steps' own uncertainties; its uncertainty follows from their covariance, and is raised
    by the Birge ratio, `sqrt(chi2 / (n - 1))`, where they scatter by more than uncertainty and posture explain. Whether
    there is an effect at all does not depend on the posture, which is a share of it; how large it is does. So the
    significance is that of the normal distribution on the steps' own uncertainties; only where the scatter is
    significantly larger than these and the posture explain, it is that of Student's t with n - 1 degrees of freedom on
    the scatter.

    Args:
        switchings: all steps of one source, in the order of time; a step counts with at least `MIN_U_VOLTS`.
        repeatability: of the posture in this visit.

    Raises:
        ValueError: there is no step, or some are simulated and others were measured.
    """
    if not switchings:
        raise ValueError("an effect needs a step")
    if len({s.simulated for s in switchings}) > 1:
        raise ValueError("simulated and measured steps make no common effect")
    mean = _mean_of(switchings)
    posture_volts = repeatability.u_volts(mean.volts)
    with_posture = _mean_of(switchings, posture_volts)
    sigmas = abs(mean.volts) / mean.u_volts
    if with_posture.scatters:
        significance = student_two_sided(sigmas / mean.birge_ratio, mean.degrees)
    else:
        significance = normal_two_sided(sigmas)
    u_volts = mean.u_volts * max(with_posture.birge_ratio, 1.0)
    ons = sum(s.turned_on for s in switchings)
    return Effect(
        mean.volts,
        hypot(u_volts, posture_volts),
        ons,
        len(switchings) - ons,
        significance,
        mean.birge_ratio,
        _verdict(switchings, posture_volts, significance),
        switchings[0].simulated,
    )


def effect_text(effect: Effect) -> str:
    """Format an effect for professionals: '+0.43 V ± 0.02 V, on 2 and off 2 times: confirmed (p = 0.001)'."""
    p = f"p = {fixed(effect.significance, 3)}" if effect.significance >= 0.001 else f"p < {fixed(0.001, 3)}"
    text = f"{effect_size_text(effect)} ({p})"
    return tr("{effect}, simulated").format(effect=text) if effect.simulated else text


def effect_size_text(effect: Effect) -> str:
    """Format an effect with its verdict, in plain words: '+0.43 V ± 0.02 V, on 2 and off 2 times: confirmed'."""
    size, expanded = rounded(abs(effect.volts), COVERAGE_FACTOR * effect.u_volts)
    text = (
        tr("{value}, on {ons} and off {offs} time: {verdict}")
        if effect.ons == effect.offs == 1
        else tr("{value}, on {ons} and off {offs} times: {verdict}")
    )
    return text.format(
        value=f"{sign_of(effect.volts)}{size} V ± {expanded} V",
        ons=effect.ons,
        offs=effect.offs,
        verdict=tr(VERDICT_WORDS[effect.verdict]),
    )


def confirmation_hint(effect: Effect) -> str:
    """Describe what would confirm the effect, for the person at the switch; empty when it is confirmed."""
    if effect.verdict is ConfirmationVerdict.CONFIRMED:
        return ""
    if effect.verdict is ConfirmationVerdict.NOT_DISTINGUISHABLE:
        return tr("Too small to be told from nothing so far; each repeat makes it surer.")
    if not effect.offs:
        return tr("Switch it off again to confirm it.")
    if not effect.ons:
        return tr("Switch it on again to confirm it.")
    return tr("It did not give back what it gave: switch it on and off once more, in the same posture.")


def _mean_of(switchings: Sequence[SwitchedStep], posture_volts: float = 0.0) -> _Mean:
    """Mean of the effects, weighted with the steps' own variances.

    Not with the inverse of the whole covariance: that would be the difference of the mean levels, in which a drift does
    not cancel.

    Args:
        switchings: the steps in the order of time.
        posture_volts: what the posture adds to the uncertainty of each effect, V.
    """
    effects = np.array([s.effect_volts for s in switchings])
    covariance = _covariance(switchings, posture_volts)
    weights = 1.0 / np.diag(covariance)
    weights /= weights.sum()
    mean, u_volts = float(weights @ effects), float(weights @ covariance @ weights) ** 0.5
    inverse = np.linalg.inv(covariance)
    apart = effects - (inverse.sum(axis=0) @ effects) / inverse.sum()
    return _Mean(mean, u_volts, max(float(apart @ inverse @ apart), 0.0), len(effects) - 1)


def _covariance(switchings: Sequence[SwitchedStep], posture_volts: float) -> NDArray[np.float64]:
    """Covariance of the effects, V^2, shape (n, n).

    The level between two steps enters the change up and the change down with opposite signs, so both effects with the
    same one.

    Args:
        switchings: the steps in the order of time.
        posture_volts: what the posture adds to the uncertainty of each effect, V.
    """
    u_each = [max(s.u_volts, MIN_U_VOLTS) for s in switchings]
    covariance = np.diag([u**2 + posture_volts**2 for u in u_each])
    for n, (before, after) in enumerate(pairwise(switchings)):
        if after.shares_level and before.turned_on is not after.turned_on:
            covariance[n, n + 1] = covariance[n + 1, n] = SHARED_VARIANCE * u_each[n] * u_each[n + 1]
    return covariance


def _verdict(
    switchings: Sequence[SwitchedStep], posture_volts: float, significance: float
) -> ConfirmationVerdict:
    """Verdict of the steps.

    Args:
        switchings: the steps in the order of time.
        posture_volts: standard uncertainty of each effect by the posture, V.
        significance: of the mean of their effects.
    """
    significant = significance < SIGNIFICANT_BELOW
    ups = np.array([s.turned_on for s in switchings])
    if ups.all() or not ups.any():
        return ConfirmationVerdict.NOT_CONFIRMED if significant else ConfirmationVerdict.NOT_DISTINGUISHABLE
    covariance = _covariance(switchings, posture_volts)
    weights = 1.0 / np.diag(covariance)
    contrast = np.where(ups, weights / weights[ups].sum(), -weights / weights[~ups].sum())
    apart = abs(float(contrast @ [s.effect_volts for s in switchings]))
    if apart > RETURNS_SIGMAS * float(contrast @ covariance @ contrast) ** 0.5:
        return ConfirmationVerdict.NOT_CONFIRMED
    return ConfirmationVerdict.CONFIRMED if significant else ConfirmationVerdict.NOT_DISTINGUISHABLE
