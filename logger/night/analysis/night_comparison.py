"""Two nights compared: is the still level of the second one lower or higher, and by how much?

In: two `NightRecord`s. Out: the difference of their mean still levels with its standard uncertainty, its significance
and the verdict. Neighbouring samples are not independent, and neither are neighbouring minutes of a sleeper's posture:
the still time is cut into batches, as long as they have to be until neighbouring batch means are no longer correlated
(batch means; lag-1 autocorrelation as in the NIST/SEMATECH e-Handbook 1.3.5.12), and only these means count as values
(Welch's test).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import sqrt

import numpy as np

from logger.night.analysis.night_record import Floats, NightRecord
from logger.statistics import SIGNIFICANT_BELOW, student_two_sided

MIN_BATCHES = 6
"""With fewer batches than this their scatter is too uncertain."""

FIRST_BATCH_S = 60.0
BATCH_GROWTH = 1.5

INDEPENDENT_BELOW = 0.2
"""Batch means whose lag-1 autocorrelation is at most this count as independent. No source."""


@dataclass(frozen=True, slots=True)
class NightLevel:
    """The mean still level of a night.

    Args:
        volts: mean of the batch means, V.
        u_volts: standard uncertainty of the mean by the scatter of the batches, V.
        batches: number of batches.
        batch_s: length of a batch, s.
        independent: False where even the longest batches are correlated, so that `u_volts` is too small.
    """

    volts: float
    u_volts: float
    batches: int
    batch_s: float
    independent: bool


@dataclass(frozen=True, slots=True)
class NightDifference:
    """The level of the second night minus that of the first.

    Args:
        volts: the difference, V.
        u_volts: its standard uncertainty, V.
        significance: two-sided probability of such a difference if the nights were alike (Welch).
    """

    volts: float
    u_volts: float
    significance: float


class NightVerdict(StrEnum):
    """The verdict on the second night, in the words of the command's JSON."""

    LOWER = "lower"
    HIGHER = "higher"
    NOT_DISTINGUISHABLE = "not distinguishable"


@dataclass(frozen=True, slots=True)
class NightComparison:
    """The levels of two nights, the earlier one first, and the second minus the first."""

    before: NightLevel
    after: NightLevel
    difference: NightDifference

    @property
    def verdict(self) -> NightVerdict:
        """Whether the second night is lower, higher, or cannot be distinguished from the first."""
        if self.difference.significance >= SIGNIFICANT_BELOW:
            return NightVerdict.NOT_DISTINGUISHABLE
        return NightVerdict.LOWER if self.difference.volts < 0 else NightVerdict.HIGHER


def compare_records(before: NightRecord, after: NightRecord) -> NightComparison | None:
    """Compare the still levels of two nights; None where one of them has too little still time."""
    first, second = night_level(before), night_level(after)
    if first is None or second is None:
        return None
    return NightComparison(first, second, level_difference(first, second))


def autocorrelation(values: Floats) -> float:
    """Compute the lag-1 autocorrelation of values in order of time, shape (n,); 0 where they are all the same."""
    deviations = values - values.mean()
    total = float(deviations @ deviations)
    return float(deviations[1:] @ deviations[:-1]) / total if total > 0 else 0.0


def night_level(night: NightRecord) -> NightLevel | None:
    """Compute the mean still level and its uncertainty, autocorrelation counted; None without enough still time."""
    still = night.still_mask()
    volts, durations_s = night.volts[still], night.durations_s()[still]
    length_s = float(durations_s.sum())
    if length_s < MIN_BATCHES * FIRST_BATCH_S:
        return None
    spent_s = np.cumsum(durations_s)
    best: NightLevel | None = None
    batch_s = FIRST_BATCH_S
    while length_s / batch_s >= MIN_BATCHES:
        means = _batch_means(volts, spent_s, int(length_s / batch_s))
        u_volts = float(means.std(ddof=1)) / sqrt(len(means))
        independent = abs(autocorrelation(means)) <= INDEPENDENT_BELOW
        best = NightLevel(float(means.mean()), u_volts, len(means), batch_s, independent)
        if independent:
            break
        batch_s *= BATCH_GROWTH
    return best


def _batch_means(volts: Floats, spent_s: Floats, count: int) -> Floats:
    """Mean of each batch that holds a sample, V.

    Args:
        volts: of the still samples, shape (n,).
        spent_s: still time up to the end of each sample, shape (n,).
        count: number of batches.
    """
    which = np.minimum((spent_s / spent_s[-1] * count).astype(np.int64), count - 1)
    sums, sizes = np.bincount(which, volts, count), np.bincount(which, minlength=count)
    means: Floats = sums[sizes > 0] / sizes[sizes > 0]
    return means


def level_difference(first: NightLevel, second: NightLevel) -> NightDifference:
    """Subtract the first night's level from the second one's (Welch's test over the batches)."""
    variances = (first.u_volts**2, second.u_volts**2)
    u_volts = sqrt(sum(variances))
    volts = second.volts - first.volts
    if u_volts == 0.0:
        return NightDifference(volts, 0.0, 0.0 if volts else 1.0)
    # Welch-Satterthwaite (GUM G.4.1)
    degrees = u_volts**4 / sum(
        variance**2 / (level.batches - 1) for variance, level in zip(variances, (first, second), strict=True)
    )
    return NightDifference(volts, u_volts, student_two_sided(volts / u_volts, degrees))
