"""Has the trace left its level? Tests on a growing settled span that need several blocks."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto
from math import sqrt

from logger.settling import limits as lim
from logger.settling.line_fit import (
    best_split,
    change_of,
    jitter_of,
    mean_and_variance,
    onset_of_ramp,
    onset_of_step,
)
from logger.settling.signal_model import SignalModel, outlier_limit
from logger.settling.span import OpenSpan


class DepartureKind(Enum):
    """How a level was left."""

    SHIFT = auto()
    """By a lasting change that is small or slow."""
    DRIFT = auto()
    """Along a slope."""
    LONG_TREND = auto()
    """So slowly that only the whole of a long span shows it."""


@dataclass(frozen=True, slots=True)
class Departure:
    """The level was left. `onset` is the first block off it (shift only); `volts_per_block` the slope (drift only)."""

    kind: DepartureKind
    onset: int = 0
    volts_per_block: float = 0.0


def find_departure(model: SignalModel, span: OpenSpan) -> Departure | None:
    """Whether the latest blocks show that the span's level was left slowly or by little.

    The means of the latest 4, 16 and 64 blocks are held against the mean of all before them, a few times in the length
    of each; the rise along the span, and along its latest half and quarter, against zero, as the span grows; and, as it
    grows, every division of it in two against none. The span's schedule says what is due, and is brought up to date.
    """
    run = span.end_block - span.floor_block
    schedule = span.schedule
    found = _find_shift(model, span, run)
    if found is None and run >= schedule.drift_at:
        found = _find_drift(model, span, run)
    if found is None and run >= schedule.jump_at:
        longest = lim.LONGEST_JUMP_BLOCKS
        grown = int(run * lim.JUMP_TEST_GROWTH)
        schedule.jump_at = grown if run < longest else run + longest // lim.JUMP_TEST_DIVISOR
        jump = find_jump(model, span, model.history.end)
        found = None if jump is None else Departure(DepartureKind.SHIFT, onset=jump)
    return found


def _find_shift(model: SignalModel, span: OpenSpan, run: int) -> Departure | None:
    """Whether the mean over one of the scales is off the mean of the rest of the span.

    Args:
        model: the noise, the count and the recent blocks.
        span: the growing span.
        run: number of its blocks that may be looked at.
    """
    volts, variances, turns = model.history.volts, model.noise.variances, span.schedule.turns
    for scale in (1, 2, 3):
        size = lim.SCALES[scale]
        if run < lim.SHIFT_WINDOWS * size:
            break
        turn = lim.SHIFT_TURNS[scale] * run // size
        if turn == turns[scale]:
            continue
        turns[scale] = turn
        recent = sum(volts[-size:]) / size
        others = span.count - size
        difference = recent - (span.level_volts * span.count - recent * size) / others
        square = difference * difference
        if square < lim.SHIFT_VOLTS**2 or square < lim.SHIFT_SIGMAS**2 * variances[scale]:
            continue
        u = sqrt(variances[scale] + model.noise.variance_of_mean(max(others, size)))
        if abs(difference) > max(lim.SHIFT_COUNTS * model.resolution.count_volts, lim.SHIFT_SIGMAS * u):
            return Departure(DepartureKind.SHIFT, onset=find_onset(model, span, lim.SHIFT_WINDOWS * size))
    return None


def _find_drift(model: SignalModel, span: OpenSpan, run: int) -> Departure | None:
    """Whether the span, its latest half or its latest quarter rises or falls.

    Args:
        model: the noise, the count and the recent blocks.
        span: the growing span.
        run: number of its blocks that may be looked at.
    """
    grows = run < lim.DRIFT_TEST_GROWS_TO_BLOCKS
    span.schedule.drift_at = int(run * lim.DRIFT_TEST_GROWTH) if grows else run + lim.DRIFT_TEST_BLOCKS
    volts = model.history.volts
    longest = min(run, lim.LONGEST_DRIFT_BLOCKS)
    in_parts = longest >= lim.DRIFT_PARTS_BLOCKS
    for window in (longest, longest // 2, longest // 4) if in_parts else (longest,):
        change = change_of(volts[-window:])
        if -lim.DRIFT_VOLTS < change < lim.DRIFT_VOLTS:
            continue
        counts = lim.DRIFT_COUNTS * model.resolution.count_volts
        if abs(change) > max(counts, lim.DRIFT_SIGMAS * model.u_change(window)):
            return Departure(DepartureKind.DRIFT, volts_per_block=change / window)
    if span.count > longest and not span.is_provisional:
        rise = abs(span.rise_volts)
        counts = lim.DRIFT_COUNTS * model.resolution.count_volts
        if rise > max(lim.DRIFT_VOLTS, counts, lim.DRIFT_SIGMAS * model.u_change(span.count)):
            return Departure(DepartureKind.LONG_TREND)
    return None


def find_jump(model: SignalModel, span: OpenSpan, end: int) -> int | None:
    """Block at which the span, before block `end`, changes its level; None when it does not.

    The generalised likelihood ratio of one step against none. The noise is that of the two parts themselves, and its
    autocorrelation that of neighbours, taken as first-order (so that the variance of a mean is (1 + r) / (1 - r) times
    as large) and from so few values with some caution; or what has been learned, where that is more.

    Args:
        model: the noise, the count and the recent blocks.
        span: the growing span.
        end: one past the last block to look at.
    """
    history = model.history
    begin = max(span.floor_block, end - lim.LONGEST_JUMP_BLOCKS, history.first)
    values = history.volts_from(begin, end)
    n = len(values)
    if n < lim.JUMP_PARTS * lim.MIN_PART_BLOCKS:
        return None
    split, gain = best_split(values)
    if not lim.MIN_PART_BLOCKS <= split <= n - lim.MIN_PART_BLOCKS:
        return None
    least_volts = max(lim.STEP_VOLTS, lim.JUMP_COUNTS * model.resolution.count_volts)
    if gain * n < least_volts**2 * split * (n - split):
        return None
    variance = (mean_and_variance(values)[1] * (n - 1) - gain) / (n - 2)
    if variance <= 0:
        return begin + split
    correlation = 1 - jitter_of(values) ** 2 / variance + lim.JUMP_CORRELATION_CAUTION / sqrt(n)
    correlation = min(max(correlation, 0.0), lim.MAX_CORRELATION)
    inflation = (1 + correlation) / (1 - correlation)
    spread = max(variance * inflation, model.noise.long_run_variance(n // 2))
    sigmas = lim.JUMP_SIGMAS if span.count < lim.LONGEST_JUMP_BLOCKS else lim.OLD_JUMP_SIGMAS
    return begin + split if gain > sigmas**2 * spread else None


def find_onset(model: SignalModel, span: OpenSpan, look_back: int = lim.SHIFT_LOOK_BACK) -> int:
    """Block at which the newest blocks left the span's level.

    Args:
        model: the noise and the recent blocks.
        span: the span whose level was left.
        look_back: number of blocks that may be off the level.
    """
    history = model.history
    begin = max(span.floor_block, history.end - look_back, history.first)
    recent = history.volts_from(begin)
    level = span.level_volts
    index = onset_of_step(recent, level)
    # A body starts gently: what already leans the same way belongs to the change.
    sign = 1.0 if recent[-1] > level else -1.0
    lean = lim.ONSET_LEAN_SIGMAS * model.stray_volts
    while index > 1 and sign * (recent[index - 1] - level) > lean:
        index -= 1
    return begin + index


def find_drift_onset(model: SignalModel, span: OpenSpan) -> int:
    """Block at which the span's latest blocks left its level along a slope."""
    begin = max(span.floor_block, model.history.first)
    recent = model.history.volts_from(begin)
    head = max(len(recent) // lim.DRIFT_HEAD_DIVISOR, lim.MIN_PART_BLOCKS)
    return begin + onset_of_ramp(recent, sum(recent[:head]) / head)


def blocks_back_on_level(model: SignalModel, span: OpenSpan, first_block: int) -> int:
    """Number of the latest blocks that are back on a span's level after a brief excursion; 0 if it was none.

    Args:
        model: the noise and the recent blocks.
        span: the span that ended just before.
        first_block: where the excursion began.
    """
    recent = model.history.volts_from(first_block)
    if len(recent) < lim.MIN_LINE_BLOCKS:
        return 0
    level = span.level_volts
    stray = max(model.stray_volts, lim.MIN_STRAY_VOLTS)
    back = 0
    while back < len(recent) and abs(recent[-1 - back] - level) < lim.RESUME_SIGMAS * stray:
        back += 1
    if back < lim.RESUME_BACK_BLOCKS or len(recent) - back > lim.EXCURSION_BLOCKS:
        return 0
    if abs(recent[0] - level) > outlier_limit(stray):
        return 0
    if any(abs(value - level) > model.significant(stray) for value in recent[1:]):
        return 0
    return back
