"""What a span that has just been left was: a level, part of a drift, a pause in a movement, or part of it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto
from math import sqrt

from logger.settling import limits as lim
from logger.settling.events import Motion
from logger.settling.line_fit import change_of, creeps, mean_and_variance
from logger.settling.signal_model import SignalModel
from logger.settling.span import NoiseTrust, OpenSpan
from logger.settling.span_uncertainty import end_uncertainty


class SpanEndKind(Enum):
    """What a span proves to have been at its end."""

    LEVEL = auto()
    DRIFT = auto()
    """It was one slope with what left it, or one stair of a drift."""
    PAUSE = auto()
    """It crept, and was so short that it was a pause."""
    PART_OF_MOVEMENT = auto()
    """It was a short rest in a movement, or its top."""


@dataclass(frozen=True, slots=True)
class SpanEnd:
    """What a span proves to have been at its end; `volts_per_block` is the slope of a drift, without its sign."""

    kind: SpanEndKind
    volts_per_block: float = 0.0


def end_span(model: SignalModel, span: OpenSpan, start: int) -> int | None:
    """Let a span end before block `start`, without the blocks about it that may belong to either side.

    Args:
        model: the noise and the recent blocks.
        span: the span that was left.
        start: the first block off its level.

    Returns:
        how many blocks before `start` belong to neither side; None when too little of the span would be left, which
        then stays as it is.
    """
    history = model.history
    unsure = unsure_blocks(model, span, start)
    if start - unsure < span.start_block + lim.MIN_SPAN_BLOCKS:
        return None
    late = (start - unsure, span.end_block)
    span.end_before(start - unsure, history.volts_from(*late), history.samples_from(*late))
    span.end_s = history.time_of(span.end_block - 1)
    span.u_volts = model.u_level(span.count)
    end_uncertainty(model, span)
    if span.noise_trust is NoiseTrust.LOUD and span.is_provisional:
        span.variance = mean_and_variance(history.volts_from(span.start_block, span.end_block))[1]
    return unsure


def classify_end(model: SignalModel, span: OpenSpan, start: int, before: OpenSpan | None) -> SpanEnd:
    """Find out what a span that has ended was.

    Args:
        model: the noise and the recent blocks.
        span: the span; `end_span` has set its end, and the step to it is decided as far as can be.
        start: the first block off its level.
        before: the span before it.
    """
    history = model.history
    if start < history.end and _is_stair(model, span, before):
        run = max(history.end - span.start_block, 1)
        return SpanEnd(SpanEndKind.DRIFT, abs(span.level_volts - history.volts[-1]) / run)
    if _was_slope(model, span, start):
        values = history.volts_from(span.start_block)
        return SpanEnd(SpanEndKind.DRIFT, abs(change_of(values)) / len(values))
    if span.has_crept_without_step and span.length_s < lim.PAUSE_S:
        return SpanEnd(SpanEndKind.PAUSE)
    is_short = span.length_s < lim.SHORTEST_SPAN_S
    is_part = _was_part_of_movement(model, span, start) if span.is_provisional else is_short
    return SpanEnd(SpanEndKind.PART_OF_MOVEMENT if is_part else SpanEndKind.LEVEL)


def unsure_blocks(model: SignalModel, span: OpenSpan, start: int) -> int:
    """How many blocks either way the change at `start` may have been, where it does not exceed the noise clearly.

    The likelihood falls by exp(-d^2 / 8) with each block, d being the change in standard deviations.

    Args:
        model: the noise and the recent blocks.
        span: the span that was left.
        start: the first block off its level.
    """
    since = model.history.volts_from(start)
    change = abs(sum(since) / len(since) - span.level_volts) if since else 0.0
    if change <= 0:
        return 0
    unsure = int(lim.UNSURE_BLOCKS * (model.stray_volts / change) ** 2)
    return min(unsure, lim.MAX_UNSURE_BLOCKS, span.count // lim.MAX_UNSURE_DIVISOR, start - span.floor_block)


def _is_stair(model: SignalModel, span: OpenSpan, before: OpenSpan | None) -> bool:
    """Whether the level goes on changing a little in the same direction: a drift in steps of the meter's count.

    Args:
        model: the noise, the count and the recent blocks.
        span: the span that was left.
        before: the span before it.
    """
    if before is None or not span.approach.has_crept or span.length_s > lim.CREEP_S:
        return False
    if before.end_s < span.start_s - lim.CREEP_S:
        return False
    level = span.level_volts
    came = level - before.level_volts
    goes = max((value - level for value in model.history.volts[-lim.CREEP_LATEST_BLOCKS :]), key=abs)
    small = max(lim.CREEP_VOLTS, lim.CREEP_COUNTS * model.resolution.count_volts)
    least = lim.CREEP_SIGMAS * sqrt(model.noise.variance_of_mean(span.count))
    return least < abs(came) < small and abs(goes) < small and came * goes > 0


def _was_slope(model: SignalModel, span: OpenSpan, start: int) -> bool:
    """Whether a young span, with what left it, is one slope rather than a level and something else.

    Args:
        model: the noise and the recent blocks.
        span: the span that was left.
        start: the first block off its level.
    """
    history = model.history
    off = history.end - start
    if not span.is_provisional or off < lim.CREEP_LATEST_BLOCKS:
        return False
    values = history.volts_from(span.start_block)
    own = values[: len(values) - off]
    since = values[len(own) :]
    if len(own) < lim.MIN_LINE_BLOCKS or len(values) < lim.STILL_BLOCKS:
        return False
    late = own[-max(len(own) // 2, lim.MIN_LINE_BLOCKS) :]
    rise, whole = change_of(late), change_of(values)
    if rise * whole <= 0 or abs(rise) < lim.CREEP_SIGMAS * model.u_change(len(late)):
        return False
    # Volts a block from the middle of the late half to the middle of what left it.
    departs = (sum(since) / len(since) - sum(late) / len(late)) / (len(late) + len(since)) * 2
    return abs(rise) / len(late) > lim.TAIL_SHARE * abs(departs) and creeps(values)


def _was_part_of_movement(model: SignalModel, span: OpenSpan, start: int) -> bool:
    """Whether a short span was a pause in a movement, or its top, rather than a level.

    Args:
        model: the recent blocks.
        span: the span that was left.
        start: the first block off its level.
    """
    if span.length_s < (lim.CREEP_S if span.has_crept_without_step else lim.SHORTEST_SPAN_S):
        return True
    since = model.history.volts_from(start)
    upwards = bool(since) and since[-1] > span.level_volts
    moved = any(isinstance(event, Motion) for event in span.held_events)
    if span.approach.is_uncertain_rise and span.length_s < lim.PAUSE_S:
        return True
    return moved and upwards and span.length_s < lim.LULL_S
