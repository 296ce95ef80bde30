"""`stillvolt import`: a trace logged elsewhere becomes a run of a visit log."""

from __future__ import annotations

import argparse
import sys

from logger.cli.calibration import print_calibration_doubt
from logger.clock import format_duration
from logger.meter.description_folder import load
from logger.metrology.rounding import grouped
from logger.metrology.setup import Reference
from logger.name_list import listed
from logger.recording.trace_import import import_trace, read_began
from logger.settling.events import Gap, Motion, Overload, Settled, Step
from logger.translation import marked, tr

REFERENCES: dict[str, Reference] = {"rod": "earth rod", "building": "building earth"}
"""The words of the command line for the references of a set-up."""

EVENTS = {
    Settled.kind: marked("settled ({n})"),
    Motion.kind: marked("motion ({n})"),
    Step.kind: marked("step ({n})"),
    Gap.kind: marked("gap ({n})"),
    Overload.kind: marked("overload ({n})"),
}
"""How many events of a kind were found."""


def run(arguments: argparse.Namespace) -> None:
    """Import the trace and print what the run holds."""
    meter = load(arguments.meter) if arguments.meter else None
    if meter is not None:
        print_calibration_doubt(meter)
    done = import_trace(
        arguments.trace,
        arguments.visit,
        read_began(arguments.began),
        meter=meter,
        reference=REFERENCES[arguments.reference] if arguments.reference else None,
        unit=arguments.unit,
        is_future=arguments.future,
    )
    for message in done.messages:
        print(f"stillvolt: {message}", file=sys.stderr)
    found = [tr(EVENTS[kind]).format(n=count) for kind, count in sorted(done.events.items())]
    print(
        tr(
            "Imported {trace} into {visit} as run {run}: {samples} samples, {start} to {end} ({length}). "
            "Events: {events}."
        ).format(
            trace=arguments.trace,
            visit=arguments.visit,
            run=done.run_id,
            samples=grouped(done.samples),
            start=done.start.isoformat(" ", "seconds"),
            end=done.end.isoformat(" ", "seconds"),
            length=format_duration((done.end - done.start).total_seconds()),
            events=listed(found) or tr("none"),
        )
    )
