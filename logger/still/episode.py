"""What the detector has open: a still span, or an episode between two of them."""

from __future__ import annotations

from dataclasses import dataclass, field

from logger.still.events import Motion, Step


@dataclass(slots=True)
class Episode:
    """The blocks from the end of one still span to the start of the next."""

    start_block: int
    barrier: int
    """A new level may not reach back before this block."""
    start_s: float
    peak_volts: float = float("-inf")
    lowest_volts: float = float("inf")
    largest_rise: float = 0.0
    """Largest rise from a low to a later high within the episode: motion rises, settling from above does not."""
    low_so_far: float = float("inf")
    by_shift: bool = False
    """The level was left by a small lasting change rather than by a jump."""
    drift_volts_per_block: float = 0.0

    def see(self, volts: float, high: float) -> None:
        """One more block."""
        if high > self.peak_volts:
            self.peak_volts = high
        if volts < self.low_so_far:
            self.low_so_far = volts
        elif volts - self.low_so_far > self.largest_rise:
            self.largest_rise = volts - self.low_so_far


@dataclass(slots=True)
class Span:
    """A still span, growing or closed. `level` is the mean of its `count` blocks."""

    start_block: int
    start_s: float
    end_block: int
    """One past the last block that belongs to it."""
    end_s: float
    level: float
    count: int
    known_at_s: float
    floor_block: int
    """Its end is never looked for before this block."""
    taught_block: int
    """Blocks before this one have taught the noise."""
    episode: Episode
    """What came before it; goes on when the span has to be withdrawn."""
    held: list[Motion | Step] = field(default_factory=list)
    """Events that stand if this span does."""
    suspect: bool = False
    """Raised, and reached gradually or while moving."""
    crept: bool = False
    """Neither a motion nor a step led to it."""
    raised: bool = False
    blunt: bool = False
    gradual: bool = False
    confirmed: bool = False
    """Long enough to stand whatever comes."""
    told: bool = False
    undecided_step_s: float | None = None
    """Where the level may have changed against the span before, while that is not yet certain."""
    checked: list[int] = field(default_factory=lambda: [0, 0, 0, 0])
    drift_at: int = 12
    """The length in blocks at which drift is tested next."""
    u_volts: float = 0.0
    """Standard uncertainty at its end; 0 while it grows."""
