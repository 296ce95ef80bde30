"""A file of meter lines, each read in the light of its neighbours.

Such a file may hold the lines of several meters; what a recorder would do with it as the stream of one meter says
`logger.recording.lines_as_recorded`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from logger.meter.decimal_comma import DecimalComma
from logger.meter.line_form import form_of
from logger.meter.lines import CUT, LineReading, LineStatus, read_line
from logger.meter.splitter import LineSplitter
from logger.meter.stream_check import FILE, StreamCheck
from logger.meter.stream_line import StreamLine
from logger.meter.unit_line import UnitLine, unit_line
from logger.meter.unit_watch import OPEN_UNIT_NOTE, has_unit

_DIGITS_ALIKE = bytes.maketrans(b"123456789", b"0" * 9)


def read_stream(pieces: Iterable[bytes]) -> Iterator[LineReading]:
    """Read every line of a file, given in pieces. Empty lines are none: they come from CR LF and from pauses."""
    comma = DecimalComma(read_line)
    check = StreamCheck(FILE, comma.read)
    header = _HeaderUnit()
    for raw, whole in _lines(pieces):
        for line in check.take(StreamLine(0, 0, raw, comma.take(raw) if whole else CUT)):
            yield header.take(line)
    for line in check.flush():
        yield header.take(line)


class _HeaderUnit:
    """Refuses numbers without a unit below a header that names another one than volts.

    A file may hold the lines of several meters: a header is what stands before the first value, and it holds for lines
    of that value's form until the first of another form.
    """

    def __init__(self) -> None:
        self._unit: UnitLine | None = None
        self._form: bytes | None = None
        self._is_over = False

    def take(self, line: StreamLine) -> LineReading:
        """How a line is read in the light of the header."""
        reading = line.reading
        if self._is_over:
            return reading
        if reading.status is not LineStatus.VOLTS or reading.number_span is None:
            if self._form is None:
                self._unit = unit_line(line.raw, reading) or self._unit
            return reading
        form = form_of(line.raw, reading)
        self._form = self._form or form
        is_bare = not has_unit(line.raw, reading)
        self._is_over = self._unit is None or self._unit.is_volts or form != self._form or not is_bare
        return reading if self._is_over else LineReading(LineStatus.UNREADABLE, note=OPEN_UNIT_NOTE)


def ends_whole(rest: bytes, before: bytes) -> bool:
    """Whether a last line without its end is whole: a file may end so, but not within a line of the form before it.

    Args:
        rest: the last line.
        before: the line in front of it.
    """
    return not _is_beginning(rest, before)


def _lines(pieces: Iterable[bytes]) -> Iterator[tuple[bytes, bool]]:
    """The lines, and whether each is whole."""
    splitter = LineSplitter()
    before = b""
    for piece in pieces:
        for line, whole in splitter.feed(piece):
            before = line
            yield line, whole
    was_cut = splitter.is_mid_line
    rest = splitter.flush()
    if rest:
        yield rest, not was_cut and ends_whole(rest, before)


def _is_beginning(rest: bytes, line: bytes) -> bool:
    """Whether a text is what another line of the form of `line` begins with."""
    shape = line.translate(_DIGITS_ALIKE)
    return len(rest) < len(line) and shape.startswith(rest.translate(_DIGITS_ALIKE))
