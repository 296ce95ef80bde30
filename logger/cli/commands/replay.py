"""`stillvolt replay`: runs the detector over a trace."""

from __future__ import annotations

import argparse
import json

from logger.output_file import refuse_outputs, write_whole
from logger.settling.events import as_json
from logger.settling.replay import read_trace, replay


def run(arguments: argparse.Namespace) -> None:
    """Write the events of the trace, one JSON object a line.

    Raises:
        StillvoltError: the trace cannot be read, or the events cannot be written or would overwrite something.
    """
    refuse_outputs([arguments.events], [arguments.trace])
    events = replay(*read_trace(arguments.trace))
    text = "".join(json.dumps(as_json(event)) + "\n" for event in events)
    write_whole(arguments.events, text.encode("utf-8"), "The trace is unchanged.")
