"""`stillvolt import`: a trace logged elsewhere becomes a run of a visit log."""

from __future__ import annotations

import argparse
import sys

from logger.clock import format_duration
from logger.meter.description_folder import load
from logger.metrology.setup import Reference
from logger.recording.trace_import import import_trace, read_began

REFERENCES: dict[str, Reference] = {"rod": "earth rod", "building": "building earth"}
"""The words of the command line for the references of a set-up."""


def run(arguments: argparse.Namespace) -> None:
    """Import the trace and print what the run holds."""
    done = import_trace(
        arguments.trace,
        arguments.visit,
        read_began(arguments.began),
        meter=load(arguments.meter) if arguments.meter else None,
        reference=REFERENCES[arguments.reference] if arguments.reference else None,
        unit=arguments.unit,
        is_future=arguments.future,
    )
    for message in done.messages:
        print(f"stillvolt: {message}", file=sys.stderr)
    length = format_duration((done.end - done.start).total_seconds())
    found = ", ".join(f"{count} {kind}" for kind, count in sorted(done.events.items())) or "none"
    print(
        f"Imported {arguments.trace} into {arguments.visit} as run {done.run_id}: {done.samples:,} samples, "
        f"{done.start.isoformat(' ', 'seconds')} to {done.end.isoformat(' ', 'seconds')} ({length}). Events: {found}."
    )
