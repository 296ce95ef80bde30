"""What has changed at one spot in one condition: the difference, its uncertainty, and the verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from logger.metrology.change_verdict import (
    CHANGE_WORDS,
    SIGNIFICANT_BELOW_K2,
    Change,
    ChangeVerdict,
    judge_together,
)
from logger.metrology.context import why_visits_not_comparable
from logger.metrology.difference import Term, difference
from logger.metrology.posture import DEFAULT_REPEATABILITY, Repeatability, with_posture
from logger.metrology.uncertainty import Budget, independent_difference_budget
from logger.translation import marked, tr
from logger.visit.records.reading_records import Reading
from logger.visit.results.input_correction import corrected_reading
from logger.visit.results.on_off_result import (
    FAILED_FUNCTION_CHECK,
    against_target,
    budget_of,
    has_failed_function_check,
)

LABELS = ("after", "before")

Unjudged = Literal["not comparable", "only before", "only after", "not read"]
"""Instead of a verdict, where there are not two values that can be compared."""

VERDICT_WORDS: dict[str, str] = {
    **{str(verdict): words for verdict, words in CHANGE_WORDS.items()},
    "not comparable": marked("not comparable"),
    "only before": marked("only before"),
    "only after": marked("only after"),
    "not read": marked("not read"),
}
"""Each verdict in words, translated where it is shown."""

WHY_UNPROVED = marked(
    "In one visit it was read after the function check had failed: whether the meter shows the voltage of a body was "
    "not known then, so that no change can be told. Find out why, do the check again, then read the spot again."
)

Repeatabilities = tuple[Repeatability, Repeatability]
"""Of the posture, in the earlier visit and in the later one."""

BOTH_DEFAULT: Repeatabilities = (DEFAULT_REPEATABILITY, DEFAULT_REPEATABILITY)


@dataclass(frozen=True, slots=True)
class ValueChange:
    """One spot in one condition, in both visits."""

    condition: str
    before: Reading | None
    after: Reading | None
    verdict: ChangeVerdict | Unjudged
    why: str
    """Why they are not comparable; empty otherwise."""
    change: Change | None
    """Both values and their difference, after minus before; None where they are not comparable or one is missing."""
    computed: Change | None
    """The same with the earlier value as the later meter would have read it: computed, not read. None where nothing was
    computed."""
    after_against_target: str
    """The later value against the target."""
    target_volts: float
    remarks: tuple[str, ...] = ()
    """What limits either reading: 'before: zero check not done', 'after: taken although not settled'."""
    significance: float | None = None
    """Two-sided probability of so large a difference by chance, adjusted for all values of both visits."""
    computed_verdict: ChangeVerdict | None = None
    """What the computed change would be."""

    @property
    def difference(self) -> Budget | None:
        """After minus before; None where they are not comparable or one is missing."""
        return self.change.difference if self.change else None

    @property
    def computed_before(self) -> Budget | None:
        """The earlier value as the later meter would have read it."""
        return self.computed.before if self.computed else None

    @property
    def computed_difference(self) -> Budget | None:
        """After minus the computed earlier value."""
        return self.computed.difference if self.computed else None

    @property
    def verdict_text(self) -> str:
        """The verdict in words, with the side of the target where the change is real."""
        if (
            self.change is None
            or not isinstance(self.verdict, ChangeVerdict)
            or self.verdict is ChangeVerdict.NOT_DISTINGUISHABLE
        ):
            return tr(VERDICT_WORDS[self.verdict])
        return self.change.verdict_text(self.verdict, self.target_volts)

    @property
    def only_by_itself(self) -> bool:
        """Whether it would be a change if no other value had been compared."""
        return (
            self.verdict is ChangeVerdict.NOT_DISTINGUISHABLE
            and self.change is not None
            and self.change.significance < SIGNIFICANT_BELOW_K2
        )


def value_change(
    condition: str,
    before: Reading | None,
    after: Reading | None,
    target_volts: float,
    remarks: tuple[str, ...] = (),
    repeatabilities: Repeatabilities = BOTH_DEFAULT,
    why_not: str = "",
) -> ValueChange:
    """Compare the two readings of one spot in one condition, as if they were the only ones; see `judged_together`.

    Args:
        condition: everything on or everything off.
        before: the earlier reading; None where there is none.
        after: the later reading; None where there is none.
        target_volts: of the later visit.
        remarks: what limits either reading.
        repeatabilities: of the posture in both visits.
        why_not: why they are not to be compared at all, in a sentence; empty where nothing forbids it.
    """
    new = budget_of(after)
    new_against_target = against_target(new, target_volts) if new else ""
    if has_failed_function_check(after):
        new_against_target = tr(FAILED_FUNCTION_CHECK)

    def result(
        verdict: ChangeVerdict | Unjudged,
        why: str = "",
        change: Change | None = None,
        computed: Change | None = None,
    ) -> ValueChange:
        return ValueChange(
            condition,
            before,
            after,
            verdict,
            why,
            change,
            computed,
            new_against_target,
            target_volts,
            remarks,
        )

    if before is None or after is None:
        one_sided: Unjudged = "only before" if before else "only after" if after else "not read"
        return result(one_sided)
    if has_failed_function_check(before) or has_failed_function_check(after):
        why_not = why_not or tr(WHY_UNPROVED)
    if why_not:
        return result("not comparable", why_not)
    if why := why_visits_not_comparable(before.context, after.context):
        restated = corrected_reading(before, like=after)
        if restated is None or new is None:
            return result("not comparable", why)
        one, other = with_posture(new, repeatabilities[1]), with_posture(restated, repeatabilities[0])
        change = Change(restated, new, independent_difference_budget(one, other, LABELS))
        return replace(
            result("not comparable", why, None, change), computed_verdict=change.verdict(target_volts)
        )
    change = change_of(before, after, repeatabilities)
    found = result(change.verdict(target_volts), "", change)
    return replace(found, significance=change.significance)


def change_of(before: Reading, after: Reading, repeatabilities: Repeatabilities = BOTH_DEFAULT) -> Change:
    """Return both values and after minus before, of two readings that are comparable.

    Args:
        before: the earlier reading.
        after: the later reading.
        repeatabilities: of the posture in both visits.
    """
    old, new = budget_of(before), budget_of(after)
    assert old is not None and new is not None and before.context is not None and after.context is not None
    return Change(
        old,
        new,
        difference(
            Term(new, after.context, repeatabilities[1]),
            Term(old, before.context, repeatabilities[0]),
            LABELS,
            same_visit=False,
        ),
    )


def judged_together(changes: Sequence[ValueChange]) -> list[ValueChange]:
    """Judge all values of two visits together, so that an unchanged home has no false verdict among them (Holm)."""
    if not changes:
        return []
    verdicts = judge_together([c.change or c.computed for c in changes], changes[0].target_volts)
    out = []
    for change, judged in zip(changes, verdicts, strict=True):
        if judged is None:
            out.append(change)
        elif change.change is None:
            out.append(replace(change, computed_verdict=judged[0]))
        else:
            out.append(replace(change, verdict=judged[0], significance=judged[1]))
    return out
