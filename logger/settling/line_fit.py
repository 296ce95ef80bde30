"""Small least-squares fits over a window of values. Plain lists of volts in, plain numbers out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from operator import mul, sub


@dataclass(frozen=True, slots=True)
class FittedLine:
    """A straight line through a window."""

    mean: float
    """Mean of the values, volts."""
    change: float
    """Rise from the first to the last value, volts."""
    scatter: float
    """Standard deviation of one value about the line, volts."""
    spread: float
    """Standard deviation of one value about the mean, volts."""


_CENTRED: dict[int, tuple[list[float], float]] = {}


def _centred(n: int) -> tuple[list[float], float]:
    """Positions 0..n-1 less their mean, and the sum of their squares."""
    found = _CENTRED.get(n)
    if found is None:
        middle = (n - 1) / 2
        positions = [i - middle for i in range(n)]
        found = _CENTRED[n] = (positions, n * (n * n - 1) / 12)
    return found


def mean_and_variance(values: Sequence[float]) -> tuple[float, float]:
    """Arithmetic mean and experimental variance of at least two values (GUM 4.2.1 and 4.2.2)."""
    n = len(values)
    mean = sum(values) / n
    return mean, sum([(value - mean) ** 2 for value in values]) / (n - 1)


def line_through(values: Sequence[float]) -> FittedLine:
    """Least-squares line through equally spaced values (at least 3)."""
    n = len(values)
    positions, sum_squares = _centred(n)
    mean = sum(values) / n
    # Sums at C speed: at 10 V the squares are still good to a microvolt.
    total = sum(map(mul, values, values)) - n * mean * mean
    slope = sum(map(mul, values, positions)) / sum_squares
    left = total - slope * slope * sum_squares
    scatter = sqrt(left / (n - 2)) if left > 0 else 0.0
    return FittedLine(mean, slope * (n - 1), scatter, sqrt(total / (n - 1)) if total > 0 else 0.0)


def share_of_parabola(values: Sequence[float]) -> float:
    """Share of the variance of equally spaced values (at least 4) that a least-squares parabola explains; 0 to 1."""
    n = len(values)
    positions, sum_squares = _centred(n)
    mean = sum(values) / n
    total = sum([(value - mean) ** 2 for value in values])
    if total <= 0:
        return 0.0
    # The discrete Legendre (Gram) polynomial of degree 2 is orthogonal to the line and to the mean.
    middle = sum_squares / n
    bends = [position * position - middle for position in positions]
    rise: float = sum(map(mul, values, positions))
    bend: float = sum(map(mul, values, bends))
    by_both: float = rise**2 / sum_squares + bend**2 / sum(map(mul, bends, bends))
    return min(by_both / total, 1.0)


class RunningLine:
    """The least-squares line through values added, and taken away again, one at a time (updates of Welford)."""

    __slots__ = ("_count", "_mean", "_position", "_products", "_squares")

    def __init__(self) -> None:
        self._count = 0
        self._position = 0.0
        self._mean = 0.0
        self._squares = 0.0
        """Sum of squares of the positions about their mean."""
        self._products = 0.0
        """Sum of products of positions and values about their means."""

    def add(self, position: float, value: float) -> None:
        """Add a value in volts at a position."""
        self._count += 1
        off = position - self._position
        self._position += off / self._count
        self._mean += (value - self._mean) / self._count
        self._squares += off * (position - self._position)
        self._products += off * (value - self._mean)

    def remove(self, position: float, value: float) -> None:
        """Take away a value that was added."""
        off, mean = position - self._position, self._mean
        self._count -= 1
        if self._count == 0:
            self._position = self._mean = self._squares = self._products = 0.0
            return
        self._position -= off / self._count
        self._mean -= (value - mean) / self._count
        self._squares -= off * (position - self._position)
        self._products -= (position - self._position) * (value - mean)

    def merge(self, other: RunningLine) -> None:
        """Add all values of another one, at their positions."""
        count = self._count + other._count
        if count == 0:
            return
        share = other._count / count
        apart, higher = other._position - self._position, other._mean - self._mean
        self._squares += other._squares + apart * apart * self._count * share
        self._products += other._products + apart * higher * self._count * share
        self._position += apart * share
        self._mean += higher * share
        self._count = count

    def rise(self, length: float) -> float:
        """Rise of the line in volts over a length in positions; 0 of fewer than 3 values."""
        return self._products / self._squares * length if self._count >= 3 and self._squares > 0 else 0.0


def jitter_of(values: Sequence[float]) -> float:
    """Standard deviation from the differences of neighbours, which a slow movement does not touch."""
    steps = list(map(sub, values[1:], values))
    return sqrt(sum(map(mul, steps, steps)) / (2 * len(steps)))


def change_of(values: Sequence[float]) -> float:
    """Rise of the least-squares line from the first to the last value."""
    n = len(values)
    positions, sum_squares = _centred(n)
    slope: float = sum(map(mul, values, positions)) / sum_squares
    return slope * (n - 1)


def onset_of_step(values: Sequence[float], level: float) -> int:
    """Index from which the values have most likely left `level` for another one.

    The likelihood ratio of "mean `level` all along" against "another mean from i on" is largest where
    (sum of deviations from i on)^2 / (number of them) is.
    """
    best, index, total = -1.0, len(values) - 1, 0.0
    for count, i in enumerate(range(len(values) - 1, -1, -1), 1):
        total += values[i] - level
        gain = total * total / count
        if gain > best:
            best, index = gain, i
    return index


def split_between(values: Sequence[float], before: float, after: float) -> int:
    """Index of the first value that belongs to `after` when each value before it belongs to `before`.

    Args:
        values: volts, in order of time.
        before: the level in volts of the values in front of the split.
        after: the level in volts of those behind it.
    """
    best, index, cost = 0.0, 0, 0.0
    for i, value in enumerate(values):
        cost += (value - before) ** 2 - (value - after) ** 2
        if cost < best:
            best, index = cost, i + 1
    return min(index, len(values) - 1)


def onset_of_ramp(values: Sequence[float], level: float) -> int:
    """Index from which the values most likely leave `level` along a straight line."""
    best, index = -1.0, 0
    weighted = total = squares = 0.0
    for count, i in enumerate(range(len(values) - 1, -1, -1), 1):
        # Positions grow by one for all later values when the onset moves one earlier.
        deviation = values[i] - level
        weighted += total
        squares = count * (count - 1) * (2 * count - 1) / 6
        total += deviation
        if squares > 0:
            gain = weighted * weighted / squares
            if gain > best:
                best, index = gain, i
    return index


def best_split(values: Sequence[float]) -> tuple[int, float]:
    """Index from which another mean holds, by least squares, and by how much the split lowers the sum of squares."""
    n = len(values)
    mean = sum(values) / n
    total = gain = 0.0
    index = n
    for count, value in enumerate(values[:-1], 1):
        total += value - mean
        lowers = total * total * n / (count * (n - count))
        if lowers > gain:
            gain, index = lowers, count
    return index, gain


def creeps(values: Sequence[float]) -> bool:
    """Whether a straight line fits better than one step between two levels."""
    n = len(values)
    if n < 4:
        return False
    change = change_of(values)
    by_line = change * change * n * (n + 1) / (12 * (n - 1))
    return by_line > best_split(values)[1]
