"""The meter's least count, learned from the values it sends."""

from __future__ import annotations

from collections.abc import Iterable
from math import sqrt

from logger.settling import limits as lim


class Resolution:
    """Least count of the meter, from the values themselves: the greatest common divisor of their differences.

    It is learned anew for each settled span, since a meter that changes range changes its count.
    """

    __slots__ = ("_differences", "_divisor_volts", "_last_volts", "count_volts", "digit_volts", "wants_more")

    def __init__(self) -> None:
        self.count_volts = lim.COARSEST_COUNT_VOLTS
        """The count in volts; while all values have been the same, it comes from the digits of that value."""
        self.digit_volts = 0.0
        """What the last digit that the meter sends is worth; 0 where that is not known."""
        self.wants_more = True
        """Whether more values would make the count surer."""
        self._differences = 0
        self._divisor_volts = 0.0
        self._last_volts: float | None = None

    @property
    def coarsest_volts(self) -> float:
        """What a level is rounded to: the count, or the last digit where that is coarser."""
        return max(self.count_volts, self.digit_volts)

    def has_digit(self, digit_volts: float) -> bool:
        """Whether the last digit is worth `digit_volts` already, rounding errors apart."""
        own_volts = self.digit_volts
        return (
            own_volts < lim.SAME_DIGIT_RATIO * digit_volts and digit_volts < lim.SAME_DIGIT_RATIO * own_volts
        )

    def begin_range(self, digit_volts: float) -> None:
        """Go on in a range of which the last digit is worth `digit_volts`: what was learned is of another."""
        self.renew()
        self.digit_volts = digit_volts
        self.count_volts = min(lim.COARSEST_COUNT_VOLTS, max(digit_volts, lim.FINEST_COUNT_VOLTS))
        self._last_volts = None

    def renew(self) -> None:
        """Begin to learn anew; the old count holds until the new one is sure enough."""
        self.wants_more = True
        self._differences = 0
        self._divisor_volts = 0.0

    def add(self, volts: float) -> None:
        """Take in one more value; one that equals the last teaches nothing."""
        last, self._last_volts = self._last_volts, volts
        if last is None and self.digit_volts:
            return
        if last is None:
            digits = repr(volts).partition(".")[2]
            count = 10.0 ** -len(digits) if digits.isdigit() else 0.0
            self.count_volts = min(lim.COARSEST_COUNT_VOLTS, max(count, lim.FINEST_COUNT_VOLTS))
            return
        if volts == last:
            return
        self._divisor_volts = _common_divisor(self._divisor_volts, abs(volts - last))
        self._differences += 1
        if self._differences >= lim.COARSE_COUNT_DIFFERENCES and self._is_plausible(volts):
            self.count_volts = self._divisor_volts
            self.wants_more = self._differences < lim.COUNT_DIFFERENCES
        else:
            self.count_volts = max(min(self.count_volts, self._divisor_volts), lim.FINEST_COUNT_VOLTS)

    def _is_plausible(self, volts: float) -> bool:
        """Whether a value is a multiple of the divisor: two that alternate have one difference, which is no count."""
        divisor_volts = self._divisor_volts
        if divisor_volts <= lim.COARSEST_COUNT_VOLTS:
            return True
        return abs(volts - round(volts / divisor_volts) * divisor_volts) < lim.FINEST_COUNT_VOLTS

    @property
    def is_learned(self) -> bool:
        """Whether enough values differed that the count is the meter's own, and not that of the digits it sends."""
        return self._differences >= lim.COARSE_COUNT_DIFFERENCES


def learned_count_volts(values: Iterable[float]) -> float | None:
    """The meter's least count as these values show it; None where too few of them differ.

    Args:
        values: samples in the order in which they came, V.
    """
    resolution = Resolution()
    for volts in values:
        resolution.add(volts)
        if not resolution.wants_more:
            break
    return resolution.count_volts if resolution.is_learned else None


def _common_divisor(divisor: float, difference: float) -> float:
    """Greatest common divisor of two voltages, at least the finest count; rounding errors are no remainder."""
    finest = lim.FINEST_COUNT_VOLTS
    larger, smaller = (difference, divisor) if difference > divisor else (divisor, difference)
    while smaller > finest / 2:
        larger, smaller = smaller, larger % smaller
        if larger - smaller < finest / 2:
            smaller = 0.0
    return larger if larger > finest else finest


def u_resolution(count_volts: float) -> float:
    """Standard uncertainty from the meter's count: rectangular over half a count either way (GUM 4.3.7)."""
    return count_volts / 2 / sqrt(3)
