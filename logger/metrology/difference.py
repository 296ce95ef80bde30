"""The difference of two readings of one spot, with everything that is uncertain about it: one rule for all of them.

Within one visit it is on - off, between two visits it is after - before. Each value has its own posture. What the
meter's data sheet allows as a share of the reading (its gain) is the same error in both only where meter, range and
calibration are the same; then it acts on the difference. Elsewhere each value has its own.
"""

from __future__ import annotations

from dataclasses import dataclass

from logger.meter.description import Accuracy
from logger.metrology.context import Context, shared_range
from logger.metrology.posture import Repeatability, with_posture
from logger.metrology.setup import UNKNOWN_METER
from logger.metrology.uncertainty import Budget, difference_budget, independent_difference_budget


@dataclass(frozen=True, slots=True)
class Term:
    """One of the two values.

    Args:
        budget: the value with its own budget.
        context: in which it was read: meter, range, calibration.
        repeatability: of the posture in its visit.
    """

    budget: Budget
    context: Context
    repeatability: Repeatability


def difference(one: Term, other: Term, labels: tuple[str, str], *, same_visit: bool) -> Budget:
    """One minus other, with its own budget.

    Args:
        one: the value from which is subtracted.
        other: the value that is subtracted.
        labels: what the two are called in the names of the components.
        same_visit: both were read in one visit.
    """
    first, second = (with_posture(term.budget, term.repeatability) for term in (one, other))
    accuracy = shared_gain(one.context, other.context, (first.volts, second.volts), same_visit=same_visit)
    if accuracy is None:
        return independent_difference_budget(first, second, labels)
    return difference_budget(first, second, accuracy, labels)


def shared_gain(
    one: Context, other: Context, volts: tuple[float, float], *, same_visit: bool
) -> Accuracy | None:
    """The range whose gain is one error of both values; None where each has its own.

    Nobody calibrates a meter during a visit. Between two visits it may have been adjusted: only the same date of
    calibration, which both state, says that it was not. A value below what the range is specified for has limits of its
    own.

    Args:
        one: the context of the first value.
        other: the context of the second value.
        volts: the two values, V.
        same_visit: both were read in one visit.
    """
    meter = one.setup.meter
    same_state = same_visit or (meter != UNKNOWN_METER and bool(meter.calibrated_on))
    accuracy = shared_range(one, other, volts) if same_state else None
    if accuracy is None or not all(accuracy.specifies(abs(value)) for value in volts):
        return None
    return accuracy
