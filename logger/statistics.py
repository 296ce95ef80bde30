"""Student's t, for comparisons of a few values, and chi-square, for how far readings scatter."""

from __future__ import annotations

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


def chi2_upper_tail(chi2: float, degrees: float) -> float:
    """Probability of a chi-square at least as large.

    Args:
        chi2: sum of squares, each over its variance.
        degrees: degrees of freedom, above zero.
    """
    from scipy.special import chdtrc  # noqa: PLC0415 - 0.4 s to import, and seldom needed

    return float(chdtrc(degrees, chi2))
