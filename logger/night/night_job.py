"""What the stage Night shows of a visit, worked out in one go: to be called in a process of its own, beside a window.

In: path of the visit log. Out: plain values. A log is opened and closed here, read only.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from logger.errors import StillvoltError
from logger.night.analysis.distribution import LevelDistribution, level_distributions
from logger.night.analysis.schedule_match import ScheduleMatch, match_schedule
from logger.night.analysis.summary import NightSummary, summarise
from logger.night.night_facts import clock
from logger.night.night_text import Compared, compare_nights
from logger.night.recorded_nights import Night, longest_night, nights
from logger.night.schedule import planned_in
from logger.visit.storage.visit_log import VisitLog


@dataclass(frozen=True, slots=True)
class NightAnalysis:
    """A night with its summary."""

    night: Night
    summary: NightSummary
    target_volts: float
    matched: ScheduleMatch | None
    """Planned switchings beside the steps; None: nothing is planned."""
    lengths_s: tuple[float, ...]
    """Of all nights of the visit, in the order recorded."""


@dataclass(frozen=True, slots=True)
class OtherNight:
    """A night that another one may be compared with."""

    says: str
    path: Path
    number: int | None
    """Counted from 1; None: the longest one of that visit."""


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Two nights, the earlier one first."""

    nights: tuple[Night, Night]
    names: tuple[str, str]
    compared: Compared | None
    """None: one of them has too little still time."""
    levels: tuple[LevelDistribution, LevelDistribution] | None


def sum_up(path: Path, number: int | None, target_volts: float, schedule: str) -> NightAnalysis:
    """A night of a visit summed up.

    Args:
        path: the visit log.
        number: of the night, counted from 1; None: the longest.
        target_volts: what the level is held against.
        schedule: planned switchings as typed; empty: none.

    Raises:
        StillvoltError: the log cannot be read, or nothing was recorded.
    """
    log = VisitLog.open(path)
    try:
        found = nights(log)
    finally:
        log.close()
    if not found:
        raise StillvoltError("Nothing has been recorded in this visit.", next_step="Record a night first.")
    longest = max(found, key=lambda night: night.record.end_s)
    night = found[number - 1] if number is not None and number <= len(found) else longest
    summary = summarise(night.record, target_volts)
    matched = match_schedule(planned_in(night, schedule), summary.steps) if schedule.strip() else None
    return NightAnalysis(night, summary, target_volts, matched, tuple(n.record.end_s for n in found))


def compare_with(chosen: Night, other: OtherNight) -> SideBySide:
    """A night and another one, in the order recorded; raises StillvoltError when the other one cannot be read."""
    log = VisitLog.open(other.path)
    try:
        found = longest_night(log) if other.number is None else nights(log)[other.number - 1]
    finally:
        log.close()
    name = other.path.stem if other.number is None else f"night {other.number}"
    named = sorted(((chosen, "this night"), (found, name)), key=lambda pair: pair[0].start_utc_ns)
    before, after = named[0][0], named[1][0]
    return SideBySide(
        (before, after),
        (_named(*named[0]), _named(*named[1])),
        compare_nights(before, after),
        level_distributions(before.record, after.record),
    )


def _named(night: Night, name: str) -> str:
    began = night.local(0.0)
    return f"{name}, {began.day} {began:%b} from {clock(night, 0.0, seconds=False)}"
