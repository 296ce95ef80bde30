"""Time as the program sees it: injected everywhere, so that tests neither sleep nor guess.

Two clocks are read for every line of the meter. UTC says when it was, for people; it may jump when the
computer's clock is set. The steady clock only ever goes forward and orders everything.
"""

from __future__ import annotations

import time
from typing import Protocol

NS_PER_S = 1_000_000_000


class Clock(Protocol):
    """Reads both clocks, in nanoseconds."""

    def utc_ns(self) -> int:
        """Nanoseconds since 1970-01-01 UTC, by the computer's clock."""

    def steady_ns(self) -> int:
        """Nanoseconds that never go back and that go on while the computer sleeps."""


class SystemClock:
    """The computer's own clocks."""

    def utc_ns(self) -> int:
        """See `Clock`."""
        return time.time_ns()

    # Linux stops CLOCK_MONOTONIC during suspend, and a night with the lid closed would look whole.
    if hasattr(time, "CLOCK_BOOTTIME"):

        def steady_ns(self) -> int:
            """See `Clock`."""
            return time.clock_gettime_ns(time.CLOCK_BOOTTIME)
    else:

        def steady_ns(self) -> int:
            """See `Clock`."""
            return time.monotonic_ns()


class ManualClock:
    """A clock that a test or a simulation sets.

    Args:
        utc_ns: the first UTC reading.
        steady_ns: the first steady reading.
    """

    def __init__(self, utc_ns: int = 1_767_225_600 * NS_PER_S, steady_ns: int = 0) -> None:
        self._utc_ns = utc_ns
        self._steady_ns = steady_ns

    def utc_ns(self) -> int:
        """See `Clock`."""
        return self._utc_ns

    def steady_ns(self) -> int:
        """See `Clock`."""
        return self._steady_ns

    def advance_ns(self, ns: int) -> None:
        """Let `ns` nanoseconds pass on both clocks."""
        self._utc_ns += ns
        self._steady_ns += ns

    def set_utc_ns(self, utc_ns: int) -> None:
        """Set the computer's clock, as a user or a time server would; the steady clock is not touched."""
        self._utc_ns = utc_ns
