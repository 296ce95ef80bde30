"""The analysis of one night and the comparison of two, each in one call, so that a worker process can run it.

In: path of the visit log. Out: plain values. The log is opened and closed here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from logger.errors import StillvoltError
from logger.night.analysis.distribution import LevelDistribution, level_distributions
from logger.night.analysis.schedule_match import ScheduleMatch, match_schedule
from logger.night.analysis.summary import NightSummary
from logger.night.edge_times import keep_edges, notes_on_typed, typed_edges
from logger.night.night_difference import ComparedNights, compare_nights, in_order
from logger.night.night_edges import FOUND_EDGES
from logger.night.night_level import summary_of
from logger.night.recorded_nights import Night, longest_of, nights
from logger.night.schedule import planned_in
from logger.translation import tr
from logger.visit.records.fact_names import SCHEDULE
from logger.visit.storage.read_only import checked_log, open_checked

NEWEST = 0
"""Stands for the number of the night that was recorded last."""


@dataclass(frozen=True, slots=True)
class RecordingName:
    """A recording of a visit, to be chosen from a list.

    Args:
        number: its number, counted from 1 in the order recorded.
        began: when it began, in words.
        length_s: its length, or that of the night in it, s.
        is_night: whether it counts as a night.
    """

    number: int
    began: str
    length_s: float
    is_night: bool


@dataclass(frozen=True, slots=True)
class NightAnalysis:
    """A night with its summary.

    Args:
        night: the night that was analysed.
        summary: its summary.
        target_volts: the target that the level is compared with, V.
        matched: planned switchings and the steps that belong to them; None where nothing is planned.
        recordings: every recording of the visit: the nights first, the longest of each first.
        damage: what of the visit log does not agree with itself, in a sentence; empty where everything does.
    """

    night: Night
    summary: NightSummary
    target_volts: float
    matched: ScheduleMatch | None = None
    recordings: tuple[RecordingName, ...] = ()
    damage: str = ""


@dataclass(frozen=True, slots=True)
class OtherNight:
    """A night that another one may be compared with.

    Args:
        label: its name for the user.
        path: path of its visit log.
        number: its number, counted from 1; None for the longest night of that visit.
    """

    label: str
    path: Path
    number: int | None


@dataclass(frozen=True, slots=True)
class NightPair:
    """Two nights, the earlier one first, and how they compare.

    Args:
        nights: both nights.
        names: their names for the user.
        compared: how their levels compare, or why they do not.
        distributions: distributions of their levels; None where one of them has no still time.
    """

    nights: tuple[Night, Night]
    names: tuple[str, str]
    compared: ComparedNights
    distributions: tuple[LevelDistribution, LevelDistribution] | None


def analyse_night(path: Path, number: int | None, target_volts: float, schedule: str) -> NightAnalysis:
    """Analyse a night of a visit.

    Args:
        path: the visit log.
        number: number of the night, counted from 1; `NEWEST` for the one recorded last; None, or a number too large,
            for the longest one.
        target_volts: the target that the level is compared with, V.
        schedule: planned switchings as typed; empty where there is none.

    Raises:
        StillvoltError: the log cannot be read, or nothing was recorded.
    """
    found = _nights_of(path)
    night = longest_of(found)
    if number == NEWEST:
        night = max((n for n in found if n.counts), key=lambda n: n.number, default=night)
    elif number is not None and number <= len(found):
        night = found[number - 1]
    return _analysed(night, target_volts, schedule, found)


def analyse_as_stated(path: Path, number: int | None) -> NightAnalysis:
    """Analyse a night with the target and the planned switchings that the visit log holds.

    Args:
        path: the visit log.
        number: number of the night, counted from 1; None for the longest one.

    Raises:
        StillvoltError: the log cannot be read, nothing was recorded, or there is no such night.
    """
    with checked_log(path) as log:
        target_volts, schedule = log.setup.current().target_volts, log.facts.get(SCHEDULE)
        found, damage = nights(log), log.integrity().summary()
    analysis = _analysed(_numbered(found, number, path), target_volts, schedule, found)
    return replace(analysis, damage=damage)


def move_edges(path: Path, number: int | None, start: str, end: str) -> list[str]:
    """Move the edges of a night to typed times; they are kept in the visit log.

    Args:
        path: the visit log.
        number: number of the night, counted from 1; None for the longest one.
        start: its beginning as typed; empty leaves it as it is.
        end: its end as typed; empty leaves it as it is.

    Returns:
        A sentence on each time that comes more than once in the recording.

    Raises:
        StillvoltError: the log cannot be read, there is no such night, or no such time in it.
    """
    log = open_checked(path)
    try:
        night = _numbered(nights(log), number, path)
        keep_edges(log, night, typed_edges(night, start, end))
        return notes_on_typed(night, start, end)
    finally:
        log.close()


def find_edges_again(path: Path, number: int | None) -> None:
    """Take back how the edges of a night were moved.

    Args:
        path: the visit log.
        number: number of the night, counted from 1; None for the longest one.

    Raises:
        StillvoltError: the log cannot be read, or there is no such night.
    """
    log = open_checked(path)
    try:
        keep_edges(log, _numbered(nights(log), number, path), FOUND_EDGES)
    finally:
        log.close()


def _numbered(found: Sequence[Night], number: int | None, path: Path) -> Night:
    """Return a night by its number, the longest one for None; raises StillvoltError where there is none."""
    if number is None:
        return longest_of(found)
    if not 1 <= number <= len(found):
        raise StillvoltError(
            tr("There is no night {number}: {file} holds {count}.").format(
                number=number, file=path, count=len(found)
            )
        )
    return found[number - 1]


def _analysed(night: Night, target_volts: float, schedule: str, found: Sequence[Night]) -> NightAnalysis:
    summary = summary_of(night, target_volts)
    planned = planned_in(night, schedule) if schedule.strip() else None
    matched = None if planned is None else match_schedule(planned, summary.steps, summary.loads)
    names = [RecordingName(n.number, n.began_text, n.record.end_s, n.counts) for n in found]
    recordings = tuple(sorted(names, key=lambda name: (not name.is_night, -name.length_s)))
    return NightAnalysis(night, summary, target_volts, matched, recordings)


def _nights_of(path: Path) -> list[Night]:
    with checked_log(path) as log:
        return nights(log)


def compare_with(chosen: Night, other: OtherNight, *, same_visit: bool) -> NightPair:
    """Compare a night with another one; the one that was recorded earlier comes first.

    Args:
        chosen: the night that was chosen.
        other: the night that it is compared with.
        same_visit: whether both are of one visit.

    Raises:
        StillvoltError: the other visit log cannot be read.
    """
    found = _nights_of(other.path)
    other_night = longest_of(found) if other.number is None else found[other.number - 1]
    before, after = in_order(chosen, other_night, same_visit=same_visit)
    this = tr("this night, {began}").format(began=chosen.began_text)
    if other.number is None:
        name = tr("{visit}, {began}").format(visit=other.path.stem, began=other_night.began_text)
    else:
        name = tr("the other night, {began}").format(began=other_night.began_text)
    return NightPair(
        (before, after),
        (this, name) if before is chosen else (name, this),
        compare_nights(before, after, same_visit=same_visit),
        level_distributions(before.record, after.record),
    )
