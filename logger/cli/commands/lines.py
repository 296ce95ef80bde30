"""`stillvolt lines`: how each line of a meter's stream is read, and what a recorder would make of it."""

from __future__ import annotations

import argparse
import json
import sys
from functools import partial
from itertools import tee

from logger.errors import StillvoltError
from logger.meter.lines import LineReading, LineStatus
from logger.meter.recorded_stream import read_stream
from logger.recording.lines_as_recorded import RecordedLine, lines_as_recorded
from logger.recording.recorder import HELD
from logger.translation import tr, tr_kept

PIECE_BYTES = 65_536


def run(arguments: argparse.Namespace) -> None:
    """Print a JSON object for each line, and what a recorder would tell to standard error.

    Raises:
        StillvoltError: the file cannot be read.
    """
    try:
        stream = arguments.file.open("rb")
    except OSError as error:
        raise StillvoltError(
            tr("{file} cannot be read ({error}).").format(file=arguments.file, error=error.strerror)
        ) from error
    with stream:
        pieces, again = tee(iter(partial(stream.read, PIECE_BYTES), b""))
        for reading, recorded in zip(read_stream(pieces), lines_as_recorded(again), strict=True):
            for notice in recorded.notices:
                print(tr_kept(notice), file=sys.stderr)
            print(json.dumps(_row(reading, recorded)))


def _row(reading: LineReading, recorded: RecordedLine) -> dict[str, object]:
    """What is printed of a line.

    Args:
        reading: how it is read, where the file may be of several meters.
        recorded: what a recorder would keep of it, where the file is the stream of one.
    """
    if recorded.is_sample:
        return {"status": recorded.status, "volts": recorded.volts}
    row: dict[str, object] = {"status": reading.status.value, "volts": reading.volts}
    if reading.status in (LineStatus.VOLTS, LineStatus.OVERLOAD):
        row["held" if recorded.status == HELD else "refused"] = True
    return row
