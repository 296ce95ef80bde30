"""`stillvolt replay`: runs the detector over a trace."""

from __future__ import annotations

import argparse
import json
import sys

from logger.output_file import refuse_outputs, write_whole
from logger.recording.trace_digits import replay_trace
from logger.recording.trace_file import read_trace_file
from logger.settling.events import as_json
from logger.translation import tr
from logger.visit.records.simulated_run import SIMULATED, SIMULATED_NOTE


def run(arguments: argparse.Namespace) -> None:
    """Write the events of the trace, one JSON object a line; each is marked where the trace is marked as simulated.

    Raises:
        StillvoltError: the trace cannot be read, or the events cannot be written or would overwrite something.
    """
    refuse_outputs([arguments.events], [arguments.trace], replace=arguments.replace)
    trace = read_trace_file(arguments.trace, arguments.unit)
    events = replay_trace(trace)
    mark = {SIMULATED: True} if trace.simulated else {}
    text = "".join(json.dumps(as_json(event) | mark) + "\n" for event in events)
    write_whole(arguments.events, text.encode("utf-8"), tr("The trace is unchanged."))
    for message in (*([tr(SIMULATED_NOTE)] if mark else ()), *trace.unread_messages()):
        print(f"stillvolt: {message}", file=sys.stderr)
