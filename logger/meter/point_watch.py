"""Whether the number of a line may have lost its point or its first digit: then the value may be 1000-fold.

A link that drops the same byte of every line writes whole lines that are wrong all the same, and nothing on such a line
shows it. In: each line of a meter. Out: `problem` while the number cannot be told from a damaged one.

| lines | what is doubtful |
| --- | --- |
| `1.3002 VAC`, then `13002 VAC` | the point moved and the digits stayed: a change of range changes the digits too |
| `0.302 VAC`, then `410.1 VAC` | a meter in a home does not go up over two ranges at once to so many volts |
| `1.3002 VAC`, then `.3002 VAC` | the number had a digit before its point |
| `902.1 mVAC`, then `02.1 mVAC` | the meter wrote no zero in front before |
| `12.3001 VAC`, then `2.3001 VAC` | the first digit went, and all others stayed |
| `3002 VAC` | no meter shows so many volts of a body |

A way of writing that the numbers came to without such a jump is trusted from then on. What is open is over once the
numbers are written in a trusted way again. Numbers with an exponent have no point that moves.
"""

from __future__ import annotations

from typing import NamedTuple

from logger.meter.lines import LineReading, LineStatus
from logger.meter.notice_draft import NoticeDraft
from logger.meter.unit_watch import MAX_RANGE_DIGIT_RATIO, SAME_DIGITS_SHARE, has_unit
from logger.translation import kept_text

MAX_METER_VOLTS = 1000.0
"""No meter shows more AC volts of a body: the unit or the decimal point is wrong."""

HIGH_VOLTS = 10.0
"""A body has less in most homes; a jump to more over two ranges at once is more likely a moved point (own choice)."""

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
        self._lost_from = 0
        """So many digits stood before the point before the first one may have been lost; 0 while none may."""

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
        self._trusted.add(writing)
        self._last = writing, reading.volts, number
        return self._judged("")

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
            return _digit_lost(number_before, number)
        if writing.has_zero_in_front and not any(one.has_zero_in_front for one in self._trusted):
            return _digit_lost(number_before, number)
        if is_bare or writing.unit_exponent != before.unit_exponent:
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

    def _lost_digit(self, writing: Writing, volts: float, number: str) -> str:
        """Why a number may lack its first digit: all the others are those of the number before; empty where not.

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
        if abs(volts - left_volts) > SAME_DIGITS_SHARE * max(left_volts, 0.0):
            return ""
        self._lost_from = digits_before
        return _digit_lost(number_before, number)


def _digit_lost(before: str, now: str) -> str:
    """That a number has lost a digit in front, most likely.

    Args:
        before: the number before.
        now: the number.
    """
    return kept_text(
        "The number has lost its first digit ({before}, now {now}): the line may be damaged, and the value wrong. "
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
