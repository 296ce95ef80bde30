"""`stillvolt lines`: how each line of a meter's stream is read."""

from __future__ import annotations

import argparse
import json

from logger.errors import StillvoltError
from logger.meter.recorded_stream import read_stream
from logger.translation import tr


def run(arguments: argparse.Namespace) -> None:
    """Print a JSON object for each line.

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
        for reading in read_stream(stream):
            row = {"status": reading.status.value, "volts": reading.volts}
            if reading.volts is not None and not reading.is_live:
                # What the line says of its value; the recorder keeps such a line, and never as a sample.
                row["held"] = True
            print(json.dumps(row))
