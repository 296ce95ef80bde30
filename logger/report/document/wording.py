"""Words and numbers as the report writes them, in the language that holds."""

from __future__ import annotations

from datetime import datetime

from logger.metrology.rounding import difference_as_shown, fixed, signed, signed_as_shown
from logger.metrology.uncertainty import Budget, shown
from logger.report.document.report_data import ReportData
from logger.settling.events import Step
from logger.translation import marked, tr, tr_kept
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import budget_of
from logger.visit.storage.time_zone import offset_of

NBSP = "\N{NO-BREAK SPACE}"

EXPANDED = f"U, k{NBSP}={NBSP}2"
"""Head of a column of expanded uncertainties."""

NOT_STATED = marked("not stated")

SUPPLIES = {
    "split phase": marked("split phase"),
    "single phase": marked("single phase"),
    "three-phase": marked("three-phase"),
}
"""How a home is supplied, by what the log calls it."""

_MONTHS = (
    marked("January"),
    marked("February"),
    marked("March"),
    marked("April"),
    marked("May"),
    marked("June"),
    marked("July"),
    marked("August"),
    marked("September"),
    marked("October"),
    marked("November"),
    marked("December"),
)
_SHORT_MONTHS = (
    marked("Jan"),
    marked("Feb"),
    marked("Mar"),
    marked("Apr"),
    marked("May"),
    marked("Jun"),
    marked("Jul"),
    marked("Aug"),
    marked("Sep"),
    marked("Oct"),
    marked("Nov"),
    marked("Dec"),
)


def condition_text(condition: str) -> str:
    """What was on, as it is shown; what somebody typed stays as it is.

    Args:
        condition: as the log keeps it; empty where it was not stated.
    """
    return tr_kept(condition) or tr("condition not stated")


def with_mark(text: str, simulated: bool) -> str:
    """A text, with a mark where what it is about is simulated."""
    return tr("{text} (simulated)").format(text=text) if simulated else text


def value_text(budget: Budget) -> str:
    """Write a value for a lay reader: '0.27 V ± 0.02 V', with the figures that the window shows."""
    return shown(budget).replace(" ", NBSP)


def reading_text(reading: Reading) -> str:
    """Write the value of a reading for a lay reader, with what is known of its uncertainty."""
    return value_text(budget_of(reading) or Budget.of_u("scatter", reading.volts, reading.u_volts))


def signed_volts(volts: float) -> str:
    """Write a difference: '+0.0123', '−0.0123'."""
    return signed(volts, 4)


def step_volts(step: Step) -> tuple[str, str, str]:
    """Write both levels of a step and its change, which is the difference of the levels as they are written."""
    before, after = fixed(step.before_volts, 4), fixed(step.after_volts, 4)
    return before, after, signed_as_shown(difference_as_shown(before, after))


def moment(when: datetime) -> str:
    """Write a moment: '14 Oct 2026, 15:05:09', with spaces that do not break."""
    text = tr("{day} {month} {year}, {time}").format(
        day=when.day, month=tr(_SHORT_MONTHS[when.month - 1]), year=when.year, time=f"{when:%H:%M:%S}"
    )
    return text.replace(" ", NBSP)


def moment_of(data: ReportData, utc_ns: int) -> str:
    """Write a moment of a visit as `moment`, with its offset to UTC where the visit spans a change of the clock."""
    when = data.local(utc_ns)
    return moment(when) + (f"{NBSP}{offset_of(when)}" if data.clock_changes else "")


def day(when: datetime) -> str:
    """Write a day: '14 October 2026'."""
    return tr("{day} {month} {year}").format(day=when.day, month=tr(_MONTHS[when.month - 1]), year=when.year)
