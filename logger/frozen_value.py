"""Whether a value that does not change is frozen: HOLD is pressed, or the meter sends on without measuring.

It counts as frozen where this meter's own changes, or else what any body's voltage does, would have shown. The window's
warning and the detector's events rest on this one rule.
"""

from __future__ import annotations

from collections import deque
from math import log, log1p

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

MIN_DOUBT_S = 600.0
"""A value that stays exactly the same for so long is doubted at the earliest, although its digit may hide the body."""

DOUBT_SHARE_PER_H = 0.3
"""A coarse digit hides the less the longer it stands: a sleeper moves several times an hour, and the mains drifts by
some per cent (EN 50160 lets it by 10 %; from memory). A digit of so large a share of the value, for each hour on one
value, is doubted: 0.050 V with 1 mV after ten minutes, 0.005 V after 40. The number is ours."""

MAX_SILENCE_S = 30.0
"""A longer time without a value is none in which it stayed the same: the computer slept, or the cable was off. A meter
that sends more rarely than this is too slow for any use here."""

WINDOW_LINES = 100
WINDOWS = 20
"""How often the value changes is learned from so many lines at a time, and the quietest of the last windows counts."""

S_PER_HOUR = 3600.0

MIN_VALUES = 3
"""A window with fewer different values is not used: between two neighbouring counts a level may flicker, and a
little higher or lower the same noise does not show at all."""


class FrozenValue:
    """Follows how often a value changes. Plain state, constant memory."""

    __slots__ = (
        "_last_s",
        "_same_lines",
        "_silent_s",
        "_value",
        "_window_changes",
        "_window_lines",
        "_window_values",
        "_windows",
        "frozen_since_s",
        "same_since_s",
    )

    def __init__(self) -> None:
        self.frozen_since_s: float | None = None
        """When the value froze; None while it is not frozen."""
        self.same_since_s = 0.0
        """When the value last changed."""
        self._value: float | None = None
        self._same_lines = 0
        self._last_s = 0.0
        self._silent_s = 0.0
        """Of the time on this value, what went by without a line."""
        self._window_lines = 0
        self._window_changes = 0
        self._window_values: set[float | None] = set()
        self._windows: deque[float] = deque(maxlen=WINDOWS)

    def on_value(self, time_s: float, volts: float, count_volts: float) -> None:
        """Take one value.

        Args:
            time_s: when it came.
            volts: it.
            count_volts: what its last digit is worth; 0 where that is not known.
        """
        since_last_s, self._last_s = time_s - self._last_s, time_s
        if volts == self._value:
            self._same_lines += 1
            if since_last_s > MAX_SILENCE_S:
                self._silent_s += since_last_s
            if self.frozen_since_s is None and self.same_for_s(time_s) >= MIN_FROZEN_S:
                self._check(volts, count_volts)
            return
        if self.frozen_since_s is None:
            # A run is learned when it ends: what is being tested must not teach what it is tested against.
            self._learn(self._same_lines + 1)
        self.frozen_since_s = None
        self._value = volts
        self.same_since_s, self._same_lines, self._silent_s = time_s, 0, 0.0

    def same_for_s(self, time_s: float) -> float:
        """For how long lines have given the same value, s, without the time in which none came."""
        return time_s - self.same_since_s - self._silent_s

    def is_long_constant(self, time_s: float) -> bool:
        """Whether the value has been the same for so long, and so many lines, that it may be frozen."""
        return self.same_for_s(time_s) >= MIN_FROZEN_S and self._same_lines >= MIN_FROZEN_LINES

    def is_doubtful(self, time_s: float, count_volts: float) -> bool:
        """Whether the value has been the same for so long that somebody should look, although it need not be frozen.

        Args:
            time_s: now.
            count_volts: what its last digit is worth; 0 where that is not known.
        """
        same_s = self.same_for_s(time_s)
        if not self._value or same_s < MIN_DOUBT_S or self._same_lines < MIN_FROZEN_LINES:
            return False
        return count_volts <= DOUBT_SHARE_PER_H * same_s / S_PER_HOUR * self._value

    def _check(self, volts: float, count_volts: float) -> None:
        if self._same_lines >= MIN_FROZEN_LINES and volts and self._would_have_changed(volts, count_volts):
            self.frozen_since_s = self.same_since_s

    def _would_have_changed(self, volts: float, count_volts: float) -> bool:
        if 0 < count_volts <= LEAST_WANDER_SHARE * volts:
            return True
        share = min(self._windows, default=0.0)
        return share > 0.0 and self._same_lines * log1p(-share) < log(MAX_FROZEN_CHANCE)

    def _learn(self, lines: int) -> None:
        self._window_lines += lines
        self._window_changes += 1
        self._window_values.add(self._value)
        if self._window_lines >= WINDOW_LINES:
            share = self._window_changes / (self._window_lines + 1)
            self._windows.append(share if len(self._window_values) >= MIN_VALUES else 0.0)
            self._window_lines = self._window_changes = 0
            self._window_values.clear()
