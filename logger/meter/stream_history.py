"""What a stream of lines has shown so far: in which layouts, with which values, how often, how damaged."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from statistics import median

from logger.clock import NS_PER_S
from logger.meter.joint_judgement import (
    DROPPED_ZERO,
    EXPECTED_COUNTS,
    LEAP,
    MOTION,
    NEAR,
    NEW_LAYOUT,
    QUIET,
    expected_range,
)
from logger.meter.line_damage import Range, damage_explains
from logger.meter.lines import LineReading, LineStatus
from logger.meter.number_layout import NumberLayout, behind_of, ends_with_zero, layout_of
from logger.meter.stream_line import StreamLine, is_step

RHYTHM_LINES = 8
"""The time from line to line is taken over so many samples."""

NOISE_LINES = 16
"""The noise is the median of the differences from sample to sample over so many."""
UNKNOWN_NOISE = 0.02
"""Before three differences are known."""
MIN_NOISE, MAX_NOISE = 0.001, 0.05
"""A level that shows no noise may show some yet; what differs by more is no noise but a motion."""

RECENT_LINES = 30
"""A layout is recent for so many samples."""

STAYS_LINES = 30
"""A number that has lost its point is read after so many lines in a row that had none: then it is another range."""

NEWEST = 2
"""A line is held against so many samples before it to find whether it has to wait."""

ZERO_WEIGHT = 0.01
WRITTEN_ZEROS_SHARE = 0.03
"""A meter that writes zeros at the end of a fraction does so on one line in ten; from this share on, as a running mean
of so much weight a line, 0.27 has lost a digit."""

MIN_JUMP, JUMP_NOISE = 0.02, 2.5
"""A line of the stream's layout whose value is this share beyond the newest ones waits for the next, and beyond so many
times the noise."""

MAX_BEYOND = 1.05
"""A damaged line had no value beyond this multiple of the highest one that its layout has shown."""

FIRST_DROPPED = 3.0
"""A first number with a decimal less costs so much more: few meters drop zeros."""

STATISTIC_LINES = 200
"""The share of damaged lines is that among so many."""
MAX_JUMPS = 32
"""So many of the latest lines are remembered that jumped to a value in the stream's own layout."""
DEPARTURE_LINES = 50
"""The share of samples in another layout is that among so many."""
MIN_CONFIRMED_LINES = 5
"""A layout is a range of the meter from so many samples in a row on: two may be damaged alike, and what is a range
is expected again for the whole run."""
MIN_DAMAGED_SHARE = 0.005
"""This share is taken for granted before more is seen."""
MIN_RANGE_CHANGES = 0.3
"""So many range changes in `DEPARTURE_LINES` are taken for granted before one is seen."""
NEEDLESS = 0.5
NEEDLESS_RANGE = 6.0
"""A range with a coarser last digit costs so much more where a finer one holds the value, up to this share of the
highest value that it has shown: meters choose the finer one by themselves."""
FULL = 0.95
DUE_RANGE = 1.0
"""A change to a known range costs so little where the finer ones are full, from this share of their highest value on,
or where it is the finest one and holds the value."""
DAMAGE_PLACES_COST = 1.3
"""A damaged line that reads as a number and fits costs so much more than the share of damaged lines and the length of
the line account for: one kind of damage in five leaves a number, and most places of it show."""


@dataclass(frozen=True, slots=True)
class _Jump:
    """A line that jumped to a value.

    Args:
        place: of the line among all.
        layout: of its number.
        volts: the value.
    """

    place: int
    layout: NumberLayout
    volts: float


@dataclass(slots=True)
class _Pattern:
    """What lines of a layout look like.

    Args:
        steady: the newest line that looked as the one before it did: one that was damaged beside its number is none.
        newest: the newest line.
        place: of the newest among the samples.
    """

    steady: bytes
    newest: bytes
    place: int

    def take(self, line: StreamLine, place: int) -> None:
        """Take a further line.

        Args:
            line: it.
            place: its place among the samples.
        """
        if _shape(line.raw) == _shape(self.newest):
            self.steady = line.raw
        self.newest, self.place = line.raw, place


# long: one line changes all that is learned of a meter, and what is learned is forgotten together.
class StreamHistory:
    """The newest samples of one meter.

    Args:
        read: reads a line by itself.
    """

    def __init__(self, read: Callable[[bytes], LineReading]) -> None:
        self.samples = 0
        """So many lines were delivered as samples."""
        self.level: float | None = None
        """The newest value, volts."""
        self.level_layout: NumberLayout | None = None
        """How it was written."""
        self.direction = 0
        """Whether the newest value rose (1) or fell (-1) by more than noise, or did neither (0)."""
        self.finest = 0
        """The most decimals that the stream's numbers have."""
        self._read = read
        self._patterns: dict[NumberLayout, _Pattern] = {}
        self._confirmed: dict[NumberLayout, float] = {}
        """The layouts that the stream had for long enough, with the highest value in each, volts."""
        self._highest = 0.0
        """The highest value of the layout now, volts."""
        self._lines_of_layout = 0
        """So many samples had it since the stream came to it."""
        self._values: deque[float] = deque(maxlen=NEWEST)
        self._differences: deque[float] = deque(maxlen=NOISE_LINES)
        self._times_ns: deque[int] = deque(maxlen=RHYTHM_LINES)
        self._zero_share = 0.0
        self._writes_zeros = False
        self._explained: dict[tuple[object, ...], bool] = {}
        """What `explains` has found since the newest line was delivered."""
        self._has_dropped = False
        """Whether a number had a decimal less than others."""
        self._layout: NumberLayout | None = None
        self._pointed: NumberLayout | None = None
        """The layout of the newest number with a point."""
        self._pointless_lines = 0
        """So many readable lines came since that had none."""
        self._lines = 0
        """So many lines were delivered, refused ones among them."""
        self._jumps: deque[_Jump] = deque(maxlen=MAX_JUMPS)
        self._refused: deque[bool] = deque(maxlen=STATISTIC_LINES)
        self._departed: deque[bool] = deque(maxlen=DEPARTURE_LINES)
        self._range_changed: deque[bool] = deque(maxlen=DEPARTURE_LINES)

    @property
    def interval_s(self) -> float:
        """The time from line to line; 0 where it is not known."""
        times = self._times_ns
        if len(times) < 2:
            return 0.0
        return (times[-1] - times[0]) / (len(times) - 1) / NS_PER_S

    @property
    def noise(self) -> float:
        """How much values on a level differ from line to line, as a share of them."""
        if len(self._differences) < 3:
            return UNKNOWN_NOISE
        return min(max(median(self._differences), MIN_NOISE), MAX_NOISE)

    @property
    def may_drop_zeros(self) -> bool:
        """Whether the meter perhaps does not write zeros at the end of a fraction."""
        return not self._writes_zeros

    @property
    def departed_share(self) -> float:
        """The share of samples among the newest ones that had another layout than the stream."""
        return sum(self._departed) / len(self._departed) if self._departed else 0.0

    def is_ordinary(self, layout: NumberLayout) -> bool:
        """Whether the stream has ranges in which numbers are written so.

        Args:
            layout: of the numbers.
        """
        return any(layout.is_of_range(other, self.may_drop_zeros) for other in self._patterns)

    def range_cost(self, layout: NumberLayout, volts: float) -> float:
        """What a change to a range costs in a judgement: less where the meter has changed its range often lately.

        Args:
            layout: of the numbers in it.
            volts: the value.
        """
        share = max(sum(self._range_changed), MIN_RANGE_CHANGES) / DEPARTURE_LINES
        own = max(
            (
                high
                for other, high in self._confirmed.items()
                if layout.is_of_range(other, may_drop_zeros=False)
            ),
            default=None,
        )
        cost = NEW_LAYOUT if own is None else -math.log(share)
        finer = [
            highest
            for other, highest in self._confirmed.items()
            if other.count_volts() < layout.count_volts() and other.front == layout.front
        ]
        if any(volts < NEEDLESS * highest for highest in finer):
            return cost + NEEDLESS_RANGE
        if own is None:
            return cost
        is_due = all(volts > FULL * highest for highest in finer) if finer else volts <= own
        return min(cost, DUE_RANGE) if is_due else cost

    def damage_cost(self, raw: bytes) -> float:
        """What a damaged line costs in a judgement.

        Args:
            raw: it.
        """
        share = max(sum(self._refused) / STATISTIC_LINES, MIN_DAMAGED_SHARE)
        return DAMAGE_PLACES_COST + math.log(max(len(raw), 1)) - math.log(share)

    def confirm(self, layout: NumberLayout, raw: bytes) -> None:
        """Take note that the stream has a layout.

        Args:
            layout: it.
            raw: a line that has it.
        """
        for other, patterns in list(self._patterns.items()):
            if self.samples - patterns.place > RECENT_LINES:
                del self._patterns[other]
        self._departed.append(self._layout is not None)
        self._layout = layout
        self._highest, self._lines_of_layout = self._confirmed.get(layout, 0.0), 0
        if layout not in self._patterns:
            self._patterns[layout] = _Pattern(raw, raw, self.samples)
        self._note_finest()

    def note_jump(self, line: StreamLine) -> None:
        """Remember a line that departed from those before it, whether it is refused or not."""
        if line.layout == self._layout:
            self._jumps.append(_Jump(self._lines, line.layout, line.volts))

    def has_lost_point(self, line: StreamLine) -> bool:
        """Whether a line's number is written as those before it, but for their point.

        Args:
            line: it; its number has no decimals.
        """
        if self._pointed is None or self._pointless_lines >= STAYS_LINES:
            return False
        return self._pointed.lost_point_in(line.layout)

    def note_pointless(self) -> None:
        """Remember a line that was refused because its point was lost."""
        self._pointless_lines += 1

    def recurrences(self, line: StreamLine) -> int:
        """How often the stream has come to the value of a line lately, in its own layout.

        Args:
            line: it.
        """
        layout, volts = line.layout, line.volts
        if layout != self._layout:
            return 0
        margin = max(NEAR, QUIET * self.noise) * volts
        return sum(
            jump.layout == layout
            and self._lines - jump.place <= STATISTIC_LINES
            and abs(jump.volts - volts) <= margin
            for jump in self._jumps
        )

    def add(self, line: StreamLine) -> None:
        """Remember a line that is delivered."""
        self._explained.clear()
        self._lines += 1
        self._refused.append(line.reading.status is LineStatus.UNREADABLE)
        if not line.is_compared:
            return
        layout = line.layout
        if layout.decimals:
            self._pointed, self._pointless_lines = layout, 0
        self._departed.append(layout != self._layout)
        self._add_value(line.volts, layout)
        self._times_ns.append(line.t_ns)
        self.samples += 1
        if layout == self._layout:
            self._lines_of_layout += 1
            self._highest = max(self._highest, line.volts)
            if layout in self._confirmed or self._lines_of_layout >= MIN_CONFIRMED_LINES:
                self._confirmed[layout] = self._highest
        pattern = self._patterns.get(layout)
        if pattern is not None:
            pattern.take(line, self.samples)
        elif self._layout is not None and layout.differs_by_size_only(self._layout):
            self._patterns[layout] = _Pattern(line.raw, line.raw, self.samples)
            self._note_finest()
        self._has_dropped |= layout.decimals < self.finest
        if not self._writes_zeros and layout.decimals and layout.decimals == self.finest:
            self._zero_share += ZERO_WEIGHT * (ends_with_zero(line.raw, line.reading) - self._zero_share)
            self._writes_zeros = self._zero_share > WRITTEN_ZEROS_SHARE

    def _add_value(self, volts: float, layout: NumberLayout) -> None:
        before, old = self.level, self.level_layout
        self.level, self.level_layout = volts, layout
        self._values.append(volts)
        if before is None or old is None:
            return
        higher = before if before > volts else volts
        difference = abs(volts - before) / higher if higher else 0.0
        self._differences.append(difference)
        self.direction = 0
        if difference >= MOTION:
            self.direction = (1 if volts > before else -1) * (LEAP if is_step(before, volts) else 1)
        is_same = layout is old or layout.is_of_range(old, self.may_drop_zeros)
        self._range_changed.append(not is_same)

    def are_pieces(self, first: bytes, second: bytes) -> bool:
        """Whether two lines may be the pieces of one that was split.

        Args:
            first: a line.
            second: the next.
        """
        if not first.strip():
            return False
        joined = first + second
        reading = self._read(joined)
        if not reading.is_live or reading.number_span is None:
            return False
        if not layout_of(joined, reading).decimals:
            return False  # any two whole numbers
        pattern = self._patterns.get(layout_of(joined, reading))
        if pattern is None or len(joined) > len(pattern.steady) + 1:
            return False
        if reading.volts == self._read(second).volts:
            return False  # what stands in front does not belong to it
        behind = behind_of(joined, reading)
        return behind == behind_of(pattern.steady, self._read(pattern.steady))

    def explains(
        self,
        line: StreamLine,
        expected: Sequence[Range],
        beside: Sequence[StreamLine],
        exchanged: bool = False,
    ) -> bool:
        """Whether damage at one place explains a line.

        Args:
            line: it.
            expected: the ranges of values, volts, in which it is to be expected.
            beside: lines beside it whose form it may have.
            exchanged: two digits may stand in the place of one.
        """
        key = (line.raw, tuple(expected), tuple(one.raw for one in beside), exchanged)
        if key not in self._explained:
            self._explained[key] = self._find_explanation(line, expected, beside, exchanged)
        return self._explained[key]

    def _find_explanation(
        self, line: StreamLine, expected: Sequence[Range], beside: Sequence[StreamLine], exchanged: bool
    ) -> bool:
        patterns = [(one.raw, expected) for one in beside]
        for layout, pattern in self._patterns.items():
            if self.samples - pattern.place < RECENT_LINES:
                highest = MAX_BEYOND * self._confirmed.get(layout, math.inf)
                within = [(low, min(high, highest)) for low, high in expected if low <= highest]
                patterns.append((pattern.steady, within))
        return any(
            damage_explains(line.raw, form, self._read, ranges, exchanged)
            for raw, ranges in patterns
            for form in self._forms(raw)
        )

    @property
    def dropped_zero_cost(self) -> float:
        """What one zero costs in a judgement that the meter did not write at the end of a fraction."""
        return DROPPED_ZERO + (0.0 if self._has_dropped else FIRST_DROPPED)

    def dropping_cost(self, layout: NumberLayout) -> float:
        """What a number costs that has no more decimals than others, in a judgement; 0 where it has as many.

        Args:
            layout: of the number.
        """
        dropped = self.finest - layout.decimals
        if dropped <= 0 or not self.may_drop_zeros:
            return 0.0
        return (dropped - 1) * DROPPED_ZERO + self.dropped_zero_cost

    def is_doubtful(self, line: StreamLine) -> bool:
        """Whether a line of the stream's layout has to wait for the next one all the same.

        Its value may be far from the newest samples, as it is at a step and in some damaged lines, or the newest sample
        may be of another range. Or it may be a damaged line of another layout of the stream: a level may lie at the
        edge of two layouts (9.998, 10.002), and 0.002 is a damaged line of the second then.
        """
        if len(self._values) < NEWEST or self.level_layout is None:
            return False
        if not line.layout.is_of_range(self.level_layout, self.may_drop_zeros):
            return True
        volts, (one, other) = line.volts, self._values
        low, high = (one, other) if one < other else (other, one)
        if is_step(low, high):
            low = high = other  # between the two levels of a step lies many a damaged line
        if not low * (1 - MIN_JUMP) <= volts <= high * (1 + MIN_JUMP):
            jump = max(MIN_JUMP, JUMP_NOISE * self.noise)
            counts = EXPECTED_COUNTS * line.layout.count_volts()
            if not low * (1 - jump) - counts <= volts <= high * (1 + jump) + counts:
                return True
        if len(self._patterns) < 2 and self._writes_zeros:
            return False
        if self._is_in_noise(line):
            return False
        expected = [expected_range(self._values, line.layout)]
        raws = [
            pattern.steady
            for layout, pattern in self._patterns.items()
            if layout != line.layout
            and layout.differs_by_size_only(line.layout)
            and self.samples - pattern.place < RECENT_LINES
        ]
        if self.may_drop_zeros:
            own = self._patterns.get(line.layout)
            raws += [] if own is None else [*self._forms(own.steady)][1:]
        return any(damage_explains(line.raw, raw, self._read, expected) for raw in raws)

    def _is_in_noise(self, line: StreamLine) -> bool:
        volts = line.volts
        margin = max(2 * QUIET * self.noise * volts, 2 * line.layout.count_volts())
        return min(self._values) - margin <= volts <= max(self._values) + margin

    def _forms(self, raw: bytes) -> Iterator[bytes]:
        """A line as a pattern, and as it is written where the meter drops a zero at the end."""
        yield raw
        if self.may_drop_zeros:
            span = self._read(raw).number_span
            if span is not None and b"." in raw[slice(*span)][1:-2]:
                yield raw[: span[1] - 1] + raw[span[1] :]

    def count_volts(self, layout: NumberLayout) -> float:
        """What one step of the display is worth; a number whose zeros were dropped has the finest.

        Args:
            layout: of a number.
        """
        if self.may_drop_zeros and layout.decimals < self.finest:
            layout = layout._replace(decimals=self.finest)
        return layout.count_volts()

    def _note_finest(self) -> None:
        self.finest = max((layout.decimals for layout in self._patterns), default=0)


_DIGITS_ALIKE = bytes.maketrans(b"123456789", b"0" * 9)


def _shape(raw: bytes) -> bytes:
    return raw.translate(_DIGITS_ALIKE)
