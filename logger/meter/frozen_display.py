"""Whether a display stands still: HOLD is pressed, or the meter has stopped measuring while it goes on sending.

In: each line that gives volts, with its time. A constant value is one of three things. The meter's count hides what the
voltage does, which is honest; the voltage is zero, as in a zero check; or the display is frozen (see `FrozenValue`).
"""

from __future__ import annotations

import re

from logger.frozen_value import FrozenValue
from logger.meter.notice_draft import NoticeDraft

FROZEN_NOTICE = "frozen"
"""Kind of the two notices in the log: the display is frozen, and its value moves again."""

_FROZEN_FOR = re.compile(r" for ([0-9]+) s: ")


def frozen_for_s(message: str) -> float | None:
    """For how long the display had been frozen by a notice of the kind `FROZEN_NOTICE`; None where it moves again."""
    found = _FROZEN_FOR.search(message)
    return None if found is None else float(found[1])


class FrozenDisplay:
    """States in words that the display is frozen. Plain state, constant memory."""

    def __init__(self) -> None:
        self.problem = ""
        """What to ask the user while the display is frozen; empty while it is not."""
        self._value = FrozenValue()
        self._is_zero_noted = False

    def on_line(self, time_s: float, volts: float, count_volts: float) -> list[NoticeDraft]:
        """Take one line that gives volts; returns what is new.

        Args:
            time_s: when it came.
            volts: its value.
            count_volts: what its last digit is worth; 0 where that is not known.
        """
        value = self._value
        value.on_value(time_s, volts, count_volts)
        if self.problem and value.frozen_since_s is None:
            self.problem = ""
            return [NoticeDraft(FROZEN_NOTICE, "The meter's value moves again.")]
        if volts:
            self._is_zero_noted = False
            if self.problem or value.frozen_since_s is None:
                return []
        for_s = time_s - value.same_since_s
        shown = f"The display has shown exactly {_display(volts, count_volts)} for {for_s:.0f} s"
        if not volts and not self._is_zero_noted and value.is_long_constant(time_s):
            self._is_zero_noted = True
            return [NoticeDraft("constant zero", f"{shown}. In a zero check that is right.")]
        if not volts:
            return []
        self.problem = f"{shown}: is the meter on HOLD, or has it stopped?"
        return [NoticeDraft(FROZEN_NOTICE, self.problem)]


def _display(volts: float, count_volts: float) -> str:
    decimals = next((places for places in range(6) if count_volts >= 0.999 * 10.0**-places), 6)
    return f"{volts:.{decimals if count_volts else 3}f} V"
