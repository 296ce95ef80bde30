"""The nights of a visit log: which stretches of recording belong together, and each of them as plain numbers.

Runs that follow each other within a few hours are one night: a cable that was pulled, a recorder that was started again
do not end it. Times of day are kept with the zone in which the night was recorded, so that a change to or from
daylight-saving time in it is told right.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, tzinfo

import numpy as np

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.night.analysis.night_record import NightRecord
from logger.settling.events import Event, Gap, Step
from logger.visit.records.records import Run, Samples
from logger.visit.storage.time_zone import zone_of
from logger.visit.storage.visit_log import VisitLog

SAME_NIGHT_NS = 3 * 3600 * NS_PER_S
"""Runs with a longer pause between them are two nights."""

PAUSE_IS_GAP_NS = 5 * NS_PER_S
"""A longer pause between two runs of a night is a time without values."""


@dataclass(frozen=True, slots=True)
class Night:
    """One night of a visit.

    `utc_ns` and `local` turn seconds since its start into times of day.
    """

    number: int
    """Counted from 1 in the order recorded."""
    runs: tuple[Run, ...]
    start_utc_ns: int
    zone: tzinfo
    zone_name: str
    record: NightRecord
    run_starts_s: Mapping[int, float] = field(default_factory=dict)
    """Where each run's own time begins in the night, by its id."""

    def utc_ns(self, time_s: float) -> int:
        """The moment that lies so many seconds after the night's start."""
        return self.start_utc_ns + round(time_s * NS_PER_S)

    def local(self, time_s: float) -> datetime:
        """The same as local time where it was recorded, with its offset from UTC."""
        return (datetime.fromtimestamp(self.utc_ns(time_s) // NS_PER_S, UTC)).astimezone(self.zone)

    def rfc3339(self, time_s: float) -> str:
        """The same as RFC 3339 text with the offset that held then, to the second."""
        return self.local(time_s).isoformat(timespec="seconds")

    def moment(self, time_s: float) -> tuple[int, float] | None:
        """The run that was at work then, and the seconds since its start; None for a night without runs."""
        begun = [run.id for run in self.runs if self.run_starts_s[run.id] <= time_s]
        if not self.runs:
            return None
        run_id = begun[-1] if begun else self.runs[0].id
        return run_id, time_s - self.run_starts_s[run_id]


def nights(log: VisitLog) -> list[Night]:
    """All nights of a visit, oldest first."""
    grouped: list[list[Run]] = []
    ends_ns: list[int] = []
    samples = log.samples_after()
    for run in log.runs():
        end_ns = _end_utc_ns(run, samples)
        if grouped and run.started_utc_ns - ends_ns[-1] <= SAME_NIGHT_NS:
            grouped[-1].append(run)
            ends_ns[-1] = max(ends_ns[-1], end_ns)
        else:
            grouped.append([run])
            ends_ns.append(end_ns)
    events = log.events_after()
    found = []
    for number, runs in enumerate(grouped, 1):
        ids = {run.id for run in runs}
        of_runs = [(logged.run_id, logged.event) for logged in events if logged.run_id in ids]
        found.append(_night(number, runs, samples, of_runs))
    return found


def longest_night(log: VisitLog) -> Night:
    """The longest one; raises StillvoltError when nothing was recorded."""
    found = nights(log)
    if not found:
        raise StillvoltError("Nothing has been recorded in this visit.", next_step="Record a night first.")
    return max(found, key=lambda night: night.record.end_s)


def _end_utc_ns(run: Run, samples: Samples) -> int:
    of_run = samples.steady_utc_ns[samples.run_id == run.id]
    return int(of_run[-1]) if len(of_run) else run.started_utc_ns


def _night(number: int, runs: Sequence[Run], samples: Samples, events: Sequence[tuple[int, Event]]) -> Night:
    start_ns = runs[0].started_utc_ns
    times, volts = [], []
    shift_s: dict[int, float] = {}
    gaps: list[Event] = []
    end_ns = start_ns
    for run in runs:
        chosen = samples.run_id == run.id
        of_run = samples.steady_utc_ns[chosen]
        # A clock that was set back between two runs must not make the time line go back.
        late_ns = max(end_ns - run.started_utc_ns, 0)
        zero_ns = run.started_utc_ns + late_ns
        shift_s[run.id] = (zero_ns - start_ns) / NS_PER_S
        if zero_ns - end_ns > PAUSE_IS_GAP_NS:
            gap = ((end_ns - start_ns) / NS_PER_S, shift_s[run.id])
            gaps.append(Gap(*gap, gap[1]))
        times.append((of_run + late_ns - start_ns) / NS_PER_S)
        volts.append(samples.volts[chosen])
        end_ns = int(of_run[-1]) + late_ns if len(of_run) else zero_ns
    placed = [_shifted(event, shift_s[run_id]) for run_id, event in events]
    record = NightRecord(
        np.concatenate(times),
        np.concatenate(volts),
        tuple(sorted([*placed, *gaps], key=lambda e: e.time_s if isinstance(e, Step) else e.start_s)),
        (end_ns - start_ns) / NS_PER_S,
    )
    return Night(number, tuple(runs), start_ns, zone_of(runs[0]), runs[0].zone, record, shift_s)


def _shifted(event: Event, by_s: float) -> Event:
    known_at_s = event.known_at_s + by_s
    if isinstance(event, Step):
        return replace(event, time_s=event.time_s + by_s, known_at_s=known_at_s)
    return replace(event, start_s=event.start_s + by_s, end_s=event.end_s + by_s, known_at_s=known_at_s)
