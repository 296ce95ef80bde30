"""Time as the program sees it: injected everywhere, so that tests neither sleep nor guess.

Two clocks are read for every line of the meter. UTC says when it was, for people; it may jump when the
computer's clock is set. The steady clock only ever goes forward and orders everything. A third one stands still
while the computer sleeps: what it lacks is the time slept.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from datetime import date
from typing import Protocol

from logger.translation import marked, tr

NS_PER_S = 1_000_000_000


MONTHS = (
    marked("Jan"),
    marked("Feb"),
    marked("Mar"),
    marked("Apr"),
    marked("May"),
    marked("Jun"),
    marked("Jul"),
    marked("Aug"),
    marked("Sep"),
    marked("Oct"),
    marked("Nov"),
    marked("Dec"),
)
"""As a date has them; by the language that holds and not by that of the system."""


def month_text(moment: date) -> str:
    """The month of a date, as short as a date has it: 'Nov'."""
    return tr(MONTHS[moment.month - 1])


def format_duration(seconds: float) -> str:
    """A duration in words: '45 s', '12 min', '9 h 20 min', '9 h'."""
    if seconds < 99.5:
        return tr("{seconds} s").format(seconds=f"{seconds:.0f}")
    minutes = round(seconds / 60)
    hours, rest = divmod(minutes, 60)
    if not hours:
        return tr("{minutes} min").format(minutes=minutes)
    if not rest:
        return tr("{hours} h").format(hours=hours)
    return tr("{hours} h {minutes} min").format(hours=hours, minutes=rest)


def format_long_duration(seconds: float) -> str:
    """A duration as `format_duration`, with two digits of minutes for tables: '45 s', '14 min', '8 h 05 min'."""
    if seconds < 90:
        return tr("{seconds} s").format(seconds=f"{seconds:.0f}")
    hours, minutes = divmod(round(seconds / 60), 60)
    if not hours:
        return tr("{minutes} min").format(minutes=minutes)
    return tr("{hours} h {minutes} min").format(hours=hours, minutes=f"{minutes:02d}")


def format_parts(whole_s: float, parts_s: Sequence[float]) -> tuple[str, list[str]]:
    """A duration and what it consists of, as `format_long_duration`, with minutes that add up to the whole.

    Args:
        whole_s: the duration, seconds.
        parts_s: its parts, seconds; one of less than a minute stays in seconds.
    """
    if whole_s < 60:
        return format_long_duration(whole_s), [format_long_duration(part) for part in parts_s]
    long = [place for place, part in enumerate(parts_s) if part >= 60]
    minutes = {place: int(parts_s[place] // 60) for place in long}
    missing = round(whole_s / 60) - sum(minutes.values()) - round(sum(p for p in parts_s if p < 60) / 60)
    # Those with the largest rest of a minute are rounded up.
    for place in sorted(long, key=lambda place: -(parts_s[place] % 60))[: max(missing, 0)]:
        minutes[place] += 1
    shown_s = [60.0 * minutes[place] if place in minutes else part for place, part in enumerate(parts_s)]
    return format_long_duration(whole_s), [format_long_duration(part) for part in shown_s]


def from_to(start: str, end: str) -> str:
    """A stretch of time by its edges: '23:10 to 06:40'.

    Args:
        start: its start, as it is shown.
        end: its end, as it is shown.
    """
    return tr("{start} to {end}").format(start=start, end=end)


class Clock(Protocol):
    """Reads the clocks, in nanoseconds."""

    def utc_ns(self) -> int:
        """Nanoseconds since 1970-01-01 UTC, by the computer's clock."""

    def steady_ns(self) -> int:
        """Nanoseconds that never go back and that go on while the computer sleeps."""

    def awake_ns(self) -> int:
        """Nanoseconds that never go back and that stand still while the computer sleeps."""


class SystemClock:
    """The computer's own clocks."""

    def utc_ns(self) -> int:
        """See `Clock`."""
        return time.time_ns()

    # Python's monotonic clock stops during sleep on Linux and macOS, and a night with the lid closed would look
    # whole. On Windows it goes on, and another one stops.
    if sys.platform == "win32":

        def steady_ns(self) -> int:
            """See `Clock`."""
            return time.monotonic_ns()

        def awake_ns(self) -> int:
            """See `Clock`."""
            import ctypes  # noqa: PLC0415  start-up time: Windows only

            hundreds = ctypes.c_ulonglong()
            ctypes.windll.kernel32.QueryUnbiasedInterruptTime(ctypes.byref(hundreds))
            return hundreds.value * 100
    else:

        def steady_ns(self) -> int:
            """See `Clock`."""
            return time.clock_gettime_ns(_GOES_ON_IN_SLEEP)

        def awake_ns(self) -> int:
            """See `Clock`."""
            return time.monotonic_ns()


_GOES_ON_IN_SLEEP: int = getattr(
    time, "CLOCK_BOOTTIME", getattr(time, "CLOCK_MONOTONIC_RAW", getattr(time, "CLOCK_MONOTONIC", 0))
)
"""Linux; macOS, whose Python reads another clock as the monotonic one; elsewhere there is none that is known to."""


class ManualClock:
    """A clock that a test or a simulation sets.

    Args:
        utc_ns: the first UTC reading.
        steady_ns: the first steady reading.
    """

    def __init__(self, utc_ns: int = 1_767_225_600 * NS_PER_S, steady_ns: int = 0) -> None:
        self._utc_ns = utc_ns
        self._steady_ns = steady_ns
        self._slept_ns = 0

    def utc_ns(self) -> int:
        """See `Clock`."""
        return self._utc_ns

    def steady_ns(self) -> int:
        """See `Clock`."""
        return self._steady_ns

    def awake_ns(self) -> int:
        """See `Clock`."""
        return self._steady_ns - self._slept_ns

    def advance_ns(self, ns: int) -> None:
        """Let `ns` nanoseconds pass on all clocks."""
        self._utc_ns += ns
        self._steady_ns += ns

    def sleep_ns(self, ns: int) -> None:
        """Let the computer sleep for `ns` nanoseconds."""
        self.advance_ns(ns)
        self._slept_ns += ns

    def set_utc_ns(self, utc_ns: int) -> None:
        """Set the computer's clock, as a user or a time server would; the steady clock is not touched."""
        self._utc_ns = utc_ns
