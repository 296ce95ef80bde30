"""Whether the meter says that its battery is low: beside its values, or on lines of their own, steadily or flashing.

In: each line of a meter. Out: a notice when it begins and when it is over; `problem` as long as it lasts. Below the
voltage that its maker allows for, a meter's reference drifts, and its values with it (common practice, no source).
"""

from __future__ import annotations

import re

from logger.meter.interpretation import LineFlag, flags_of
from logger.meter.lines import LineReading, LineStatus
from logger.meter.notice_draft import NoticeDraft
from logger.meter.tokens import Refused, decode, tokens_of
from logger.translation import kept_text

BATTERY_NOTICE = "low battery"
"""Kind of the notices that the battery is low, and that it no longer is."""

BATTERY_LOW = kept_text(
    "The meter says that its battery is low: its values are not to be trusted until it is changed."
)
BATTERY_OVER = kept_text("Over: the meter no longer says that its battery is low.")

MARKS_WITHIN_S = 60.0
"""Two marks within this time are no damage. A mark that is a line of its own may come once in many values."""
OVER_AFTER_S = 3.0
"""It is over when no mark has come for so long..."""
OVER_INTERVALS = 3.0
"""... and for so many of the longest interval between two marks, since some flash."""

_MAY_BE_BATTERY = re.compile(rb"BAT|LB|POWER|PWR|CELL", re.IGNORECASE)


class BatteryWatch:
    """Follows the marks of a low battery of one meter. Plain state."""

    def __init__(self) -> None:
        self.problem = ""
        """That the battery is low; empty while it is not."""
        self._last_s: float | None = None
        self._longest_s = 0.0
        """The longest interval between two marks that belong together."""

    def on_line(self, time_s: float, raw: bytes, reading: LineReading) -> list[NoticeDraft]:
        """Take one line, whatever it gives; returns what is new.

        Args:
            time_s: when it came.
            raw: the line.
            reading: how it is read.
        """
        if not _says_low(raw, reading):
            if not self.problem or self._last_s is None:
                return []
            if time_s - self._last_s <= max(OVER_AFTER_S, OVER_INTERVALS * self._longest_s):
                return []
            self.problem, self._last_s, self._longest_s = "", None, 0.0
            return [NoticeDraft(BATTERY_NOTICE, BATTERY_OVER)]
        last_s, self._last_s = self._last_s, time_s
        if last_s is None or time_s - last_s > MARKS_WITHIN_S:
            return []
        self._longest_s = max(self._longest_s, time_s - last_s)
        if self.problem:
            return []
        self.problem = BATTERY_LOW
        return [NoticeDraft(BATTERY_NOTICE, BATTERY_LOW)]


def _says_low(raw: bytes, reading: LineReading) -> bool:
    if reading.status is not LineStatus.UNREADABLE:
        return LineFlag.LOW_BATTERY in reading.flags
    if not _MAY_BE_BATTERY.search(raw):
        return False
    try:
        return LineFlag.LOW_BATTERY in flags_of(tokens_of(decode(raw)))
    except Refused:
        return False
