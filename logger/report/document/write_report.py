"""Writes the report of a visit as an HTML file and, where WeasyPrint is installed, as a PDF."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from logger.catalogue import SOURCE_LANGUAGE
from logger.output_file import refuse_another_visits, refuse_outputs, write_whole
from logger.report.document.html_page import report_html
from logger.report.document.printed import printed
from logger.report.document.read_report_data import OnProgress, read_report_data
from logger.report.paper import A4
from logger.report.visit_name import visit_name
from logger.translation import in_language, marked, shown_language, tr
from logger.visit.storage.read_only import checked_log

UNCHANGED = marked("The visit is unchanged.")


def write_report(
    visit: Path,
    out: Path,
    pdf: Path | None = None,
    on_progress: OnProgress = lambda _: None,
    *,
    language: str = SOURCE_LANGUAGE,
    replace: bool = False,
    paper: str = A4,
) -> str:
    """Write the report of a visit; returns how much of the visit is simulated, empty where nothing is.

    Args:
        visit: the visit log; it may be recorded at the moment.
        out: the HTML file; an older one is replaced once the new one is whole.
        pdf: the PDF file, or None.
        on_progress: is called with a few words on what is being done.
        language: the code of the one that the report is written in.
        replace: whether the user has asked to replace a file that somebody else has written.
        paper: of `PAPERS`, that the PDF is for; a browser prints the page on its own.

    Raises:
        StillvoltError: the log cannot be read, a file cannot be written or may not be overwritten, or the PDF needs
            what is not installed. Then the HTML file has been written nevertheless.
    """
    shown = shown_language()

    def told(doing: str) -> None:
        with in_language(shown):
            on_progress(tr(doing))

    outputs = [path for path in (out, pdf) if path is not None]
    refuse_outputs(outputs, [visit], replace=replace)
    with checked_log(visit) as log:
        name = visit_name(log)
        if not replace:
            refuse_another_visits(outputs, name)
        with in_language(language):
            data = read_report_data(log, told)
    told(marked("writing the page"))
    with in_language(language):
        html = report_html(data, datetime.now().astimezone(data.zone))
    write_whole(out, html.encode("utf-8"), tr(UNCHANGED), name)
    if pdf is not None:
        told(marked("printing the PDF"))
        kept = tr("The report is in {file}.").format(file=out)
        write_whole(pdf, printed(html, kept, paper), kept, name)
    return data.simulation
