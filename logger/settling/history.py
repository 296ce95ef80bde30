"""The recent past of a trace in blocks: what the detector may look back at. Bounded, whatever the length.

A block is the mean of the samples of about `BLOCK_S`; a meter slower than that gives one block a sample.
So the work per second and the meaning of a window do not depend on the meter's rate.
"""

from __future__ import annotations

from logger.settling.limits import KEEP_BLOCKS


class History:
    """Blocks numbered from 0; the oldest are forgotten.

    `times_s`, `volts`, `highs`, `counts` are plain lists, so that a window is a slice at C speed. Block number `first`
    is at index 0.
    """

    __slots__ = ("counts", "end", "first", "highs", "times_s", "volts")

    def __init__(self) -> None:
        self.first = 0
        """Number of the oldest block that is kept."""
        self.end = 0
        """Number of the block that comes next."""
        self.times_s: list[float] = []
        self.volts: list[float] = []
        self.highs: list[float] = []
        self.counts: list[int] = []

    def append(self, time_s: float, volts: float, high_volts: float, samples: int) -> None:
        """Add a block.

        Args:
            time_s: time of its last sample.
            volts: mean of its samples.
            high_volts: highest of its samples.
            samples: number of its samples.
        """
        self.times_s.append(time_s)
        self.volts.append(volts)
        self.highs.append(high_volts)
        self.counts.append(samples)
        self.end += 1
        if len(self.volts) >= 2 * KEEP_BLOCKS:
            for kept in (self.times_s, self.volts, self.highs, self.counts):
                del kept[:KEEP_BLOCKS]
            self.first += KEEP_BLOCKS

    def time_of(self, block: int) -> float:
        """Time of a block; of the oldest kept one when it is already forgotten."""
        return self.times_s[max(block - self.first, 0)]

    def volts_from(self, start: int, end: int | None = None) -> list[float]:
        """Means of the blocks `start` to `end` (not included), as far as they are still kept."""
        begin = max(start - self.first, 0)
        return self.volts[begin:] if end is None else self.volts[begin : max(end - self.first, 0)]

    def samples_from(self, start: int, end: int | None = None) -> int:
        """Number of samples in the same blocks."""
        begin = max(start - self.first, 0)
        return sum(self.counts[begin:] if end is None else self.counts[begin : max(end - self.first, 0)])
