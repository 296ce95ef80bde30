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

from logger.night.analysis.lying_stretch import Stretch
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
LEFT_OUT_BECAUSE: Mapping[EdgeCause, str] = {
    EdgeCause.WORK: marked("readings, checks or labelled switchings"),
    EdgeCause.LYING: NOT_LYING,
    EdgeCause.STILL: NOT_STEADY,
    EdgeCause.MOVED: marked("the edge was moved by hand"),
}
"""Why the part of the recording beyond an edge is not of the night, as JSON has it; through `tr` where it is shown."""


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
