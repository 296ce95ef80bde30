"""Which spans prove, in the light of those after them, to have been no level: the top of a movement, or a slope.

A body that moves only ever raises the reading, and then comes back. So a span above the one before it waits (see
`PreviousSpans`) until a later level shows whether it was left to where it came from. The same goes for the first span
of all, whose noise nobody knew, and for one that neither a movement nor a step led to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from logger.settling import limits as lim
from logger.settling.events import Motion
from logger.settling.level import is_blunt
from logger.settling.line_fit import mean_and_variance
from logger.settling.signal_model import SignalModel
from logger.settling.span import NoiseTrust, OpenSpan, Rise, Route, SpanStatus
from logger.settling.transition_classification import is_same_level


@dataclass(frozen=True, slots=True)
class Retraction:
    """Everything from the span `first` on was no level: a movement, or a drift."""

    first: OpenSpan
    drifted: bool = False


def find_retraction(model: SignalModel, previous: Sequence[OpenSpan], span: OpenSpan) -> Retraction | None:
    """Which of the waiting spans before `span` it proves to have been no level, and with it all later ones.

    Args:
        model: the noise and the recent blocks.
        previous: the spans before, oldest first; the first may be final, the others wait.
        span: the latest span.
    """
    waiting = [one for one in previous if one.status is not SpanStatus.EMITTED]
    if not waiting:
        return None
    newest, oldest = waiting[-1], waiting[0]
    if newest.noise_trust is NoiseTrust.LOUD and _was_loud(model, newest, span):
        return Retraction(newest)
    is_first = len(waiting) == 1 and oldest.approach.route is Route.FIRST
    if is_first and _began_moving(model, oldest, span):
        return Retraction(oldest)
    if len(previous) > 1 and _goes_on(previous[-2], newest, span):
        return Retraction(newest, drifted=True)
    for i, base in enumerate(previous[:-1]):
        if _was_movement(model, base, previous[i + 1 :], span):
            return Retraction(previous[i + 1])
    return None


def is_higher(model: SignalModel, before: OpenSpan | None, span: OpenSpan) -> bool:
    """Whether a span's level is above the one before for certain: a body that moves may have made it.

    Args:
        model: the noise and the count.
        before: the span before.
        span: the span in question.
    """
    return (
        before is not None
        and span.level_volts > before.level_volts
        and not is_same_level(model, before, span)
    )


def confirm_after_s(model: SignalModel, before: OpenSpan | None, span: OpenSpan) -> float:
    """How long a span must last, in seconds, to be kept whatever comes.

    Args:
        model: the noise and the count.
        before: the span before.
        span: the span in question.
    """
    if span.noise_trust is NoiseTrust.LOUD:
        return lim.LOUD_CONFIRM_S
    if span.has_crept_without_step:
        return lim.CREPT_S
    if span.approach.route is Route.FIRST:
        return lim.FIRST_CONFIRM_S
    return lim.HIGHER_S if is_higher(model, before, span) else lim.CONFIRM_S


def _began_moving(model: SignalModel, first: OpenSpan, span: OpenSpan) -> bool:
    """Whether the first level of all was a movement that was going on already: higher, short, and not switched.

    Args:
        model: the noise and the count.
        first: the first span.
        span: the span after it.
    """
    if not is_higher(model, span, first):
        return False
    switched = bool(span.held_events) and not any(isinstance(event, Motion) for event in span.held_events)
    limit_s = lim.FIRST_CONFIRM_S if span.approach.has_crept else lim.CONFIRM_S
    return not switched and first.length_s < limit_s


def _was_loud(model: SignalModel, before: OpenSpan, span: OpenSpan) -> bool:
    """Whether a span found with its noise unknown was far louder than the meter proves to be (F test).

    Args:
        model: the noise and the recent blocks.
        before: the span found so.
        span: the span after it.
    """
    latest = model.history.volts_from(span.start_block)
    variance = mean_and_variance(latest[-max(model.window(lim.STILL_S, len(latest)), 2) :])[1]
    allowed = lim.LOUD_RATIO * max(variance, model.noise.least_variance)
    if before.level_volts > span.level_volts > 0:
        # What modulates a voltage grows with it.
        grown = allowed * (before.level_volts / span.level_volts) ** 2
        allowed = max(allowed, min(grown, (lim.BREATHING_SHARE * before.level_volts) ** 2))
    return before.variance > allowed


def _goes_on(before: OpenSpan, crept: OpenSpan, after: OpenSpan) -> bool:
    """Whether a level that was crept to was left by creeping on in the same direction: a drift.

    Args:
        before: the span before.
        crept: the span that may have been crept to.
        after: the span after it.
    """
    if not (crept.has_crept_without_step and after.has_crept_without_step):
        return False
    came = crept.level_volts - before.level_volts
    return came * (after.level_volts - crept.level_volts) > 0


def _was_movement(model: SignalModel, before: OpenSpan, raised: Sequence[OpenSpan], after: OpenSpan) -> bool:
    """Whether raised levels, left for the one that was before them, were a movement after all.

    Switching has crisp edges and between them a level as quiet as any; a body that is held has not both.

    Args:
        model: the noise and the recent blocks.
        before: the span before them.
        raised: the spans that may have been a movement, oldest first.
        after: the span after them.
    """
    height = max(span.level_volts for span in raised) - before.level_volts
    u = sqrt(model.u_level(after.count) ** 2 + before.u_volts**2)
    near = max(lim.RETURN_SHARE * height, lim.DEVIATION_VOLTS, lim.RETURN_SIGMAS * u)
    returned = abs(after.level_volts - before.level_volts) < near
    if not returned or any(span.level_volts < before.level_volts + lim.DEVIATION_VOLTS for span in raised):
        return False
    length_s = raised[-1].end_s - raised[0].start_s
    if len(raised) > 1:
        return length_s < lim.HUMP_S
    span = raised[0]
    if length_s < _movement_up_to_s(model, span, after):
        return True
    return scatters_more_than_noise(model, span, before.level_volts) or _is_domed(model, span, before)


def _movement_up_to_s(model: SignalModel, span: OpenSpan, after: OpenSpan) -> float:
    """How short, in seconds, a raised level that was left for the one before must be to have been a movement.

    Args:
        model: the meter's rhythm and the recent blocks.
        span: the raised span.
        after: the span after it.
    """
    if span.has_crept_without_step:
        return lim.CREPT_S
    if span.approach.rise is Rise.GRADUAL:
        return lim.HUMP_S
    if span.approach.is_blunt:
        return lim.BLUNT_S
    ends_blunt = is_blunt(model, span.end_block, after.start_block + 1, span.level_volts, after.level_volts)
    return lim.BLUNT_S if ends_blunt else lim.BRIEF_S


def _is_domed(model: SignalModel, span: OpenSpan, before: OpenSpan) -> bool:
    """Whether a span rises and falls: a level does not, the top of a movement does.

    Args:
        model: the noise and the recent blocks.
        span: the span in question.
        before: the span before it, at which the noise may have been less.
    """
    values = model.history.volts_from(span.start_block, span.end_block)
    n = len(values)
    if n < lim.UNREST_BLOCKS:
        return False
    third = n // 3
    middle = sum(values[third : n - third]) / (n - 2 * third)
    ends = (sum(values[:third]) + sum(values[n - third :])) / (2 * third)
    variance_of_mean = model.noise.variance_of_mean
    louder = model.louder_than_at(before.level_volts, span.level_volts)
    u = louder * sqrt(variance_of_mean(n - 2 * third) + variance_of_mean(2 * third))
    return middle - ends > max(lim.TILT_VOLTS, lim.DOME_SIGMAS * u)


def scatters_more_than_noise(model: SignalModel, span: OpenSpan, before_volts: float) -> bool:
    """Whether a span scatters more than the noise learned elsewhere, block by block or over a few.

    Noise may have grown with the level, from `before_volts`; noise whose neighbours correlate shows its variance later.

    Args:
        model: the noise, the count and the recent blocks.
        span: the span in question.
        before_volts: the level before it.
    """
    values = model.history.volts_from(span.start_block, span.end_block)
    louder = model.louder_than_at(before_volts, span.level_volts) if before_volts > 0 else lim.LOUDEST
    variances = [
        max(variance, model.hidden_volts**2 / blocks)
        * louder**2  # digits that stood still may have hidden so much
        for variance, blocks in zip(model.noise.variances, lim.SCALES, strict=True)
    ]
    inflation = model.noise.inflation(lim.INFLATION_BLOCKS)
    few = lim.SCALES[1]
    means = [sum(values[i : i + few]) / few for i in range(0, len(values) - few + 1, few)]
    least = max(lim.MIN_UNREST_VOLTS**2, (model.resolution.count_volts / 2) ** 2)
    for found, learned in ((values, variances[0]), (means, variances[1])):
        if len(found) < lim.MIN_LINE_BLOCKS:
            continue
        allowed = max(learned, least) * (1 + lim.UNREST_SIGMAS * sqrt(2 * inflation / (len(found) - 1)))
        if mean_and_variance(found)[1] > allowed:
            return True
    return False
