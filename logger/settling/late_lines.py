"""Lines that come late, all at once, after a silence: nobody knows when they were measured.

A network link that stalls, or a recorder that was held up, gets the lines of the silence in one moment. With that
moment as their time they would be averaged to one block, or look like a level or a step that never was.

In: lines with the time of their arrival. Out: the same in the same order, some a little later, each with whether it
came late. It is used by the recorder and by a replay alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

from logger.settling import limits as lim
from logger.settling.rhythm import SlowRhythm, longest_silence_s

Line = TypeVar("Line")


@dataclass(frozen=True, slots=True)
class LateBurst:
    """Lines that came late."""

    lines: int
    silence_s: float
    """The silence before them."""


class LateLines(Generic[Line]):
    """Follows the rhythm of lines and picks out those that came late.

    A level rises by one with each line and falls by somewhat more than one in each of the meter's intervals. The lines
    after a gap are held back until they have come in the meter's rhythm for a moment; those during which the level goes
    above what the meter's own packets make of it came late.
    """

    def __init__(self) -> None:
        self.burst: LateBurst | None = None
        """The lines that came late since `take_burst` was called last and are over; None where there are none."""
        self._last_s: float | None = None
        self._interval_s = 0.0
        """Mean time between two lines; those that come together count, unlike in `SignalModel.interval_s`."""
        self._intervals = 0
        self._slow = SlowRhythm()
        self._level = 0.0
        self._usual_level = 1.0
        """The highest level while the lines came in their rhythm, forgotten slowly."""
        self._held: list[tuple[float, Line]] = []
        self._is_checking = False
        """Whether the lines since a gap have not yet proved to come in their rhythm."""
        self._late = 0
        self._silence_s = 0.0

    def take(self, time_s: float, line: Line) -> list[tuple[Line, bool]]:
        """Take a line; returns those that are decided, each with whether it came late.

        Args:
            time_s: when it came, in seconds.
            line: the line.
        """
        last_s = self._last_s
        self._last_s = time_s
        if last_s is None or not time_s >= last_s - lim.CLOCK_BACK_S:
            return [*self.flush(), (line, False)]
        elapsed_s = max(time_s - last_s, 0.0)
        if elapsed_s > longest_silence_s(self._interval_s):
            interval_s = self._slow.take_silence(last_s, time_s)
            if interval_s is None:
                return self._begin_check(time_s, line, elapsed_s)
            self._interval_s = interval_s
        if self._is_checking:
            return self._check(time_s, line, elapsed_s)
        self._learn(elapsed_s)
        return [(line, False)]

    def flush(self) -> list[tuple[Line, bool]]:
        """Give out the lines that are held back, as the stream has ended: none of them came late for certain."""
        out = [(line, False) for _, line in self._held]
        self._held = []
        self._is_checking = False
        self._end_burst()
        return out

    @property
    def too_slow_s(self) -> float:
        """The interval of a meter that sends too rarely to settle; 0 where it does not."""
        return self._slow.too_slow_s

    def take_burst(self) -> LateBurst | None:
        """The lines that came late and are over; each is returned once."""
        burst, self.burst = self.burst, None
        return burst

    def _learn(self, elapsed_s: float) -> None:
        self._intervals += 1
        share = max(1 / self._intervals, lim.LATE_RHYTHM_SHARE)
        self._interval_s += share * (elapsed_s - self._interval_s)
        self._raise_level(elapsed_s)
        if self._intervals > lim.LATE_RHYTHM_LINES:
            self._usual_level = max(self._level, self._usual_level * lim.LATE_LEVEL_KEPT)

    def _raise_level(self, elapsed_s: float) -> None:
        intervals = lim.MAX_RHYTHM_INTERVALS
        if self._interval_s > 0.0:
            intervals = min(elapsed_s / self._interval_s, intervals)
        self._level = max(self._level - lim.LATE_LEVEL_FALL * intervals, 0.0) + 1.0

    def _begin_check(self, time_s: float, line: Line, silence_s: float) -> list[tuple[Line, bool]]:
        """Begin to hold lines back after a gap.

        Args:
            time_s: when the first line after it came.
            line: that line.
            silence_s: length of the gap.
        """
        out = self.flush()
        if self._intervals < lim.LATE_RHYTHM_LINES:
            return [*out, (line, False)]
        self._is_checking, self._silence_s, self._level = True, silence_s, 1.0
        self._held = [(time_s, line)]
        return out

    def _check(self, time_s: float, line: Line, elapsed_s: float) -> list[tuple[Line, bool]]:
        """Take a line after a gap, while it is open whether the lines come in their rhythm.

        Args:
            time_s: when it came.
            line: the line.
            elapsed_s: time since the line before.
        """
        self._raise_level(elapsed_s)
        self._held.append((time_s, line))
        backlog = lim.LATE_BACKLOG_S / self._interval_s if self._interval_s else 0.0
        limit = max(lim.MIN_LATE_LINES, backlog, lim.LATE_USUAL_LEVELS * self._usual_level)
        if self._level > limit:
            out = [(held, True) for _, held in self._held]
            self._late += len(out)
            self._held = []
            self._level = limit
            return out
        if time_s - self._held[0][0] < (lim.LATE_OVER_S if self._late else lim.LATE_CHECK_S):
            return []
        return self.flush()

    def _end_burst(self) -> None:
        if self._late:
            self.burst = LateBurst(self._late, self._silence_s)
            self._late = 0
