"""What was not done in this visit."""

from __future__ import annotations

from logger.metrology.check_validity import Lapse
from logger.metrology.check_words import check_name
from logger.metrology.checks import REQUIRED_CHECKS, CheckVerdict
from logger.metrology.rounding import grouped
from logger.name_list import joined
from logger.report.document.report_data import ReportData
from logger.sweep.plan_text import lacks_background
from logger.sweep.switch_off_plan import PlanState
from logger.translation import marked, tr, tr_n
from logger.visit.results.reading_context import verdict_by_now

_LAPSED = {
    Lapse.REFERENCE: marked("The {check} lapsed: other reference."),
    Lapse.METER: marked("The {check} lapsed: other meter."),
    Lapse.PORT: marked("The {check} lapsed: other port."),
    Lapse.PORT_SETTINGS: marked("The {check} lapsed: other port settings."),
    Lapse.LINE_FORM: marked("The {check} lapsed: the meter's lines have another form."),
    Lapse.STEPS: marked("The {check} does not count: its steps were not read alike."),
    Lapse.AGE: marked("The {check} lapsed: more than 24 hours old."),
    Lapse.SIMULATED: marked("The {check} does not count: it was simulated."),
    Lapse.MEASURED: marked("The {check} does not count here: it was measured, and this is simulated."),
}


def missing_sentences(data: ReportData) -> list[str]:
    """Write a sentence for each thing that was not done."""
    out = []
    if not data.valid_readings:
        out.append(tr("No spot has been read."))
    if not data.checks:
        out.append(tr("None of the checks of meter and reference was done."))
    out += _lapsed(data)
    out += _in_doubt(data)
    if not data.swept:
        out.append(tr("The breakers were not switched one by one."))
    elif data.setup.supply is None:
        out.append(tr("The supply of the home is not stated, so that the sweep cannot be worked out."))
    elif data.tonight is not None and data.tonight.state is not PlanState.CONFIRMED:
        # Else the part “Tonight” says so.
        out += [] if is_told_tonight(data) else unfinished_sweeps(data)
    if not data.nights:
        out.append(tr("Nothing was measured during a night."))
    out += data.rests
    return out


def checks_not_done(data: ReportData) -> list[str]:
    """Write which checks nobody did of a simulated visit; of a measured one the sentence on its trust says so."""
    if not data.all_simulated or not data.valid_readings or not data.checks:
        return []
    done = {check.kind for check in data.checks}
    undone = [check_name(kind) for kind in REQUIRED_CHECKS if kind not in done]
    text = tr_n(
        "{n} check of the equipment is missing, so the values may be off: {checks}.",
        "{n} checks of the equipment are missing, so the values may be off: {checks}.",
        len(undone),
    )
    return [text.format(n=grouped(len(undone)), checks=joined(undone))] if undone else []


def is_told_tonight(data: ReportData) -> bool:
    """Whether an unfinished sweep is why there is no list: halfway what the readings suggest proves nothing yet."""
    plan = data.tonight
    return (
        plan is not None
        and plan.state not in (PlanState.CONFIRMED, PlanState.CONTRADICTORY)
        and not lacks_background(plan)
        and any(swept.progress.left for swept in data.swept)
    )


def unfinished_sweeps(data: ReportData) -> list[str]:
    """Write at which spots the sweep was left before its end."""
    out = []
    for swept in data.swept:
        if swept.progress.left:
            text = tr("At “{spot}” switching the breakers one by one was not finished.")
            out.append(text.format(spot=swept.spot.name))
    return out


def _lapsed(data: ReportData) -> list[str]:
    """Write which checks hold no longer with what was recorded and stated last."""
    out = []
    for kind in REQUIRED_CHECKS:
        lapses = [data.check_lapses.get(check.id) for check in data.checks if check.kind is kind]
        if lapses and all(lapses) and (last := lapses[-1]):
            out.append(tr(_LAPSED[last]).format(check=check_name(kind)))
    return out


def _in_doubt(data: ReportData) -> list[str]:
    """Write which checks are in doubt by what was seen later, and were not repeated."""
    newest = {check.kind: check for check in data.checks if check.id not in data.check_lapses}
    in_doubt = [
        kind
        for kind, check in newest.items()
        if verdict_by_now(check, data.check_doubts) is CheckVerdict.IN_DOUBT
    ]
    text = tr("The {check} passed, is in doubt by what was seen later, and was not repeated.")
    return [text.format(check=check_name(kind)) for kind in in_doubt]
