"""Lines that come late, faster than the meter sends, after a silence: nobody knows when they were measured.

A network link that stalls, or a recorder that was held up, gets the lines of the silence in one moment, or as fast as
the link gives them. With that moment as their time they would be averaged to one block, or look like a level or a step
that never was, or that was at another time.

In: lines with the time of their arrival. Out: the same in the same order, some a little later, each with whether it
came late. It is used by the recorder and by a replay alike.
"""

from __future__ import annotations

from collections import deque
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
    is_over: bool
    """Whether no more of them come; where they come for long, it is returned before, and not again."""


class LateLines(Generic[Line]):
    """Follows the rhythm of lines and picks out those that came late.

    The lines after a gap are held back until they have come in the meter's rhythm for a moment. Their surplus is how
    many more they are than the rhythm gives in the time since the gap. Where it grows above what the meter's own
    packets make of it, they came late, and so do the next ones for as long as it grows. A link gives no more lines late
    than the meter sends in the silence; where the surplus grows beyond that, the meter has another rhythm, and is read.
    """

    def __init__(self) -> None:
        self.burst: LateBurst | None = None
        """The lines that came late, that `take_burst` has not returned yet; None where there are none."""
        self._last_s: float | None = None
        self._interval_s = 0.0
        """Mean time between two lines; those that come together count, unlike in `SignalModel.interval_s`."""
        self._intervals = 0
        self._slow = SlowRhythm()
        self._level = 0.0
        self._packet = 0
        """So many lines came together by now."""
        self._packets: deque[int] = deque(maxlen=lim.LATE_PACKETS)
        """The lines of each of the newest packets, while they came in their rhythm."""
        self._usual_level = 1.0
        """So many lines the meter's packets have, as it was before the gap. A computer that stalled briefly now and
        then gave some at once too, but most came singly: they are no packets."""
        self._held: list[tuple[float, Line]] = []
        self._is_checking = False
        """Whether the lines since a gap have not yet proved to come in their rhythm."""
        self._begun_s = 0.0
        """When the first line after the gap came."""
        self._checked = 0
        """So many lines came since."""
        self._together = 0
        """So many of them came at once with the one before."""
        self._surplus = 0.0
        """So many lines more than the rhythm gives came since."""
        self._peak = 0.0
        self._peak_s = 0.0
        """The surplus at the newest line that came late, and when that came; at first at the first line."""
        self._backlog = 0.0
        """So many lines the link may still have had at the first line after the gap."""
        self._late = 0
        self._late_since_s = 0.0
        self._is_reported = False
        """Whether the lines that come late have been returned as a burst."""
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
        self._is_checking = False
        self._end_burst()
        return self._give_out(is_late=False)

    @property
    def too_slow_s(self) -> float:
        """The interval of a meter that sends too rarely to settle; 0 where it does not."""
        return self._slow.too_slow_s

    def take_burst(self) -> LateBurst | None:
        """The lines that came late and are over, or have come late for long; each burst is returned once."""
        burst, self.burst = self.burst, None
        return burst

    def _learn(self, elapsed_s: float) -> None:
        self._intervals += 1
        share = max(1 / self._intervals, lim.LATE_RHYTHM_SHARE)
        self._interval_s += share * (elapsed_s - self._interval_s)
        if elapsed_s >= lim.LATE_TOGETHER_INTERVALS * self._interval_s:
            if self._intervals > lim.LATE_RHYTHM_LINES:
                self._packets.append(self._packet)
            self._packet = 0
        self._packet += 1
        self._raise_level(elapsed_s)

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
        rest = self._backlog - self._surplus if self._is_checking and self._late else 0.0
        if rest > self._limit():  # the link has stalled again, before it has given all
            out = self._give_out(is_late=True)
        else:
            rest, out = 0.0, self.flush()
        if self._intervals < lim.LATE_RHYTHM_LINES:
            return [*out, (line, False)]
        self._is_checking = True
        packets = sorted(self._packets)
        self._usual_level = packets[int(lim.LATE_PACKET_SHARE * len(packets))] if packets else 1.0
        self._silence_s = max(silence_s, self._silence_s) if self._late else silence_s
        self._backlog = rest + self._in_intervals(silence_s)
        self._level = self._surplus = self._peak = 1.0
        self._begun_s = self._peak_s = time_s
        self._checked, self._together = 1, 0
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
        self._surplus += 1.0 - self._in_intervals(elapsed_s)
        self._checked += 1
        self._held.append((time_s, line))
        limit, since_s = self._limit(), time_s - self._peak_s
        allowed = self._peak if self._late else self._usual_level
        is_faster = self._surplus - allowed > lim.LATE_FASTER_SHARE * self._in_intervals(since_s)
        # A packet is a surplus for a moment, and the interval is not that from packet to packet.
        self._together += self._in_intervals(elapsed_s) < lim.LATE_TOGETHER_INTERVALS
        comes_singly = 2 * self._together < self._checked and self._usual_level < lim.MIN_LATE_LINES
        is_faster = is_faster and comes_singly
        if self._level > limit or (is_faster and self._surplus > limit):
            if not self._late:
                self._late_since_s = self._begun_s
            self._peak, self._peak_s, self._level = self._surplus, time_s, min(self._level, limit)
            out = self._give_out(is_late=True)
            if time_s - self._late_since_s > lim.LATE_AT_ONCE_S and not self._is_reported:
                self._is_reported = True
                self.burst = LateBurst(self._late, self._silence_s, is_over=False)
            if self._surplus > lim.LATE_MOST_OF_SILENCE * self._backlog + limit:
                self._take_new_rhythm(time_s)
            return out
        usual_s = lim.LATE_USUAL_LEVELS * self._usual_level * self._interval_s
        checked_s = lim.LATE_CHECK_S
        if comes_singly:
            checked_s = max(checked_s, lim.LATE_CHECK_INTERVALS * self._interval_s)
        if since_s < (max(lim.LATE_OVER_S, usual_s) if self._late else checked_s):
            return []
        return [] if is_faster else self.flush()

    def _limit(self) -> float:
        """The surplus up to which lines after a gap are those of a meter in its rhythm."""
        backlog = lim.LATE_BACKLOG_S / self._interval_s if self._interval_s else 0.0
        return max(lim.MIN_LATE_LINES, backlog, lim.LATE_USUAL_LEVELS * self._usual_level)

    def _in_intervals(self, time_s: float) -> float:
        """A time in intervals of the meter."""
        return time_s / self._interval_s if self._interval_s > 0.0 else lim.MAX_RHYTHM_INTERVALS

    def _take_new_rhythm(self, time_s: float) -> None:
        """Go on with the rhythm that the lines since the gap have: they are more than the link can have kept."""
        self._interval_s = (time_s - self._begun_s) / (self._checked - 1)
        self._intervals = lim.LATE_RHYTHM_LINES
        self.flush()

    def _give_out(self, is_late: bool) -> list[tuple[Line, bool]]:
        """The lines that are held back, which are decided now."""
        out = [(line, is_late) for _, line in self._held]
        if is_late:
            self._late += len(out)
        self._held = []
        return out

    def _end_burst(self) -> None:
        if self._late and not self._is_reported:
            self.burst = LateBurst(self._late, self._silence_s, is_over=True)
        self._late, self._is_reported = 0, False
