"""Writes the report of a visit as an HTML file and, where WeasyPrint is installed, as a PDF."""

from __future__ import annotations

import re
from bisect import bisect_left
from datetime import datetime
from pathlib import Path

from logger.catalogue import SOURCE_LANGUAGE
from logger.errors import StillvoltError
from logger.output_file import refuse_another_visits, refuse_outputs, write_whole
from logger.output_kind import PDF_MARK
from logger.report.document.html_page import report_html
from logger.report.document.read_report_data import OnProgress, read_report_data
from logger.report.paper import A4
from logger.report.visit_name import visit_name
from logger.translation import in_language, marked, shown_language, tr
from logger.visit.storage.read_only import checked_log

UNCHANGED = marked("The visit is unchanged.")

AFTER_HOUSEHOLD = 'class="professional"'
"""With this in the page the household's part is over."""

ROOM = re.compile(r'(?<=<body style="--room: )[-.\d]+')
"""Of the page: how large the letters of the household's part are, 1 where it has room on its side of paper."""

ROOMS = (
    "-0.5",
    "-0.3",
    "-0.1",
    "0.1",
    "0.3",
    "0.5",
    "0.7",
    "0.85",
    "1",
    "1.25",
    "1.5",
    "2",
    "2.5",
    "3",
    "4",
    "5",
    "6",
)
"""The same from the smallest letters to the largest."""


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
        write_whole(pdf, _as_pdf(html, out, paper), tr("The report is in {file}.").format(file=out), name)
    return data.simulation


def _as_pdf(html: str, out: Path, paper: str = A4) -> bytes:
    """Print the page on a paper; the household's part in the largest letters in which it takes one side."""
    kept = tr("The report is in {file}.").format(file=out)
    try:
        # An extra: without it the message below is shown.
        from weasyprint import CSS, HTML  # noqa: PLC0415 - an extra, as above
        from weasyprint.urls import URLFetcher  # noqa: PLC0415 - an extra, as above
    except ImportError as error:
        raise StillvoltError(
            tr("A PDF needs the package WeasyPrint, which is not installed ({name}).").format(
                name=error.name
            ),
            kept,
            tr("Install it with: {command}. Or open the report in a browser and print it to a PDF.").format(
                command="pip install 'stillvolt[report]'"
            ),
        ) from error
    except OSError as error:  # Pango is a library of the system
        raise StillvoltError(
            tr("A PDF needs the library Pango of the system, which was not found ({error}).").format(
                error=error
            ),
            kept,
            tr(
                "On Debian and Ubuntu: {command}. Or open the report in a browser and print it to a PDF."
            ).format(command="sudo apt-get install libpango-1.0-0 libpangoft2-1.0-0"),
        ) from error

    # The logo is in the page itself; anything else that were asked for is refused.
    embedded_only = URLFetcher(allowed_protocols=("data",), allow_redirects=False)
    size = [CSS(string=" ".join(("@page { size:", paper, "}")))]
    household, found, _ = html.partition(AFTER_HOUSEHOLD)

    def runs_over(room: str) -> bool:
        page = HTML(string=_with_room(household, room), url_fetcher=embedded_only)
        return len(page.render(stylesheets=size).pages) > 1

    if found:
        first_over = bisect_left(ROOMS, 1, key=runs_over)  # larger letters never take less room
        html = _with_room(html, ROOMS[max(first_over - 1, 0)])
    document: bytes = HTML(string=html, url_fetcher=embedded_only).write_pdf(
        pdf_variant="pdf/ua-1", stylesheets=size
    )
    return document + PDF_MARK


def _with_room(html: str, room: str) -> str:
    return ROOM.sub(room, html, count=1)
