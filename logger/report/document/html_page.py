"""The report as one HTML page that needs nothing else: no script, no font, no picture from elsewhere."""

from __future__ import annotations

import base64
from collections.abc import Callable
from datetime import datetime

from logger.report.document.blocks import Section
from logger.report.document.first_page.first_page import first_page
from logger.report.document.html_templates import rendered
from logger.report.document.report_data import ReportData
from logger.report.document.sections.cautions import cautions
from logger.report.document.sections.checks import checks
from logger.report.document.sections.document import document
from logger.report.document.sections.marks import marks
from logger.report.document.sections.meter import meter
from logger.report.document.sections.method import method
from logger.report.document.sections.night import night
from logger.report.document.sections.on_off_values import on_off_values
from logger.report.document.sections.readings import readings
from logger.report.document.sections.recording import recording
from logger.report.document.sections.reference import reference
from logger.report.document.sections.steps import steps
from logger.report.document.sections.sweep import sweep
from logger.report.document.sections.traces import traces
from logger.report.document.sections.uncertainty import uncertainty
from logger.report.document.sections.voided import voided
from logger.report.document.wording import moment

SECTIONS: tuple[Callable[[ReportData], Section | None], ...] = (
    method,
    meter,
    reference,
    checks,
    on_off_values,
    readings,
    traces,
    uncertainty,
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
        first=first_page(data),
        sections=[section for make in SECTIONS if (section := make(data)) is not None],
        written=moment(written),
        logo=base64.b64encode(data.practitioner.logo).decode("ascii"),
    )
