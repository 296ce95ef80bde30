"""What a recorder would make of each line of a file, had one meter sent them at a steady rate.

In: a file in pieces. Out: each line as the recorder keeps it, in order, and what it would tell the user. The recorder
is the one that records: nothing is judged here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import islice
from typing import NamedTuple

from logger.clock import NS_PER_S, ManualClock
from logger.meter.lines import LineStatus
from logger.meter.reader import Arrival
from logger.meter.recorded_stream import ends_whole
from logger.recording.recorder import Recorder
from logger.translation import in_language
from logger.visit.records.stop_source import TIME_WAS_UP
from logger.visit.storage.run_writer import Batch, Heartbeat

RATE_HZ = 5
"""Lines a second. Hand-held meters send two to ten (common practice, no source)."""

MAX_REST_BYTES = 65_536
"""What goes on for longer without a line end is handed on in parts."""

WRITE_EVERY_LINES = 200
"""Lines that are kept in memory at once."""


class RecordedLine(NamedTuple):
    """A line as the recorder keeps it.

    Args:
        status: as in the visit log: that of the line, or `recorder.HELD`.
        volts: AC rms volts; None where there are none.
        notices: what the recorder would have told the user since the line before, in English.
    """

    status: str
    volts: float | None
    notices: tuple[str, ...] = ()

    @property
    def is_sample(self) -> bool:
        """Whether the line counts: as a value, or as an overload."""
        return self.status in (LineStatus.VOLTS, LineStatus.OVERLOAD)


@dataclass
class _Newest:
    """Takes what the recorder writes until it is read."""

    batch: Batch = field(default_factory=Batch)
    stop_requested_by = None

    def write(self, batch: Batch, beat: Heartbeat) -> None:
        """Keep a batch; see `RunSink`."""
        self.batch = batch

    def end(self, utc_ns: int, t_ns: int, reason: str) -> None:
        """Nothing is kept of the end of a file; see `RunSink`."""

    def take(self) -> Iterator[RecordedLine]:
        """The lines of the newest batch."""
        batch, self.batch = self.batch, Batch()
        notices = tuple(message for _, _, _, message in batch.notices)
        for _, _, status, volts, _ in batch.lines:
            yield RecordedLine(status, volts, notices)
            notices = ()


def lines_as_recorded(pieces: Iterable[bytes]) -> Iterator[RecordedLine]:
    """Put a file through a recorder, one line every 1 / `RATE_HZ` s.

    Args:
        pieces: the file's bytes, in any pieces.
    """
    sink, clock = _Newest(), ManualClock()
    recorder = Recorder(sink, clock, clock.steady_ns(), lambda _: None)
    lines = _with_their_ends(pieces)
    while some := list(islice(lines, WRITE_EVERY_LINES)):
        _record(recorder, clock, some)
        yield from sink.take()
    with in_language("en"):
        recorder.end(TIME_WAS_UP)
    yield from sink.take()


@in_language("en")  # what a recorder keeps is the same in every language
def _record(recorder: Recorder, clock: ManualClock, lines: Iterable[bytes]) -> None:
    for line in lines:
        clock.advance_ns(NS_PER_S // RATE_HZ)
        recorder.handle(Arrival(clock.utc_ns(), clock.steady_ns(), line))
    recorder.write()


def _with_their_ends(pieces: Iterable[bytes]) -> Iterator[bytes]:
    """The lines with what ends them; a last one that is whole gets an end."""
    before, rest = b"", b""
    for piece in pieces:
        *lines, rest = (rest + piece).replace(b"\r", b"\n").split(b"\n")
        for line in filter(None, lines):
            before = line
            yield line + b"\n"
        if len(rest) > MAX_REST_BYTES:
            yield rest
            rest = b""
    if rest:
        yield rest + b"\n" if ends_whole(rest, before) else rest
