"""Two nights compared: is the still level of the second one lower or higher, and by how much?

In: two `NightRecord`s. Out: the difference of their mean still levels with its standard uncertainty and degrees of
freedom from the scatter of these nights alone, its significance and the verdict. What meter and reference add is in
`logger.night.night_difference`. How a level wanders is in `level_model`: every shape of its correlation counts by how
well it fits, and both nights probably share one, since it is the same sleeper in the same bed.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import inf, sqrt

import numpy as np

from logger.night.analysis.level_model import (
    CorrelationShapes,
    LevelFit,
    StillMinutes,
    correlation_shapes,
    fit_level,
    still_minutes,
)
from logger.night.analysis.night_record import Floats, NightRecord
from logger.statistics import SIGNIFICANT_BELOW, effective_degrees, student_two_sided

SAME_SHAPE_PRIOR = 0.5
"""Prior probability that both nights share the shape of their correlation. No source."""

MIN_PIECES = 10.0
"""A level that keeps its value for longer than the still time over this has too few independent pieces for their
scatter to be known."""

MAX_SLOW_PROBABILITY = 0.3
"""No verdict where the probability of such a slow level reaches this. At an even chance half of the nights whose level
keeps its value for an hour were still answered, often wrongly; at 0.3 a fifth is, and nights of a level that keeps its
value for 10 min lose no answer (`scripts/bench/night_test.py`)."""


@dataclass(frozen=True, slots=True)
class NightLevel:
    """The mean still level of a night.

    Args:
        volts: mean still level, V.
        u_volts: its standard uncertainty by scatter, V.
        degrees: effective degrees of freedom of `u_volts`.
        independent: False where the level may well wander too slowly for its scatter to be known.
    """

    volts: float
    u_volts: float
    degrees: float
    independent: bool


@dataclass(frozen=True, slots=True)
class NightDifference:
    """The level of the second night minus that of the first.

    Args:
        volts: the difference, V.
        u_volts: its standard uncertainty, V.
        degrees: effective degrees of freedom of `u_volts`.
    """

    volts: float
    u_volts: float
    degrees: float

    @property
    def significance(self) -> float:
        """Two-sided probability of such a difference if the nights were alike (Student's t)."""
        if self.u_volts == 0.0:
            return 0.0 if self.volts else 1.0
        return student_two_sided(self.volts / self.u_volts, self.degrees)

    def widened(self, u_volts: float) -> NightDifference:
        """The same with more uncertainty, whose other parts are exactly known.

        Args:
            u_volts: standard uncertainty of everything together, V.
        """
        others = sqrt(max(u_volts**2 - self.u_volts**2, 0.0))
        degrees = effective_degrees([(self.u_volts, self.degrees), (others, inf)])
        return NightDifference(self.volts, u_volts, degrees)


class NightVerdict(StrEnum):
    """The verdict on the second night, in the words of the command's JSON."""

    LOWER = "lower"
    HIGHER = "higher"
    NOT_DISTINGUISHABLE = "not distinguishable"
    NOT_COMPARABLE = "not comparable"


@dataclass(frozen=True, slots=True)
class NightComparison:
    """The levels of two nights, the earlier one first, and the second minus the first."""

    before: NightLevel
    after: NightLevel
    difference: NightDifference

    @property
    def enough_pieces(self) -> bool:
        """Whether both nights hold enough independent pieces for a verdict."""
        return self.before.independent and self.after.independent

    @property
    def verdict(self) -> NightVerdict:
        """Whether the second night is lower, higher, or cannot be distinguished from the first."""
        if not self.enough_pieces:
            return NightVerdict.NOT_COMPARABLE
        if self.difference.significance >= SIGNIFICANT_BELOW:
            return NightVerdict.NOT_DISTINGUISHABLE
        return NightVerdict.LOWER if self.difference.volts < 0 else NightVerdict.HIGHER


def compare_records(before: NightRecord, after: NightRecord) -> NightComparison | None:
    """Compare the still levels of two nights; None where one of them has too little still time."""
    first, second = still_minutes(before), still_minutes(after)
    if first is None or second is None:
        return None
    return compare_minutes(first, second, correlation_shapes(max(first.still_s, second.still_s)))


def night_level(night: NightRecord) -> NightLevel | None:
    """Compute the mean still level and its uncertainty, autocorrelation counted; None without enough still time."""
    found = still_minutes(night)
    if found is None:
        return None
    shapes = correlation_shapes(found.still_s)
    fit = fit_level(found, shapes)
    return _level(found, shapes, fit, _weights(shapes.log_prior + fit.log_likelihood))


def compare_minutes(first: StillMinutes, second: StillMinutes, shapes: CorrelationShapes) -> NightComparison:
    """Compare two nights of which the still minutes are known.

    Args:
        first: still minutes of the earlier night.
        second: still minutes of the later night.
        shapes: grid of correlation shapes for both.
    """
    fits = fit_level(first, shapes), fit_level(second, shapes)
    posteriors = [shapes.log_prior + fit.log_likelihood for fit in fits]
    joint = posteriors[0] + fits[1].log_likelihood
    odds = _log_sum(joint) - _log_sum(posteriors[0]) - _log_sum(posteriors[1])
    same = SAME_SHAPE_PRIOR / (
        SAME_SHAPE_PRIOR + (1.0 - SAME_SHAPE_PRIOR) * np.exp(-np.clip(odds, -500, 500))
    )
    shared, alone = _weights(joint), [_weights(posterior) for posterior in posteriors]
    levels = [
        _level(minutes, shapes, fit, same * shared + (1.0 - same) * own)
        for minutes, fit, own in zip((first, second), fits, alone, strict=True)
    ]
    together = np.diag(same * shared) + (1.0 - same) * np.outer(*alone)
    variances = list(np.meshgrid(fits[0].variances, fits[1].variances, indexing="ij"))
    u_volts, degrees = _student_scale(together, variances, (fits[0].degrees, fits[1].degrees))
    difference = NightDifference(levels[1].volts - levels[0].volts, u_volts, degrees)
    return NightComparison(levels[0], levels[1], difference)


def _level(minutes: StillMinutes, shapes: CorrelationShapes, fit: LevelFit, weights: Floats) -> NightLevel:
    u_volts, degrees = _student_scale(weights, [fit.variances], (fit.degrees,))
    slow = float(weights[(shapes.times_s > minutes.still_s / MIN_PIECES) & (shapes.shares > 0)].sum())
    return NightLevel(float(weights @ fit.volts), u_volts, degrees, slow < MAX_SLOW_PROBABILITY)


def _student_scale(weights: Floats, variances: list[Floats], degrees: tuple[int, ...]) -> tuple[float, float]:
    """Return standard uncertainty and degrees of freedom of Student's t with the same precision and spread of it.

    Within a shape, degrees of freedom are those of Welch and Satterthwaite. Across shapes, the precision 1/variance
    spreads like chi-squared over its degrees of freedom, whose relative variance is two over them.

    Args:
        weights: probability of each shape, or of each pair of shapes.
        variances: variance that each part of the value has, V², each of the same shape as `weights`.
        degrees: degrees of freedom of each of them.
    """
    total = np.sum(variances, axis=0)
    if float(total.max()) == 0.0:
        return 0.0, float(sum(degrees))
    precision = 1.0 / total
    mean = float((weights * precision).sum())
    relative_variance = max(float((weights * precision**2).sum()) / mean**2 - 1.0, 0.0)
    within = sum(part**2 / d for part, d in zip(variances, degrees, strict=True)) / total**2
    return 1.0 / sqrt(mean), 1.0 / (relative_variance / 2.0 + float((weights * within).sum()))


def _weights(log_weights: Floats) -> Floats:
    weights: Floats = np.exp(log_weights - log_weights.max())
    weights /= weights.sum()
    return weights


def _log_sum(log_weights: Floats) -> float:
    top = float(log_weights.max())
    return top + float(np.log(np.exp(log_weights - top).sum()))
