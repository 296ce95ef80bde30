"""Whether the lines state their unit, and whether it changes while the digits stay: then the value may be 1000-fold.

In: each line that gives volts. Out: a notice where volts are assumed; `problem` while nobody knows which unit is right.
A change of range moves the point as well, or the digits: 273.0 mV becomes 0.273 V, and not 273.0 V.
"""

from __future__ import annotations

import re

from logger.meter.lines import LineReading
from logger.meter.notice_draft import NoticeDraft

ASSUMED_UNIT = "The meter sends no unit: volts assumed. Compare a value with the meter's display."

SAME_DIGITS_SHARE = 0.02
"""Digits that differ by no more than this share between two lines are the same: noise of a level."""

_VOLTS = re.compile(rb"VOLT|VAC|ACV|VRMS|(?<![A-Z])[MUKN\xb5\xc2]*V(?![A-Z])", re.IGNORECASE)


class UnitWatch:
    """Follows the unit of one meter. Plain state, constant memory.

    Args:
        is_stated: a description of the meter states what its numbers are.
    """

    def __init__(self, is_stated: bool = False) -> None:
        self.problem = ""
        """That the unit changed while the digits stayed; empty while that is not so."""
        self._is_known = is_stated
        self._last: tuple[int, int, float] | None = None
        """Power of ten of the unit, decimals and number of the line before."""
        self._exponent = 0
        """Power of ten of the unit before it changed, while that is a problem."""

    def on_line(self, raw: bytes, reading: LineReading) -> list[NoticeDraft]:
        """Take one line that gives volts; returns what is new.

        Args:
            raw: the line.
            reading: how it is read.
        """
        if reading.number_span is None or not reading.volts:
            return []
        start, end = reading.number_span
        out = []
        if not self._is_known:
            self._is_known = True
            if not _VOLTS.search(raw[:start] + b" " + raw[end:]):
                out.append(NoticeDraft("unit assumed", ASSUMED_UNIT))
        exponent = reading.unit_exponent
        decimals = len(raw[start:end].replace(b",", b".").partition(b".")[2])
        newest = (exponent, decimals, reading.volts / 10.0**exponent)
        before, self._last = self._last, newest
        if self.problem and exponent == self._exponent:
            self.problem = ""
            out.append(NoticeDraft("unit changed", "The unit is again the one before."))
        elif not self.problem and before is not None and _is_unit_alone(before, newest):
            self._exponent = before[0]
            self.problem = (
                f"The unit changed from {_unit(before[0])} to {_unit(exponent)} while the digits stayed: the value may "
                f"be {10 ** abs(exponent - before[0])}-fold wrong. Nothing is settled. If the display shows "
                f"{_unit(exponent)}, stop the recording and start it again."
            )
            out.append(NoticeDraft("unit changed", self.problem))
        return out


def _is_unit_alone(before: tuple[int, int, float], newest: tuple[int, int, float]) -> bool:
    """Whether between two lines the unit changed, and neither the place of the point nor the digits did."""
    if before[0] == newest[0] or before[1] != newest[1]:
        return False
    return abs(newest[2] - before[2]) <= SAME_DIGITS_SHARE * before[2]


def _unit(exponent: int) -> str:
    return {0: "V", -3: "mV", -6: "µV", 3: "kV"}.get(exponent, f"10^{exponent} V")
