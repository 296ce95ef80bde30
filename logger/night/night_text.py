"""A night for a reader: what `stillvolt night` prints, and the sentences that window and report show."""

from __future__ import annotations

import json
from pathlib import Path

from logger.clock import format_long_duration
from logger.errors import StillvoltError
from logger.night.analysis.night_comparison import NightDifference, NightLevel, level_difference, night_level
from logger.night.analysis.schedule_match import ScheduleMatch, match_schedule
from logger.night.analysis.summary import NightSummary, summarise
from logger.night.night_facts import night_facts
from logger.night.night_json import night_json
from logger.night.recorded_nights import Night, longest_night, nights
from logger.night.schedule import planned_in
from logger.visit.records.fact_names import SCHEDULE
from logger.visit.storage.visit_log import VisitLog

Compared = tuple[NightLevel, NightLevel, NightDifference]
"""The levels of two nights, the earlier one first, and the second minus the first."""

SIGNIFICANT_BELOW = 0.05
"""Two-sided significance from which on two nights are told apart (the usual 5 %)."""


def tell_night(visit: Path, number: int | None, against: Path | None, *, as_json: bool) -> str:
    """The summary of a night of a visit, and its comparison with another one.

    Args:
        visit: the visit log.
        number: of the night, counted from 1; None for the longest.
        against: a visit whose longest night came before, or None.
        as_json: as JSON instead of words.

    Raises:
        StillvoltError: a log cannot be read, or there is no such night.
    """
    night, target_volts, schedule = _read(visit, number)
    summary = summarise(night.record, target_volts)
    matched = match_schedule(planned_in(night, schedule), summary.steps) if schedule else None
    compared = None
    if against is not None:
        before, _, _ = _read(against, None)
        compared = compare_nights(before, night)
    if as_json:
        night_facts = night_json(night, summary, target_volts, matched)
        if against is not None:
            night_facts["compared"] = None if compared is None else _compared_json(*compared)
        return json.dumps(night_facts)
    lines = in_words(night, summary, target_volts, matched)
    if against is not None:
        lines.append(compared_in_words(compared))
    return "\n".join(lines)


def _read(visit: Path, number: int | None) -> tuple[Night, float, str]:
    """A night, the target that it is held against, and the planned switchings as typed."""
    log = VisitLog.open(visit)
    try:
        target_volts, schedule = log.setup.current().target_volts, log.facts.get(SCHEDULE)
        if number is None:
            return longest_night(log), target_volts, schedule
        found = nights(log)
        if not 1 <= number <= len(found):
            raise StillvoltError(f"There is no night {number}: {visit} holds {len(found)}.")
        return found[number - 1], target_volts, schedule
    finally:
        log.close()


def in_words(
    night: Night, summary: NightSummary, target_volts: float, matched: ScheduleMatch | None = None
) -> list[str]:
    """The summary as lines of text.

    Args:
        night: the night as it was recorded.
        summary: what was summed up of it.
        target_volts: the level to stay below.
        matched: how its steps fit the planned switchings; None where none were planned.
    """
    lines = [
        f"{night.rfc3339(0.0)} to {night.rfc3339(summary.end_s)} ({night.zone_name}): "
        f"{format_long_duration(summary.covered_s)} recorded, {format_long_duration(summary.missed_s)} missed"
    ]
    for group in night_facts(night, summary, target_volts, matched):
        lines.append(group.heading)
        lines += [f"  {fact.what}: {', '.join(filter(None, (fact.text, fact.note)))}" for fact in group.facts]
    return lines


def compare_nights(before: Night, after: Night) -> Compared | None:
    """The levels of two nights and their difference; None where one has too little still time."""
    first, second = night_level(before.record), night_level(after.record)
    if first is None or second is None:
        return None
    return first, second, level_difference(first, second)


def verdict(change: NightDifference) -> str:
    """'lower', 'higher' or 'not distinguishable'."""
    if change.significance >= SIGNIFICANT_BELOW:
        return "not distinguishable"
    return "lower" if change.volts < 0 else "higher"


def compared_in_words(compared: Compared | None) -> str:
    """Two nights in a sentence."""
    if compared is None:
        return "The nights cannot be compared: one of them has too little still time."
    first, second, change = compared
    doubt = (
        "" if first.independent and second.independent else " The level wanders too slowly for a sure figure."
    )
    sign = "+" if change.volts >= 0 else "\N{MINUS SIGN}"
    return (
        f"Before {first.volts:.3f} V ± {2 * first.u_volts:.3f} V, after {second.volts:.3f} V ± "
        f"{2 * second.u_volts:.3f} V: {verdict(change)}, {sign}{abs(change.volts):.3f} V ± {2 * change.u_volts:.3f} V "
        f"(p = {change.significance:.2g}).{doubt}"
    )


def _compared_json(first: NightLevel, second: NightLevel, change: NightDifference) -> dict[str, float]:
    return {
        "before_volts": first.volts,
        "u_before_volts": first.u_volts,
        "after_volts": second.volts,
        "u_after_volts": second.u_volts,
        "change_volts": change.volts,
        "u_change_volts": change.u_volts,
        "significance": change.significance,
    }
