"""The display's count in a stretch of the trace, followed line by line while the stretch grows.

In: the text and the value of each line, a few before the stretch first. Out: what its values are rounded to, V.
"""

from __future__ import annotations

from logger.meter.last_digit import LastDigit
from logger.meter.lines import read_line
from logger.settling.resolution import Resolution

LINES_BEFORE = 500
"""So many lines before a stretch show whether the meter leaves zeros at the end of a number out."""


class SpanCount:
    """Follows one stretch. Plain state, bounded memory.

    Args:
        run_id: the run that it is of.
        first_line_id: id of its first line.
    """

    def __init__(self, run_id: int, first_line_id: int) -> None:
        self.run_id = run_id
        self.first_line_id = first_line_id
        self.last_line_id = first_line_id - LINES_BEFORE - 1
        """Of the last line that was taken in; before the first one, that before it."""
        self._digit = LastDigit()
        self._digit_volts = 0.0
        self._resolution = Resolution()

    def add(self, line_id: int, raw: bytes, volts: float) -> None:
        """Take in the next line that has a value.

        Args:
            line_id: its id.
            raw: its text.
            volts: how it was read, V.
        """
        self.last_line_id = line_id
        digit_volts = self._digit.digit_volts(raw, read_line(raw)._replace(volts=volts))
        if line_id >= self.first_line_id:
            self._digit_volts = max(self._digit_volts, digit_volts)
            if self._resolution.wants_more:
                self._resolution.add(volts)

    @property
    def count_volts(self) -> float | None:
        """What the values are rounded to; None where neither they nor their text show it."""
        learned_volts = self._resolution.count_volts if self._resolution.is_learned else 0.0
        return max(learned_volts, self._digit_volts) or None
