"""How well a body repeats its value once its posture was left and taken up again: one number for every difference.

In: values that were read at one spot in one condition, each after getting up. Out: a `Repeatability`, a standard
deviation as a share of the value with its degrees of freedom. On - off, repeated switching, the sweep, a prediction and
a comparison of two visits all count it, and none has a number of its own.

Until anybody has measured it on site there is a default. It stays in the pool as a prior afterwards (the scaled inverse
chi-square prior of a normal variance), so that two readings which agree by luck do not make the body perfect.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from logger.metrology.rounding import fixed, plain
from logger.metrology.uncertainty import COVERAGE_FACTOR, Budget, Component
from logger.statistics import student_quantile
from logger.translation import in_language, kept_text, tr

DEFAULT_SHARE = 0.07
"""Standard deviation of a value whose posture is taken up again, as a share of the value. No source, ours: an arm or a
blanket that lies elsewhere changes the coupling by several percent."""

DEFAULT_DEGREES = 4.0
"""How much the default is worth, in degrees of freedom: as if it had been found from five readings. Bodies differ, and
Student's t for so few makes it cover a body that repeats to 10 % only. No source, ours."""

POSTURE = kept_text("posture taken up again")
"""Name of its line in a budget, as files have it."""


@dataclass(frozen=True, slots=True)
class Repeatability:
    """How well a posture repeats.

    Args:
        share: pooled standard deviation as a share of the value, the default counted in.
        degrees: its degrees of freedom, those of the default counted in.
        repeats: degrees of freedom that were measured on site; 0 where the default is all that is known.
    """

    share: float = DEFAULT_SHARE
    degrees: float = DEFAULT_DEGREES
    repeats: int = 0

    @property
    def u_share(self) -> float:
        """Standard uncertainty as a share of the value, such that k = 2 covers as Student's t does (GUM G.3.2)."""
        return self.share * student_quantile(COVERAGE_FACTOR, self.degrees) / COVERAGE_FACTOR

    def u_volts(self, volts: float) -> float:
        """Standard uncertainty of a value through its posture, V."""
        return self.u_share * abs(volts)

    def component(self, volts: float) -> Component:
        """The line of the budget of a value."""
        return Component(POSTURE, "A" if self.repeats else "B", self.basis, self.u_volts(volts))

    @property
    @in_language("en")
    def basis(self) -> str:
        """What it rests on, for a reader: as files have it; `tr_kept` shows it."""
        share, assumed = fixed(100.0 * self.share, 1), plain(100.0 * DEFAULT_SHARE)
        if not self.repeats:
            text = kept_text("{share}% of the value, assumed (no source), {degrees} degrees of freedom")
            return text.format(share=assumed, degrees=plain(self.degrees))
        if self.repeats == 1:
            text = kept_text("{share}% of the value, from 1 repeat on site and the assumed {assumed}%")
            return text.format(share=share, assumed=assumed)
        text = kept_text("{share}% of the value, from {n} repeats on site and the assumed {assumed}%")
        return text.format(share=share, n=self.repeats, assumed=assumed)


DEFAULT_REPEATABILITY = Repeatability()
"""Until it is measured on site."""


def pooled_repeatability(groups: Sequence[Sequence[float]]) -> Repeatability:
    """Pool the repeats of all spots with the default as prior.

    Args:
        groups: the values of each spot and condition, V, each read after the posture was taken up again; a group of one
            value, or whose mean is zero, shows nothing.
    """
    squares, repeats = 0.0, 0
    for values in groups:
        mean = fmean(values) if values else 0.0
        if len(values) > 1 and mean > 0.0:
            squares += sum((volts / mean - 1.0) ** 2 for volts in values)
            repeats += len(values) - 1
    degrees = DEFAULT_DEGREES + repeats
    share = ((DEFAULT_DEGREES * DEFAULT_SHARE**2 + squares) / degrees) ** 0.5
    return Repeatability(share, degrees, repeats)


def with_posture(budget: Budget, repeatability: Repeatability) -> Budget:
    """The budget of a value that is compared with one of another time: what its posture repeats to is part of it."""
    return Budget(budget.volts, (*budget.components, repeatability.component(budget.volts)))


def less_certain_text(difference: Budget, one: Budget, other: Budget) -> str:
    """Why a difference is less certain than both of its values together; empty where it is not.

    Args:
        difference: of the values.
        one: the one value.
        other: the other value.
    """
    has_posture = any(POSTURE in component.name for component in difference.components)
    if not has_posture or difference.expanded_volts <= one.expanded_volts + other.expanded_volts:
        return ""
    return tr("less certain than each value, since nobody lies or sits the same way twice")
