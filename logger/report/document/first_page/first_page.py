"""The first page: what a household wants to know, in its words.

In: the data of the report. Out: texts, tables and pictures for the template. Values are rounded as on the form; each
stands in full in the sections after it.
"""

from __future__ import annotations

from dataclasses import dataclass

from logger.metrology.rounding import plain
from logger.metrology.target import target_source_text
from logger.report.document.figures.spot_bars import spot_legend_svg
from logger.report.document.first_page.cause_bars import Cause, causes
from logger.report.document.first_page.measured import measured_sentence, trust_sentence
from logger.report.document.first_page.missing import missing_sentences
from logger.report.document.first_page.nights import night_sentence
from logger.report.document.first_page.outside import outside_sentences
from logger.report.document.first_page.spot_table import (
    SpotGroup,
    above_target_sentence,
    scale_volts,
    spot_footnotes,
    spot_groups,
)
from logger.report.document.first_page.switch_off import SwitchOffList, for_an_electrician, switch_off_list
from logger.report.document.report_data import ReportData
from logger.translation import tr


@dataclass(frozen=True, slots=True)
class FirstPage:
    """What the template puts on the page; a list is empty and a text is "" where there is nothing to write."""

    measured: str
    trust: str
    spot_groups: tuple[SpotGroup, ...]
    """The table of spots."""
    spot_footnotes: tuple[str, ...]
    """What the marks in it mean."""
    legend: str
    target: str
    summary: str
    causes: tuple[Cause, ...]
    tonight: SwitchOffList
    electrician: tuple[tuple[str, str], ...]
    """Names with their amounts, and what can be done."""
    outside: tuple[str, ...]
    nights: tuple[str, ...]
    missing: tuple[str, ...]
    damage: str
    """What of the log does not agree with itself."""


def first_page(data: ReportData) -> FirstPage:
    """Put the first page together."""
    target_volts = data.setup.target_volts
    scale = scale_volts(data)
    table = spot_groups(data, scale)
    return FirstPage(
        measured=measured_sentence(data),
        trust=trust_sentence(data),
        spot_groups=tuple(table),
        spot_footnotes=spot_footnotes(table),
        legend=spot_legend_svg("spots-key", target_volts, scale) if table else "",
        target=tr("Target {volts} V ({source})").format(
            volts=plain(target_volts), source=target_source_text(data.setup.target_source)
        ),
        summary=above_target_sentence(data),
        causes=tuple(causes(data)),
        tonight=switch_off_list(data),
        electrician=for_an_electrician(data),
        outside=tuple(outside_sentences(data)),
        nights=tuple(night_sentence(night, target_volts) for night in data.nights),
        missing=tuple(missing_sentences(data)),
        damage=data.integrity.summary(),
    )
