"""The meter's rhythm: how long a silence is a gap, and how a meter slower than the shortest gap is recognised."""

from __future__ import annotations

from logger.settling import limits as lim


def longest_silence_s(interval_s: float) -> float:
    """The longest silence that is no gap, for a meter with this interval between its lines; 0 while it is unknown."""
    return max(lim.SHORTEST_GAP_S, lim.GAP_INTERVALS * interval_s)


class SlowRhythm:
    """Recognises a meter whose every interval would be a gap: silences that follow each other and are alike."""

    def __init__(self) -> None:
        self._end_s: float | None = None
        self._length_s = 0.0
        self._count = 0
        self.too_slow_s = 0.0
        """The interval of a meter that sends too rarely to settle; 0 where it does not."""

    def take_silence(self, start_s: float, end_s: float) -> float | None:
        """Take a silence that is a gap by what is known so far.

        Args:
            start_s: time of the line before it.
            end_s: time of the line after it.

        Returns:
            The meter's interval in seconds where the silence is one of its intervals; None for a gap.
        """
        length_s = end_s - start_s
        follows = start_s == self._end_s
        ratio = length_s / self._length_s if self._length_s else 0.0
        alike = 1 / lim.SLOW_RHYTHM_RATIO <= ratio <= lim.SLOW_RHYTHM_RATIO
        self._count = self._count + 1 if follows and alike else 1
        self._end_s, self._length_s = end_s, length_s
        self.too_slow_s = 0.0
        if self._count < lim.SLOW_RHYTHM_INTERVALS:
            return None
        if length_s > lim.SLOWEST_INTERVAL_S:
            self.too_slow_s = length_s
            return None
        return length_s
