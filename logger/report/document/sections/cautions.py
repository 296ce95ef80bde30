"""Cautions, and how far the values carry."""

from __future__ import annotations

from logger.cautions import (
    DIGGING,
    EARTHING_CODES,
    LAPTOP_TIES,
    LIVE_CONDUCTOR,
    PANEL_CAUTIONS,
    THUNDERSTORM,
    WIRING,
)
from logger.report.document.blocks import Items, Section
from logger.report.document.report_data import ReportData
from logger.translation import marked, tr, tr_all

CAUTIONS = (
    (LIVE_CONDUCTOR,),
    (DIGGING, THUNDERSTORM, EARTHING_CODES),
    *((sentence,) for sentence in PANEL_CAUTIONS),
    (WIRING,),
    (
        marked(
            "People who react to the field of a cord do not do the function check, in which a cord is brought near."
        ),
    ),
    (LAPTOP_TIES,),
)
"""The sentences of each line."""

LIMITS = (
    marked(
        "The values hold for these spots, postures, meter and reference, and for what was switched on then. They "
        "change with posture, soil moisture, season and whatever is plugged in."
    ),
    marked(
        "The building's protective earth as reference may be wrong by 0.2 to 0.3 V (common practice, no source)."
    ),
    marked("Body voltage tells of electric fields of the mains only: not of magnetic fields, not of radio."),
    marked(
        "This report makes no statement about anybody's health: it says what was measured, how well, and what changed "
        "it."
    ),
)


def cautions(_: ReportData) -> Section:
    """Build the section."""
    lines = tuple(tr_all(sentences) for sentences in CAUTIONS)
    return Section("cautions", tr("Cautions and limits"), (Items(lines), Items(tuple(map(tr, LIMITS)))))
