"""Opens a span over the blocks in which a level was found, and finds out how the trace came to it."""

from __future__ import annotations

from math import inf

from logger.settling import limits as lim
from logger.settling.level import is_blunt, is_gradual, is_rough
from logger.settling.line_fit import jitter_of, line_through, mean_and_variance
from logger.settling.signal_model import SignalModel
from logger.settling.span import Approach, NoiseTrust, OpenSpan, Rise, Route, SpanStatus
from logger.settling.span_start import blocks_within_reach, reach_sigma_volts
from logger.settling.stationary import is_stationary
from logger.settling.transition import Transition
from logger.settling.transition_classification import Cause, Classification, NewLevel, classify


def open_span(
    model: SignalModel, transition: Transition, before: OpenSpan | None, size: int
) -> tuple[OpenSpan, Cause]:
    """A new span, as far back as its level reaches, and what led to it. The model learns the noise of its window.

    Args:
        model: the noise, the count and the recent blocks.
        transition: what is between the span before and now.
        before: the span before; None when there was none.
        size: number of the latest blocks that are level.
    """
    history = model.history
    window = history.volts[-size:]
    mean, variance = mean_and_variance(window)
    is_steady = is_stationary(window, model.block_s)
    is_loud = not is_steady and _is_loud(model, variance)
    sigma = reach_sigma_volts(model, variance)
    available = history.end - max(transition.earliest_block, transition.disagreed_block, history.first)
    reached = blocks_within_reach(model, history.volts[-max(available, size) :], mean, variance, size)
    index = len(history.volts) - reached
    _learn_noise(model, window, mean, variance)
    values = history.volts[index:]
    start_block = history.first + index
    level = NewLevel(
        volts=sum(values) / len(values),
        u_volts=model.u_level(len(values)),
        start_block=start_block,
        start_s=history.times_s[index],
        known_at_s=history.times_s[-1],
    )
    found = classify(model, transition, before, level)
    trust = NoiseTrust.LOUD if is_loud else NoiseTrust.KNOWN
    if before is not None and before.noise_trust is NoiseTrust.LOUD and not is_loud:
        trust = NoiseTrust.KNOWN if before.status is SpanStatus.EMITTED else NoiseTrust.UNPROVEN
    span = OpenSpan(
        start_block=start_block,
        start_s=level.start_s,
        end_block=history.end,
        end_s=level.known_at_s,
        level_volts=level.volts,
        count=len(values),
        samples=sum(history.counts[index:]),
        known_at_s=level.known_at_s,
        floor_block=start_block,
        taught_block=history.end,
        transition=transition,
        approach=_approach(model, transition, before, level, found, sigma),
        noise_trust=trust,
        is_steady=is_steady,
        by_long_look=size * model.block_s > lim.LONG_LOOK_S,
        held_events=list(found.events),
        undecided_step_s=found.step_s,
    )
    span.take_blocks(start_block, values)
    return span, found.cause


def _is_loud(model: SignalModel, variance: float) -> bool:
    """Whether a window scatters so much that only what comes after it will show whether that is noise.

    Args:
        model: what is known of the noise.
        variance: of its blocks, volts squared.
    """
    usual_volts = lim.LOUDEST * model.noise.sigma_volts if model.noise.is_known else 0.0
    return variance > max(lim.SCATTER_VOLTS, usual_volts) ** 2


def _learn_noise(model: SignalModel, window: list[float], mean_volts: float, variance: float) -> None:
    """Take the window in which a level was found into the model.

    Args:
        model: learns.
        window: volts of its blocks.
        mean_volts: their mean.
        variance: their variance, volts squared.
    """
    if model.is_held(window, mean_volts):
        return
    noise = model.noise
    noise.least_variance = max(lim.MIN_NOISE_VOLTS, model.resolution.count_volts / 2) ** 2
    grown_volts = min(model.louder_at(mean_volts) * model.least_sigma_volts, lim.BREATHING_SHARE * mean_volts)
    jitter, line = jitter_of(window), line_through(window)
    rises = line.scatter**2 < (1.0 - lim.FIRST_RISE_SHARE) * variance
    if not noise.is_known and rises and is_rough(jitter, line.scatter, len(window)):
        # Even a level window may rise a little. Where all else in it is rough, the rise is a drift and no noise,
        # and must not allow more of itself.
        variance = line.scatter**2
    smooth_volts = lim.GROWN_SHARE * mean_volts if model.louder_at(mean_volts) > lim.LOUDER else 0.0
    if is_stationary(window, model.block_s):
        # So long a window shows its noise itself, whatever was learned at another level.
        smooth_volts = inf
    noise.add_window(variance, jitter**2, len(window), grown_volts**2, smooth_volts**2)
    model.noise_level_volts = mean_volts
    model.resolution.renew()


def _approach(
    model: SignalModel,
    transition: Transition,
    before: OpenSpan | None,
    level: NewLevel,
    found: Classification,
    sigma: float,
) -> Approach:
    """How the trace came to a new level.

    Args:
        model: the noise, the meter's rhythm and the recent blocks.
        transition: what is between the span before and now.
        before: the span before; None when there was none.
        level: the new level.
        found: what led to it.
        sigma: standard deviation of one block, volts.
    """
    if before is None or (transition.interruptions and not found.events):
        return Approach(Route.FIRST)
    route = Route.EVENT if found.events else Route.CREEP
    from_volts, to_volts = before.level_volts, level.volts
    if not model.is_raised(to_volts, from_volts, sigma):
        return Approach(route)
    blunt = is_blunt(model, transition.start_block, level.start_block + 1, from_volts, to_volts)
    if found.cause is Cause.MOVED:
        rise = Rise.MOVING
    elif found.cause is Cause.UNCLEAR or is_gradual(model, transition, from_volts, to_volts):
        rise = Rise.GRADUAL
    else:
        rise = Rise.QUICK
    return Approach(route, rise, blunt)
