"""How far the levels of a night may be off, with meter and reference, as a reading's budget has it.

In: a night with the context in which it was recorded. Out: the budget of a level of it; its summary, which tells the
time that is clearly above and below the target from the time that is too close to it.
"""

from __future__ import annotations

from math import hypot

from logger.metrology.context import Context
from logger.metrology.setup import Setup
from logger.metrology.uncertainty import Budget
from logger.night.analysis.night_record import NightRecord
from logger.night.analysis.summary import NightSummary, summarise
from logger.night.recorded_nights import Night
from logger.settling.resolution import Resolution, u_resolution


def learned_count_volts(night: NightRecord) -> float:
    """Return the meter's least count, V, learned from the still samples of a night; 0 where they are all the same."""
    still = night.volts[night.still_mask()]
    if not len(still) or still.min() == still.max():
        return 0.0
    resolution = Resolution()
    for volts in still.tolist():
        resolution.add(volts)
        if not resolution.wants_more:
            break
    return resolution.count_volts


def u_count(volts: float, context: Context, count_volts: float) -> float:
    """Standard uncertainty by the display's count, V: the mean of a steady display comes no nearer to the truth.

    Args:
        volts: the level.
        context: in which it was recorded.
        count_volts: least count that the night's samples show, V.
    """
    stated_volts = context.setup.meter.accuracy_at(abs(volts)).resolution_volts
    return u_resolution(max(stated_volts, count_volts))


def budget_in(context: Context, volts: float, u_scatter_volts: float, count_volts: float) -> Budget:
    """The budget of a night's level, as that of a reading.

    Args:
        context: in which it was recorded.
        volts: the level.
        u_scatter_volts: its standard uncertainty by scatter, V.
        count_volts: least count that the night's samples show, V.
    """
    return context.budget(volts, hypot(u_scatter_volts, u_count(volts, context, count_volts)))


def level_budget(night: Night, volts: float, u_scatter_volts: float = 0.0) -> Budget:
    """The budget of a level of a night. Of a night that is in no visit log nothing is known of meter and reference.

    Args:
        night: the night.
        volts: the level.
        u_scatter_volts: its standard uncertainty by scatter, V.
    """
    context = night.context or Context(Setup(), {})
    return budget_in(context, volts, u_scatter_volts, learned_count_volts(night.record))


def summary_of(night: Night, target_volts: float) -> NightSummary:
    """Sum up a night.

    Args:
        night: the night.
        target_volts: the target that the level is compared with, V.
    """
    context = night.context or Context(Setup(), {})
    count_volts = learned_count_volts(night.record)
    return summarise(
        night.record, target_volts, lambda volts: budget_in(context, volts, 0.0, count_volts).expanded_volts
    )
