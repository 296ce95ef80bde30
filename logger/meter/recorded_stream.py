"""A recorded stream of a meter's lines, read as the recorder reads it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import BinaryIO

from logger.meter.decimal_comma import DecimalComma
from logger.meter.lines import CUT, LineReading, read_line
from logger.meter.splitter import LineSplitter
from logger.meter.stream_check import FILE, StreamCheck
from logger.meter.stream_line import StreamLine

PIECE_BYTES = 65_536


def read_stream(stream: BinaryIO) -> Iterator[LineReading]:
    """Read every line of a recorded stream. Empty lines are none: they come from CR LF and from pauses."""
    comma = DecimalComma(read_line)
    check = StreamCheck(FILE, comma.read)
    for raw, whole in _lines(stream):
        for line in check.take(StreamLine(0, 0, raw, comma.take(raw) if whole else CUT)):
            yield line.reading
    for line in check.flush():
        yield line.reading


def _lines(stream: BinaryIO) -> Iterator[tuple[bytes, bool]]:
    """The lines, and whether each is whole."""
    splitter = LineSplitter()
    while piece := stream.read(PIECE_BYTES):
        yield from splitter.feed(piece)
    was_cut = splitter.is_mid_line
    rest = splitter.flush()
    if rest:
        # A file may end without a terminator; its last line is whole all the same.
        yield rest, not was_cut
