"""`stillvolt running`: lists the recorders at work on this computer."""

from __future__ import annotations

import argparse
import json

from logger.clock import SystemClock
from logger.recording.registry import format_running, running
from logger.translation import tr


def run(arguments: argparse.Namespace) -> None:
    """Print a line for each recorder, or all of them as JSON."""
    recorders = running()
    if arguments.json:
        print(json.dumps([recorder.to_json() for recorder in recorders]))
        return
    now_utc_ns = SystemClock().utc_ns()
    for recorder in recorders:
        print(format_running(recorder, now_utc_ns))
    if not recorders:
        print(tr("No recorder is at work on this computer."))
