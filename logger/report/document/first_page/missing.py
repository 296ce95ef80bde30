"""What was not done in this visit."""

from __future__ import annotations

from logger.metrology.check_validity import lapse_of
from logger.metrology.checks import REQUIRED_CHECKS
from logger.report.document.report_data import ReportData
from logger.sweep.switch_off_plan import PlanState


def missing_sentences(data: ReportData) -> list[str]:
    """Write a sentence for each thing that was not done."""
    out = []
    if not data.valid_readings:
        out.append("No spot has been read.")
    if not data.checks:
        out.append("None of the checks of meter and reference was done.")
    out += _lapsed(data)
    if not data.swept:
        out.append("The breakers were not swept.")
    elif data.setup.supply is None:
        out.append("The supply of the home is not stated, so that the sweep cannot be worked out.")
    elif data.tonight is not None and data.tonight.state is not PlanState.CONFIRMED:
        out.append("The breaker sweep has no answer that a reading confirms.")
    if not data.nights:
        out.append("No night was recorded.")
    return out


def _lapsed(data: ReportData) -> list[str]:
    """Write which checks hold no longer in the set-up that was stated last."""
    out = []
    for kind in REQUIRED_CHECKS:
        lapses = [lapse_of(check.setup, data.setup) for check in data.checks if check.kind is kind]
        if lapses and all(lapses):
            out.append(f"The {kind} {lapses[-1]}.")
    return out
