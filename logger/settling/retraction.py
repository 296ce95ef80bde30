"""What a level proves to have been in the light of those after it: the top of a movement, a slope, or a level.

A body that moves only ever raises the reading, and then comes back. So a span above the one before it waits (see
`Detector`) until a later level tells whether it was left to where it came from. The same goes for the first span of
all, whose noise nobody knew, and for one that neither a movement nor a step led to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from logger.settling import limits as lim
from logger.settling.classification import is_same_level
from logger.settling.events import Motion
from logger.settling.level import is_blunt
from logger.settling.line_fit import mean_and_variance
from logger.settling.noise import SCALES
from logger.settling.signal_model import SignalModel
from logger.settling.span import OpenSpan


@dataclass(frozen=True, slots=True)
class PendingRetraction:
    """Everything from the span `first` on was no level: a movement, or a drift."""

    first: OpenSpan
    drifted: bool = False


def waiting_before(before: OpenSpan | None) -> list[OpenSpan]:
    """The spans that wait, oldest first; `before` is the newest of them."""
    found: list[OpenSpan] = []
    while before is not None and not before.told:
        found.insert(0, before)
        before = before.earlier
    return found


def first_in_doubt(model: SignalModel, before: OpenSpan | None, span: OpenSpan) -> PendingRetraction | None:
    """Which of the waiting spans before `span` it proves to have been no level, and with it all later ones."""
    waiting = waiting_before(before)
    if not waiting:
        return None
    if waiting[-1].loud and _was_loud(model, waiting[-1], span):
        return PendingRetraction(waiting[-1])
    if len(waiting) == 1 and waiting[0].is_first and _began_moving(model, waiting[0], span):
        return PendingRetraction(waiting[0])
    if _goes_on(waiting[-1], span):
        return PendingRetraction(waiting[-1], drifted=True)
    oldest = waiting[0].earlier
    bases = waiting if oldest is None else [oldest, *waiting]
    for i, base in enumerate(bases[:-1]):
        if _was_movement(model, base, bases[i + 1 :], span):
            return PendingRetraction(bases[i + 1])
    return None


def is_higher(model: SignalModel, before: OpenSpan | None, span: OpenSpan) -> bool:
    """Whether a span's level is above the one before for certain: a body that moves may have made it."""
    return before is not None and span.level > before.level and not is_same_level(model, before, span)


def _began_moving(model: SignalModel, first: OpenSpan, span: OpenSpan) -> bool:
    """Whether the first level of all was a movement that was going on already: higher, short, and not switched."""
    if not is_higher(model, span, first):
        return False
    switched = bool(span.held) and not any(isinstance(event, Motion) for event in span.held)
    length_s = first.end_s - first.start_s
    return not switched and length_s < (lim.BLUNT_S if span.crept else lim.CONFIRM_S)


def _was_loud(model: SignalModel, before: OpenSpan, span: OpenSpan) -> bool:
    """Whether a span found with its noise unknown was far louder than the meter proves to be (F test)."""
    latest = model.history.volts_from(span.start_block)
    variance = mean_and_variance(latest[-max(model.window(lim.STILL_S, len(latest)), 2) :])[1]
    return before.variance > lim.LOUD_RATIO * max(variance, model.noise.least_variance)


def _goes_on(crept: OpenSpan, after: OpenSpan) -> bool:
    """Whether a level that was crept to was left by creeping on in the same direction: a drift."""
    before = crept.earlier
    if before is None or crept.stepped or after.stepped or not (crept.crept and after.crept):
        return False
    return (crept.level - before.level) * (after.level - crept.level) > 0


def _was_movement(model: SignalModel, before: OpenSpan, raised: Sequence[OpenSpan], after: OpenSpan) -> bool:
    """Whether raised levels, left for the one that was before them, were a movement after all.

    Switching has crisp edges and between them a level as quiet as any; a body that is held has not both.
    """
    height = max(span.level for span in raised) - before.level
    u = sqrt(model.u_level(after.count) ** 2 + before.u_volts**2)
    returned = abs(after.level - before.level) < max(lim.RETURN_SHARE * height, lim.DEVIATION_VOLTS, 3 * u)
    if not returned or any(span.level <= before.level for span in raised):
        return False
    length_s = raised[-1].end_s - raised[0].start_s
    if len(raised) > 1:
        return length_s < lim.HUMP_S
    span = raised[0]
    limit_s = lim.BRIEF_S
    if span.blunt or is_blunt(model, span.end_block, after.start_block + 1, span.level, after.level):
        limit_s = lim.BLUNT_S
    if span.gradual:
        limit_s = lim.HUMP_S
    if span.crept and not span.stepped:
        limit_s = lim.CREPT_S
    return length_s < limit_s or is_unquiet(model, span, before.level) or _is_domed(model, span)


def _is_domed(model: SignalModel, span: OpenSpan) -> bool:
    """Whether a span rises and falls: a level does not, the top of a movement does."""
    values = model.history.volts_from(span.start_block, span.end_block)
    n = len(values)
    if n < lim.RESTLESS_BLOCKS:
        return False
    third = n // 3
    middle = sum(values[third : n - third]) / (n - 2 * third)
    ends = (sum(values[:third]) + sum(values[n - third :])) / (2 * third)
    u = sqrt(model.variance_of_mean(n - 2 * third) + model.variance_of_mean(2 * third))
    return middle - ends > max(lim.TILT_VOLTS, lim.DOME_SIGMAS * u)


def is_unquiet(model: SignalModel, span: OpenSpan, before_volts: float) -> bool:
    """Whether a span scatters more than the noise learned elsewhere, block by block or over a few.

    Noise may have grown with the level, from `before_volts`; noise whose neighbours correlate tells its variance later.
    """
    values = model.history.volts_from(span.start_block, span.end_block)
    louder = (
        min(max(span.level / before_volts, 1.0), lim.LOUDEST) ** 2 if before_volts > 0 else lim.LOUDEST**2
    )
    variances = [variance * louder for variance in model.noise.variances]
    inflation = model.noise.inflation(8)
    few = SCALES[1]
    means = [sum(values[i : i + few]) / few for i in range(0, len(values) - few + 1, few)]
    for found, usual in ((values, variances[0]), (means, variances[1])):
        if len(found) < 3:
            continue
        usual = max(usual, lim.LEARNED_SCATTER_VOLTS**2 / 4, (model.resolution.count_volts / 2) ** 2)
        allowed = usual * (1 + lim.UNREST_SIGMAS * sqrt(2 * inflation / (len(found) - 1)))
        if mean_and_variance(found)[1] > allowed:
            return True
    return False
