"""Which of some lines in a row are damaged, judged together: the explanation of all of them that costs least.

In: the lines that wait, with what the stream has shown before them and the lines that came after them. Out: for each
line whether it is kept.

Each explanation keeps some of the lines and takes the others for damaged. Its cost is minus the logarithm of its
probability, roughly: what a damaged line costs, what a change of the meter's range costs, and what it costs that the
value leaves a level. A line may be taken for damaged where damage at one place explains it, with a value beside those
of the kept lines on both sides of it (`line_damage`); any other line is kept unless it is as unlikely as `UNEXPLAINED`.

The costs were set on streams of other seeds than those of the figures (`scripts/bench/damaged_lines.py`).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

from logger.meter.line_damage import Range, one_digit_explains
from logger.meter.number_layout import NumberLayout
from logger.meter.stream_line import STEP, StreamLine, is_step

LEAVE_LEVEL = 9.0
"""The cost of a step, or of the first line of a motion."""
MOTION = 0.05
"""A motion changes the value by this share from line to line; what is less costs proportionately less."""
GO_ON_MOVING = 2.0
"""The cost of a further line of a motion in the same direction."""
RARER = 0.5
"""Steps larger than the factor `STEP` cost so much more for each factor e: there are fewer of them."""
TURN_ROUND = 5.0
"""The cost of a line in a motion that goes the other way."""
UNEXPLAINED = 22.0
"""The cost of a damaged line that no damage at one place explains: more than that of a step and of a new range."""
UNEXPLAINED_ALONE = 14.0
"""The same where neither neighbour is written like it: less than what it costs to leave a level for one line."""
AWAY = 5.0
"""So much more a damaged line costs whose value is to be expected only between two levels, not beside one of them."""
IN_MOTION = 2.5
"""So much more a damaged line costs whose value is to be expected only since somebody moves."""
FLIPPED = 4.0
"""So much more a damaged line costs that is whole and has one other digit: so wrong, and alone between two lines that
agree, that its value is no motion (`STEP`)."""
FAST_INTERVAL_S = 0.15
FAST_STEP = 1.2
"""Of a meter that sends as fast, a value so much off is no motion either: nobody moves there and back within two
intervals."""
EXCHANGED = 3.0
"""So much more a damaged line costs where two digits stand in the place of one: nearly any digits would do."""
MAX_AWAY = 9.0
"""Of two levels further apart than this factor, nearly any value lies between."""
ALIKE = 4.0
"""The most that a damaged line costs behind another one that is written like it and says the same, where the line kept
after them does not: what damages one line in some way may well damage the next one in the same way. A new range or a
new level does not end after two lines."""
REST = 0.5
"""The cost of the piece of a split line whose other piece is refused, or is counted as damaged."""
RECURRENT = 3.0
MIN_RECURRENCES = 2
"""So much more it costs to take a whole line for damaged for each time that the stream has come to its value before,
after the first so many: damage seldom gives the same value twice in the stream's own layout, another level does."""
NEW_LAYOUT = 8.0
"""The cost of a range that the stream has not shown."""
OTHER_WORDS = 2.0
"""The cost of other words in front of the number: LOW BAT, AUTO. Another number there costs as much as a new layout."""
DROPPED_ZERO = 2.3
"""The cost of a number with a decimal less, of a meter that does not write zeros at the end: one in ten has."""


LEAP = 2
"""The direction after a step: it may go on as a motion does, and hardly turns round at once."""
QUIET = 2.0
"""Values differ by so many times the noise at no cost."""
LOUD = 1.3
"""What each further time costs: an outlier pays it twice, as it comes and as it goes."""

NEW_LEVEL_NOISE = 0.01
"""A level that lines have just stepped to may have so much noise at no cost."""

FASTEST = 1.6
"""A motion changes the value by no more than this factor from line to line; up to `STEP` it costs as much as a step."""
QUIET_DROPPED, LOUD_DROPPED = 1.5, 2.0
"""The same for a number with fewer decimals than others, where a lost digit shows in nothing but the value."""
NEAR = 0.015
"""A line that differs by no more than this from its neighbours on both sides is no false sample, damaged or not."""

MIN_MARGIN = 9.0
"""A line need not wait any more where one explanation costs so much less than the other: 1 in 8,000."""
SAFE_MARGIN = 3.0
"""A line is kept where taking it for damaged costs so much more: a line lost costs less than a false sample."""


class StreamKnowledge(Protocol):
    """What a judgement asks of a stream's history."""

    @property
    def level(self) -> float | None:
        """The newest value, volts."""

    @property
    def level_layout(self) -> NumberLayout | None:
        """How it was written."""

    @property
    def direction(self) -> int:
        """Whether the newest value rose (1) or fell (-1) by more than noise, or did neither (0)."""

    @property
    def interval_s(self) -> float:
        """The time from line to line; 0 while it is not known."""

    @property
    def noise(self) -> float:
        """How much values on a level differ from line to line, as a share of them."""

    @property
    def may_drop_zeros(self) -> bool:
        """Whether the meter perhaps does not write zeros at the end of a fraction."""

    def count_volts(self, layout: NumberLayout) -> float:
        """What one step of the display is worth; a number whose zeros were dropped has the finest.

        Args:
            layout: of a number.
        """

    @property
    def finest(self) -> int:
        """The most decimals that the stream's numbers have."""

    def is_ordinary(self, layout: NumberLayout) -> bool:
        """Whether the stream has ranges in which numbers are written so.

        Args:
            layout: of the numbers.
        """

    def range_cost(self, layout: NumberLayout, volts: float) -> float:
        """What a change to a range costs.

        Args:
            layout: of the numbers in it.
            volts: the value.
        """

    def damage_cost(self, raw: bytes) -> float:
        """What a damaged line costs.

        Args:
            raw: it.
        """

    def recurrences(self, line: StreamLine) -> int:
        """How often the stream has come to the value of a line lately, in its own layout.

        Args:
            line: it.
        """

    @property
    def dropped_zero_cost(self) -> float:
        """What one zero costs that the meter did not write at the end of a fraction."""

    def dropping_cost(self, layout: NumberLayout) -> float:
        """What a number costs that has no more decimals than others.

        Args:
            layout: of the number.
        """

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
            expected: the ranges of values, volts.
            beside: lines beside it whose form it may have.
            exchanged: two digits may stand in the place of one.
        """


@dataclass(frozen=True, slots=True)
class Judgement:
    """The explanation that costs least.

    Args:
        kept: for each line whether it is kept.
        cost: of the explanation.
    """

    kept: tuple[bool, ...]
    cost: float


class JointJudgement:
    """Judges lines in a row.

    Args:
        history: of the stream before them.
        lines: samples in a row.
        refuses_strange: whether a line may be damaged that damage at one place does not explain.
        pieces: the places of lines that may be one piece of a line that was split, while the other is refused, or
            before it.
    """

    def __init__(
        self,
        history: StreamKnowledge,
        lines: Sequence[StreamLine],
        refuses_strange: bool,
        pieces: Collection[int],
    ) -> None:
        self._pieces = pieces
        self._history = history
        self._lines = lines
        self._refuses_strange = refuses_strange
        self._damage: dict[tuple[int, int, int], float] = {}

    def best(self, keep: Sequence[int] = (), drop: Sequence[int] = ()) -> Judgement:
        """The explanation that costs least.

        Args:
            keep: places of lines that are kept in any case.
            drop: places of lines that are damaged in any case.
        """
        count = len(self._lines)
        # For a kept line and a direction of the value there: what all up to it costs, and which lines are kept.
        states: dict[tuple[int, int], tuple[float, tuple[int, ...]]] = {
            (-1, self._history.direction): (0.0, ())
        }
        for place in range(count):
            if place in drop:
                continue
            for (before, direction), (cost, path) in list(states.items()):
                gap = self._gap_cost(before, place, keep)
                if before == place or math.isinf(gap):
                    continue
                step, new_direction = self._step_cost(before, place, direction)
                total = cost + gap + step + self._layout_cost(before, place)
                key = (place, new_direction)
                if key not in states or total < states[key][0]:
                    states[key] = (total, (*path, place))
        ends = [
            (cost + self._gap_cost(last, count, keep), path) for (last, _), (cost, path) in states.items()
        ]
        cost, kept = min(ends)
        return Judgement(tuple(place in kept for place in range(count)), cost)

    def is_piece(self, place: int) -> bool:
        """Whether a line may be one piece of a line that was split.

        Args:
            place: of the line.
        """
        return place in self._pieces

    def _value(self, place: int) -> float | None:
        return self._history.level if place < 0 else self._lines[place].volts

    def _step_cost(self, before: int, place: int, direction: int) -> tuple[float, int]:
        """What the way from one kept value to the next costs, and its direction.

        Args:
            before: the place of the first; -1 for the stream before the lines.
            place: of the second.
            direction: of the value at the first.
        """
        old, new = self._value(before), self._lines[place].volts
        if old is None:
            return 0.0, 0
        counts = 2 * self._history.count_volts(self._lines[place].layout)
        noise_share = self._history.noise
        if before >= 0 and self._history.level is not None and is_step(self._history.level, old):
            noise_share = max(noise_share, NEW_LEVEL_NOISE)
        noise = max(noise_share * max(old, new), counts / QUIET)
        change = abs(math.log(max(new, noise) / max(old, noise)))
        new_direction = 1 if new > old else -1
        most = LEAVE_LEVEL
        if direction and direction != -LEAP * new_direction:
            most = GO_ON_MOVING if new_direction * direction > 0 else TURN_ROUND
            haste = (change - math.log(FASTEST)) / math.log(STEP / FASTEST)
            most += (LEAVE_LEVEL - most) * min(max(haste, 0.0), 1.0)
        quiet, loud = QUIET, LOUD
        if self._history.dropping_cost(self._lines[place].layout):
            quiet, loud = QUIET_DROPPED, LOUD_DROPPED
        noisy = loud * max(abs(new - old) / noise - quiet, 0.0)
        cost = min(noisy, most * min(change / MOTION, 1.0)) + RARER * max(change - math.log(STEP), 0.0)
        if change < MOTION or not noisy:
            return cost, 0
        return cost, new_direction * (LEAP if is_step(old, new) else 1)

    def _layout_cost(self, before: int, place: int) -> float:
        old = self._history.level_layout if before < 0 else self._lines[before].layout
        new = self._lines[place].layout
        if old is None or new == old:
            return 0.0
        # Meters write the zero in front of a point always or never.
        if new.differs_by_size_only(old) and (new.whole_digits == 0) == (old.whole_digits == 0):
            return 0.0
        if new.is_of_range(old._replace(front=new.front), may_drop_zeros=False):
            return OTHER_WORDS if new.front.count(b"0") == old.front.count(b"0") else NEW_LAYOUT
        may_drop = self._history.may_drop_zeros and new.decimals <= self._history.finest
        if may_drop and new._replace(decimals=old.decimals).is_of_range(old, may_drop_zeros=False):
            return self._history.dropping_cost(new)
        return self._history.range_cost(new, self._lines[place].volts)

    def _gap_cost(self, before: int, after: int, keep: Sequence[int]) -> float:
        """What it costs that the lines between two kept ones are damaged.

        Args:
            before: the place of the kept one before them.
            after: of the one after them; the number of lines for none.
            keep: places of lines that are kept in any case.
        """
        gap = range(before + 1, after)
        if any(place in gap for place in keep):
            return math.inf
        total = 0.0
        for place in gap:
            cost = self._damage_cost(place, before, after)
            is_again = place > gap.start and self._are_alike(place - 1, place)
            total += min(cost, ALIKE) if is_again and not self._are_alike(place, after) else cost
        return total

    def _are_alike(self, one: int, other: int) -> bool:
        """Whether two lines are written alike and say the same; so is a line and what has not come yet.

        Args:
            one: the place of the first.
            other: of the second; the number of lines for none.
        """
        if other == len(self._lines):
            return True
        line, later = self._lines[one], self._lines[other]
        return line.layout == later.layout and abs(line.volts - later.volts) <= MOTION * line.volts

    def _damage_cost(self, place: int, before: int, after: int) -> float:
        key = (place, before, after)
        cost = self._damage.get(key)
        if cost is None:
            cost = self._damage[key] = self._new_damage_cost(place, before, after)
        return cost

    def _new_damage_cost(self, place: int, before: int, after: int) -> float:
        line = self._lines[place]
        neighbours = [one for one in (before, after) if one < len(self._lines)]
        known = [value for value in map(self._value, neighbours) if value is not None]
        beside = [self._lines[one] for one in neighbours if one >= 0]
        again = max(self._history.recurrences(line) - MIN_RECURRENCES + 1, 0)
        cost = self._history.damage_cost(line.raw) + RECURRENT * again
        if after < len(self._lines) and self._is_beside(line, known, beside):
            return math.inf
        if place in self._pieces:
            return REST
        ranges = expected_ranges(known, line.layout)
        # A whole line of the stream's layout is damaged only if a zero was dropped from it before.
        dropped = self._history.may_drop_zeros and line.layout == self._history.level_layout
        dropped_cost = self._history.dropped_zero_cost if dropped else 0.0
        if self._history.explains(line, ranges, beside):
            return cost + dropped_cost
        if self._history.explains(line, ranges, beside, exchanged=True):
            return cost + EXCHANGED + dropped_cost
        is_moving = self._is_moving(known)
        span = expected_range(known, line.layout)
        if len(ranges) > 1 and max(known) < MAX_AWAY * min(known):
            if self._history.explains(line, [span], beside):
                return cost + AWAY
        elif is_moving and len(ranges) == 1:
            wider = (span[0] / FASTEST, span[1] * FASTEST)
            if self._history.explains(line, [wider], beside):
                return cost + IN_MOTION
        if not self._refuses_strange:
            return math.inf
        if not is_moving and self._is_flipped(line, known, again):
            return cost + FLIPPED
        layouts = [one.layout for one in beside]
        if before < 0 and self._history.level_layout is not None:
            layouts.append(self._history.level_layout)
        if layouts and all(layout == line.layout for layout in layouts):
            return math.inf  # whole, and no damage explains it: the probe may have lost contact
        is_alone = after < len(self._lines) and line.layout not in layouts and not is_moving
        return (UNEXPLAINED_ALONE if is_alone else UNEXPLAINED) + RECURRENT * again

    def _is_flipped(self, line: StreamLine, known: Sequence[float], again: int) -> bool:
        """Whether a whole line has one other digit than it should have, and stands alone between two that agree.

        Args:
            line: it.
            known: values of the kept lines on both sides, volts.
            again: how often the stream has come to its value before: damage does so seldom.
        """
        if len(known) < 2 or again or not self._history.is_ordinary(line.layout):
            return False
        if is_step(known[0], known[1]) or not all(self._is_no_motion(value, line.volts) for value in known):
            return False
        return one_digit_explains(line.raw, line.reading, expected_range(known, line.layout))

    def _is_no_motion(self, before: float, after: float) -> bool:
        """Whether two values that follow each other are too far apart for a motion of one line.

        Args:
            before: the first, volts.
            after: the second, volts.
        """
        if not 0.0 < self._history.interval_s <= FAST_INTERVAL_S:
            return is_step(before, after)
        return max(before, after) >= FAST_STEP * min(before, after)

    def _is_moving(self, values: Sequence[float]) -> bool:
        """Whether the value moves about some lines.

        Args:
            values: of the kept lines beside them, volts.
        """
        level = self._history.level
        around = [*values, *([] if level is None else [level])]
        if not around:
            return False
        return self._history.direction != 0 or max(around) > (1 + MOTION) * min(around)

    def _is_beside(self, line: StreamLine, values: Sequence[float], beside: Sequence[StreamLine]) -> bool:
        """Whether a line is so near to those on both sides that it is no false sample, damaged or not.

        Args:
            line: it.
            values: of the kept lines on both sides, volts.
            beside: those of them that are judged as well.
        """
        history = self._history
        if not values or not history.is_ordinary(line.layout):
            return False
        if all(abs(line.volts - value) <= NEAR * value for value in values):
            return True
        same = line.layout == history.level_layout and all(one.layout == line.layout for one in beside)
        # Where zeros are dropped, 0.2251 is how 0.251 looks with a doubled digit.
        return (
            same and not history.may_drop_zeros and _is_in(line.volts, [expected_range(values, line.layout)])
        )


def _is_in(volts: float, ranges: Sequence[Range]) -> bool:
    return any(low <= volts <= high for low, high in ranges)


EXPECTED_MARGIN = 0.05
"""A value is to be expected within this share beyond its neighbours: somebody may begin to move."""
EXPECTED_COUNTS = 3
"""The same in counts of the display, near zero."""


def expected_ranges(values: Sequence[float], layout: NumberLayout) -> list[Range]:
    """The ranges of volts in which a line is to be expected: one around its neighbours, more where there are steps.

    Args:
        values: of its neighbours in order, volts.
        layout: of the line.
    """
    if not values:
        return [(0.0, math.inf)]
    levels = [[values[0]]]
    for before, value in pairwise(values):
        if is_step(before, value):
            levels.append([])
        levels[-1].append(value)
    return [expected_range(level, layout) for level in levels]


def expected_range(values: Sequence[float], layout: NumberLayout) -> Range:
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
