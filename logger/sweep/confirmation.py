"""The effect of a cord or a circuit by repeated switching: the mean of its steps, its significance and a verdict.

In: the steps of one source, each measured where it was switched (so that motion in between does not matter), with
standard uncertainties. Out: the mean change when it is switched on, its uncertainty, and a verdict. All in volts.

Off, on and off again is the A-B-A scheme of comparison weighing (OIML R 111-1, annex C): the mean of the step up and
of the step down is `B - (A1 + A2) / 2`, in which a drift cancels.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import erfc, hypot, sqrt

from logger.metrology.posture import STEP_SCATTER_SHARE
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.statistics import SIGNIFICANT_BELOW, student_two_sided
from logger.sweep.solver.readings import MIN_U_VOLTS

RETURNS_SIGMAS = 3.0
RETURN_SHARE = 0.3
"""The step up and the step down of a source must be equal within so many standard uncertainties, or within this share
of the effect, since the body never takes quite the same posture. No source; the share is ours."""


class ConfirmationVerdict(StrEnum):
    """The result of repeated switching."""

    CONFIRMED = "confirmed"
    NOT_CONFIRMED = "not confirmed"
    """It was switched one way only, or its steps up and down differ."""
    NOT_DISTINGUISHABLE = "not distinguishable from zero"


@dataclass(frozen=True, slots=True)
class SwitchedStep:
    """One step of one source.

    Args:
        turned_on: the source was switched on or plugged in; else off or unplugged.
        change_volts: level after the step minus the one before, V.
        u_volts: standard uncertainty of the change, V.
    """

    turned_on: bool
    change_volts: float
    u_volts: float

    @property
    def effect_volts(self) -> float:
        """The change when the source is switched on, V."""
        return self.change_volts if self.turned_on else -self.change_volts


@dataclass(frozen=True, slots=True)
class Effect:
    """The effect of switching a source on.

    Args:
        volts: mean change, V; negative where the value falls when the source is switched on.
        u_volts: standard uncertainty of the mean, V.
        ons: how often it was switched on.
        offs: how often it was switched off.
        significance: two-sided probability of so large a mean change if the source had no effect.
        birge_ratio: scatter of the steps over what their own uncertainties allow; 0 for one step.
        verdict: whether the effect is confirmed.
    """

    volts: float
    u_volts: float
    ons: int
    offs: int
    significance: float
    birge_ratio: float
    verdict: ConfirmationVerdict

    @property
    def repeats(self) -> int:
        """How often the source was switched on and off again."""
        return min(self.ons, self.offs)


def effect_of(switchings: Sequence[SwitchedStep]) -> Effect:
    """Average the steps of one source.

    The mean is weighted with the steps' own uncertainties. Where the steps scatter by more than these allow, the
    uncertainty of the mean is raised by the Birge ratio, `sqrt(chi2 / (n - 1))`. The significance is that of the
    normal distribution as long as own uncertainties and posture explain the scatter, else of Student's t with n - 1
    degrees of freedom on the scatter itself.

    Args:
        switchings: all steps of one source, in any order; a step counts with at least `MIN_U_VOLTS`.

    Raises:
        ValueError: there is no step.
    """
    if not switchings:
        raise ValueError("an effect needs a step")
    values = [s.effect_volts for s in switchings]
    u_each = [max(s.u_volts, MIN_U_VOLTS) for s in switchings]
    mean, u_own = _weighted_mean(values, u_each)
    birge = _birge_ratio(values, u_each, mean)
    u_volts = u_own * max(birge, 1.0)
    if _birge_ratio(values, [hypot(u, STEP_SCATTER_SHARE * mean) for u in u_each], mean) > 1.0:
        significance = student_two_sided(abs(mean) / u_volts, len(values) - 1)
    else:
        significance = erfc(abs(mean) / u_own / sqrt(2.0))
    ons = sum(s.turned_on for s in switchings)
    verdict = _verdict(switchings, u_each, mean, significance)
    return Effect(mean, u_volts, ons, len(values) - ons, significance, birge, verdict)


def effect_text(effect: Effect) -> str:
    """Format an effect: '+0.43 V ± 0.02 V, on 2 and off 2 times: confirmed (p = 0.001)'."""
    p = f"p = {effect.significance:.3f}" if effect.significance >= 0.001 else "p < 0.001"
    times = f"on {effect.ons} and off {effect.offs} time{'' if effect.ons == effect.offs == 1 else 's'}"
    expanded = COVERAGE_FACTOR * effect.u_volts
    digits = 2 if expanded >= 0.0095 else 3  # an uncertainty is never shown as zero
    u = max(expanded, 0.001)
    return f"{effect.volts:+.{digits}f} V ± {u:.{digits}f} V, {times}: {effect.verdict} ({p})"


def confirmation_hint(effect: Effect) -> str:
    """Describe what would confirm the effect, for the person at the switch; empty when it is confirmed."""
    if effect.verdict is ConfirmationVerdict.CONFIRMED:
        return ""
    if effect.verdict is ConfirmationVerdict.NOT_DISTINGUISHABLE:
        return "Too small to be told from nothing so far; each repeat makes it surer."
    if not effect.offs:
        return "Switch it off again to confirm it."
    if not effect.ons:
        return "Switch it on again to confirm it."
    return "It did not give back what it gave: switch it on and off once more, in the same posture."


def _weighted_mean(values: Sequence[float], u_each: Sequence[float]) -> tuple[float, float]:
    """Mean weighted with `u**-2` and its standard uncertainty, V; values and uncertainties have shape (n,)."""
    weights = [u**-2 for u in u_each]
    total = sum(weights)
    return sum(w * v for w, v in zip(weights, values, strict=True)) / total, total**-0.5


def _birge_ratio(values: Sequence[float], u_each: Sequence[float], mean: float) -> float:
    """Scatter over what the own uncertainties allow, `sqrt(chi2 / (n - 1))`; 0 for one value.

    Args:
        values: V, shape (n,).
        u_each: their standard uncertainties, V, shape (n,).
        mean: weighted mean of the values, V.
    """
    if len(values) < 2:
        return 0.0
    chi2 = sum(((v - mean) / u) ** 2 for v, u in zip(values, u_each, strict=True))
    return sqrt(chi2 / (len(values) - 1))


def _verdict(
    switchings: Sequence[SwitchedStep], u_each: Sequence[float], mean: float, significance: float
) -> ConfirmationVerdict:
    either_way = [
        _weighted_mean(
            [s.effect_volts for s in switchings if s.turned_on is on],
            [u for s, u in zip(switchings, u_each, strict=True) if s.turned_on is on],
        )
        for on in (True, False)
        if any(s.turned_on is on for s in switchings)
    ]
    is_significant = significance < SIGNIFICANT_BELOW
    if len(either_way) == 1:
        return (
            ConfirmationVerdict.NOT_CONFIRMED if is_significant else ConfirmationVerdict.NOT_DISTINGUISHABLE
        )
    (up, u_up), (down, u_down) = either_way
    if abs(up - down) > max(RETURNS_SIGMAS * hypot(u_up, u_down), RETURN_SHARE * abs(mean)):
        return ConfirmationVerdict.NOT_CONFIRMED
    return ConfirmationVerdict.CONFIRMED if is_significant else ConfirmationVerdict.NOT_DISTINGUISHABLE
