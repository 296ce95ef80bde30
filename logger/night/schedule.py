"""Switchings that are planned for a night, as typed: "23:00 breakers off; 06:30 breakers on".

In: the text, kept as a fact of the visit. Out: planned moments on a night's time line. Times are those of the clock on
the wall where the night is recorded; the first such time after the night's start is meant, and each later day again.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from logger.errors import StillvoltError
from logger.night.analysis.schedule_match import PlannedSwitching
from logger.night.recorded_nights import Night

BEFORE_S = 300.0
"""What was planned up to so long before the night's start still belongs to it."""

_ENTRY = re.compile(r"(\d{1,2})[:.h](\d{2})\s*:?\s+(.+)")


def parse_schedule(text: str) -> list[tuple[int, int, str]]:
    """Hour, minute and what, for each entry; entries stand on lines of their own or between semicolons.

    Raises:
        StillvoltError: an entry is not of that form.
    """
    entries = []
    for said in re.split(r"[;\n]", text):
        if not said.strip():
            continue
        match = _ENTRY.fullmatch(said.strip())
        if match is None or int(match[1]) > 23 or int(match[2]) > 59:
            raise StillvoltError(
                f"“{said.strip()}” is no planned switching.",
                "Nothing was changed.",
                "Type it like 23:00 breakers off.",
            )
        entries.append((int(match[1]), int(match[2]), " ".join(match[3].split())))
    return entries


def planned_in(night: Night, text: str) -> list[PlannedSwitching]:
    """The planned switchings that fall into a night, in order of time."""
    started = night.local(0.0)
    found = []
    for hour, minute, what in parse_schedule(text):
        day = started.date() - timedelta(days=1)
        while True:
            at = datetime(day.year, day.month, day.day, hour, minute, tzinfo=night.zone)
            time_s = at.timestamp() - night.utc_ns(0.0) / 1e9
            if time_s > night.record.end_s:
                break
            if time_s >= -BEFORE_S:
                found.append(PlannedSwitching(time_s, what))
            day += timedelta(days=1)
    return sorted(found, key=lambda planned: planned.time_s)
