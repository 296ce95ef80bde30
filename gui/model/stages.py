"""The stages of the work in their order: number, name, and how far each is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from gui.model.visit_controller import VisitController
from gui.model.wording import counted
from gui.model.written_report import written_report
from logger.metrology.checks import REQUIRED_CHECKS
from logger.metrology.rounding import grouped
from logger.name_list import listed
from logger.sweep.switch_off_plan import PlanState
from logger.translation import marked, tr, tr_n
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.remedy_records import RemedyDecision


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the work."""

    number: int
    """Its place in the order of the work, from 1; also the key that goes there."""
    name: str
    """In English, as its action is named by it too; it goes through `tr` where it is shown."""
    progress: Callable[[VisitController], str]
    """How far it is, in a few words."""

    @property
    def action_id(self) -> str:
        """The action that goes there."""
        return "stage." + self.name.lower()


def _connect_progress(controller: VisitController) -> str:
    snapshot = controller.snapshot
    if controller.recording.starting:
        return tr("opening")
    if snapshot.recording and snapshot.live is not None:
        return tr("port lost") if snapshot.live.port_state == "lost" else tr("recording")
    return tr("not recording")


def _prepare_progress(controller: VisitController) -> str:
    if controller.setup.power_contradiction():
        return tr("charger is in") if controller.setup.charger_plugged_in else tr("is on battery")
    if controller.setup.meter_difference():
        return tr("meter differs")
    missing = len(controller.setup.stated.missing())
    if not missing:
        return tr("stated")
    return tr_n("{n} not stated", "{n} not stated", missing).format(n=missing)


def _check_progress(controller: VisitController) -> str:
    checks = controller.checks
    passed, lapsed, in_doubt = checks.passed_count(), len(checks.lapses()), len(checks.in_doubt())
    failed = [kind for kind in checks.failed() if kind not in REQUIRED_CHECKS]
    if failed:
        return tr_n("{n} failed", "{n} failed", len(failed)).format(n=len(failed))
    if lapsed or in_doubt:
        # Three numbers do not fit beside the stage's number in every language; what is to be done is the same for both.
        if lapsed and in_doubt:
            left = tr("{n} to repeat").format(n=lapsed + in_doubt)
        elif lapsed:
            left = tr_n("{n} lapsed", "{n} lapsed", lapsed).format(n=lapsed)
        else:
            left = tr_n("{n} in doubt", "{n} in doubt", in_doubt).format(n=in_doubt)
        return listed([tr_n("{n} passed", "{n} passed", passed).format(n=passed), left])
    return tr("{passed} of {total} passed").format(passed=passed, total=len(REQUIRED_CHECKS))


def _spots_progress(controller: VisitController) -> str:
    spots = len(controller.route.indoor_spots())
    if not spots:
        return tr("none yet")
    on, off = controller.readings.count_read(EVERYTHING_ON), controller.readings.count_read(EVERYTHING_OFF)
    return tr("{on} on, {off} off of {spots}").format(on=on, off=off, spots=spots)


def _sources_progress(controller: VisitController) -> str:
    if not controller.snapshot.sources:
        return tr("none listed")
    if controller.sweep_state is PlanState.CONTRADICTORY:
        return tr("to read again")
    if controller.sweep_state is PlanState.CONFIRMED:
        return tr("list confirmed")
    if controller.sweep_state is not None:
        return tr("list not confirmed")
    if controller.sweep_is_computing:
        return tr("being worked out")
    named = controller.snapshot.named_step_count()
    if named:
        return tr_n("{n} step named", "{n} steps named", named).format(n=grouped(named))
    listed = len(controller.snapshot.sources)
    return tr_n("{n} listed", "{n} listed", listed).format(n=listed)


def _night_progress(controller: VisitController) -> str:
    # A recording is a night only once a long enough part of it is free of work, so that recording alone says nothing.
    nights = controller.snapshot.night_count
    return counted(nights, "night") if nights else tr("none yet")


def _plan_progress(controller: VisitController) -> str:
    remedies = [remedy.decision for remedy in controller.snapshot.remedies if remedy.newest is not None]
    done = remedies.count(RemedyDecision.DONE)
    planned = remedies.count(RemedyDecision.PLANNED)
    if not done and not planned:
        return tr("nothing planned")
    return tr("{planned} planned, {done} done").format(planned=planned, done=done)


def _report_progress(controller: VisitController) -> str:
    if controller.report_is_being_written:
        return tr("being written")
    written = written_report(controller)
    if written is None:
        return tr("not written")
    return tr("out of date") if written.is_outdated else tr("written")


CONNECT = Stage(1, marked("Connect"), _connect_progress)
PREPARE = Stage(2, marked("Prepare"), _prepare_progress)
CHECK = Stage(3, marked("Check"), _check_progress)
SPOTS = Stage(4, marked("Spots"), _spots_progress)
SOURCES = Stage(5, marked("Sources"), _sources_progress)
NIGHT = Stage(6, marked("Night"), _night_progress)
PLAN = Stage(7, marked("Plan"), _plan_progress)
REPORT = Stage(8, marked("Report"), _report_progress)
STAGES = (CONNECT, PREPARE, CHECK, SPOTS, SOURCES, NIGHT, PLAN, REPORT)
"""All stages, in the order of the work."""

STAGE_OF_KEY = {str(stage.number): stage for stage in STAGES}
