"""Do the latest lines agree on one level? Not where values take turns, and not where too many lines are refused.

A mean is no level when no sample is near it: two meters at one port, or a display that shows two functions in turn,
give a mean that never existed, and averaging to blocks hides it. So the samples themselves are looked at. They are
divided at their widest gaps, and each division is measured by Ashman's D (Ashman, Bird, Zepf 1994, Astron. J. 108,
2348): the distance of two means over the root mean square of the two standard deviations.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise
from math import sqrt

from logger.settling import limits as lim
from logger.settling.events import Disagreement, State
from logger.settling.line_fit import mean_and_variance
from logger.settling.signal_model import SignalModel


def find_disagreement(
    model: SignalModel, blocks: int, available: int, before: Disagreement | None = None
) -> Disagreement | None:
    """Why the latest blocks are no level; None where their lines agree.

    Args:
        model: the count, the meter's rhythm and the recent blocks and samples.
        blocks: number of the latest blocks that would be the level, or the end of one.
        available: number of blocks since the level before; of a slow meter more than `blocks` are looked at.
        before: what was found before: values that took turns until now must have stopped for a while.
    """
    history = model.history
    share = history.refused_share(
        model.window(lim.REFUSED_WINDOW_S, len(history.volts)) or len(history.volts)
    )
    if share > lim.MAX_REFUSED_SHARE:
        return Disagreement(State.REFUSED, refused_share=share)
    least = lim.MIN_ALTERNATION_BLOCKS if before is None else lim.ALTERNATION_BLOCKS
    looked_at = min(max(blocks, least), available)
    samples = history.latest_samples(looked_at)
    return _alternation(model, samples, lim.MIN_VISITS)


def find_alternation(model: SignalModel, available: int) -> Disagreement | None:
    """Whether values take turns in a trace that is not level anyway; more evidence is asked for than to refuse a level.

    Values that stay for some lines each take turns more slowly, so longer stretches are looked at as well.

    Args:
        model: the count, the meter's rhythm and the recent blocks and samples.
        available: number of blocks since the last level.
    """
    for blocks in lim.SLOW_ALTERNATION_BLOCKS:
        samples = model.history.latest_samples(min(available, blocks))
        found = _alternation(model, samples, lim.SURE_VISITS)
        if found is not None and found.is_sure:
            return found
        if available <= blocks:
            break
    return None


def _alternation(model: SignalModel, samples: Sequence[float], min_visits: int) -> Disagreement | None:
    """That values take turns, and whether noise alone may look so; None where the samples may have one level."""
    length_s, digit_volts = len(samples) * model.sample_s, model.resolution.digit_volts
    values = find_alternating_values(samples, length_s, min_visits, digit_volts)
    if not values:
        return None
    count = len(samples)
    if count >= lim.SURE_ALTERNATION_SAMPLES:
        least, of_few = lim.SURE_ALTERNATION_D
        sure = find_alternating_values(
            samples, length_s, lim.SURE_VISITS, digit_volts, least + of_few / count
        )
        if sure:
            return Disagreement(State.ALTERNATING, sure)
    return Disagreement(State.ALTERNATING, values, is_sure=False)


def find_alternating_values(
    samples: Sequence[float],
    length_s: float,
    min_visits: int,
    digit_volts: float = 0.0,
    least_d: float = lim.ALTERNATION_D,
) -> tuple[float, ...]:
    """The values among which samples go to and fro, each as it was sent; empty where they may have one level.

    Args:
        samples: volts, in the order in which they came.
        length_s: the time that they took.
        min_visits: how often the samples come to each of the values, at least.
        digit_volts: what the last digit of a sample is worth; 0 where that is not known.
        least_d: Ashman's D of neighbouring groups, at least.
    """
    if len(samples) < lim.MIN_ALTERNATION_SAMPLES:
        return ()
    ascending = sorted(samples)
    if ascending[-1] - ascending[0] <= lim.STEP_VOLTS:
        return ()
    gaps = [above - below for below, above in pairwise(ascending)]
    if max(gaps) <= lim.STEP_VOLTS:
        return ()
    least_volts = _least_gap_volts(ascending, digit_volts)
    by_width = sorted(range(len(gaps)), key=gaps.__getitem__, reverse=True)[: lim.MAX_ALTERNATING_VALUES - 1]
    values: tuple[float, ...] = ()
    for divisions in range(1, len(by_width) + 1):
        if gaps[by_width[divisions - 1]] <= least_volts:
            break
        bounds = [0, *sorted(i + 1 for i in by_width[:divisions]), len(ascending)]
        groups = [ascending[start:end] for start, end in pairwise(bounds)]
        if values:
            # They take turns whatever follows: a finer division only shows which values were sent.
            if min(map(len, groups)) > 1 and _are_apart(groups, least_d):
                values = _middles(groups)
            continue
        if min(map(len, groups)) < min_visits:
            continue
        if _are_apart(groups, least_d) and _take_turns(samples, groups, length_s, min_visits):
            values = _middles(groups)
    return values


def _middles(groups: Sequence[Sequence[float]]) -> tuple[float, ...]:
    """The middle sample of each group: unlike its mean it was sent."""
    return tuple(group[(len(group) - 1) // 2] for group in groups)


def _least_gap_volts(ascending: Sequence[float], digit_volts: float) -> float:
    """The least gap between two values that is none of neighbouring counts, and worth refusing a level for."""
    some = ascending[:: max(len(ascending) // lim.MIN_ALTERNATION_SAMPLES, 1)]
    # The digits show the count; the differences do not, where two values alternate without noise.
    decimals = max(len(repr(round(value, lim.MAX_DECIMALS)).partition(".")[2]) for value in some)
    level = abs(sum(ascending) / len(ascending))
    counts = lim.NEIGHBOURING_GAP_COUNTS * (digit_volts or 10.0**-decimals)
    return max(lim.STEP_VOLTS, lim.ALTERNATION_SHARE * level, counts)


def _are_apart(groups: Sequence[Sequence[float]], least_d: float) -> bool:
    """Whether each group of samples is clearly apart from the next (Ashman's D)."""
    moments = [mean_and_variance(group) for group in groups]
    return all(
        high - low >= least_d * sqrt((low_variance + high_variance) / 2)
        for (low, low_variance), (high, high_variance) in pairwise(moments)
    )


def _take_turns(
    samples: Sequence[float], groups: Sequence[Sequence[float]], length_s: float, min_visits: int
) -> bool:
    """Whether the samples come to each group again and again, and not as somebody breathes.

    Args:
        samples: volts, in the order in which they came.
        groups: the same, ascending and divided.
        length_s: the time that they took.
        min_visits: how often they come to each, at least.
    """
    tops = [group[-1] for group in groups[:-1]]
    visits = [0] * len(groups)
    for group, _ in groupby(samples, key=lambda value: sum(value > top for top in tops)):
        visits[group] += 1
    rarest = min(visits)
    if rarest < min_visits:
        return False
    if length_s / rarest < lim.FASTEST_BREATH_S or rarest >= lim.SURE_VISITS:
        return True
    apart = min(above[0] - below[-1] for below, above in pairwise(groups))
    return apart > lim.SLOW_ALTERNATION_SHARE * abs(sum(samples) / len(samples))
