"""What a visit log holds, as plain values. Times are UTC nanoseconds, voltages AC rms volts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from logger.clock import NS_PER_S
from logger.metrology.checks import CheckKind, CheckOutcome
from logger.metrology.context import Context
from logger.metrology.setup import Setup
from logger.settling.events import Event, State, Step, span_s


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
    end_reason: str


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


@dataclass(frozen=True, slots=True)
class Spot:
    """A place and posture where somebody spends time."""

    id: int
    name: str
    room: str = ""
    reminder: str = ""
    """What has to be on when it is read, such as "screen on"."""


SourceKind = Literal["circuit", "cord"]


@dataclass(frozen=True, slots=True)
class Source:
    """A circuit behind a breaker, or a cord: what can be switched off or unplugged."""

    id: int
    kind: SourceKind
    name: str
    circuit_id: int | None = None
    """The circuit that a cord is plugged into; None where it is not known."""
    two_pole: bool = False
    """A breaker that switches two legs together."""
    stays: str = ""
    """Why it must stay on; empty: it may be switched off."""


Meaning = Literal["on", "off", "ignored", "unnamed"]


@dataclass(frozen=True, slots=True)
class StepLabel:
    """What the user said that a step of the trace was."""

    id: int
    utc_ns: int
    run_id: int
    step: Step
    """As it stood when it was named; the detector may place it better later, or take it back."""
    spot_id: int | None
    meaning: Meaning
    source_id: int | None

    @property
    def t_ns(self) -> int:
        """Of the step since the run's start."""
        return round(self.step.time_s * NS_PER_S)


Taken = Literal["settled", "override", "by hand"]


@dataclass(frozen=True, slots=True)
class Span:
    """A value with the stretch of the trace that it rests on. Times are nanoseconds since the run's start."""

    volts: float
    u_volts: float
    samples: int
    run_id: int
    start_t_ns: int
    end_t_ns: int
    first_line_id: int
    last_line_id: int


@dataclass(frozen=True, slots=True)
class CheckStep:
    """One step of a check as it was done."""

    name: str
    span: Span


@dataclass(frozen=True, slots=True)
class CheckResult:
    """A check with its verdict; a repeated check gives another result, and both stay."""

    id: int
    utc_ns: int
    kind: CheckKind
    outcome: CheckOutcome
    steps: tuple[CheckStep, ...]
    setup: Setup | None
    """In which it was done; None in logs of older versions."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A value taken at a spot. `void_reason` is None while it stands."""

    id: int
    utc_ns: int
    run_id: int | None
    spot_id: int
    spot_name: str
    condition: str
    volts: float
    u_volts: float
    samples: int
    start_utc_ns: int | None
    end_utc_ns: int | None
    first_line_id: int | None
    last_line_id: int | None
    taken: Taken
    context: Context | None
    """What held when it was taken; None in logs of older versions."""
    live: frozenset[int] | None
    """Ids of the circuits that were live and the cords that were plugged in; None where that was not stated one by
    one."""
    listed: frozenset[int]
    """Ids of all circuits and cords that were on the list then: what was added later was as it always is."""
    void_reason: str | None
    void_utc_ns: int | None


@dataclass(frozen=True, slots=True)
class Mark:
    """Free text at a moment."""

    id: int
    utc_ns: int
    run_id: int | None
    steady_utc_ns: int | None
    text: str
    void_reason: str | None


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
