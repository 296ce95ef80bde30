"""Where a young span truly starts: a beginning that drifts, or is louder than the rest, does not belong to it."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

from logger.settling import limits as lim
from logger.settling.line_fit import change_of, jitter_of, mean_and_variance
from logger.settling.signal_model import SignalModel
from logger.settling.span import OpenSpan
from logger.settling.span_end import unsure_blocks


def reach_sigma_volts(model: SignalModel, variance: float) -> float:
    """Standard deviation of one block that the reach of a level is reckoned with, in volts.

    Args:
        model: the noise.
        variance: of the blocks in which the level was found, volts squared.
    """
    return max(sqrt(variance), model.noise.sigma_volts, lim.MIN_REACH_SIGMA_VOLTS)


def blocks_within_reach(
    model: SignalModel, values: Sequence[float], level_volts: float, variance: float, size: int
) -> int:
    """Number of the latest blocks that belong to the level of the last ones of them.

    Args:
        model: the noise.
        values: volts of the blocks that may belong to it.
        level_volts: mean of the last `size` ones.
        variance: of these, volts squared.
        size: their number.
    """
    reach_volts = lim.REACH_SIGMAS * reach_sigma_volts(model, variance)
    reached = size
    while reached < len(values) and abs(values[-1 - reached] - level_volts) < reach_volts:
        reached += 1
    return reached


def skip_drifting_start(model: SignalModel, span: OpenSpan) -> bool:
    """Let a young span start later if only its beginning drifted; returns whether it did."""
    history = model.history
    values = history.volts_from(span.start_block)
    half = len(values) // 2
    if not span.is_provisional or half < lim.MIN_PART_BLOCKS:
        return False
    if history.times_s[-1] - history.times_s[-half] < lim.TAIL_STILL_S:
        return False
    early, late = change_of(values[:half]), change_of(values[half:])
    if abs(late) > max(lim.TAIL_SHARE * abs(early), lim.TAIL_VOLTS):
        return False
    start = history.end - len(values) + half
    span.start_at(start, history.time_of(start), values[half:], history.samples_from(start))
    return True


def skip_other_start(model: SignalModel, span: OpenSpan, change: int) -> bool:
    """Let a span start at a change of its level before which there was too little to be a level of its own.

    Args:
        model: the recent blocks.
        span: the growing span.
        change: the first block after the change.

    Returns:
        whether it starts there now.
    """
    history = model.history
    values = history.volts_from(change, span.end_block)
    change_s, end_s = history.time_of(change), history.time_of(span.end_block - 1)
    left_s = history.time_of(change - unsure_blocks(model, span, change)) - span.start_s
    if left_s >= lim.SHORTEST_SPAN_S or end_s - change_s < lim.STILL_S or len(values) < lim.STILL_BLOCKS:
        return False
    span.start_at(change, change_s, values, history.samples_from(change, span.end_block))
    return True


def skip_restless_start(model: SignalModel, span: OpenSpan) -> bool:
    """Let a young span that scatters too much start with the level of its latest blocks; returns whether it does now.

    What was left of the movement to it when the level was found is no unrest of the level.
    """
    history = model.history
    values = history.volts_from(span.start_block)
    size = model.window(lim.RAISED_STILL_S, len(values))
    if not size:
        return False
    level, variance = mean_and_variance(values[-size:])
    start = len(values) - blocks_within_reach(model, values, level, variance, size)
    if start == 0:
        return False
    begin = span.start_block + start
    span.start_at(begin, history.time_of(begin), values[start:], history.samples_from(begin))
    return True


def skip_loud_start(model: SignalModel, span: OpenSpan) -> bool:
    """Let a young span that has become much quieter than it began (F test) start where it did.

    Returns:
        whether it starts later now; the noise has then been learned anew from what is left.
    """
    history = model.history
    values = history.volts_from(span.start_block)
    size = model.window(lim.STILL_S, len(values))
    if not size or size > len(values) - lim.LOUD_START_BLOCKS:
        return False
    level, variance = mean_and_variance(values[-size:])
    variance = max(variance, model.noise.least_variance)
    if mean_and_variance(values)[1] < lim.LOUD_RATIO * variance:
        return False
    reach = max(lim.DEVIATION_SIGMAS * variance**0.5, lim.TILT_VOLTS)
    start = len(values) - size
    while start > 0 and abs(values[start - 1] - level) < reach:
        start -= 1
    if start == 0:
        return False
    kept = values[start:]
    begin = history.end - len(kept)
    span.start_at(begin, history.time_of(begin), kept, history.samples_from(begin))
    span.taught_block = max(span.taught_block, span.start_block)
    model.noise.add_window(mean_and_variance(kept)[1], jitter_of(kept) ** 2, len(kept))
    return True
