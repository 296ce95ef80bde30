"""Words and numbers as the report writes them."""

from __future__ import annotations

from datetime import datetime

from logger.metrology.rounding import signed
from logger.metrology.uncertainty import Budget, shown
from logger.report.document.report_data import ReportData
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import budget_of
from logger.visit.storage.time_zone import offset_of

NBSP = "\N{NO-BREAK SPACE}"

EXPANDED = f"U, k{NBSP}={NBSP}2"
"""Head of a column of expanded uncertainties."""


def counted(count: int, thing: str, things: str = "") -> str:
    """Write a number with what it counts: '1 gap', '3 gaps'.

    Args:
        count: how many.
        thing: the singular.
        things: the plural; empty where an s makes it.
    """
    return f"{count:,} {thing if count == 1 else things or f'{thing}s'}"


def value_text(budget: Budget) -> str:
    """Write a value for a lay reader: '0.27 V ± 0.02 V', with the figures that the window shows."""
    return shown(budget).replace(" ", NBSP)


def reading_text(reading: Reading) -> str:
    """Write the value of a reading for a lay reader, with what is known of its uncertainty."""
    return value_text(budget_of(reading) or Budget.of_u("scatter", reading.volts, reading.u_volts))


def signed_volts(volts: float) -> str:
    """Write a difference: '+0.0123', '−0.0123'."""
    return signed(volts, 4)


def moment(when: datetime) -> str:
    """Write a moment: '14 Oct 2026, 15:05:09', with spaces that do not break."""
    return f"{when.day} {when:%b %Y, %H:%M:%S}".replace(" ", NBSP)


def moment_of(data: ReportData, utc_ns: int) -> str:
    """Write a moment of a visit as `moment`, with its offset to UTC where the visit spans a change of the clock."""
    when = data.local(utc_ns)
    return moment(when) + (f"{NBSP}{offset_of(when)}" if data.clock_changes else "")


def day(when: datetime) -> str:
    """Write a day: '14 October 2026'."""
    return f"{when.day} {when:%B %Y}"
