"""Whether a cord or a circuit does what its steps seem to say: repeated switching, averaged, with its significance.

In: the sizes of the steps of one thing, each taken where it was switched (so that motion in between does not matter),
with standard uncertainties. Out: the mean change when it is switched on, its uncertainty, and a verdict. All in volts.

Off, on and off again is the A-B-A scheme of comparison weighing (OIML R 111-1, annex C): the mean of the step up and
of the step down is `B - (A1 + A2) / 2`, in which a drift cancels.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import erfc, hypot, sqrt

from logger.metrology.posture import STEP_SCATTER_SHARE
from logger.statistics import SIGNIFICANT_BELOW, student_two_sided
from logger.sweep.solver.readings import MIN_U_VOLTS

RETURNS_SIGMAS = 3.0
RETURN_SHARE = 0.3
"""A thing that is switched on and off again must give back what it gave: within so many standard uncertainties, or this
share of it, since the body has never quite the same posture. No source; the share is ours."""


class ConfirmationVerdict(StrEnum):
    """What repeated switching says."""

    CONFIRMED = "confirmed"
    NOT_CONFIRMED = "not confirmed"
    """Switched one way only, or it did not give back what it gave."""
    NOT_DISTINGUISHABLE = "not distinguishable from zero"


@dataclass(frozen=True, slots=True)
class SwitchedStep:
    """One step of one thing."""

    turned_on: bool
    """Switched on or plugged in; else off or unplugged."""
    change_volts: float
    """After minus before, V."""
    u_volts: float

    @property
    def effect_volts(self) -> float:
        """The change that switching it on makes."""
        return self.change_volts if self.turned_on else -self.change_volts


@dataclass(frozen=True, slots=True)
class Effect:
    """What switching a thing on does."""

    volts: float
    """Mean change; negative: the value falls when it is switched on."""
    u_volts: float
    ons: int
    offs: int
    significance: float
    """Two-sided probability of so large a mean change if the thing did nothing."""
    birge_ratio: float
    """Scatter of the steps over what their own uncertainties allow; 0 for one step."""
    verdict: ConfirmationVerdict

    @property
    def repeats(self) -> int:
        """How often it was switched on and off again."""
        return min(self.ons, self.offs)


def effect_of(switchings: Sequence[SwitchedStep]) -> Effect:
    """The effect of one thing.

    The mean is weighted with the steps' own uncertainties. Where the steps scatter by more than these allow, the
    uncertainty of the mean is raised by the Birge ratio, `sqrt(chi2 / (n - 1))`. The significance is that of the
    normal distribution as long as own uncertainties and posture explain the scatter, else of Student's t with n - 1
    degrees of freedom on the scatter itself.

    Args:
        switchings: all steps of one thing, in any order; a step counts with at least `MIN_U_VOLTS`.

    Raises:
        ValueError: no step at all.
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
    """The effect for a reader: '+0.43 V ± 0.02 V, on 2 and off 2 times: confirmed (p = 0.001)'."""
    p = f"p = {effect.significance:.3f}" if effect.significance >= 0.001 else "p < 0.001"
    times = f"on {effect.ons} and off {effect.offs} time{'' if effect.ons == effect.offs == 1 else 's'}"
    digits = 2 if 2 * effect.u_volts >= 0.0095 else 3  # never a zero
    u = max(2 * effect.u_volts, 0.001)
    return f"{effect.volts:+.{digits}f} V ± {u:.{digits}f} V, {times}: {effect.verdict} ({p})"


def confirmation_hint(effect: Effect) -> str:
    """What would make the effect surer, as a sentence to somebody at the switch; empty when it is confirmed."""
    if effect.verdict is ConfirmationVerdict.CONFIRMED:
        return ""
    if effect.verdict is ConfirmationVerdict.NOT_DISTINGUISHABLE:
        return "Too small to be is_significant from nothing so far; each repeat makes it surer."
    if not effect.offs:
        return "Switch it off again to confirm it."
    if not effect.ons:
        return "Switch it on again to confirm it."
    return "It did not give back what it gave: switch it on and off once more, in the same posture."


def _weighted_mean(values: Sequence[float], u_each: Sequence[float]) -> tuple[float, float]:
    weights = [u**-2 for u in u_each]
    total = sum(weights)
    return sum(w * v for w, v in zip(weights, values, strict=True)) / total, total**-0.5


def _birge_ratio(values: Sequence[float], u_each: Sequence[float], mean: float) -> float:
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
