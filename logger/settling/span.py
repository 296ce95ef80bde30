"""A settled span while it is open: growing, or ended and waiting to become final."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import Enum, auto

from logger.settling.events import Motion, Settled, Step
from logger.settling.level_uncertainty import LevelUncertainty, UncertaintyParts
from logger.settling.limits import FIRST_DRIFT_TEST_BLOCKS, MIN_PART_BLOCKS, SCALES
from logger.settling.line_fit import RunningLine
from logger.settling.transition import Transition


class SpanStatus(Enum):
    """How final a span is."""

    PROVISIONAL = auto()
    """It may yet prove to be no level."""
    CONFIRMED = auto()
    """It is long enough to be kept whatever comes; it may still grow."""
    EMITTED = auto()
    """Its event was given out."""


class NoiseTrust(Enum):
    """How well the meter's noise was known when a span was found."""

    KNOWN = auto()
    UNPROVEN = auto()
    """It was learned from a loud span that was not final."""
    LOUD = auto()
    """It was not known, and the span scatters more than a quiet meter does."""


class Route(Enum):
    """What led to a span."""

    FIRST = auto()
    """No level was there before it."""
    EVENT = auto()
    """A motion or a step led to it."""
    CREEP = auto()
    """Neither a motion nor a step led to it."""
    CREEP_THEN_STEP = auto()
    """It seemed to have crept there, until a step was certain after all."""


class Rise(Enum):
    """How a span was reached that is above the one before it."""

    NONE = auto()
    """It is not above it."""
    QUICK = auto()
    """As quickly as by switching."""
    GRADUAL = auto()
    """More slowly than by switching."""
    MOVING = auto()
    """While the body moved."""


@dataclass(frozen=True, slots=True)
class Approach:
    """How the trace came to a span from the one before it."""

    route: Route
    rise: Rise = Rise.NONE
    is_blunt: bool = False
    """It is raised, and the middle of the edge to it was slow."""
    is_merged: bool = False
    """Spans before it proved to have been part of the movement to it."""

    @property
    def has_crept(self) -> bool:
        """Whether neither a motion nor a step seemed to lead to the span when it was found."""
        return self.route is Route.CREEP or self.route is Route.CREEP_THEN_STEP

    @property
    def is_raised(self) -> bool:
        """Whether the span is above the one that was before it when it was found, and still is."""
        return self.rise is not Rise.NONE and not self.is_merged

    @property
    def is_uncertain_rise(self) -> bool:
        """Whether the span was raised as a held arm is: gradually, or while moving."""
        return self.rise is Rise.GRADUAL or self.rise is Rise.MOVING

    def with_step(self) -> Approach:
        """The approach once a step to the span is certain."""
        return replace(self, route=Route.CREEP_THEN_STEP) if self.route is Route.CREEP else self

    def merged(self, is_first: bool) -> Approach:
        """The approach once the spans before proved to be part of the movement to it; `is_first`: all of them."""
        return replace(self, route=Route.FIRST if is_first else Route.EVENT, is_merged=True)


@dataclass(slots=True)
class TestSchedule:
    """When each test for a departure from a span is due next. Lengths are in blocks."""

    turns: list[int] = field(default_factory=lambda: [0] * len(SCALES))
    """For each scale, which turn the latest test of its mean was."""
    drift_at: int = FIRST_DRIFT_TEST_BLOCKS
    """The length of the span at which drift is tested next."""
    jump_at: int = FIRST_DRIFT_TEST_BLOCKS
    """The length at which a division of the span is tested next."""


@dataclass(slots=True)
class OpenSpan:
    """A settled span, growing or ended. `level_volts` is the mean of its `count` blocks."""

    start_block: int
    start_s: float
    end_block: int
    """One past the last block that belongs to it."""
    end_s: float
    """Time of its last block once it has ended."""
    level_volts: float
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
    approach: Approach
    noise_trust: NoiseTrust = NoiseTrust.KNOWN
    by_long_look: bool = False
    """It was found only by a long look."""
    is_steady: bool = False
    """A long window showed its noise to be that of a level (`stationary`), so that noise needs no other proof."""
    held_events: list[Motion | Step] = field(default_factory=list)
    """Events before it that are true if this span is one."""
    undecided_step_s: float | None = None
    """When the level changed against the span before, while it is not certain that it did."""
    status: SpanStatus = SpanStatus.PROVISIONAL
    may_go_on: bool = True
    """It may be resumed or joined: nothing has interrupted the trace since it ended."""
    variance: float = 0.0
    """Of its blocks, volts squared, if it is loud and ended before it was confirmed."""
    schedule: TestSchedule = field(default_factory=TestSchedule)
    line: RunningLine = field(default_factory=RunningLine)
    """Through all of its blocks, over their numbers."""
    left_out: int = 0
    """Blocks between its first and its last that are not on its level."""
    left_out_volts: float = 0.0
    """Their sum."""
    u_volts: float = 0.0
    """Standard uncertainty of its level at its end, for tests; 0 while it grows."""
    reported: LevelUncertainty | None = None
    """The uncertainty of its level that is reported."""
    parts: UncertaintyParts | None = None
    """What has a name of its own in that, while the span grows."""
    report_at: int = 0
    """Number of blocks at which that is due to be worked out anew while the span grows."""

    @property
    def is_provisional(self) -> bool:
        """Whether the span may yet be withdrawn."""
        return self.status is SpanStatus.PROVISIONAL

    @property
    def length_s(self) -> float:
        """Length of a span that has ended."""
        return self.end_s - self.start_s

    @property
    def has_crept_without_step(self) -> bool:
        """Whether neither a motion nor a step led to the span, as far as is known by now."""
        return self.approach.route is Route.CREEP

    @property
    def rise_volts(self) -> float:
        """Rise of the line through all of its blocks, from the first to the last."""
        return self.line.rise(self.end_block - 1 - self.start_block)

    def shift_with(self, left_out: int, volts: float) -> float:
        """How far the mean of all blocks between its ends is off its level.

        Args:
            left_out: number of blocks that are not on its level.
            volts: their sum.
        """
        return abs(volts - left_out * self.level_volts) / (self.count + left_out)

    @property
    def shift_volts(self) -> float:
        """How far the mean of all blocks between its ends is off its level."""
        return self.shift_with(self.left_out, self.left_out_volts)

    def take_blocks(self, first_block: int, values: Sequence[float]) -> None:
        """Take blocks into the line through the span: `values` from the number `first_block` on."""
        for i, value in enumerate(values):
            self.line.add(first_block + i, value)

    def start_at(self, block: int, time_s: float, values: Sequence[float], samples: int) -> None:
        """Let the span start later.

        Args:
            block: the first one that belongs to it.
            time_s: time of that block.
            values: volts of the blocks from there on.
            samples: number of samples in them.
        """
        self.start_block = self.floor_block = block
        self.start_s = time_s
        # What was called settled before is no longer part of it.
        self.known_at_s = max(self.known_at_s, time_s)
        self.count, self.samples = len(values), samples
        self.level_volts = sum(values) / self.count
        self.line, self.left_out, self.left_out_volts = RunningLine(), 0, 0.0
        self.take_blocks(block, values)
        due = max(FIRST_DRIFT_TEST_BLOCKS, self.count + MIN_PART_BLOCKS)
        self.schedule = TestSchedule(drift_at=due, jump_at=due)
        self.report_at = 0

    def end_before(self, block: int, late: Sequence[float], late_samples: int) -> None:
        """Let the span end earlier.

        Args:
            block: the first one that does not belong to it.
            late: volts of its blocks from there on.
            late_samples: number of samples in them.
        """
        if late:
            kept = self.count - len(late)
            self.level_volts = (self.level_volts * self.count - sum(late)) / kept
            self.count, self.samples = kept, self.samples - late_samples
            for i, value in enumerate(late):
                self.line.remove(block + i, value)
            self.end_block = block

    def finish(self, end_s: float, u_volts: float) -> None:
        """Keep the span only as what later ones are compared with: its events were given out.

        Args:
            end_s: time of its last block.
            u_volts: standard uncertainty of its level.
        """
        self.status = SpanStatus.EMITTED
        self.end_s, self.u_volts = end_s, u_volts
        self.held_events = []

    def resume(
        self, left_out: Sequence[float], values: Sequence[float], samples: int, end_block: int
    ) -> None:
        """Let the span grow on after a brief excursion.

        Args:
            left_out: volts of the blocks of the excursion.
            values: volts of the latest blocks, which are back on its level.
            samples: number of samples in them.
            end_block: one past the last of them.
        """
        self.left_out += len(left_out)
        self.left_out_volts += sum(left_out)
        for value in values:
            self.count += 1
            self.level_volts += (value - self.level_volts) / self.count
        self.take_blocks(end_block - len(values), values)
        self.samples += samples
        self.end_block = self.taught_block = end_block
        self.floor_block = end_block - len(values)
        self.report_at = 0

    def join(self, later: OpenSpan, between: Sequence[float]) -> None:
        """Take over a later span at the same level, and grow on; `between` are the volts of the blocks between them."""
        self.left_out += later.left_out + len(between)
        self.left_out_volts += later.left_out_volts + sum(between)
        self.line.merge(later.line)
        count = self.count + later.count
        self.level_volts = (self.level_volts * self.count + later.level_volts * later.count) / count
        self.count, self.samples = count, self.samples + later.samples
        self.end_block = later.end_block
        self.floor_block = later.start_block
        self.taught_block = later.taught_block
        self.schedule = TestSchedule()
        self.report_at = 0

    def as_event(self) -> Settled:
        """The event of a span that has ended."""
        assert self.reported is not None
        u_volts = self.reported.u_volts
        return Settled(self.start_s, self.end_s, self.level_volts, u_volts, self.known_at_s, self.samples)
