"""What a stream of lines has shown so far: in which layouts, with which values, how often, how damaged."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import NamedTuple

from logger.clock import NS_PER_S
from logger.meter.line_damage import Range, damage_explains
from logger.meter.lines import LineReading, LineStatus
from logger.meter.number_layout import NumberLayout, behind_of, ends_with_zero, layout_of

RHYTHM_LINES = 8
"""The time from line to line is taken over so many samples."""

CLOSE_NEIGHBOURS = 4
"""So many samples before a line show where the level is just now."""
EXPECTED_NEIGHBOURS = 2
"""So many samples before a line, and those after it, show what value is to be expected."""
EXPECTED_MARGIN = 0.05
"""A value is to be expected within this share beyond its neighbours: somebody may begin to move."""
EXPECTED_COUNTS = 3
"""The same in counts of the display, near zero."""

NEAR = 0.01
"""A line that damage explains is delivered where it differs by no more than this from each of its neighbours: the true
value then does not differ by 2 % from it."""
NEAR_BESIDE = 0.03
"""For a meter that perhaps does not write zeros at the end, most lines with fewer decimals are true: they are delivered
from so much below to so much above the two lines beside them, or as near to the middle of all neighbours."""

FLAT = 0.3
"""A level is flat where its neighbours differ by no more than this. From a flat level and back to it a voltage does not
go for one line alone: a step of a walking body takes longer than a line of the slowest meter."""

RECENT_LINES = 30
"""A layout is recent for so many samples."""

SUSPECT_NEIGHBOURS = 2
"""A line of the newest layout is held against so many samples before it."""

ZERO_WEIGHT = 0.01
WRITTEN_ZEROS_SHARE = 0.03
"""A meter that writes zeros at the end of a fraction does so on one line in ten; from this share on, as a running mean
of so much weight a line, 0.27 has lost a digit."""

JUMP = 1.5
"""A line of the stream's layout whose value is so many times those before it, or the inverse, waits for the next."""

STEP = 3.0
"""From this ratio on, the level before and after a line are two levels, with nothing to be expected between them."""

STATISTIC_LINES = 200
"""The share of damaged lines is that among so many."""
DEPARTURE_LINES = 50
"""The share of samples in another layout is that among so many."""
MIN_DAMAGED_SHARE = 0.01
"""This share is taken for granted before more is seen."""


class StreamLine(NamedTuple):
    """A line with its times, UTC and since the start of the run, and how it is read."""

    utc_ns: int
    t_ns: int
    raw: bytes
    reading: LineReading

    @property
    def is_compared(self) -> bool:
        """Whether it is a sample whose number can be compared with those of other lines."""
        return self.reading.is_live and self.reading.number_span is not None

    @property
    def layout(self) -> NumberLayout:
        """How its number is written; for a line that is compared."""
        return layout_of(self.raw, self.reading)

    @property
    def behind(self) -> bytes:
        """What stands behind its number; for a line that is compared."""
        return behind_of(self.raw, self.reading)

    @property
    def volts(self) -> float:
        """Its value; for a line that is compared."""
        assert self.reading.volts is not None
        return self.reading.volts


@dataclass(slots=True)
class _Pattern:
    """What lines of a layout look like.

    Args:
        steady: the newest line that looked as the one before it did: one that was damaged beside its number is none.
        newest: the newest line.
        place: of the newest among the samples.
        highest: the highest value, in volts.
    """

    steady: bytes
    newest: bytes
    place: int
    highest: float = 0.0

    def take(self, line: StreamLine, place: int) -> None:
        """Take a further line.

        Args:
            line: it.
            place: its place among the samples.
        """
        if _shape(line.raw) == _shape(self.newest):
            self.steady = line.raw
        self.newest, self.place = line.raw, place
        self.highest = max(self.highest, line.volts)


class StreamHistory:
    """The newest samples of one meter.

    Args:
        read: reads a line by itself.
    """

    def __init__(self, read: Callable[[bytes], LineReading]) -> None:
        self.samples = 0
        """So many lines were delivered as samples."""
        self._read = read
        self._patterns: dict[NumberLayout, _Pattern] = {}
        self._confirmed: set[NumberLayout] = set()
        self._values: deque[float] = deque(maxlen=CLOSE_NEIGHBOURS)
        self._times_ns: deque[int] = deque(maxlen=RHYTHM_LINES)
        self._zero_share = 0.0
        self._writes_zeros = False
        self._layout: NumberLayout | None = None
        self._refused: deque[bool] = deque(maxlen=STATISTIC_LINES)
        self._departed: deque[bool] = deque(maxlen=DEPARTURE_LINES)

    @property
    def interval_s(self) -> float:
        """The time from line to line; 0 where it is not known."""
        times = self._times_ns
        if len(times) < 2:
            return 0.0
        return (times[-1] - times[0]) / (len(times) - 1) / NS_PER_S

    @property
    def damaged_share(self) -> float:
        """The share of damaged lines among the newest ones."""
        return max(sum(self._refused) / STATISTIC_LINES, MIN_DAMAGED_SHARE)

    @property
    def may_drop_zeros(self) -> bool:
        """Whether the meter perhaps does not write zeros at the end of a fraction."""
        return not self._writes_zeros

    @property
    def departed_share(self) -> float:
        """The share of samples among the newest ones that had another layout than the stream."""
        return sum(self._departed) / len(self._departed) if self._departed else 0.0

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
        self._confirmed.add(layout)
        if layout not in self._patterns:
            self._patterns[layout] = _Pattern(raw, raw, self.samples)

    def add(self, line: StreamLine) -> StreamLine:
        """Remember a line that is delivered; returns it."""
        self._refused.append(line.reading.status is LineStatus.UNREADABLE)
        if not line.is_compared:
            return line
        layout = line.layout
        self._departed.append(layout != self._layout)
        self._values.append(line.volts)
        self._times_ns.append(line.t_ns)
        self.samples += 1
        pattern = self._patterns.get(layout)
        if pattern is not None:
            pattern.take(line, self.samples)
        elif self._layout is not None and layout.differs_by_size_only(self._layout):
            self._patterns[layout] = _Pattern(line.raw, line.raw, self.samples, line.volts)
        if not self._writes_zeros and layout.decimals and layout.decimals == self._finest():
            self._zero_share += ZERO_WEIGHT * (ends_with_zero(line.raw, line.reading) - self._zero_share)
            self._writes_zeros = self._zero_share > WRITTEN_ZEROS_SHARE
        return line

    def is_explained(
        self, line: StreamLine, after: Sequence[StreamLine] = (), is_moving: bool = False
    ) -> bool:
        """Whether damage at one place explains a line: mended, it has a value that is to be expected.

        Args:
            line: it.
            after: samples that came after it.
            is_moving: expect anything that a body that moves may reach in the next line.
        """
        expected = self._expected(line, after)
        if is_moving:
            expected = [(low / STEP, high * STEP) for low, high in expected]
        ceilings = {one.layout: one.volts for one in sorted(after, key=lambda one: one.volts)}
        for layout, pattern in self._patterns.items():
            if self.samples - pattern.place >= RECENT_LINES:
                continue
            ceiling = (1 + EXPECTED_MARGIN) * max(pattern.highest, ceilings.get(layout, 0.0))
            below = expected if is_moving else [(low, min(high, ceiling)) for low, high in expected]
            if damage_explains(line.raw, pattern.steady, self._read, below):
                return True
        return any(damage_explains(line.raw, one.raw, self._read, expected) for one in after[:1])

    def is_jump(self, line: StreamLine) -> bool:
        """Whether a line's value is far from the newest samples, as it is at a step and in some damaged lines."""
        if len(self._values) < SUSPECT_NEIGHBOURS:
            return False
        low, high = _range([*self._values][-SUSPECT_NEIGHBOURS:], line.layout)
        return not low / JUMP <= line.volts <= high * JUMP

    def is_suspect(self, line: StreamLine, waiting: Sequence[StreamLine]) -> bool:
        """Whether a line of the stream's layout may be a damaged one of another layout that came just before.

        A level may lie at the edge of two layouts (9.998, 10.002), and 0.002 is a damaged line of the second then.

        Args:
            line: it.
            waiting: samples of another layout that wait.
        """
        if len(self._patterns) < 2 and not waiting:
            return False
        volts = [*self._values][-SUSPECT_NEIGHBOURS:]
        expected = [_range(volts, line.layout)]
        if _is_in(line.volts, expected):
            return False
        raws = [
            pattern.steady
            for layout, pattern in self._patterns.items()
            if layout != line.layout
            and layout.differs_by_size_only(line.layout)
            and self.samples - pattern.place < RECENT_LINES
        ]
        if any(damage_explains(line.raw, raw, self._read, expected) for raw in raws):
            return True
        volts = [one.volts for one in waiting][-SUSPECT_NEIGHBOURS:]
        expected = [_range(volts, line.layout)]
        return any(damage_explains(line.raw, one.raw, self._read, expected) for one in waiting[-1:])

    def is_broken_run(self, line: StreamLine, following: StreamLine) -> bool:
        """Whether a line that damage explains is followed by one of its layout with quite another value.

        Args:
            line: it.
            following: the next one of its layout.
        """
        if not is_step(line.volts, following.volts):
            return False
        between = [_range([*[*self._values][-1:], following.volts], line.layout)]
        return any(
            damage_explains(line.raw, pattern.steady, self._read, between)
            for layout, pattern in self._patterns.items()
            if layout != line.layout and self.samples - pattern.place < RECENT_LINES
        )

    def is_near(self, line: StreamLine, after: Sequence[StreamLine]) -> bool:
        """Whether a line's value is so near to its neighbours that it is no false one, damaged or not.

        Args:
            line: it.
            after: samples that came after it.
        """
        close = self._close(after)
        if not close:
            return False
        volts = line.volts
        if line.layout.decimals <= self._finest() and not self._writes_zeros:
            low, high, middle = min(close[-2:]), max(close[-2:]), median(close)
            is_beside = (1 - NEAR_BESIDE) * low <= volts <= (1 + NEAR_BESIDE) * high
            return is_beside or abs(volts - middle) <= NEAR_BESIDE * middle
        if line.layout not in self._confirmed and not self._is_beside_other_words(line.layout):
            return False
        return all(abs(volts - value) <= NEAR * value for value in close)

    def is_strange(self, line: StreamLine, after: Sequence[StreamLine]) -> bool:
        """Whether a line that stands alone is none of this stream: its value jumps from a flat level and back.

        In a layout that the stream never had it may be anywhere but beside its neighbours.

        Args:
            line: it.
            after: samples that came after it.
        """
        close = self._close(after)
        if len(close) <= CLOSE_NEIGHBOURS:
            return False
        layout = line.layout
        if layout == self._layout:
            return False
        low, high = _range(close, layout)
        if self._is_beside_other_words(layout):
            return not low <= line.volts <= high
        by_size = self._layout is not None and layout.differs_by_size_only(self._layout)
        if not by_size and layout not in self._confirmed:
            return not self.is_near(line, after)
        if max(close) > (1 + FLAT) * min(close) + EXPECTED_COUNTS * layout.count_volts():
            return by_size and not low / STEP <= line.volts <= high * STEP
        if by_size:
            low, high = (1 - FLAT) * low, (1 + FLAT) * high
        return not low <= line.volts <= high

    def _close(self, after: Sequence[StreamLine]) -> list[float]:
        return [*self._values, *(one.volts for one in after[:1])]

    def _is_beside_other_words(self, layout: NumberLayout) -> bool:
        """Whether a number is written as those of the stream are, with something else in front of it: LOW BAT, AUTO."""
        return self._layout is not None and layout._replace(front=self._layout.front) == self._layout

    def _finest(self) -> int:
        """The most decimals that the stream's numbers have."""
        return max((layout.decimals for layout in self._patterns), default=0)

    def _expected(self, line: StreamLine, after: Sequence[StreamLine]) -> list[Range]:
        """The ranges of volts in which a line is to be expected: one around its neighbours, more where there are steps.

        Args:
            line: it.
            after: samples that came after it.
        """
        values = [*[*self._values][-EXPECTED_NEIGHBOURS:], *(one.volts for one in after)]
        levels: list[list[float]] = [[]]
        for value in values:
            if levels[-1] and is_step(levels[-1][-1], value):
                levels.append([])
            levels[-1].append(value)
        return [_range(level, line.layout) for level in levels]


_TINY_VOLTS = 1e-9
_DIGITS_ALIKE = bytes.maketrans(b"123456789", b"0" * 9)


def _shape(raw: bytes) -> bytes:
    return raw.translate(_DIGITS_ALIKE)


def is_step(before: float, after: float) -> bool:
    """Whether two values that follow each other are of two levels.

    Args:
        before: the first, volts.
        after: the second, volts.
    """
    return not 1 / STEP <= after / max(before, _TINY_VOLTS) <= STEP


def _is_in(volts: float, ranges: Sequence[Range]) -> bool:
    return any(low <= volts <= high for low, high in ranges)


def _range(values: Sequence[float], layout: NumberLayout) -> Range:
    """Between which volts a value is to be expected beside others.

    Args:
        values: of its neighbours, volts.
        layout: of the line.
    """
    if not values:
        return 0.0, math.inf
    counts = EXPECTED_COUNTS * layout.count_volts()
    low, high = min(values), max(values)
    return low - max(EXPECTED_MARGIN * low, counts), high + max(EXPECTED_MARGIN * high, counts)
