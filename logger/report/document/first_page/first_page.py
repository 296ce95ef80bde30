"""The first page: what a household wants to know, in its words.

In: the data of the report. Out: texts, tables and pictures for the template. Values are rounded as on the form, one
value to one number of digits; each stands in full in the sections after it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from logger.metrology.rounding import plain
from logger.report.document.figures.spot_bars import spot_key_svg
from logger.report.document.first_page.cause_bars import Cause, bars_key, causes
from logger.report.document.first_page.in_short import in_short
from logger.report.document.first_page.measured import measured_sentence, trust_sentence
from logger.report.document.first_page.missing import missing_sentences
from logger.report.document.first_page.nights import night_sentence
from logger.report.document.first_page.outside import outside_sentences
from logger.report.document.first_page.spot_table import (
    SpotGroup,
    caption,
    scale_volts,
    spot_footnotes,
    spot_groups,
)
from logger.report.document.first_page.tonight import Tonight, tonight
from logger.report.document.first_page.who_does_what import Tasks, for_others, for_the_household
from logger.report.document.report_data import ReportData

MAX_SPOTS_BESIDE = 12
"""A longer table of spots has the whole width, so that it is short."""


@dataclass(frozen=True, slots=True)
class FirstPage:
    """What the template puts on the page; a list is empty and a text is "" where there is nothing to write."""

    in_short: tuple[tuple[str, str], ...]
    """The page in a few sentences, each with a word before it."""
    tonight: Tonight
    nights: tuple[str, ...]
    spot_groups: tuple[SpotGroup, ...]
    """The table of spots."""
    beside: bool
    """Whether causes have room beside the table."""
    caption: str
    spot_footnotes: tuple[str, ...]
    """What the marks in it mean."""
    key: str
    """What the bars in it mean."""
    scale_end: str
    """Volts at the end of the bars."""
    causes: tuple[Cause, ...]
    bars_key: str
    outside: tuple[str, ...]
    yourself: Tasks | None
    others: tuple[Tasks, ...]
    measured: str
    trust: str
    missing: tuple[str, ...]
    damage: str
    """What of the log does not agree with itself."""


def first_page(data: ReportData, written: datetime | None = None) -> FirstPage:
    """Put the first page together.

    Args:
        data: of the report.
        written: when the report is made; None where that does not matter.
    """
    scale = scale_volts(data)
    table = spot_groups(data, scale)
    return FirstPage(
        in_short=in_short(data),
        tonight=tonight(data, written),
        nights=tuple(
            night_sentence(
                night,
                data.setup.target_volts,
                data.tonight,
                data.sources,
                marks_simulated=not data.all_simulated,
            )
            for night in data.nights
        ),
        spot_groups=tuple(table),
        beside=sum(len(group.spots) for group in table) <= MAX_SPOTS_BESIDE,
        caption=caption(data),
        spot_footnotes=spot_footnotes(table),
        key=spot_key_svg("spots-key", data.setup.target_volts) if table else "",
        scale_end=plain(scale),
        causes=tuple(causes(data)),
        bars_key=bars_key(data),
        outside=tuple(outside_sentences(data)),
        yourself=for_the_household(data),
        others=for_others(data),
        measured=measured_sentence(data),
        trust=trust_sentence(data),
        missing=tuple(missing_sentences(data)),
        damage=data.integrity.summary(),
    )
