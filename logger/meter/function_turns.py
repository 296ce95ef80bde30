"""Whether a meter sends AC volts and something else in turn: a display with two functions, or a knob that is turned.

In: each line as it was read. Out: which notices of the function are given, so that a display that goes to and fro gives
one in a while and not one a line.
"""

from __future__ import annotations

from collections import deque

from logger.meter.interpretation import OTHER_VALUES
from logger.meter.lines import NEGATIVE_NOTE, LineReading, LineStatus
from logger.meter.notice_draft import NoticeDraft
from logger.translation import kept_text

MIN_TURNS = 4
TURNS_WITHIN_S = 30.0
"""The function went to and fro so many times within these seconds: nobody turns a knob as often."""

AGAIN_AFTER_S = 60.0
"""What goes on all night gives one notice; another one after it had stopped for so many seconds."""


class FunctionTurns:
    """Counts changes between AC volts and another function. Plain state, constant memory."""

    def __init__(self) -> None:
        self._is_other: bool | None = None
        self._turned_s: deque[float] = deque(maxlen=MIN_TURNS)
        self._turning_s: float | None = None
        """When it was last found to go to and fro."""

    def is_turning(self, time_s: float) -> bool:
        """Whether the function goes to and fro at a time."""
        return len(self._turned_s) == MIN_TURNS and time_s - self._turned_s[0] <= TURNS_WITHIN_S

    def on_line(self, time_s: float, reading: LineReading) -> list[NoticeDraft]:
        """Take one line; returns what is new.

        Args:
            time_s: when it came.
            reading: how it is read.
        """
        is_other = reading.status is LineStatus.NOT_AC_VOLTS or reading.note == NEGATIVE_NOTE
        if not is_other and reading.status is not LineStatus.VOLTS:
            return []
        if self._is_other is not None and is_other is not self._is_other:
            self._turned_s.append(time_s)
        self._is_other = is_other
        if not is_other or not self.is_turning(time_s):
            return []
        last_s, self._turning_s = self._turning_s, time_s
        if last_s is not None and time_s - last_s < AGAIN_AFTER_S:
            return []
        message = kept_text(
            "The meter sends AC volts and {other} in turn. Only the AC volts are read; set it to AC volts alone to "
            "have no pauses between them."
        )
        return [NoticeDraft("function", message.format(other=_other_of(reading.note)))]


def _other_of(note: str) -> str:
    """What a line is of that is no AC volts, by why it was not read."""
    if note == NEGATIVE_NOTE:
        return kept_text("negative volts")
    return OTHER_VALUES[note].name if note in OTHER_VALUES else kept_text("something else")
