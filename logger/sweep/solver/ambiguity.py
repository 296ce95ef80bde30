"""Whether the readings leave open what to switch off, or what that gives.

In: the problem and the set that was chosen. Out: True as long as the set may miss the target, a clearly smaller or
lower one may do, or its value is not known well enough at a spot.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.smallest_set import CERTAIN_SHARE, SwitchOffSet
from logger.sweep.solver.switching_problem import TOLERANCE_VOLTS, SwitchingProblem

TOLERANCE_SHARE = 0.05
"""A prediction is known well enough within this share of it, or within the tolerance in volts if that is larger."""

PREDICTION_CERTAIN_SHARE = 0.95
"""Weight of the houses in which the prediction has to be known that well."""

SPARE_CHOICES = 1
"""A set that is larger than the best one by no more than this is small enough."""


def tolerance_volts(volts: NDArray[np.float64] | float) -> NDArray[np.float64]:
    """How far a value may be from its prediction, V, of the same shape."""
    return np.maximum(TOLERANCE_VOLTS, TOLERANCE_SHARE * np.asarray(volts, np.float64))


def is_undecided(problem: SwitchingProblem, chosen: SwitchOffSet) -> bool:
    """Whether further readings are needed before the chosen set is an answer."""
    weights, target_volts, enumerated = problem.weights, problem.target_volts, chosen.enumerated
    for values, mean in zip(chosen.values, chosen.means, strict=True):
        is_off = np.abs(values - mean) > tolerance_volts(mean)
        if float(weights[is_off].sum()) > 1 - PREDICTION_CERTAIN_SHARE:
            return True
    worst = chosen.values.max(axis=0)
    if not chosen.meets_target:
        better = (enumerated.best_volts <= target_volts) | (
            enumerated.best_volts < worst - tolerance_volts(worst)
        )
        return float(weights[better].sum()) > 1 - CERTAIN_SHARE
    if float(problem.certainty(worst)) < CERTAIN_SHARE:
        return True
    best_count = enumerated.sets[enumerated.best_in_house].sum(axis=1)
    better = (best_count < chosen.size - SPARE_CHOICES) & (enumerated.best_volts <= target_volts)
    return float(weights[better].sum()) > 1 - CERTAIN_SHARE
