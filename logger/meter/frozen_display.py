"""Whether a display stands still: HOLD is pressed, or the meter has stopped measuring while it goes on sending.

In: each line that gives volts, with its time. A constant value is one of three things. The meter's count hides what the
voltage does, which is honest, but doubtful after many minutes; the voltage is zero, as in a zero check; or the display
is frozen (see `FrozenValue`). A doubt is a notice alone: the value counts, and what is said of it has the doubt beside.
"""

from __future__ import annotations

import re

from logger.frozen_value import FrozenValue
from logger.meter.notice_draft import NoticeDraft
from logger.translation import kept_text

FROZEN_NOTICE = "frozen"
"""Kind of the two notices in the log: the display is frozen, and its value moves again."""

CONSTANT_NOTICE = "constant value"
"""Kind of the two notices in the log: the display may be frozen, or its count hides the rest; and it moves again."""

_FROZEN_FOR = re.compile(r" for ([0-9]+) s: ")

MOVES_AGAIN = kept_text("The meter's value moves again.")


def frozen_for_s(message: str) -> float | None:
    """For how long the display had stood by a notice that it is, or may be, frozen; None where it moves again."""
    found = _FROZEN_FOR.search(message)
    return None if found is None else float(found[1])


class FrozenDisplay:
    """States in words that the display is frozen. Plain state, constant memory."""

    def __init__(self) -> None:
        self.problem = ""
        """What to ask the user while the display is frozen; empty while it is not."""
        self._value = FrozenValue()
        self._is_zero_noted = False
        self._is_doubted = False

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
            self.problem, self._is_doubted = "", False
            return [NoticeDraft(FROZEN_NOTICE, MOVES_AGAIN)]
        if self._is_doubted and value.same_since_s == time_s:
            self._is_doubted = False
            return [NoticeDraft(CONSTANT_NOTICE, MOVES_AGAIN)]
        if volts:
            self._is_zero_noted = False
            is_new_doubt = not self._is_doubted and value.is_doubtful(time_s, count_volts)
            if self.problem or (value.frozen_since_s is None and not is_new_doubt):
                return []
        shown, seconds = _display(volts, count_volts), f"{value.same_for_s(time_s):.0f}"
        if not volts and not self._is_zero_noted and value.is_long_constant(time_s):
            self._is_zero_noted = True
            zero = kept_text(
                "The display has shown exactly {value} for {seconds} s. In a zero check that is right."
            )
            return [NoticeDraft("constant zero", zero.format(value=shown, seconds=seconds))]
        if not volts:
            return []
        if value.frozen_since_s is None:
            self._is_doubted = True
            doubt = kept_text(
                "The display has shown exactly {value} for {seconds} s: so coarse a digit may hide what the body does, "
                "or the meter is on HOLD, or has stopped. See whether it follows when something changes."
            )
            return [NoticeDraft(CONSTANT_NOTICE, doubt.format(value=shown, seconds=seconds))]
        self.problem = kept_text(
            "The display has shown exactly {value} for {seconds} s: is the meter on HOLD, or has it stopped?"
        ).format(value=shown, seconds=seconds)
        return [NoticeDraft(FROZEN_NOTICE, self.problem)]


def _display(volts: float, count_volts: float) -> str:
    decimals = next((places for places in range(6) if count_volts >= 0.999 * 10.0**-places), 6)
    return f"{volts:.{decimals if count_volts else 3}f} V"
