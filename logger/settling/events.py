"""What the detector finds in a trace. Times are seconds on the trace's own clock, voltages AC rms volts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, fields
from enum import StrEnum
from typing import Any, ClassVar


class State(StrEnum):
    """What the trace is doing now. The values are stored in visit logs, so they stay as they are."""

    WAITING = "waiting"
    """No sample has come yet."""
    SETTLING = "settling"
    """The trace is quiet, but not for long enough to be a level."""
    SETTLED = "settled"
    """The trace is at a level."""
    CHANGING = "moving"
    """The trace changes: somebody moves, or something was switched."""
    CHANGING_LONG = "restless"
    """The trace has not settled for so long that the user needs advice."""
    DRIFTING = "drifting"
    """The trace is on a slow ramp: quiet from sample to sample, but at no level."""
    ALTERNATING = "alternating"
    """Two or more values take turns: no sample is near their mean."""
    REFUSED = "refused"
    """So many of the lines are refused that the others show no level."""
    OVERLOAD = "overload"
    """The voltage is above the meter's range."""
    LOST = "lost"
    """No line has come for longer than the meter's own rhythm explains."""


@dataclass(frozen=True, slots=True)
class Settled:
    """A settled span and its level. While it grows it also tells what its uncertainty consists of."""

    kind: ClassVar[str] = "settled"
    start_s: float
    end_s: float
    volts: float
    u_volts: float
    """Standard uncertainty of the level: scatter, slow wandering, and the meter's resolution. Half of what covers the
    level with 95 %, so that k = 2 covers it however few independent values it rests on."""
    known_at_s: float
    samples: int
    """Number of samples the level rests on."""
    u_tilt_volts: float = field(default=0.0, compare=False)
    """The part of it that comes from the rise or fall of the span. This and what follows is known
    only while it grows, and does not count when two spans are compared."""
    u_averaging_volts: float = field(default=0.0, compare=False)
    """The part that comes from the span's first seconds, in which the meter's averaging approached the level."""
    u_resolution_volts: float = field(default=0.0, compare=False)
    """The part that comes from the meter's count."""
    hold_longer_s: float = field(default=0.0, compare=False)
    """For how much longer at most the body is asked to hold still, as the value wanders slowly; 0: not any more."""

    def as_final(self) -> Settled:
        """The span without what is only known, and of use, while it grows."""
        return Settled(self.start_s, self.end_s, self.volts, self.u_volts, self.known_at_s, self.samples)


@dataclass(frozen=True, slots=True)
class Motion:
    """A rise while the body moves, that returns. Never a reading."""

    kind: ClassVar[str] = "motion"
    start_s: float
    end_s: float
    peak_volts: float
    known_at_s: float


@dataclass(frozen=True, slots=True)
class Step:
    """A lasting change of level: something was plugged, unplugged or switched."""

    kind: ClassVar[str] = "step"
    time_s: float
    """Where it lies in a gap or an overload, the middle of that: see `unseen_stretch`."""
    before_volts: float
    after_volts: float
    u_volts: float
    """Standard uncertainty of after - before."""
    known_at_s: float


@dataclass(frozen=True, slots=True)
class Gap:
    """A time without lines."""

    kind: ClassVar[str] = "gap"
    start_s: float
    end_s: float
    known_at_s: float


@dataclass(frozen=True, slots=True)
class Overload:
    """A time in which the voltage was above the meter's range."""

    kind: ClassVar[str] = "overload"
    start_s: float
    end_s: float
    known_at_s: float


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Why the latest lines show no level, although their means may look level."""

    state: State
    """ALTERNATING or REFUSED."""
    values_volts: tuple[float, ...] = ()
    """The values that take turns, ascending."""
    is_sure: bool = True
    """Noise alone does not look so: it may be told. Else there is no level yet, and nothing more is known."""
    refused_share: float = 0.0
    """The share of the latest lines that was refused."""


Event = Settled | Motion | Step | Gap | Overload


@dataclass(frozen=True, slots=True)
class Now:
    """What the window shows: the state and, while settled, the value."""

    state: State
    since_s: float
    """When this state began (for SETTLED: the start of the settled span)."""
    volts: float | None
    """Level of the settled span while SETTLED, else the last sample; None before the first."""
    u_volts: float | None
    """Standard uncertainty of the level while SETTLED, else None."""
    samples: int
    """Samples that the level rests on while SETTLED, else 0."""


def unseen_stretch(step: Step, missing: Iterable[tuple[float, float]]) -> tuple[float, float] | None:
    """Start and end of the time without values that a step lies in: its own moment is only the middle of it.

    Args:
        step: the step.
        missing: start and end of gaps and overloads of the same run.

    Returns:
        None for a step that was seen.
    """
    within = [(start_s, end_s) for start_s, end_s in missing if start_s < step.time_s < end_s]
    return (min(start_s for start_s, _ in within), max(end_s for _, end_s in within)) if within else None


def span_s(event: Event) -> tuple[float, float]:
    """Start and end of an event in seconds; a step has no length."""
    if isinstance(event, Step):
        return event.time_s, event.time_s
    return event.start_s, event.end_s


def as_json(event: Event) -> dict[str, Any]:
    """The event as the object that `stillvolt replay` writes: the fields other programs rely on."""
    event_fields = as_fields(event)
    if isinstance(event, Settled):
        event_fields = {name: event_fields[name] for name in ("kind", *_SETTLED_CONTRACT)}
    return event_fields


def as_fields(event: Event) -> dict[str, Any]:
    """The event whole, as a flat object; `from_fields` is the way back."""
    return {"kind": event.kind} | {name: getattr(event, name) for name in _FIELDS[event.kind]}


def from_fields(kind: str, **values: Any) -> Event:
    """The event of a kind from its fields.

    Raises:
        KeyError: there is no such kind.
    """
    return _KINDS[kind](**values)


_KINDS: dict[str, type[Event]] = {cls.kind: cls for cls in (Settled, Motion, Step, Gap, Overload)}
_SETTLED_CONTRACT = ("start_s", "end_s", "volts", "u_volts", "known_at_s")
_FIELDS = {kind: tuple(one.name for one in fields(cls)) for kind, cls in _KINDS.items()}
"""Looked up once: the recorder's heartbeat has the open events in it, ten times a second."""
