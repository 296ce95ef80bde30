"""Whether a display stands still: HOLD is pressed, or the meter has stopped measuring while it goes on sending.

In: each line that gives volts, with its time. A constant value is one of three things. The meter's count hides what the
voltage does, which is honest; the voltage is zero, as in a zero check; or the display is frozen. It counts as frozen
where this meter's own changes, or else what any body's voltage does, would have shown.
"""

from __future__ import annotations

from collections import deque
from math import log, log1p

from logger.meter.notice_draft import NoticeDraft

MAX_FROZEN_CHANCE = 1e-9
"""A display counts as frozen when a meter that changes its value as often as this one did would stay on one value
for so long with this probability. A night at 10 lines/s has 3e5 lines."""

MIN_FROZEN_S = 60.0
"""No display is called frozen sooner, whatever the chance: the body's own noise may fall when it comes to rest."""

MIN_FROZEN_LINES = 30
"""Nor from fewer lines than this."""

LEAST_WANDER_SHARE = 0.002
"""A living body's voltage wanders within a minute by more than this share of it: breathing and small shifts move it by
0.5 to 1.5 %, of which a third is assumed at least. A count that is finer shows it, whatever was seen before."""

WINDOW_LINES = 100
WINDOWS = 20
"""How often the value changes is learned from so many lines at a time, and the quietest of the last windows counts."""

MIN_VALUES = 3
"""A window with fewer different values is not used: between two neighbouring counts a level may flicker, and a
little higher or lower the same noise does not show at all."""


class FrozenDisplay:
    """Follows how often the value changes. Plain state, constant memory."""

    def __init__(self) -> None:
        self.problem = ""
        """What to ask the user while the display is frozen; empty while it is not."""
        self._is_zero_noted = False
        self._raw = b""
        self._same_since_s = 0.0
        self._same_lines = 0
        self._window_lines = 0
        self._window_changes = 0
        self._window_values: set[bytes] = set()
        self._windows: deque[float] = deque(maxlen=WINDOWS)

    def on_line(self, time_s: float, raw: bytes, volts: float, count_volts: float) -> list[NoticeDraft]:
        """Take one line that gives volts; returns what is new.

        Args:
            time_s: when it came.
            raw: the line without its terminator.
            volts: its value.
            count_volts: what its last digit is worth; 0 where that is not known.
        """
        if raw == self._raw:
            self._same_lines += 1
            return self._check(time_s, volts, count_volts)
        out = []
        if self.problem:
            self.problem = ""
            out.append(NoticeDraft("frozen", "The meter's value moves again."))
        else:
            # A run is learned when it ends: what is being tested must not teach what it is tested against.
            self._learn(self._same_lines + 1)
        self._raw = raw
        self._same_since_s, self._same_lines, self._is_zero_noted = time_s, 0, False
        return out

    def _check(self, time_s: float, volts: float, count_volts: float) -> list[NoticeDraft]:
        for_s = time_s - self._same_since_s
        if self.problem or for_s < MIN_FROZEN_S or self._same_lines < MIN_FROZEN_LINES:
            return []
        shown = f"The display has shown exactly {_display(volts, count_volts)} for {for_s:.0f} s"
        if not volts:
            if self._is_zero_noted:
                return []
            self._is_zero_noted = True
            return [NoticeDraft("constant zero", f"{shown}. In a zero check that is right.")]
        if not self._would_have_changed(volts, count_volts):
            return []
        self.problem = f"{shown}: is the meter on HOLD, or has it stopped?"
        return [NoticeDraft("frozen", self.problem)]

    def _would_have_changed(self, volts: float, count_volts: float) -> bool:
        if 0 < count_volts <= LEAST_WANDER_SHARE * volts:
            return True
        share = min(self._windows, default=0.0)
        return share > 0.0 and self._same_lines * log1p(-share) < log(MAX_FROZEN_CHANCE)

    def _learn(self, lines: int) -> None:
        self._window_lines += lines
        self._window_changes += 1
        self._window_values.add(self._raw)
        if self._window_lines >= WINDOW_LINES:
            share = self._window_changes / (self._window_lines + 1)
            self._windows.append(share if len(self._window_values) >= MIN_VALUES else 0.0)
            self._window_lines = self._window_changes = 0
            self._window_values.clear()


def _display(volts: float, count_volts: float) -> str:
    decimals = next((places for places in range(6) if count_volts >= 0.999 * 10.0**-places), 6)
    return f"{volts:.{decimals if count_volts else 3}f} V"
