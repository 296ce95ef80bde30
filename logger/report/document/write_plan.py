"""Writes the plan of a visit alone: the household's sheet to hang on the wall, and the electrician's page."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from logger.catalogue import SOURCE_LANGUAGE
from logger.errors import StillvoltError
from logger.output_file import refuse_another_visits, refuse_outputs, write_whole
from logger.report.document.html_page import moment_with_zone
from logger.report.document.html_templates import rendered
from logger.report.document.plan_sheet.plan_sheet import plan_sheet
from logger.report.document.printed import printed
from logger.report.document.read_report_data import read_report_data
from logger.report.document.report_data import ReportData
from logger.report.document.sections.electrician import electrician
from logger.report.document.wording import with_mark
from logger.report.paper import A4
from logger.report.visit_name import visit_name
from logger.translation import in_language, tr
from logger.visit.storage.read_only import checked_log


def write_plan(
    visit: Path,
    out: Path,
    pdf: Path | None = None,
    *,
    language: str = SOURCE_LANGUAGE,
    replace: bool = False,
    paper: str = A4,
) -> str:
    """Write the plan of a visit; returns how much of the visit is simulated, empty where nothing is.

    Args:
        visit: the visit log; it may be recorded at the moment.
        out: the HTML file; an older one is replaced once the new one is whole.
        pdf: the PDF file, or None.
        language: the code of the one that the plan is written in.
        replace: whether the user has asked to replace a file that somebody else has written.
        paper: of `PAPERS`, that the PDF is for.

    Raises:
        StillvoltError: nothing is planned yet, the log cannot be read, a file cannot be written or may not be
            overwritten, or the PDF needs what is not installed. Then the HTML file has been written nevertheless.
    """
    outputs = [path for path in (out, pdf) if path is not None]
    refuse_outputs(outputs, [visit], replace=replace)
    with checked_log(visit) as log:
        name = visit_name(log)
        if not replace:
            refuse_another_visits(outputs, name)
        with in_language(language):
            data = read_report_data(log)
    with in_language(language):
        html = plan_html(data, datetime.now().astimezone(data.zone))
    write_whole(out, html.encode("utf-8"), tr("The visit is unchanged."), name)
    if pdf is not None:
        kept = tr("The plan is in {file}.").format(file=out)
        write_whole(pdf, printed(html, kept, paper), kept, name)
    return data.simulation


def plan_html(data: ReportData, written: datetime) -> str:
    """Return the page of the plan alone.

    Args:
        data: of the visit.
        written: when it is made, where the visit was recorded.

    Raises:
        StillvoltError: nothing is planned yet.
    """
    plan = plan_sheet(data, written)
    if plan is None:
        raise StillvoltError(
            tr("Nothing is planned yet, so there is no plan to print."),
            tr("Nothing was written."),
            tr("Choose at the stage Plan what is to be done, then print it."),
        )
    household = data.setup.household
    return rendered(
        "plan.html.jinja",
        plan=plan,
        electrician=electrician(data),
        written=moment_with_zone(written, data),
        title=data.title,
        heading=with_mark(household or data.title, bool(data.simulation)),
        page_title=tr("Body voltage plan: {household}").format(household=household or data.title),
        practitioner=data.practitioner.lines(),
        simulation=data.simulation,
        photos=(),
    )
