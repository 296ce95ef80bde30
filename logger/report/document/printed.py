"""A page as a PDF, where WeasyPrint is installed."""

from __future__ import annotations

import re
from bisect import bisect_left

from logger.errors import StillvoltError
from logger.output_kind import PDF_MARK
from logger.report.paper import A4
from logger.translation import tr

AFTER_HOUSEHOLD = 'class="professional'
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


def printed(html: str, kept: str, paper: str = A4) -> bytes:
    """Print a page on a paper; the household's part in the largest letters in which it takes one side.

    Args:
        html: the page.
        kept: what has been written already, in a sentence, for the message where it cannot be printed.
        paper: of `PAPERS`.

    Raises:
        StillvoltError: what it needs is not installed.
    """
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
