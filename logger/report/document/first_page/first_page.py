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
from logger.report.document.first_page.measured import measured_sentence
from logger.report.document.first_page.missing import missing_sentences
from logger.report.document.first_page.nights import night_sentences
from logger.report.document.first_page.outside import outside_sentences
from logger.report.document.first_page.spot_table import (
    MAX_SPOTS,
    SpotGroup,
    all_spots_text,
    caption,
    others_text,
    read_spots,
    scale_volts,
    spot_footnotes,
    spot_groups,
)
from logger.report.document.first_page.tonight import Tonight, tonight
from logger.report.document.first_page.who_does_what import (
    Tasks,
    for_others,
    for_the_household,
    on_the_next_page,
)
from logger.report.document.report_data import ReportData


@dataclass(frozen=True, slots=True)
class FirstPage:
    """What the template puts on the page; a list is empty and a text is "" where there is nothing to write."""

    in_short: tuple[tuple[str, str], ...]
    """The page in a few sentences, each with a word before it."""
    tonight: Tonight
    nights: tuple[str, ...]
    spot_groups: tuple[SpotGroup, ...]
    """The table of spots."""
    other_spots: str
    """How those are that are not in it."""
    all_spots: str
    """Where those are."""
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
    calls: tuple[Tasks, ...]
    """Whom to call for what, the household itself first."""
    calls_in_short: tuple[Tasks, ...]
    """That and where something stands for whoever measured, a line below the others."""
    calls_later: tuple[Tasks, ...]
    """What stands on the page after it, for whoever measured."""
    is_crowded: bool
    """Whether there is so much that its letters are small from the start."""
    measured: str
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
    is_crowded = len(read_spots(data)) > MAX_SPOTS
    others = for_others(data, name_every=is_crowded)
    yourself = tuple(filter(None, (for_the_household(data),)))
    later = others[1:] if is_crowded else ()
    return FirstPage(
        in_short=in_short(data),
        tonight=tonight(data, written),
        nights=tuple(night_sentences(data, only_needed=is_crowded)),
        spot_groups=tuple(table),
        other_spots=others_text(data),
        all_spots=all_spots_text(data),
        caption=caption(data),
        spot_footnotes=spot_footnotes(table),
        key=spot_key_svg("spots-key", data.setup.target_volts) if table else "",
        scale_end=plain(scale),
        causes=tuple(causes(data)),
        bars_key=bars_key(data),
        outside=tuple(outside_sentences(data)),
        calls=(*yourself, *(others[:1] if is_crowded else others)),
        calls_in_short=tuple(on_the_next_page(data) for _ in later),
        calls_later=later,
        is_crowded=is_crowded,
        measured=measured_sentence(data),
        missing=tuple(missing_sentences(data)),
        damage=data.integrity.summary(),
    )
