"""Student's t, chi-square, and Holm's step-down: what tells a difference from chance, once and over many values."""

from __future__ import annotations

from collections.abc import Sequence
from math import erfc, inf, sqrt

SIGNIFICANT_BELOW = 0.05
"""Two-sided significance below which a difference is not put down to chance (the usual 5 %)."""


def student_two_sided(t: float, degrees: float) -> float:
    """Probability of a value of Student's t at least so far from zero, to either side.

    Args:
        t: a difference over its standard uncertainty.
        degrees: degrees of freedom, above zero; those of Welch and Satterthwaite (GUM G.4.1) are no whole number.
    """
    from scipy.special import stdtr  # noqa: PLC0415 - 0.4 s to import, and seldom needed

    return float(2.0 * stdtr(degrees, -abs(t)))


def effective_degrees(parts: Sequence[tuple[float, float]]) -> float:
    """Effective degrees of freedom of a sum of independent parts, after Welch and Satterthwaite (GUM G.4.1).

    Args:
        parts: standard uncertainty and degrees of freedom (infinite where it is exactly known) of each part.

    Returns:
        Degrees of freedom; infinite where no part is uncertain of itself.
    """
    spread = sum(u**4 / degrees for u, degrees in parts)
    return sum(u * u for u, _ in parts) ** 2 / spread if spread else inf


def chi2_upper_tail(chi2: float, degrees: float) -> float:
    """Probability of a chi-square at least as large.

    Args:
        chi2: sum of squares, each over its variance.
        degrees: degrees of freedom, above zero.
    """
    from scipy.special import chdtrc  # noqa: PLC0415 - 0.4 s to import, and seldom needed

    return float(chdtrc(degrees, chi2))


def normal_two_sided(sigmas: float) -> float:
    """Probability of a normal value at least so many standard deviations from its mean, to either side."""
    return erfc(abs(sigmas) / sqrt(2.0))


MIN_SERIES_DEGREES = 4.0
"""The series of `student_quantile` is within 0.1 % from so many degrees of freedom on."""


def student_quantile(normal: float, degrees: float) -> float:
    """The value of Student's t that is as improbable as a given value of the normal distribution.

    The expansion of Fisher and Cornish (Abramowitz and Stegun 26.7.5), so that the window needs no scipy for it.

    Args:
        normal: a quantile of the normal distribution, such as 2 for 95.45 %; at most 2.5.
        degrees: degrees of freedom.

    Raises:
        ValueError: fewer degrees of freedom than the series allows.
    """
    if degrees < MIN_SERIES_DEGREES:
        raise ValueError(f"the series needs {MIN_SERIES_DEGREES:g} degrees of freedom, not {degrees:g}")
    z = normal
    terms = (
        (z**3 + z) / 4,
        (5 * z**5 + 16 * z**3 + 3 * z) / 96,
        (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384,
        (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160,
    )
    return z + sum(term / degrees**power for power, term in enumerate(terms, 1))


def holm_adjusted(significances: Sequence[float]) -> list[float]:
    """Adjust significances so that one false verdict among all of them is as improbable as it is for one alone.

    Step-down of S. Holm (Scandinavian Journal of Statistics 6, 1979, 65): the smallest counts times the number of
    values, the next one times one fewer, and none is smaller than the one before it. It holds for values that depend on
    each other.

    Args:
        significances: probabilities of chance, one for each value.

    Returns:
        The adjusted ones, in the same order; each is at most 1.
    """
    adjusted = [1.0] * len(significances)
    reached = 0.0
    for rank, at in enumerate(sorted(range(len(significances)), key=significances.__getitem__)):
        reached = max(reached, min(1.0, (len(significances) - rank) * significances[at]))
        adjusted[at] = reached
    return adjusted
