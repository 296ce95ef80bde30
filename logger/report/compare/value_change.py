"""What has changed at one spot in one condition: the difference, its uncertainty, and the verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from logger.metrology.context import why_visits_not_comparable
from logger.metrology.posture import TAKEN_UP_AGAIN_SHARE
from logger.metrology.setup import UNKNOWN_METER, shared_range
from logger.metrology.uncertainty import (
    Budget,
    compare_with,
    difference_budget,
    independent_difference_budget,
    rectangular,
)
from logger.visit.records.reading_records import Reading
from logger.visit.results.input_correction import corrected_reading
from logger.visit.results.on_off_result import against_target, budget_of

LABELS = ("after", "before")

Verdict = Literal[
    "improved", "worse", "not distinguishable", "not comparable", "only before", "only after", "not read"
]


@dataclass(frozen=True, slots=True)
class ValueChange:
    """One spot in one condition, in both visits."""

    condition: str
    before: Reading | None
    after: Reading | None
    verdict: Verdict
    why: str
    """Why they are not comparable; empty otherwise."""
    difference: Budget | None
    """After minus before; None where they are not comparable or one is missing."""
    computed_before: Budget | None
    """The earlier value as the later meter would have read it: computed, not read. None where nothing was computed."""
    computed_difference: Budget | None
    after_against_target: str
    """The later value against the target."""
    remarks: tuple[str, ...] = ()
    """What limits either reading: 'before: zero check not done', 'after: taken although not settled'."""


def value_change(
    condition: str,
    before: Reading | None,
    after: Reading | None,
    target_volts: float,
    remarks: tuple[str, ...] = (),
) -> ValueChange:
    """Compare the two readings of one spot in one condition.

    Args:
        condition: everything on or everything off.
        before: the earlier reading; None where there is none.
        after: the later reading; None where there is none.
        target_volts: of the later visit.
        remarks: what limits either reading.
    """
    new = budget_of(after)
    new_against_target = against_target(new, target_volts) if new else ""

    def result(
        verdict: Verdict,
        why: str = "",
        difference: Budget | None = None,
        computed: tuple[Budget | None, Budget | None] = (None, None),
    ) -> ValueChange:
        return ValueChange(
            condition, before, after, verdict, why, difference, *computed, new_against_target, remarks
        )

    if before is None or after is None:
        one_sided: Verdict = "only before" if before else "only after" if after else "not read"
        return result(one_sided)
    if why := why_visits_not_comparable(before.context, after.context):
        restated = corrected_reading(before, like=after)
        if restated is None or new is None:
            return result("not comparable", why)
        computed = independent_difference_budget(_with_posture(new), _with_posture(restated), LABELS)
        return result("not comparable", why, None, (restated, computed))
    difference = difference_of(before, after)
    return result(verdict_of(difference), "", difference)


def difference_of(before: Reading, after: Reading) -> Budget:
    """Return after minus before of two readings that are comparable.

    Where both were taken with the same meter on the same range its share of reading is one error, else two. The
    posture is taken up again: what it repeats to (`TAKEN_UP_AGAIN_SHARE`, half-width) is part of both.
    """
    old, new = budget_of(before), budget_of(after)
    assert old is not None and new is not None and before.context is not None and after.context is not None
    old_meter, new_meter = before.context.setup.meter, after.context.setup.meter
    accuracy = shared_range(old_meter, new_meter, (old.volts, new.volts))
    if accuracy is not None and old_meter != UNKNOWN_METER:
        return difference_budget(_with_posture(new), _with_posture(old), accuracy, LABELS)
    return independent_difference_budget(_with_posture(new), _with_posture(old), LABELS)


def verdict_of(difference: Budget) -> Verdict:
    """Return the verdict at k = 2; lower is improved."""
    against_zero = compare_with(difference, 0.0)
    if against_zero == "not distinguishable":
        return "not distinguishable"
    return "improved" if against_zero == "below" else "worse"


def _with_posture(budget: Budget) -> Budget:
    posture = rectangular("posture taken up again", TAKEN_UP_AGAIN_SHARE * abs(budget.volts))
    return Budget(budget.volts, (*budget.components, posture))
