"""Switchings that are planned for a night, as typed: "23:00 breakers off; 06:30 breakers on".

In: the text, kept as a fact of the visit. Out: planned moments on a night's time line. A time of day is local where the
night is recorded; it means the first such time after the night's start, and the same time on each later day.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.night.analysis.schedule_match import PlannedSwitching
from logger.night.recorded_nights import Night
from logger.translation import tr

BEFORE_S = 300.0
"""A switching that was planned at most this long before the night's start belongs to the night."""

_ENTRY = re.compile(r"(\d{1,2})[:.h](\d{2})\s*:?\s+(.+)")


def parse_schedule(text: str) -> list[tuple[int, int, str]]:
    """Return hour, minute and description of each entry; a new line or a semicolon separates entries.

    Raises:
        StillvoltError: an entry does not have that form.
    """
    entries = []
    for entry in re.split(r"[;\n]", text):
        if not entry.strip():
            continue
        match = _ENTRY.fullmatch(entry.strip())
        if match is None or int(match[1]) > 23 or int(match[2]) > 59:
            raise StillvoltError(
                tr("“{typed}” is no planned switching.").format(typed=entry.strip()),
                tr("Nothing was changed."),
                tr("Type it like 23:00 breakers off."),
            )
        entries.append((int(match[1]), int(match[2]), " ".join(match[3].split())))
    return entries


def planned_in(night: Night, text: str) -> list[PlannedSwitching]:
    """Return the planned switchings that fall into a night, in order of time."""
    started = night.local(0.0)
    found = []
    for hour, minute, what in parse_schedule(text):
        day = started.date() - timedelta(days=1)
        while True:
            at = datetime(day.year, day.month, day.day, hour, minute, tzinfo=night.zone)
            time_s = at.timestamp() - night.utc_ns(0.0) / NS_PER_S
            if time_s > night.record.end_s:
                break
            if time_s >= -BEFORE_S:
                found.append(PlannedSwitching(time_s, what))
            day += timedelta(days=1)
    return sorted(found, key=lambda planned: planned.time_s)
