"""The report as one HTML page that needs nothing else: no script, no font, no picture from elsewhere."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from logger.report.document.blocks import Section, moment
from logger.report.document.first_page import first_page
from logger.report.document.report_data import ReportData
from logger.report.document.sections import method, night, readings, recording, sources

SECTIONS: tuple[Callable[[ReportData], Section | None], ...] = (
    method.method,
    method.meter,
    method.reference,
    method.checks,
    readings.spots,
    readings.readings,
    readings.traces,
    method.uncertainty,
    sources.sweep,
    sources.steps,
    night.nights,
    readings.marks,
    readings.voided,
    recording.recording,
    recording.cautions,
    recording.document,
)
"""In the order of the page; a section that has nothing to say is left out."""


def report_html(facts: ReportData, written: datetime) -> str:
    """The page.

    Args:
        facts: of the visit.
        written: when the report is made.
    """
    environment = Environment(
        loader=PackageLoader("logger.report.document"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["drawn"] = Markup  # pictures come from svg.Canvas, which escapes what it is given
    template = environment.get_template("report.html.jinja")
    return template.render(
        facts=facts,
        first=first_page(facts),
        sections=[section for make in SECTIONS if (section := make(facts)) is not None],
        written=moment(written),
    )
