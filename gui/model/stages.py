"""The stages of the work in their order: number, name, and how far each is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from gui.model.visit_controller import VisitController
from gui.model.wording import counted
from gui.model.written_report import written_report
from logger.metrology.checks import REQUIRED_CHECKS
from logger.sweep.switch_off_plan import PlanState
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the work."""

    number: int
    """Its place in the order of the work, from 1; also the key that goes there."""
    name: str
    progress: Callable[[VisitController], str]
    """How far it is, in a few words."""


def _connect_progress(controller: VisitController) -> str:
    snapshot = controller.snapshot
    if controller.recording.starting:
        return "opening"
    if snapshot.recording and snapshot.live is not None:
        return "port lost" if snapshot.live.port_state == "lost" else "recording"
    return "not recording"


def _prepare_progress(controller: VisitController) -> str:
    if controller.setup.power_contradiction():
        return "charger is in" if controller.setup.charger_plugged_in else "is on battery"
    if controller.setup.meter_difference():
        return "meter differs"
    missing = len(controller.setup.stated.missing())
    return f"{missing} not stated" if missing else "stated"


def _check_progress(controller: VisitController) -> str:
    checks = controller.checks
    passed, lapsed, in_doubt = checks.passed_count(), len(checks.lapses()), len(checks.in_doubt())
    failed = [kind for kind in checks.failed() if kind not in REQUIRED_CHECKS]
    if failed:
        return f"{failed[0].removesuffix(' check')} failed"  # two words fit beside the number
    if lapsed or in_doubt:
        spoiled = [f"{lapsed} lapsed"] * bool(lapsed) + [f"{in_doubt} in doubt"] * bool(in_doubt)
        return ", ".join([f"{passed} passed", *spoiled])
    return f"{passed} of {len(REQUIRED_CHECKS)} passed"


def _spots_progress(controller: VisitController) -> str:
    spots = len(controller.route.indoor_spots())
    if not spots:
        return "none yet"
    on, off = controller.readings.count_read(EVERYTHING_ON), controller.readings.count_read(EVERYTHING_OFF)
    return f"{on} on, {off} off of {spots}"


def _sources_progress(controller: VisitController) -> str:
    if not controller.snapshot.sources:
        return "none listed"
    if controller.sweep_state is PlanState.CONTRADICTORY:
        return "to read again"
    if controller.sweep_state is PlanState.CONFIRMED:
        return "list confirmed"
    if controller.sweep_state is not None:
        return "list not confirmed"
    named = controller.snapshot.named_step_count()
    return f"{counted(named, 'step')} named" if named else f"{len(controller.snapshot.sources)} listed"


def _night_progress(controller: VisitController) -> str:
    # A recording is a night only once a long enough part of it is free of work, so that recording alone says nothing.
    nights = controller.snapshot.night_count
    return counted(nights, "night") if nights else "none yet"


def _report_progress(controller: VisitController) -> str:
    if controller.report_is_being_written:
        return "being written"
    written = written_report(controller)
    if written is None:
        return "not written"
    return "out of date" if written.is_outdated else "written"


CONNECT = Stage(1, "Connect", _connect_progress)
PREPARE = Stage(2, "Prepare", _prepare_progress)
CHECK = Stage(3, "Check", _check_progress)
SPOTS = Stage(4, "Spots", _spots_progress)
SOURCES = Stage(5, "Sources", _sources_progress)
NIGHT = Stage(6, "Night", _night_progress)
REPORT = Stage(7, "Report", _report_progress)
STAGES = (CONNECT, PREPARE, CHECK, SPOTS, SOURCES, NIGHT, REPORT)
"""All stages, in the order of the work."""

STAGE_OF_KEY = {str(stage.number): stage for stage in STAGES}
