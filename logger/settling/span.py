"""What the detector has open: a still span, or an transition between two of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from logger.settling.events import Motion, State, Step

FIRST_DRIFT_TEST_BLOCKS = 12


@dataclass(slots=True)
class Transition:
    """The blocks from the end of one still span to the start of the next."""

    start_block: int
    barrier: int
    """A new level may not reach back before this block."""
    start_s: float
    peak_volts: float = float("-inf")
    low_so_far: float = float("inf")
    largest_rise: float = 0.0
    """Largest rise from a low to a later high within the transition: motion rises, settling from above does not."""
    by_shift: bool = False
    """The level was left by a small lasting change rather than by a jump."""
    drift_volts_per_block: float = 0.0
    """Slope of the drift that ended the level; 0 when there is none. A new level has to be much flatter."""
    unquiet_until: int = 0
    """Before this block there can be no level."""
    shown: State = State.SETTLING
    """What the trace was doing when it was looked at last."""
    slopes: bool = False
    """The latest blocks are one slope."""

    def see(self, volts: float, high: float) -> None:
        """One more block."""
        if high > self.peak_volts:
            self.peak_volts = high
        if volts < self.low_so_far:
            self.low_so_far = volts
        elif volts - self.low_so_far > self.largest_rise:
            self.largest_rise = volts - self.low_so_far


@dataclass(slots=True)
class OpenSpan:
    """A still span, growing or closed. `level` is the mean of its `count` blocks."""

    start_block: int
    start_s: float
    end_block: int
    """One past the last block that belongs to it."""
    end_s: float
    level: float
    count: int
    samples: int
    """How many samples its blocks hold."""
    known_at_s: float
    floor_block: int
    """Its end is never looked for before this block."""
    taught_block: int
    """Blocks before this one have taught the noise."""
    transition: Transition
    """What came before it; goes on when the span has to be withdrawn."""
    held: list[Motion | Step] = field(default_factory=list)
    """Events that stand if this span does."""
    undecided_step_s: float | None = None
    """When the level changed against the span before, while it is not certain that it did."""
    crept: bool = False
    """Neither a motion nor a step led to it."""
    stepped: bool = False
    """A step led to it after all."""
    patient: bool = False
    """Found only by a long look."""
    is_first: bool = False
    """No level was there before it."""
    loud: bool = False
    """Found while the noise was not known, with more scatter than a quiet meter has."""
    earlier: OpenSpan | None = None
    """The span before it, while whether this one stands is put off."""
    unproven: bool = False
    """Found while the noise was not known for certain."""
    variance: float = 0.0
    """Of its blocks, of one that is loud and was left before it was confirmed."""
    raised: bool = False
    """Higher than the level before."""
    blunt: bool = False
    """Raised, and not reached at once."""
    gradual: bool = False
    """Raised, and reached more slowly than by switching."""
    suspect: bool = False
    """Raised, and reached gradually or while moving."""
    confirmed: bool = False
    """Long enough to stand whatever comes."""
    told: bool = False
    checked: list[int] = field(default_factory=lambda: [0, 0, 0, 0])
    """For each scale, which turn the latest test of it was."""
    drift_at: int = FIRST_DRIFT_TEST_BLOCKS
    """The length in blocks at which drift is tested next."""
    jump_at: int = FIRST_DRIFT_TEST_BLOCKS
    """The same for a step inside it."""
    u_volts: float = 0.0
    """Standard uncertainty at its end; 0 while it grows."""

    @classmethod
    def begun(
        cls,
        start_block: int,
        start_s: float,
        values: Sequence[float],
        samples: int,
        now_s: float,
        transition: Transition,
    ) -> OpenSpan:
        """A new span over `values`, the blocks from `start_block` until now."""
        end, count = start_block + len(values), len(values)
        level = sum(values) / count
        return cls(
            start_block, start_s, end, now_s, level, count, samples, now_s, start_block, end, transition
        )

    def start_at(self, block: int, time_s: float, values: Sequence[float], samples: int) -> None:
        """Start later: only `values`, from `block` on, belong to it."""
        self.start_block = self.floor_block = block
        self.start_s = time_s
        # What was called settled before is no longer part of it.
        self.known_at_s = max(self.known_at_s, time_s)
        self.count, self.samples = len(values), samples
        self.level = sum(values) / self.count
        self.checked = [0, 0, 0, 0]
        self.drift_at = self.jump_at = max(FIRST_DRIFT_TEST_BLOCKS, self.count + 4)

    def end_before(self, block: int, late: Sequence[float], late_samples: int) -> None:
        """End earlier: `late`, its blocks from `block` on, do not belong to it."""
        kept = self.count - len(late)
        if late and kept >= 2:
            self.level = (self.level * self.count - sum(late)) / kept
            self.count, self.samples = kept, self.samples - late_samples
            self.end_block = block

    def join(self, later: OpenSpan) -> None:
        """Go on with what `later` holds."""
        count = self.count + later.count
        self.level = (self.level * self.count + later.level * later.count) / count
        self.count, self.samples = count, self.samples + later.samples
        self.end_block = later.end_block
        self.floor_block = later.start_block
        self.taught_block = later.taught_block
        self.drift_at = self.jump_at = FIRST_DRIFT_TEST_BLOCKS
        self.checked = [0, 0, 0, 0]
