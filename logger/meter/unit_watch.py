"""Whether the lines state their unit, and whether it may have changed: then the value may be 1000-fold.

In: each line of a meter. Out: a notice where volts are assumed; `problem` while nobody knows which unit is right.

| lines | what is doubtful |
| --- | --- |
| `273.0 mV`, then `273.1 V` | the unit changed and the digits stayed: a change of range moves the point or the digits |
| `0.110`, then `98.5` | a bare number has no unit: its point moved as its value jumped |
| `Unit: mV` or `Value [mV];Time`, then `98.5` | whether the unit of that line is the numbers' nobody knows |
"""

from __future__ import annotations

import re
from collections import deque
from math import log10

from logger.meter.last_digit import MIN_ZERO_DECIMALS, LastDigit
from logger.meter.lines import LineReading, LineStatus
from logger.meter.notice_draft import NoticeDraft
from logger.meter.recent_values import RecentValues
from logger.meter.stream_line import is_step
from logger.meter.unit_line import UnitLine, unit_line
from logger.translation import kept_text

ASSUMED_UNIT = kept_text("The meter sends no unit: volts assumed. Compare a value with the meter's display.")

SAME_DIGITS_SHARE = 0.02
"""Digits that differ by no more than this share between two lines are the same: noise of a level."""

MAX_FIRST_LINES = 3
"""So many lines in a row may be damaged in the same way."""
FOLLOWED_LINES = 5
FOLLOWED_RATIO = 2
"""A finer unit (mV after V) is followed where it has stayed for so many lines and so many times as many as the unit
before it had: damage takes an m away, and writes none."""
FOLLOWED_COARSER_LINES = 24
"""A coarser unit (V after mV) is followed after so many lines where the unit before it had `MAX_FIRST_LINES` at most;
else never: a link that always loses the m would give volts."""

OPEN_UNIT_NOTE = kept_text("it is not known whether the number is in volts or in millivolts")
"""Why a line is no sample while the unit is open."""

MIN_DIGIT_RATIO = 5.0
"""The last digit is worth another power of ten from this ratio on."""
MAX_RANGE_DIGIT_RATIO = 50.0
"""A meter changes to the next range; over two ranges at once, as from 0.110 to 98.5, its unit changes as likely."""
JUMP_LINES = 16
"""A value has jumped where those of so many lines are of two levels."""

_VOLTS = re.compile(rb"VOLT|VAC|ACV|VRMS|(?<![A-Z])[MUKN\xb5\xc2]*V(?![A-Z])", re.IGNORECASE)


def has_unit(raw: bytes, reading: LineReading) -> bool:
    """Whether a line that gives volts says anywhere that its number is one of volts.

    Args:
        raw: the line.
        reading: how it is read; its number's place is known.
    """
    front, _, behind = reading.split(raw)
    return _VOLTS.search(front + b" " + behind) is not None


class UnitWatch:
    """Follows the unit of one meter. Plain state, constant memory.

    Args:
        is_stated: a description of the meter states what its numbers are.
        is_fixed: they are that in every range, since the meter is asked for volts.
        taught_digit_volts: what their last digit was worth when that was stated, volts; 0 where nobody knows.
    """

    def __init__(
        self, is_stated: bool = False, is_fixed: bool = False, taught_digit_volts: float = 0.0
    ) -> None:
        self._is_known = self._is_stated = is_stated
        self._bare = None if is_fixed else _BareNumbers(taught_digit_volts)
        self._values = RecentValues()
        self._bare_problem = ""
        """Why it is not known what bare numbers are; empty while it is."""
        self._changed = ""
        """That the unit changed while the digits stayed; empty while that is not so."""
        self._last: tuple[int, int, float] | None = None
        """Power of ten of the unit, decimals and number of the line before."""
        self._exponent = 0
        """Power of ten of the unit before it changed, while that is a problem."""
        self._run = 0
        """So many lines in a row had the unit and the decimals of the newest one."""
        self._before_run = 0
        """So many had those before the unit changed."""

    @property
    def problem(self) -> str:
        """Why it is not known in which unit the numbers are; empty while it is."""
        return self._changed or self._bare_problem

    def on_line(self, raw: bytes, reading: LineReading) -> list[NoticeDraft]:
        """Take one line, whatever it gives; returns what is new.

        Args:
            raw: the line.
            reading: how it is read.
        """
        if reading.status is LineStatus.VOLTS:
            self._values.take(raw)
        elif not self._is_stated and self._bare is not None and not self._values.may_be_damaged_one(raw):
            self._bare.take_unit(raw, reading)
        if reading.status is not LineStatus.VOLTS or reading.number_span is None:
            return []
        if not reading.volts:
            if self._bare is not None and not self._is_stated:
                self._bare.take_zero(raw, reading)
            return []
        out = []
        is_bare = not has_unit(raw, reading)
        if (
            self._bare is not None
            and (problem := self._bare.take(raw, reading, is_bare)) != self._bare_problem
        ):
            self._bare_problem = problem
            out.append(
                NoticeDraft("unit open", problem or kept_text("The numbers are written as they were before."))
            )
        if not self._is_known:
            self._is_known = True
            if is_bare and not (self._bare is not None and self._bare.unit):
                out.append(NoticeDraft("unit assumed", ASSUMED_UNIT))
        exponent = reading.unit_exponent
        decimals = len(reading.split(raw)[1].replace(b",", b".").partition(b".")[2])
        newest = (exponent, decimals, reading.volts / 10.0**exponent)
        before, self._last = self._last, newest
        run = self._run
        self._run = run + 1 if before is not None and before[:2] == newest[:2] else 1
        if self._changed and exponent == self._exponent:
            self._changed = ""
            out.append(NoticeDraft("unit changed", kept_text("The unit is again the one before.")))
        elif not self._changed and before is not None and _is_unit_alone(before, newest):
            self._exponent, self._before_run = before[0], run
            self._changed = kept_text(
                "The unit changed from {before} to {unit} while the digits stayed: the value may be {factor}-fold "
                "wrong. Nothing is settled. If the display shows {unit}, stop the recording and start it again."
            ).format(before=_unit(before[0]), unit=_unit(exponent), factor=10 ** abs(exponent - before[0]))
            out.append(NoticeDraft("unit changed", self._changed))
        elif self._changed and self._is_followed(exponent):
            self._changed = ""
            out.append(NoticeDraft("unit changed", self._followed(exponent)))
        return out

    def _followed(self, exponent: int) -> str:
        """That the lines are read in another unit from now on.

        Args:
            exponent: power of ten of that unit.
        """
        text = (
            kept_text(
                "The lines say {unit} again and again, and only the one before them said {before}: that one is "
                "{factor}-fold wrong, most likely. From now on the lines are read as they say. Compare a value with "
                "the meter's display."
            )
            if self._before_run == 1
            else kept_text(
                "The lines say {unit} again and again, and only the {n} before them said {before}: those are "
                "{factor}-fold wrong, most likely. From now on the lines are read as they say. Compare a value with "
                "the meter's display."
            )
        )
        return text.format(
            unit=_unit(exponent),
            n=self._before_run,
            before=_unit(self._exponent),
            factor=10 ** abs(exponent - self._exponent),
        )

    def _is_followed(self, exponent: int) -> bool:
        """Whether the lines have had another unit for long enough, compared with how long they had the one before.

        Args:
            exponent: power of ten of their unit now.
        """
        if exponent < self._exponent:
            return self._run >= max(FOLLOWED_LINES, FOLLOWED_RATIO * self._before_run)
        return self._before_run <= MAX_FIRST_LINES and self._run >= FOLLOWED_COARSER_LINES


class _BareNumbers:
    """Follows the numbers of a meter that have no unit: whether they can be those of one unit.

    Args:
        taught_digit_volts: see `UnitWatch`.
    """

    def __init__(self, taught_digit_volts: float = 0.0) -> None:
        self.unit: UnitLine | None = None
        """The newest line without a value that named a unit; None for none."""
        self._last_digit = LastDigit()
        self._values: deque[float] = deque(maxlen=JUMP_LINES)
        self._digit = taught_digit_volts
        """What the last digit was worth before it changed, or is; 0 before it is known."""
        self._is_of_teaching = taught_digit_volts > 0.0
        """Whether no line has shown its last digit yet, so that the one above is that of the teaching."""
        self._trusted: set[int] = set()
        """The powers of ten of last digits that the numbers came to without a jump."""
        self._jump = ""
        """That the number jumped as its point moved; empty while that is not so."""

    def take_unit(self, raw: bytes, reading: LineReading) -> None:
        """Take a line without a value, which perhaps names the unit of the numbers.

        Args:
            raw: the line.
            reading: how it is read.
        """
        self.unit = unit_line(raw, reading) or self.unit

    def take_zero(self, raw: bytes, reading: LineReading) -> None:
        """Take a zero: its decimals show what the last digit is worth, where nothing has shown it before.

        Args:
            raw: the line.
            reading: how it is read.
        """
        number = reading.split(raw)[1].replace(b",", b".").lower()
        decimals = len(number.partition(b".")[2])
        if not self._digit and decimals >= MIN_ZERO_DECIMALS and b"e" not in number:
            self._digit = 10.0 ** (reading.unit_exponent - decimals)
            self._trusted.add(round(log10(self._digit)))
            self._values.append(0.0)

    def take(self, raw: bytes, reading: LineReading, is_bare: bool) -> str:
        """Take a line that gives volts; returns why the unit of bare numbers is open, empty where it is not.

        Args:
            raw: the line.
            reading: how it is read.
            is_bare: its number has no unit; where it has one, it is that of the range now.
        """
        if is_bare and self.unit is not None and not self.unit.is_volts:
            return describe_unit_line(self.unit)
        assert reading.volts is not None
        number = reading.split(raw)[1]
        if b"e" in number.lower():
            return self._jump  # with an exponent it needs no other unit
        digit = self._last_digit.digit_volts(raw, reading)
        self._values.append(reading.volts)
        if digit and not is_bare:
            self._digit, self._jump = digit, ""
            self._trusted.add(round(log10(digit)))
        elif digit:
            self._take_digit(digit, number.decode("latin-1"))
        return self._jump

    def _take_digit(self, digit: float, number: str) -> None:
        """Take what the last digit of a number is worth.

        Args:
            digit: it, volts where the numbers are volts.
            number: the number's text.
        """
        power = round(log10(digit))
        ratio = max(digit, self._digit) / min(digit, self._digit) if self._digit else 1.0
        is_first, self._is_of_teaching = self._is_of_teaching, False
        if ratio < MIN_DIGIT_RATIO:
            self._digit, self._jump = digit, ""
            self._trusted.add(power)
            return
        if self._jump:
            return
        # A coarser digit than when it was taught: a range of higher voltages, or, more likely in a home, of millivolts.
        if is_first and (digit > self._digit or ratio > MAX_RANGE_DIGIT_RATIO):
            self._jump = kept_text(
                "The numbers have no unit, and their point stands elsewhere than when the meter was taught ({number}): "
                "they may be in another unit now, so the value may be 1000-fold wrong. Nothing is settled. Set the "
                "range back; or identify the meter, type what its display shows with its unit, keep it, and record "
                "with it."
            ).format(number=number)
            return
        is_back = digit < self._digit and power in self._trusted
        has_jumped = is_step(min(self._values), max(self._values))
        if is_back or not (ratio > MAX_RANGE_DIGIT_RATIO or has_jumped):
            self._digit = digit
            self._trusted.add(power)
            return
        self._jump = kept_text(
            "The numbers have no unit, and the point of the number moved: from values about {before} to {number}. They "
            "may be millivolts in the one range and volts in the other, so the value may be 1000-fold wrong. Nothing "
            "is settled. Set the range back; or identify the meter, type what its display shows with its unit, keep "
            "it, and record with it."
        ).format(before=f"{self._values[0]:g}", number=number)


def describe_unit_line(line: UnitLine) -> str:
    """Why numbers without a unit are no samples beside a line that names another unit than volts.

    Args:
        line: it.
    """
    if line.other:
        return kept_text(
            "A line of its own says that the meter sends {other} ({line}), and the numbers have no unit. Nothing is "
            "settled. Set the meter to AC volts, and start the recording again."
        ).format(other=line.other, line=line.text)
    return kept_text(
        "A line of its own states a unit ({line}), and the numbers have none: whether it is theirs is not known. "
        "Nothing is settled. Set the range back; or identify the meter, type what its display shows with its unit, "
        "keep it, and record with it."
    ).format(line=line.text)


def _is_unit_alone(before: tuple[int, int, float], newest: tuple[int, int, float]) -> bool:
    """Whether between two lines the unit changed, and neither the place of the point nor the digits did."""
    if before[0] == newest[0] or before[1] != newest[1]:
        return False
    return abs(newest[2] - before[2]) <= SAME_DIGITS_SHARE * before[2]


def _unit(exponent: int) -> str:
    return {0: "V", -3: "mV", -6: "µV", 3: "kV"}.get(exponent, f"10^{exponent} V")
