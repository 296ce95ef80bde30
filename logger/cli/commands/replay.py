"""`stillvolt replay`: runs the detector over a trace."""

from __future__ import annotations

import argparse
import json

from logger.errors import StillvoltError
from logger.settling.events import as_json
from logger.settling.replay import read_trace, replay


def run(arguments: argparse.Namespace) -> None:
    """Write the events of the trace, one JSON object a line.

    Raises:
        StillvoltError: the trace cannot be read, or the events cannot be written.
    """
    events = replay(*read_trace(arguments.trace))
    try:
        with arguments.events.open("w", encoding="utf-8") as out:
            out.writelines(json.dumps(as_json(event)) + "\n" for event in events)
    except OSError as error:
        raise StillvoltError(f"{arguments.events} cannot be written ({error.strerror}).") from error
