"""Where a visit was recorded and where it is looked at: times are kept in UTC, shown in the zone of the recording."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from logger.clock import NS_PER_S
from logger.translation import tr
from logger.visit.records.recording_records import Run


def zone_note(run: Run) -> str:
    """A sentence about the zone of a run's times; empty where it was recorded in the zone of this computer."""
    here = datetime.fromtimestamp(run.started_utc_ns / NS_PER_S).astimezone().utcoffset()
    here_s = int(here.total_seconds()) if here else 0
    if here_s == run.utc_offset_s:
        return ""
    offset = format_offset(run.utc_offset_s)
    place = offset if run.zone == offset else f"{run.zone} ({offset})"
    text = tr("Recorded in {zone}; times are shown in that zone. This computer is at {offset}.")
    return text.format(zone=place, offset=format_offset(here_s))


def format_offset(seconds: int) -> str:
    """Local time minus UTC, in words: 'UTC+01:00'."""
    hours, rest = divmod(abs(seconds), 3600)
    return f"UTC{'-' if seconds < 0 else '+'}{hours:02d}:{rest // 60:02d}"


def offset_of(when: datetime) -> str:
    """The offset of an aware time to UTC, in words: 'UTC+01:00'."""
    offset = when.utcoffset()
    return format_offset(int(offset.total_seconds()) if offset else 0)


def zone_of(run: Run) -> tzinfo:
    """The zone of a run; where its name is not known on this computer, the offset that held at its start."""
    try:
        return ZoneInfo(run.zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):  # a folder of zones, or a name too long for one
        return timezone(timedelta(seconds=run.utc_offset_s))


def local_time(utc_ns: int, zone: tzinfo | None) -> datetime:
    """A moment as local time with its offset, in whole seconds.

    Args:
        utc_ns: the moment, UTC ns.
        zone: where it was recorded; None for the zone of this computer.
    """
    return datetime.fromtimestamp(utc_ns // NS_PER_S, UTC).astimezone(zone)


def offset_unlike(moment: datetime, *zones: tzinfo | None) -> str:
    """The offset of an aware time, in words, where a clock of one of these zones shows another time; else empty.

    Args:
        moment: the aware time.
        zones: what its offset is held against; None for the zone of this computer.
    """
    is_unlike = any(moment.astimezone(zone).utcoffset() != moment.utcoffset() for zone in zones)
    return offset_of(moment) if is_unlike else ""
