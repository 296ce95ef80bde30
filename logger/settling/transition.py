"""The transition from one settled span to the next while it goes on: what the detector keeps of it."""

from __future__ import annotations

from dataclasses import dataclass, field

from logger.settling.events import Disagreement, State
from logger.settling.history import History
from logger.settling.limits import EDGE_MARGIN_BLOCKS


@dataclass(frozen=True, slots=True)
class Interruption:
    """A gap, an overload or a change of range: the level may have changed in it, and nobody saw how."""

    block: int
    """The first block after it."""
    start_s: float
    end_s: float
    digit_volts: float = 0.0
    """Of a change of range, what the last digit is worth in the coarser one; then nothing was unseen."""

    @property
    def middle_s(self) -> float:
        """The time of a change of level in it, in seconds: the best guess."""
        return (self.start_s + self.end_s) / 2


@dataclass(slots=True)
class Transition:
    """The blocks from the end of one settled span to the start of the next."""

    start_block: int
    earliest_block: int
    """A new level may not reach back before this block."""
    start_s: float
    peak_volts: float = float("-inf")
    """Highest sample so far."""
    lowest_volts: float = float("inf")
    """Lowest block so far."""
    largest_rise_volts: float = 0.0
    """Largest rise from a low to a later high: motion rises, settling from above does not."""
    by_shift: bool = False
    """The level was left by a small lasting change rather than by a jump."""
    drift_volts_per_block: float = 0.0
    """Slope of the drift that ended the level; 0 when there is none. A new level has to be much flatter."""
    no_level_before: int = 0
    """Before this block there can be no level."""
    shown_state: State = State.SETTLING
    """What the trace was doing when a level was last looked for."""
    is_slope: bool = False
    """The latest blocks are one slope."""
    interruptions: list[Interruption] = field(default_factory=list)
    """Gaps and overloads in it, or just before its first block."""
    disagreement: Disagreement | None = None
    """Why the latest lines show no level, whatever their means do."""
    disagreed_block: int = 0
    """Lines before this block were found to disagree: no level reaches back to them."""
    margin_blocks: int = EDGE_MARGIN_BLOCKS
    """Blocks before it, at the level before, that are looked at with it; 0 when that level was left before a gap."""

    def add(self, volts: float, high_volts: float) -> None:
        """Take in one more block: its mean and its highest sample."""
        if high_volts > self.peak_volts:
            self.peak_volts = high_volts
        if volts < self.lowest_volts:
            self.lowest_volts = volts
        elif volts - self.lowest_volts > self.largest_rise_volts:
            self.largest_rise_volts = volts - self.lowest_volts

    def add_blocks(self, history: History, start: int, end: int) -> None:
        """Take in blocks, as far as they are still kept.

        Args:
            history: has them.
            start: number of the first.
            end: number of the one after the last.
        """
        for index in range(max(start - history.first, 0), max(end - history.first, 0)):
            self.add(history.volts[index], history.highs[index])
