"""Whether the number of a line may have lost its point or a digit: then the value may be 1000-fold.

A link that drops the same byte of every line writes whole lines that are wrong all the same, and nothing on such a line
shows it. In: each line of a meter. Out: `problem` while the number cannot be told from a damaged one.

| lines | what is doubtful |
| --- | --- |
| `1.3002 VAC`, then `13002 VAC` | the point moved and the digits stayed: a change of range changes the digits too |
| `0.302 VAC`, then `410.1 VAC` | a meter in a home does not go up over two ranges at once to so many volts |
| `1.3002 VAC`, then `.3002 VAC` | the number had a digit before its point |
| `902.1 mVAC`, then `02.1 mVAC` | the meter wrote no zero in front before |
| `12.3001 VAC`, then `2.3001 VAC` | the first digit went, and all others stayed |
| `123.41 mVAC`, then `13.41 mVAC` | the same of a later digit before the point |
| `1.3021 VAC`, then `1.021 VAC` | a digit behind the point went; a coarser range keeps the value |
| `3002 VAC` | no meter shows so many volts of a body |

A way of writing that the numbers came to without such a jump is trusted from then on, as `.98 VAC` after `1.01 VAC`
is. What is open is over once the numbers are written in a trusted way again. Numbers with an exponent have no point
that moves. A range that was in use before is trusted: a digit behind the point that is lost since then is not seen.
"""

from __future__ import annotations

from collections import deque
from typing import NamedTuple

from logger.meter.lines import LineReading, LineStatus
from logger.meter.notice_draft import NoticeDraft
from logger.meter.unit_watch import MAX_RANGE_DIGIT_RATIO, SAME_DIGITS_SHARE, has_unit
from logger.translation import kept_text

MAX_METER_VOLTS = 1000.0
"""No meter shows more AC volts of a body: the unit or the decimal point is wrong."""

HIGH_VOLTS = 10.0
"""A body has less in most homes; a jump to more over two ranges at once is more likely a moved point (own choice)."""

RECENT_NUMBERS = 8
"""A digit may be lost of any of so many numbers: noise moves the digits behind it tenfold."""

SAME_COUNTS = 3.0
"""Numbers that differ by so many of their last digit are the same..."""
FEW_DIGITS = 100.0
"""... and by one only where less than so many are left: fewer digits are the same by chance."""
ROUNDING = 1.001
"""Differences of printed numbers are this much larger as binary fractions, at the most."""

CONTINUOUS_SHARE = 0.1
"""Two numbers in turn that differ by no more than this share are of one level; one that lost its first digit is not."""

OPEN_POINT_NOTE = kept_text("the number may have lost its point or a digit")
"""Why a line is no sample while that is open."""

_WRITTEN_AS_BEFORE = kept_text("The numbers are written as they were before.")


class Writing(NamedTuple):
    """How a number is written.

    Args:
        has_lead: with a digit before its point.
        has_zero_in_front: with a zero in front of other digits.
        decimals: behind its point.
        unit_exponent: the power of ten of its unit.
    """

    has_lead: bool
    has_zero_in_front: bool
    decimals: int
    unit_exponent: int

    @property
    def digit_volts(self) -> float:
        """What its last digit is worth, volts."""
        return 10.0 ** (self.unit_exponent - self.decimals)


class PointWatch:
    """Follows the numbers of one meter. Plain state, bounded memory."""

    def __init__(self) -> None:
        self.problem = ""
        """Why the numbers may have lost a point or a digit; empty while nothing shows that."""
        self._trusted: set[Writing] = set()
        self._last: tuple[Writing, float, str] | None = None
        """Of the newest line that was not doubtful: how its number is written, its volts, and its text."""
        self._recent: deque[str] = deque(maxlen=RECENT_NUMBERS)
        """The newest numbers that were written in the way of the newest one, as texts."""
        self._doubted_volts: float | None = None
        """Of the newest number that is doubtful as nothing stands before its point; None for none."""
        self._lost_from = 0
        """So many digits stood before the point before one may have been lost; 0 while none may."""

    def on_line(self, raw: bytes, reading: LineReading) -> list[NoticeDraft]:
        """Take one line, whatever it gives; returns what is new.

        Args:
            raw: the line.
            reading: how it is read.
        """
        if reading.status is not LineStatus.VOLTS or reading.number_span is None or not reading.is_live:
            return []
        number = reading.split(raw)[1].decode("latin-1").strip().lstrip("+-").replace(",", ".")
        assert reading.volts is not None
        if "e" in number.lower():
            return self._judged(_too_high(reading.volts, number))
        whole, _, fraction = number.partition(".")
        has_zero_in_front = len(whole) > 1 and whole[0] == "0"
        writing = Writing(bool(whole), has_zero_in_front, len(fraction), reading.unit_exponent)
        if too_high := _too_high(reading.volts, number):
            return self._judged(too_high)
        if self._last is not None:
            if self.problem and (writing not in self._trusted or len(whole) < self._lost_from):
                if not writing.has_lead:
                    self._doubted_volts = reading.volts
                return []
            is_bare = not has_unit(raw, reading)
            why = (
                ""
                if writing in self._trusted
                else self._doubt(writing, reading.volts, number, is_bare=is_bare)
            )
            if why := why or self._lost_digit(writing, reading.volts, number):
                return self._judged(why)
        self._lost_from = 0
        self._trust(writing, reading.volts)
        if self._last is None or self._last[0] != writing:
            self._recent.clear()
        self._recent.append(number)
        self._last = writing, reading.volts, number
        return self._judged("")

    def _trust(self, writing: Writing, volts: float) -> None:
        """Trust a way of writing, and the one without a lead that came to it: `.97` that rises to `1.02` lost nothing.

        Args:
            writing: how the number is written.
            volts: its value.
        """
        self._trusted.add(writing)
        doubted, self._doubted_volts = self._doubted_volts, None
        if doubted is not None and _are_continuous(doubted, volts):
            self._trusted.add(writing._replace(has_lead=False))

    def _judged(self, why: str) -> list[NoticeDraft]:
        if bool(why) == bool(self.problem):
            return []
        self.problem = why
        return [NoticeDraft("point moved", why or _WRITTEN_AS_BEFORE)]

    def _doubt(self, writing: Writing, volts: float, number: str, *, is_bare: bool) -> str:
        """Why a number that is written in a new way may be damaged; empty where nothing speaks for that.

        Args:
            writing: how it is written.
            volts: its value.
            number: its text.
            is_bare: it has no unit; its point is then followed by `UnitWatch`.
        """
        assert self._last is not None
        before, volts_before, number_before = self._last
        if before.has_lead and not writing.has_lead and not any(not one.has_lead for one in self._trusted):
            if _are_continuous(volts_before, volts):
                return ""
            self._doubted_volts = volts
            return _digit_lost(number_before, number)
        if writing.has_zero_in_front and not any(one.has_zero_in_front for one in self._trusted):
            return _digit_lost(number_before, number)
        if writing.unit_exponent != before.unit_exponent:
            return ""
        if lost_of := self._lost_behind_point(writing, volts):
            return _digit_lost(lost_of, number)
        if is_bare:
            return ""
        factor = writing.digit_volts / before.digit_volts
        if factor != 1.0 and abs(volts - factor * volts_before) <= SAME_DIGITS_SHARE * factor * volts_before:
            return kept_text(
                "The point of the number moved and its digits stayed ({before}, now {now}): the line may be damaged, "
                "and the value {factor}-fold wrong. Nothing is settled. If the meter's display shows {now}, stop the "
                "recording and start it again."
            ).format(before=number_before, now=number, factor=f"{max(factor, 1 / factor):.0f}")
        if factor > MAX_RANGE_DIGIT_RATIO and volts >= HIGH_VOLTS:
            return kept_text(
                "The number went up over two ranges at once ({before}, now {now}): its point may have moved, and the "
                "value be 1000-fold wrong. Nothing is settled. If the meter's display shows {now}, stop the recording "
                "and start it again."
            ).format(before=number_before, now=number)
        return ""

    def _lost_behind_point(self, writing: Writing, volts: float) -> str:
        """The number that a digit behind the point may have been lost of; empty where none may.

        A range with a digit less keeps the value, and a meter changes to it by itself as the value rises.

        Args:
            writing: how the number is written.
            volts: its value.
        """
        assert self._last is not None
        before, volts_before, _ = self._last
        if writing.decimals != before.decimals - 1 or writing.has_lead != before.has_lead:
            return ""
        few = volts < FEW_DIGITS * writing.digit_volts
        near_volts = (1.0 if few else SAME_COUNTS) * writing.digit_volts * ROUNDING
        if abs(volts - volts_before) <= SAME_COUNTS * writing.digit_volts * ROUNDING:
            return ""
        # One that rises is as likely of a coarser range: it must have the digits of the number just before.
        numbers = list(self._recent)[-1:] if volts > volts_before else reversed(self._recent)
        for number in numbers:
            whole, _, fraction = number.partition(".")
            for left in _without_one(fraction):
                if abs(float(f"{whole}.{left}") * 10.0**writing.unit_exponent - volts) <= near_volts:
                    return number
        return ""

    def _lost_digit(self, writing: Writing, volts: float, number: str) -> str:
        """Why a number may lack a digit before its point: all others are those of the number before; empty where not.

        Args:
            writing: how it is written.
            volts: its value.
            number: its text.
        """
        assert self._last is not None
        before, volts_before, number_before = self._last
        digits, digits_before = (len(text.partition(".")[0]) for text in (number, number_before))
        if digits != digits_before - 1 or digits == 0 or writing[2:] != before[2:]:
            return ""
        first_volts = int(number_before[0]) * 10.0 ** (digits + writing.unit_exponent)
        left_volts = volts_before - first_volts
        is_lost = abs(volts - left_volts) <= SAME_DIGITS_SHARE * max(left_volts, 0.0)
        if not is_lost and volts >= FEW_DIGITS * writing.digit_volts:
            whole, point, fraction = number_before.partition(".")
            near_volts = SAME_COUNTS * writing.digit_volts * ROUNDING
            is_lost = any(
                abs(float(f"{left}{point}{fraction}") * 10.0**writing.unit_exponent - volts) <= near_volts
                for left in _without_one(whole)
            )
        if not is_lost:
            return ""
        self._lost_from = digits_before
        return _digit_lost(number_before, number)


def _without_one(digits: str) -> list[str]:
    """The digits without one of them, each once."""
    return list(dict.fromkeys(digits[:place] + digits[place + 1 :] for place in range(len(digits))))


def _are_continuous(one_volts: float, other_volts: float) -> bool:
    """Whether two numbers in turn are of one level that crosses a volt, or another unit."""
    return abs(one_volts - other_volts) <= CONTINUOUS_SHARE * max(one_volts, other_volts)


def _digit_lost(before: str, now: str) -> str:
    """That a number has lost a digit, most likely.

    Args:
        before: the number before.
        now: the number.
    """
    return kept_text(
        "The number has lost a digit ({before}, now {now}): the line may be damaged, and the value wrong. "
        "Nothing is settled. If the meter's display shows {now}, stop the recording and start it again."
    ).format(before=before, now=now)


def _too_high(volts: float, number: str) -> str:
    """That a value is higher than any that a meter shows of a body; empty where it is not."""
    if abs(volts) <= MAX_METER_VOLTS:
        return ""
    return kept_text(
        "The lines say more than {limit} V ({now}): no meter shows that of a body, so the unit or the decimal point is "
        "wrong. Nothing is settled. Compare a value with the meter's display."
    ).format(limit=f"{MAX_METER_VOLTS:.0f}", now=number)
