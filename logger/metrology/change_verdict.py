"""What a change from one value to a later one means: whether it is real, and whether it matters. The words for it.

In: both values with their budgets, their difference, the target, and how probable so large a difference is by chance
(adjusted where several values were compared, `judge_together`). Out: a verdict and its words. Two visits, the window's
before and after and the report all use these.

A change is real where it is significant. It matters where it takes the value across the target, or where it is large
(`MIN_MATTERING_SHARE`, `MIN_MATTERING_OF_TARGET`) and not wholly under the target: nobody has to do anything about a
value that meets the target before and after.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from logger.metrology.rounding import plain
from logger.metrology.uncertainty import COVERAGE_FACTOR, Budget, Verdict, compare_with
from logger.statistics import holm_adjusted, normal_two_sided
from logger.translation import marked, tr

MIN_MATTERING_SHARE = 0.25
"""A change matters that is at least this share of the larger of both values: by less the order of what is worth doing
first hardly changes. No source, ours."""

MIN_MATTERING_OF_TARGET = 0.5
"""And that is at least this share of the target: less is not worth a remedy. No source, ours."""

SIGNIFICANT_BELOW_K2 = normal_two_sided(COVERAGE_FACTOR)
"""Two-sided significance of a difference that equals its expanded uncertainty (k = 2): 4.6 %. So a verdict on one value
agrees with the ± beside it."""


class ChangeVerdict(StrEnum):
    """What a change means; lower is better. As files have it; `CHANGE_WORDS` shows it."""

    IMPROVED = "improved"
    SLIGHTLY_LOWER = "slightly lower"
    NOT_DISTINGUISHABLE = "not distinguishable"
    SLIGHTLY_HIGHER = "slightly higher"
    WORSE = "worse"


CHANGE_WORDS = {
    ChangeVerdict.IMPROVED: marked("improved"),
    ChangeVerdict.SLIGHTLY_LOWER: marked("slightly lower"),
    ChangeVerdict.NOT_DISTINGUISHABLE: marked("no clear change"),
    ChangeVerdict.SLIGHTLY_HIGHER: marked("slightly higher"),
    ChangeVerdict.WORSE: marked("worse"),
}
"""Each verdict in words, translated where it is shown."""

_STILL: dict[Verdict, str] = {
    "above": marked("still above {target} V"),
    "below": marked("still below {target} V"),
    "not distinguishable": marked("still too close to the target of {target} V to tell"),
}
_NOW_SURELY: dict[Verdict, str] = {
    "above": marked("now surely above {target} V"),
    "below": marked("now surely below {target} V"),
}
_NOW: dict[Verdict, str] = {
    "above": marked("now above {target} V"),
    "below": marked("now below {target} V"),
    "not distinguishable": marked("now too close to the target of {target} V to tell"),
}
"""The side of the target: where it is the same as before, where it was not distinguishable, and else."""


@dataclass(frozen=True, slots=True)
class Change:
    """A value, and the same at a later time.

    Args:
        before: the earlier value.
        after: the later value.
        difference: after minus before, with what both have in common.
    """

    before: Budget
    after: Budget
    difference: Budget

    @property
    def significance(self) -> float:
        """Two-sided probability of so large a difference if nothing had changed, of this value alone."""
        if self.difference.u_volts == 0.0:
            return 0.0 if self.difference.volts else 1.0
        return normal_two_sided(self.difference.volts / self.difference.u_volts)

    def matters(self, target_volts: float) -> bool:
        """Whether it is worth a word: it crosses the target, or it is large and not wholly under the target."""
        sides = {compare_with(budget, target_volts) for budget in (self.before, self.after)}
        if sides == {"above", "below"}:
            return True
        larger_volts = max(abs(self.before.volts), abs(self.after.volts))
        if larger_volts <= target_volts:
            return False
        least_volts = max(MIN_MATTERING_SHARE * larger_volts, MIN_MATTERING_OF_TARGET * target_volts)
        return abs(self.difference.volts) >= least_volts

    def verdict(self, target_volts: float, significance: float | None = None) -> ChangeVerdict:
        """What the change means.

        Args:
            target_volts: of the later visit, V.
            significance: adjusted for the other values that were compared with it; None where it is the only one.
        """
        if (self.significance if significance is None else significance) >= SIGNIFICANT_BELOW_K2:
            return ChangeVerdict.NOT_DISTINGUISHABLE
        if self.difference.volts < 0.0:
            return ChangeVerdict.IMPROVED if self.matters(target_volts) else ChangeVerdict.SLIGHTLY_LOWER
        return ChangeVerdict.WORSE if self.matters(target_volts) else ChangeVerdict.SLIGHTLY_HIGHER

    def verdict_text(self, verdict: ChangeVerdict, target_volts: float) -> str:
        """The verdict with the side of the target: 'slightly higher, still below 0.1 V', 'improved, now below 0.1 V'.

        Args:
            verdict: of this change.
            target_volts: as for the verdict.
        """
        return tr("{verdict}, {side}").format(
            verdict=tr(CHANGE_WORDS[verdict]), side=self.side_text(target_volts)
        )

    def side_text(self, target_volts: float) -> str:
        """On which side of the target the later value is, and whether the earlier one was: 'still below 0.1 V'."""
        old, new = (compare_with(budget, target_volts) for budget in (self.before, self.after))
        sides = _STILL if old == new else _NOW_SURELY if old == "not distinguishable" else _NOW
        return tr(sides[new]).format(target=plain(target_volts))


def judge_together(
    changes: Sequence[Change | None], target_volts: float
) -> list[tuple[ChangeVerdict, float] | None]:
    """Judge all values that are compared at one time, so that a false verdict among them all is improbable (Holm).

    Args:
        changes: the values; None for one that cannot be compared.
        target_volts: of the later visit, V.

    Returns:
        The verdict of each with its adjusted significance; None where there is nothing to judge.
    """
    adjusted = iter(holm_adjusted([change.significance for change in changes if change is not None]))
    judged: list[tuple[ChangeVerdict, float] | None] = []
    for change in changes:
        if change is None:
            judged.append(None)
        else:
            significance = next(adjusted)
            judged.append((change.verdict(target_volts, significance), significance))
    return judged
