"""The home in a visit log, as plain values: spots, circuits and cords, and what steps were labelled."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from logger.clock import NS_PER_S
from logger.settling.events import Step

SourceKind = Literal["circuit", "cord"]

Meaning = Literal["on", "off", "ignored", "unnamed"]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place and posture where somebody spends time."""

    id: int
    name: str
    room: str = ""
    reminder: str = ""
    """What has to be on when it is read, such as "screen on"."""


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

    @property
    def circuit_is_open(self) -> bool:
        """Whether nobody knows what switches it off: a cord that may be on any circuit."""
        return self.kind == "cord" and self.circuit_id is None and not self.stays


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
