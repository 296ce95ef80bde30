"""The report as one HTML page that needs nothing else: no script, no font, no picture from elsewhere."""

from __future__ import annotations

import base64
from collections.abc import Callable
from datetime import datetime

from logger.report.document.blocks import Section
from logger.report.document.first_page.first_page import first_page
from logger.report.document.html_templates import rendered
from logger.report.document.plan_sheet.plan_sheet import plan_sheet
from logger.report.document.report_data import ReportData
from logger.report.document.sections.cautions import cautions
from logger.report.document.sections.checks import checks
from logger.report.document.sections.circuits import circuits
from logger.report.document.sections.document import document
from logger.report.document.sections.electrician import electrician
from logger.report.document.sections.marks import marks
from logger.report.document.sections.meter import meter
from logger.report.document.sections.method import method
from logger.report.document.sections.night import night
from logger.report.document.sections.on_off_values import on_off_values
from logger.report.document.sections.readings import readings
from logger.report.document.sections.recording import recording
from logger.report.document.sections.reference import reference
from logger.report.document.sections.remedies import remedies
from logger.report.document.sections.steps import steps
from logger.report.document.sections.sweep import sweep
from logger.report.document.sections.traces import traces
from logger.report.document.sections.uncertainty import uncertainty
from logger.report.document.sections.voided import voided
from logger.report.document.wording import NBSP, moment, with_mark
from logger.translation import tr
from logger.visit.records.practitioner import Practitioner
from logger.visit.storage.time_zone import offset_of

SECTIONS: tuple[Callable[[ReportData], Section | None], ...] = (
    method,
    meter,
    reference,
    checks,
    on_off_values,
    readings,
    traces,
    uncertainty,
    remedies,
    electrician,
    circuits,
    sweep,
    steps,
    night,
    marks,
    voided,
    recording,
    cautions,
    document,
)
"""In the order of the page; a section that returns None is left out."""


def report_html(data: ReportData, written: datetime) -> str:
    """Return the page.

    Args:
        data: of the visit.
        written: when the report is made, where the visit was recorded.
    """
    return rendered(
        "report.html.jinja",
        data=data,
        first=first_page(data, written),
        plan=plan_sheet(data, written),
        sections=[section for make in SECTIONS if (section := make(data)) is not None],
        written=moment_with_zone(written, data),
        page_title=_page_title(data),
        heading=with_mark(data.setup.household or data.title, bool(data.simulation)),
        logo_text=_logo_text(data.practitioner),
        logo=base64.b64encode(data.practitioner.logo).decode("ascii"),
    )


def moment_with_zone(when: datetime, data: ReportData) -> str:
    """A moment with the zone of its clock and of every other time of the report; without a name what it is to UTC."""
    return f"{moment(when)}{NBSP}({getattr(data.zone, 'key', '') or offset_of(when)})"


def _page_title(data: ReportData) -> str:
    household = data.setup.household
    if not household:
        return tr("SIMULATED: Body voltage report") if data.simulation else tr("Body voltage report")
    text = (
        tr("SIMULATED: Body voltage report: {household}")
        if data.simulation
        else tr("Body voltage report: {household}")
    )
    return text.format(household=household)


def _logo_text(practitioner: Practitioner) -> str:
    """What is read aloud instead of the logo."""
    name = practitioner.firm or practitioner.name
    return tr("Logo of {name}").format(name=name) if name else tr("Logo of the practitioner")
