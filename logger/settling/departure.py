"""Has the level been left? Tests on a growing still span that need several blocks."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto
from math import sqrt

from logger.settling import limits as lim
from logger.settling.line_fit import best_split, change_of, jitter_of, mean_and_variance, onset_of_step
from logger.settling.noise import SCALES
from logger.settling.signal_model import SignalModel
from logger.settling.span import OpenSpan

TURNS = (4, 4, 4, 2)
"""How often in its length the mean over each scale is looked at."""


class DepartureKind(Enum):
    """How a level was left."""

    SHIFT = auto()
    DRIFT = auto()


@dataclass(frozen=True, slots=True)
class Departure:
    """The level was left. `onset` is the first block off it (shift only); `volts_per_block` the slope (drift only)."""

    kind: DepartureKind
    onset: int = 0
    volts_per_block: float = 0.0


def departure(model: SignalModel, span: OpenSpan) -> Departure | None:
    """Whether the latest blocks show that the span's level was left slowly or by little.

    The means of the latest 4, 16 and 64 blocks are held against the mean of all before them, a few times in the length
    of each; the rise along the span, and along its latest half and quarter, against zero, as the span grows; and, as it
    grows, every division of it in two against none.
    """
    run = span.end_block - span.floor_block
    found = _shift(model, span, run)
    if found is None and run >= span.drift_at:
        found = _drift(model, span, run)
    if found is None and run >= span.jump_at:
        span.jump_at = int(run * 1.2) if run < lim.LONGEST_JUMP_BLOCKS else run + lim.LONGEST_JUMP_BLOCKS // 4
        jump = jump_within(model, span, model.history.end)
        found = None if jump is None else Departure(DepartureKind.SHIFT, onset=jump)
    return found


def _shift(model: SignalModel, span: OpenSpan, run: int) -> Departure | None:
    volts, variances = model.history.volts, model.noise.variances
    for scale in (1, 2, 3):
        size = SCALES[scale]
        if run < 2 * size:
            break
        turn = TURNS[scale] * run // size
        if turn == span.checked[scale]:
            continue
        span.checked[scale] = turn
        recent = sum(volts[-size:]) / size
        others = span.count - size
        difference = recent - (span.level * span.count - recent * size) / others
        square = difference * difference
        if square < lim.SHIFT_VOLTS**2 or square < lim.SHIFT_SIGMAS**2 * variances[scale]:
            continue
        u = sqrt(variances[scale] + model.variance_of_mean(max(others, size)))
        if abs(difference) > max(0.8 * model.resolution.count_volts, lim.SHIFT_SIGMAS * u):
            return Departure(DepartureKind.SHIFT, onset=onset(model, span, 2 * size))
    return None


def _drift(model: SignalModel, span: OpenSpan, run: int) -> Departure | None:
    span.drift_at = int(run * 1.4) if run < 96 else run + 32
    volts = model.history.volts
    longest = min(run, lim.LONGEST_DRIFT_BLOCKS)
    for window in (longest, longest // 2, longest // 4) if longest >= 64 else (longest,):
        change = change_of(volts[-window:])
        if -lim.DRIFT_VOLTS < change < lim.DRIFT_VOLTS:
            continue
        least = max(1.5 * model.resolution.count_volts, lim.DRIFT_SIGMAS * model.u_change(window))
        if abs(change) > least:
            return Departure(DepartureKind.DRIFT, volts_per_block=change / window)
    return None


def jump_within(model: SignalModel, span: OpenSpan, end: int) -> int | None:
    """Block at which the span, before block `end`, changes its level; None when it does not.

    The generalised likelihood ratio of one step against none. The noise is that of the two parts themselves, and its
    autocorrelation that of neighbours, taken as first-order (so that the variance of a mean is (1 + r) / (1 - r) times
    as large) and from so few values with some caution; or what has been learned, where that is more.
    """
    history = model.history
    begin = max(span.floor_block, end - lim.LONGEST_JUMP_BLOCKS, history.first)
    values = history.volts_from(begin, end)
    n = len(values)
    if n < 4 * lim.MIN_PART_BLOCKS:
        return None
    split, gain = best_split(values)
    if not lim.MIN_PART_BLOCKS <= split <= n - lim.MIN_PART_BLOCKS:
        return None
    if gain * n < (max(lim.STEP_VOLTS, 1.2 * model.resolution.count_volts) ** 2) * split * (n - split):
        return None
    variance = (mean_and_variance(values)[1] * (n - 1) - gain) / (n - 2)
    if variance <= 0:
        return begin + split
    correlation = 1 - jitter_of(values) ** 2 / variance + 1.5 / sqrt(n)
    correlation = min(max(correlation, 0.0), lim.MAX_CORRELATION)
    inflation = (1 + correlation) / (1 - correlation)
    spread = max(variance * inflation, model.noise.long_run_variance(n // 2))
    sigmas = lim.JUMP_SIGMAS if span.count < lim.LONGEST_JUMP_BLOCKS else lim.OLD_JUMP_SIGMAS
    return begin + split if gain > sigmas**2 * spread else None


def onset(model: SignalModel, span: OpenSpan, look_back: int = lim.SHIFT_LOOK_BACK) -> int:
    """Block at which the newest blocks left the span's level."""
    history = model.history
    begin = max(span.floor_block, history.end - look_back, history.first)
    recent = history.volts_from(begin)
    index = onset_of_step(recent, span.level)
    # A body starts gently: what already leans the same way belongs to the change.
    sign = 1.0 if recent[-1] > span.level else -1.0
    lean = 1.5 * model.stray_volts
    while index > 1 and sign * (recent[index - 1] - span.level) > lean:
        index -= 1
    return begin + index


def creeps_on(model: SignalModel, span: OpenSpan, before: OpenSpan | None) -> bool:
    """Whether the level goes on changing a little in the same direction: a drift in steps of the meter's count."""
    if before is None or not span.crept or span.end_s - span.start_s > lim.CREEP_S:
        return False
    if before.end_s < span.start_s - lim.CREEP_S:
        return False
    came = span.level - before.level
    goes = max((value - span.level for value in model.history.volts[-2:]), key=abs)
    small = max(2 * lim.STEP_VOLTS, 2.5 * model.resolution.count_volts)
    least = 2 * sqrt(model.variance_of_mean(span.count))
    return least < abs(came) < small and abs(goes) < small and came * goes > 0
