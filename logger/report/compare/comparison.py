"""Two visits to the same home, before and after, or a year apart: what has changed, spot by spot, and how surely.

In: two visit logs. Out: for every spot, with everything on and with everything off, the difference (after minus
before) with its own uncertainty and a verdict. What was read against another reference, or with another input of the
meter, is not compared; for another input it is computed what the earlier value would have been, and marked as such.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.metrology.checks import AGREEMENT_SHARE
from logger.metrology.context import why_not_comparable
from logger.metrology.setup import UNKNOWN_METER
from logger.metrology.uncertainty import (
    Budget,
    compare_with,
    difference_budget,
    independent_difference_budget,
    rectangular,
    shown,
)
from logger.report.compare.spot_matching import Pair, Partners, pairs, partners
from logger.visit.records.records import Reading, Spot
from logger.visit.results.input_correction import restated_reading
from logger.visit.results.on_off_result import (
    EVERYTHING_OFF,
    EVERYTHING_ON,
    SpotResult,
    against_target,
    budget_of,
)
from logger.visit.results.span_review import SpanReview
from logger.visit.storage.ordered_list import name_key
from logger.visit.storage.time_zone import zone_of
from logger.visit.storage.visit_log import VisitLog

MATCHES_FACT = "comparison: spots matched by hand"
"""The fact in the later visit: JSON, {start of the earlier visit: {id of the spot before: id after, or null}}. Ids
outlast another name."""

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
    after_says: str
    """The later value against the target."""
    remarks: tuple[str, ...] = ()
    """What has to be said of either reading: 'before: zero check not done', 'after: taken although not settled'."""


@dataclass(frozen=True, slots=True)
class SpotChange:
    """One spot in both visits."""

    pair: Pair
    on: ValueChange
    off: ValueChange

    @property
    def name(self) -> str:
        """As the later visit calls it, or the earlier one where only that has it."""
        return self._spot.name

    @property
    def room(self) -> str:
        """Likewise."""
        return self._spot.room

    @property
    def _spot(self) -> Spot:
        spot = self.pair.after or self.pair.before
        assert spot is not None
        return spot


@dataclass(frozen=True, slots=True)
class ComparedVisit:
    """What is said of each visit."""

    path: Path
    household: str
    first_utc_ns: int | None
    """Of its first standing reading, or its first recording; None where there is neither."""
    date: str
    """ISO date of that where it was recorded; empty where it is not known."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """Everything that is said of two visits."""

    before: ComparedVisit
    after: ComparedVisit
    notes: tuple[str, ...]
    spots: tuple[SpotChange, ...]


def compare_visits(before: Path, after: Path, by_hand: Mapping[str, str] | None = None) -> Comparison:
    """Compare two visits; matches by hand are kept in the later one.

    Args:
        before, after: the visit logs.
        by_hand: name of a spot before to its name after; an empty name: it has no partner there.

    Raises:
        StillvoltError: a log cannot be read, both are the same file, or a match names what is not there.
    """
    if before.resolve() == after.resolve():
        raise StillvoltError(
            "Both visits are the same file.", next_step="Name the earlier and the later one."
        )
    earlier = VisitLog.open(before)
    try:
        later = VisitLog.open(after)
        try:
            if by_hand:
                keep_matches(later, earlier, partners(by_hand, earlier.spots.all(), later.spots.all()))
            found = compare_logs(earlier, later)
        finally:
            later.close()
    finally:
        earlier.close()
    return found


def compare_logs(before: VisitLog, after: VisitLog) -> Comparison:
    """Compare two open logs, with the matches by hand that the later one keeps."""
    old_readings, new_readings = before.readings.all(), after.readings.all()
    target_volts = after.setup.current().target_volts
    doubts = _Doubts(before, after)
    spots = []
    for pair in pairs(before.spots.all(), after.spots.all(), kept_matches(after, before)):
        old = SpotResult.of(old_readings, pair.before.id) if pair.before else SpotResult(None, None)
        new = SpotResult.of(new_readings, pair.after.id) if pair.after else SpotResult(None, None)
        on = change(EVERYTHING_ON, old.on, new.on, target_volts, doubts.of(old.on, new.on))
        off = change(EVERYTHING_OFF, old.off, new.off, target_volts, doubts.of(old.off, new.off))
        spots.append(SpotChange(pair, on, off))
    visited = _visited(before), _visited(after)
    return Comparison(*visited, tuple(_notes(*visited, spots)), tuple(spots))


def kept_matches(after: VisitLog, before: VisitLog) -> dict[int, int | None]:
    """What was matched by hand for these two visits."""
    kept: dict[str, dict[str, int | None]] = json.loads(after.facts.get(MATCHES_FACT) or "{}")
    return {int(old_id): new_id for old_id, new_id in kept.get(_key(before), {}).items()}


def keep_matches(after: VisitLog, before: VisitLog, by_hand: Partners) -> None:
    """Keep what was matched by hand, in the later visit; a new word on a spot takes the place of an older one.

    Args:
        after: the later visit, in which the matches are kept.
        before: the earlier visit.
        by_hand: the earlier spot of each later one, as the user matched them.
    """
    kept: dict[str, dict[str, int | None]] = json.loads(after.facts.get(MATCHES_FACT) or "{}")
    matched_anew = set(by_hand.values()) - {None}
    older = {
        old_id: new_id for old_id, new_id in kept_matches(after, before).items() if new_id not in matched_anew
    }
    both = {str(old_id): new_id for old_id, new_id in (older | dict(by_hand)).items()}
    after.facts.set(MATCHES_FACT, json.dumps(kept | {_key(before): both}))


def _key(log: VisitLog) -> str:
    """What tells a visit from others, wherever its file lies and whatever it is called."""
    return str(_visited(log).first_utc_ns or "")


class _Doubts:
    """What has to be said of the readings of two logs."""

    def __init__(self, before: VisitLog, after: VisitLog) -> None:
        self._standing = []
        for log in (before, after):
            standing = SpanReview()
            standing.append(log.events.after())
            self._standing.append(standing)

    def of(self, before: Reading | None, after: Reading | None) -> tuple[str, ...]:
        """Of a reading in each of them."""
        out = []
        for name, standing, reading in zip(("before", "after"), self._standing, (before, after), strict=True):
            if reading is None:
                continue
            said = reading.context.remarks() if reading.context else []
            if reading.taken == "override":
                said.append("taken although not settled")
            if doubt := standing.of_reading(reading):
                said.append(doubt)
            out += [f"{name}: {text}" for text in said]
        return tuple(out)


def change(
    condition: str,
    before: Reading | None,
    after: Reading | None,
    target_volts: float,
    remarks: tuple[str, ...] = (),
) -> ValueChange:
    """What has become of one spot in one condition.

    Args:
        condition: what was on.
        before: the earlier reading; None where there is none.
        after: the later reading; None where there is none.
        target_volts: the level to stay below.
        remarks: what limits the comparison.
    """
    new = budget_of(after)
    says = against_target(new, target_volts) if new else ""

    def found(
        verdict: Verdict,
        why: str = "",
        difference: Budget | None = None,
        computed: tuple[Budget | None, Budget | None] = (None, None),
    ) -> ValueChange:
        return ValueChange(condition, before, after, verdict, why, difference, *computed, says, remarks)

    if before is None or after is None:
        one_sided: Verdict = "only before" if before else "only after" if after else "not read"
        return found(one_sided)
    if why := _why_not_comparable(before, after):
        restated = restated_reading(before, like=after)
        if restated is None or new is None:
            return found("not comparable", why)
        computed = independent_difference_budget(_with_posture(new), _with_posture(restated), LABELS)
        return found("not comparable", why, None, (restated, computed))
    difference = difference_of(before, after)
    return found(verdict_of(difference), "", difference)


def difference_of(before: Reading, after: Reading) -> Budget:
    """After minus before of two readings that are comparable.

    Where both were taken with the same meter on the same range its share of reading is one error, else two. The
    posture is taken up anew: what it repeats to (`AGREEMENT_SHARE`, half-width) is part of both.
    """
    old, new = budget_of(before), budget_of(after)
    assert old is not None and new is not None and before.context is not None and after.context is not None
    old_meter, new_meter = before.context.setup.meter, after.context.setup.meter
    ranges = old_meter.accuracy_at(abs(old.volts)), new_meter.accuracy_at(abs(new.volts))
    if old_meter == new_meter != UNKNOWN_METER and ranges[0] == ranges[1]:
        return difference_budget(_with_posture(new), _with_posture(old), ranges[0], LABELS)
    return independent_difference_budget(_with_posture(new), _with_posture(old), LABELS)


def verdict_of(difference: Budget) -> Verdict:
    """Lower is improved; at k = 2."""
    against_zero = compare_with(difference, 0.0)
    if against_zero == "not distinguishable":
        return "not distinguishable"
    return "improved" if against_zero == "below" else "worse"


def _with_posture(budget: Budget) -> Budget:
    posture = rectangular("posture taken up again", AGREEMENT_SHARE * abs(budget.volts))
    return Budget(budget.volts, (*budget.components, posture))


def _why_not_comparable(before: Reading, after: Reading) -> str:
    if why := why_not_comparable(before.context, after.context):
        return why
    assert before.context is not None
    if before.context.setup.reference is None:  # the same unknown twice: within a visit it is the same wire
        return "Not comparable: against what they were read is not stated in either visit."
    return ""


def _visited(log: VisitLog) -> ComparedVisit:
    moments = [r.utc_ns for r in log.readings.all() if r.void_reason is None]
    moments = moments or [run.started_utc_ns for run in log.runs.all()]
    if not moments:
        return ComparedVisit(log.path, log.setup.current().household, None, "")
    runs = log.runs.all()
    moment = datetime.fromtimestamp(moments[0] // NS_PER_S, zone_of(runs[0]) if runs else UTC)
    return ComparedVisit(log.path, log.setup.current().household, moments[0], moment.date().isoformat())


def _notes(before: ComparedVisit, after: ComparedVisit, spots: list[SpotChange]) -> list[str]:
    notes = []
    if before.first_utc_ns and after.first_utc_ns and before.first_utc_ns > after.first_utc_ns:
        notes.append(
            "The visit named as before is the later one: improved and worse are the other way round."
        )
    households = before.household, after.household
    if all(households) and name_key(households[0]) != name_key(households[1]):
        notes.append(f"The households are called differently: {households[0]!r} and {households[1]!r}.")
    for spot in spots:
        old, new = spot.pair.before, spot.pair.after
        if old is None or new is None:
            continue
        if spot.pair.how == "similar name":
            notes.append(
                f"{old.name!r} before is taken for {new.name!r} after, since the names are alike. "
                f"If they are not the same spot: --match {old.name + '='!r}."
            )
        if old.room and new.room and name_key(old.room) != name_key(new.room):
            notes.append(f"{new.name!r} was in {old.room!r} before and is in {new.room!r} after.")
    return notes


# ---- for reading


def in_words(found: Comparison) -> str:
    """For the terminal: a paragraph a spot."""
    before, after = found.before, found.after
    lines = [
        f"Before: {before.household or before.path.stem}, {before.date or 'no date'} ({before.path})",
        f"After:  {after.household or after.path.stem}, {after.date or 'no date'} ({after.path})",
        *found.notes,
    ]
    for spot in found.spots:
        old = spot.pair.before
        called = f" (before: {old.name})" if old and spot.pair.after and old.name != spot.name else ""
        lines += ["", f"{spot.name}{called}"]
        lines += [
            f"  {c.condition}: {_with_remarks(c)}" for c in (spot.on, spot.off) if c.verdict != "not read"
        ]
        if spot.on.verdict == spot.off.verdict == "not read":
            lines.append("  not read in either visit")
    counts = Counter(
        c.verdict for spot in found.spots for c in (spot.on, spot.off) if c.verdict != "not read"
    )
    lines += [
        "",
        ", ".join(f"{verdict}: {count}" for verdict, count in counts.items()) or "Nothing was read.",
    ]
    return "\n".join(lines)


def _with_remarks(found: ValueChange) -> str:
    words = change_in_words(found)
    return f"{words} [{'; '.join(found.remarks)}]" if found.remarks else words


def change_in_words(found: ValueChange) -> str:
    """One sentence or two; for the report and the window too."""
    before, after = found.before, found.after
    if before is None or after is None:
        one = after or before
        return f"{found.verdict}, {_shown(one)}" if one else "not read"
    text = f"{_shown(before)} before, {_shown(after)} after"
    if found.difference is not None:
        by = f"changed by {shown(found.difference)}"
        return f"{found.verdict}; {text}; {by}; now {found.after_says}"
    if found.computed_before is None or found.computed_difference is None:
        return f"{text}. {found.why}"
    return (
        f"{text}. {found.why} Computed, not read: with the later meter it would have been "
        f"{shown(found.computed_before)} before, which would be {_as_if(found.computed_difference)}."
    )


def _as_if(difference: Budget) -> str:
    return f"{verdict_of(difference)} (changed by {shown(difference)})"


def _shown(reading: Reading) -> str:
    budget = budget_of(reading)
    return shown(budget) if budget else f"{reading.volts:.3f} V (uncertainty not known)"


def as_json(found: Comparison) -> dict[str, Any]:
    """For other programs. Voltages in V; `expanded` is k = 2; `difference` is after minus before."""
    return {
        "before": _visited_json(found.before),
        "after": _visited_json(found.after),
        "notes": list(found.notes),
        "spots": [
            {
                "before_spot": spot.pair.before.name if spot.pair.before else None,
                "after_spot": spot.pair.after.name if spot.pair.after else None,
                "room": spot.room,
                "matched": spot.pair.how or None,
                "on": _change_json(spot.on),
                "off": _change_json(spot.off),
            }
            for spot in found.spots
        ],
    }


def _visited_json(visited: ComparedVisit) -> dict[str, Any]:
    return {"path": str(visited.path), "household": visited.household, "date": visited.date}


def _change_json(found: ValueChange) -> dict[str, Any]:
    values = {
        "before": budget_of(found.before),
        "after": budget_of(found.after),
        "difference": found.difference,
        "computed_before": found.computed_before,
        "computed_difference": found.computed_difference,
    }
    told: dict[str, Any] = {
        "verdict": found.verdict,
        "why": found.why,
        "after_against_target": found.after_says,
        "remarks": list(found.remarks),
    }
    for name, budget in values.items():
        told[f"{name}_volts"] = budget.volts if budget else None
        told[f"{name}_expanded_volts"] = budget.expanded_volts if budget else None
    for name, reading in (("before", found.before), ("after", found.after)):
        if reading is not None and reading.context is None:
            told[f"{name}_volts"] = reading.volts
    return told
