"""Words and numbers as the report writes them, in the language that holds."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime

from logger.metrology.rounding import (
    Rounded,
    decimals_shown,
    difference_as_shown,
    fixed,
    grouped,
    rounded,
    signed,
    signed_as_shown,
)
from logger.metrology.uncertainty import COVERAGE_FACTOR, Budget, shown
from logger.name_list import joined
from logger.report.document.report_data import ReportData
from logger.settling.events import Step
from logger.translation import marked, tr, tr_kept
from logger.visit.records.reading_records import Reading
from logger.visit.results.on_off_result import budget_of
from logger.visit.storage.time_zone import offset_of

NBSP = "\N{NO-BREAK SPACE}"

_ALL_BUT = re.compile(r"only (?P<circuits>.+?) off(, without (?P<cords>.+))?")
"""A condition as the log keeps it in which a few circuits are off: in a column it would be read as those being on."""

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
    if found := _ALL_BUT.fullmatch(condition):
        text = (
            tr("everything on except {circuits}, without {cords}")
            if found["cords"]
            else tr("everything on except {circuits}")
        )
        return text.format(circuits=found["circuits"], cords=found["cords"])
    return tr_kept(condition) or tr("condition not stated")


def some_of(names: Sequence[str], most: int) -> str:
    """Join names, of many only the first: 'a, b, c and 6 more'; a single one that is left is named as well.

    Args:
        names: as `joined` takes them.
        most: so many are named.
    """
    if len(names) <= most + 1:
        return joined(names)
    return joined([*names[:most], tr("{n} more").format(n=grouped(len(names) - most))])


def with_mark(text: str, simulated: bool) -> str:
    """A text, with a mark where what it is about is simulated."""
    return tr("{text} (simulated)").format(text=text) if simulated else text


def value_text(budget: Budget) -> str:
    """Write a value for a lay reader: '0.27 V ± 0.02 V', with the figures that the window shows."""
    return shown(budget).replace(" ", NBSP)


def reading_text(reading: Reading) -> str:
    """Write the value of a reading for a lay reader, with what is known of its uncertainty."""
    return value_text(budget_of(reading) or Budget.of_u("scatter", reading.volts, reading.u_volts))


def with_u(figures: Rounded) -> str:
    """Write a value with its expanded uncertainty for a column in volts: '0.27 ± 0.02'."""
    return f"{figures.volts} ± {figures.expanded}".replace(" ", NBSP) if figures.expanded else figures.volts


def volts_with_u(budget: Budget) -> str:
    """Write a value for a column in volts, as `with_u`."""
    return with_u(rounded(budget.volts, budget.expanded_volts))


def expanded(volts: str) -> str:
    """Head of a column of values with their expanded uncertainty.

    Args:
        volts: what the values are, in the language that holds.
    """
    return tr("{name} ± U, V").format(name=volts).replace(" ± U, V", f"{NBSP}±{NBSP}U,{NBSP}V")


def millivolts(volts: float) -> str:
    """Write a standard uncertainty in millivolts, with the figures that a budget can be added up from."""
    return fixed(1e3 * volts, 1) if 1e3 * volts >= _LEAST_MILLIVOLTS else f"<{NBSP}{fixed(0.1, 1)}"


_LEAST_MILLIVOLTS = 0.05
"""What would be shown as nothing."""


def signed_volts(volts: float) -> str:
    """Write a change of a level: '+0.012', '−0.012'."""
    return signed(volts, 3)


def step_volts(step: Step) -> tuple[str, str, str]:
    """Write both levels of a step, and its change with U: the difference of the levels as they are written."""
    expanded_volts = COVERAGE_FACTOR * step.u_volts
    decimals = decimals_shown(expanded_volts)
    before, after = fixed(step.before_volts, decimals), fixed(step.after_volts, decimals)
    change = signed_as_shown(difference_as_shown(before, after))
    return before, after, with_u(Rounded(change, rounded(0.0, expanded_volts).expanded))


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
