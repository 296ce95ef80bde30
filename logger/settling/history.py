"""The recent past of a trace in blocks: what the detector may look back at. Bounded, whatever the length.

A block is the mean of the samples of about `BLOCK_S`; a meter slower than that gives one block a sample.
So the work per second and the meaning of a window do not depend on the meter's rate.
"""

from __future__ import annotations

from logger.settling.limits import KEEP_BLOCKS, KEEP_SAMPLES, MIN_REFUSED_LINES


class History:
    """Blocks numbered from 0; the oldest are forgotten.

    `times_s`, `volts`, `highs`, `counts`, `refused` are plain lists, so that a window is a slice at C speed. Block
    number `first` is at index 0.
    """

    __slots__ = ("counts", "end", "first", "highs", "refused", "samples", "times_s", "volts")

    def __init__(self) -> None:
        self.first = 0
        """Number of the oldest block that is kept."""
        self.end = 0
        """Number of the block that comes next."""
        self.times_s: list[float] = []
        self.volts: list[float] = []
        self.highs: list[float] = []
        self.counts: list[int] = []
        self.refused: list[int] = []
        """For each block, how many lines were refused since the block before."""
        self.samples: list[float] = []
        """The samples of the latest blocks, and of the block that is being filled, volts."""

    def append(self, time_s: float, volts: float, high_volts: float, samples: int, refused: int = 0) -> None:
        """Add a block, whose samples are in `samples` already.

        Args:
            time_s: time of its last sample.
            volts: mean of its samples.
            high_volts: highest of its samples.
            samples: number of its samples.
            refused: number of lines that were refused since the block before.
        """
        self.times_s.append(time_s)
        self.volts.append(volts)
        self.highs.append(high_volts)
        self.counts.append(samples)
        self.refused.append(refused)
        self.end += 1
        if len(self.samples) >= 2 * KEEP_SAMPLES:
            del self.samples[:-KEEP_SAMPLES]
        if len(self.volts) >= 2 * KEEP_BLOCKS:
            for kept in (self.times_s, self.volts, self.highs, self.counts, self.refused):
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

    def latest_samples(self, blocks: int) -> list[float]:
        """The samples of the latest blocks, as far as they are still kept."""
        count = sum(self.counts[-blocks:]) if blocks else 0
        return self.samples[-count:] if count else []

    def refused_share(self, blocks: int) -> float:
        """The share of lines that were refused, in the latest blocks; 0 where they were few."""
        refused = sum(self.refused[-blocks:])
        if refused < MIN_REFUSED_LINES:
            return 0.0
        return refused / (refused + sum(self.counts[-blocks:]))
