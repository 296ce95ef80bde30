"""What a recorder keeps in a visit log, as plain values. Times are UTC nanoseconds, voltages AC rms volts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from logger.clock import NS_PER_S
from logger.settling.events import Event, Settled, State, span_s
from logger.visit.records.simulated_run import is_simulated

CLOCK_SET = "clock set"
"""Kind of the notice that the computer's clock was set."""


@dataclass(frozen=True, slots=True)
class Run:
    """One stretch of recording: a recorder listening to a port."""

    id: int
    started_utc_ns: int
    zone: str
    utc_offset_s: int
    port: str
    settings: str
    software: str
    ended_utc_ns: int | None
    """Start and steady duration: it is never before the start, whatever the computer's clock was set to."""
    end_reason: str
    clock_set_ns: int = 0
    """By how much the computer's clock ran off the steady one during it: large where somebody set it."""

    @property
    def simulated(self) -> bool:
        """Whether no meter was there, but a simulation."""
        return is_simulated(self.port, self.settings)


@dataclass(frozen=True, slots=True)
class Samples:
    """Samples in order of arrival; every array has shape (n,)."""

    line_id: NDArray[np.int64]
    run_id: NDArray[np.int64]
    utc_ns: NDArray[np.int64]
    """By the computer's clock at arrival: jumps when that clock is set."""
    steady_utc_ns: NDArray[np.int64]
    """Start of the run by the computer's clock plus steady time since: never goes back within a run."""
    volts: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Line:
    """A line that was no sample."""

    id: int
    run_id: int
    utc_ns: int
    status: str
    raw: bytes


@dataclass(frozen=True, slots=True)
class LoggedEvent:
    """An event of the detector with its place in the log."""

    id: int
    run_id: int
    run_started_utc_ns: int
    event: Event

    @property
    def start_utc_ns(self) -> int:
        """Start of the event (a step's time) on the run's steady time line."""
        return self.run_started_utc_ns + round(span_s(self.event)[0] * NS_PER_S)

    @property
    def end_utc_ns(self) -> int:
        """End of the event on the run's steady time line; a step has no length."""
        return self.run_started_utc_ns + round(span_s(self.event)[1] * NS_PER_S)


@dataclass(frozen=True, slots=True)
class Notice:
    """Something that happened to the recording itself."""

    id: int
    run_id: int
    utc_ns: int
    kind: str
    message: str
    steady_utc_ns: int
    """On the run's steady time line: never before an earlier notice of the run."""
    run_started_utc_ns: int


PART_AFTER_S = 30.0
"""A settled span that begins so much later than the value settled, or ended so long ago while the display stands still,
is a part of one that was frozen for longer than this: see `MIN_FROZEN_S`."""


@dataclass(frozen=True, slots=True)
class Live:
    """What the recorder last said of itself, in the same transaction as its last lines."""

    run_id: int
    pid: int
    run_started_utc_ns: int
    port: str
    beat_utc_ns: int
    beat_steady_utc_ns: int
    port_state: Literal["open", "lost"]
    port_message: str
    state: State
    since_steady_utc_ns: int
    volts: float | None
    u_volts: float | None
    samples: int
    last_line_id: int | None
    count_volts: int
    count_overload: int
    count_not_ac_volts: int
    count_unreadable: int
    last_refused: str
    warning: str
    """What is wrong with the meter now, in one sentence; empty when nothing is."""
    frozen: bool
    """The display seems to stand still: a settled value would be none."""
    ended: bool
    """The run was closed in order (or by the next one, after a kill)."""
    open_events: tuple[Event, ...]
    """Spans that are still going on, as they stand."""

    @property
    def growing_span(self) -> Settled | None:
        """The settled span that goes on; None while the value is not settled.

        Of a span that was frozen for most of its time there are the measured parts only: none of these goes on.
        """
        if self.state is not State.SETTLED:
            return None
        spans = (event for event in self.open_events if isinstance(event, Settled))
        newest = max(spans, key=lambda span: span.start_s, default=None)
        if newest is None:
            return None
        began_s = (self.since_steady_utc_ns - self.run_started_utc_ns) / NS_PER_S
        ended_ago_s = (self.beat_steady_utc_ns - self.run_started_utc_ns) / NS_PER_S - newest.end_s
        is_part = newest.start_s - began_s > PART_AFTER_S or (self.frozen and ended_ago_s >= PART_AFTER_S)
        return None if is_part else newest
