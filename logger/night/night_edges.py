"""Where a night begins and ends within its recording, and why.

Found edges: the longest part of the recording in which nobody took a reading, did a check or labelled a switching, and
of that the part in which somebody lies (`logger.night.analysis.lying_stretch`). The user may move both; a moved edge is
kept as a fact of the visit log, and the newest one counts.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from logger.night.analysis.night_record import Stretch
from logger.translation import marked


class EdgeCause(StrEnum):
    """Why a night begins or ends where it does."""

    RECORDING = "recording"
    GOING_ON = "going on"
    BROKEN_OFF = "broken off"
    WORK = "work"
    LYING = "lying"
    STILL = "still"
    MOVED = "moved"


BEGINS_BECAUSE: Mapping[EdgeCause, str] = {
    EdgeCause.RECORDING: marked("when the recording began"),
    EdgeCause.WORK: marked("after the last reading, check or labelled switching before it"),
    EdgeCause.LYING: marked("once somebody had lain down and it stayed quiet"),
    EdgeCause.STILL: marked("where the value was first steady for long"),
    EdgeCause.MOVED: marked("moved by hand"),
}
ENDS_BECAUSE: Mapping[EdgeCause, str] = {
    EdgeCause.RECORDING: marked("when the recording ended"),
    EdgeCause.GOING_ON: marked("so far; the recording goes on"),
    EdgeCause.BROKEN_OFF: marked("where the record breaks off: its end is not in this file"),
    EdgeCause.WORK: marked("before the first reading, check or labelled switching after it"),
    EdgeCause.LYING: marked("when the getting up began"),
    EdgeCause.STILL: marked("where the value was last steady for long"),
    EdgeCause.MOVED: marked("moved by hand"),
}
NOT_LYING = marked("not lying still")
NOT_STEADY = marked("not steady, as somebody moved or something switched itself on and off")
BY_HAND = marked("the edge was moved by hand")
LEFT_OUT_BECAUSE: Mapping[EdgeCause, str] = {
    EdgeCause.WORK: marked("readings, checks or labelled switchings"),
    EdgeCause.LYING: NOT_LYING,
    EdgeCause.STILL: NOT_STEADY,
    EdgeCause.MOVED: BY_HAND,
}
"""Why the part of the recording beyond an edge is not of the night, as JSON has it; through `tr` where it is shown."""

HIGHER_TIMES, HIGHER_VOLTS = 1.25, 0.02
"""What is left out is clearly higher where its 95th percentile is so many times that of the night's level, and by so
much above it, V. No source."""

MIN_HIGHER_S = 1800.0
"""Going to bed takes less than this. No source."""


@dataclass(frozen=True, slots=True)
class NightEdges:
    """The edges of a night within its recording. Times are in seconds since the start of the night.

    Args:
        recording_s: start and end of the recording; the start is not above 0.
        free_s: length of the longest part of the recording without work, s.
        begins: why the night begins at 0.
        ends: why it ends at the end of its record.
    """

    recording_s: Stretch
    free_s: float
    begins: EdgeCause = EdgeCause.RECORDING
    ends: EdgeCause = EdgeCause.RECORDING

    @property
    def moved(self) -> bool:
        """Whether the user moved one of them."""
        return EdgeCause.MOVED in (self.begins, self.ends)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A part of a recording that is not of its night.

    Args:
        stretch: its start and end, s since the night's start.
        why: why not, in English, as JSON has it: it goes through `tr` where it is shown.
        volts: 5th and 95th percentile of its values, V; None where it has none.
        is_higher: whether it was clearly higher than what is said of the night.
    """

    stretch: Stretch
    why: str
    volts: tuple[float, float] | None = None
    is_higher: bool = False

    @property
    def hides_a_level(self) -> bool:
        """Whether it was not low throughout by what is read of it, and nobody is known to have moved."""
        return self.is_higher and self.why == NOT_STEADY

    @property
    def may_hide_a_level(self) -> bool:
        """Whether it was higher for longer than somebody takes to go to bed, and moving need not be why."""
        start_s, end_s = self.stretch
        return self.is_higher and self.why == NOT_LYING and end_s - start_s >= MIN_HIGHER_S

    @property
    def limits_comparison(self) -> bool:
        """Whether the night may have been another one with it."""
        is_cut_off = self.is_higher and self.why == BY_HAND
        return self.why == NOT_STEADY or is_cut_off or self.may_hide_a_level


@dataclass(frozen=True, slots=True)
class MovedEdges:
    """The edges of a night that the user moved, UTC ns on the night's time line; None where the found one holds."""

    start_utc_ns: int | None = None
    end_utc_ns: int | None = None


FOUND_EDGES = MovedEdges()
"""Neither edge was moved."""

MovedByRun = Mapping[int, MovedEdges]
"""Moved edges by the id of the first run of their night."""


def moved_edges(fact: str) -> dict[int, MovedEdges]:
    """Read the moved edges of every night of a visit from the fact that keeps them."""
    return {int(run_id): MovedEdges(*pair) for run_id, pair in json.loads(fact or "{}").items()}


def with_moved_edges(fact: str, run_id: int, edges: MovedEdges) -> str:
    """Return the fact with the edges of one night changed.

    Args:
        fact: the fact as it is.
        run_id: id of the night's first run.
        edges: its edges from now on.
    """
    kept = moved_edges(fact) | {run_id: edges}
    return json.dumps({str(key): [value.start_utc_ns, value.end_utc_ns] for key, value in kept.items()})
