"""Is the trace level now? Looks at the latest blocks while nothing is settled."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, inf, sqrt

from logger.settling import limits as lim
from logger.settling.events import State
from logger.settling.line_fit import jitter_of, line_through
from logger.settling.signal_model import SignalModel
from logger.settling.span import OpenSpan, Transition


def find_level(model: SignalModel, transition: Transition, before: OpenSpan | None) -> int | State:
    """Size in blocks of the latest window that is level, or the state that the trace is in instead.

    Args:
        transition: what has been going on since the last level; its drift is forgotten when the trace jumps.
        before: the last level, if the trace has had one.
    """
    history = model.history
    end = history.end
    elapsed_s = history.times_s[-1] - transition.start_s
    if end % 2 and elapsed_s > lim.RESTLESS_S:
        # Who has waited so long does not mind another block.
        return transition.shown
    if end < transition.unquiet_until and end % 4:
        transition.shown = _as_shown(transition, State.CHANGING, elapsed_s)
        return transition.shown
    available = end - max(transition.barrier, history.first)
    found = _look(model, transition, before, available, elapsed_s)
    if isinstance(found, State):
        transition.shown = found = _as_shown(transition, found, elapsed_s)
    return found


def _look(
    model: SignalModel, transition: Transition, before: OpenSpan | None, available: int, elapsed_s: float
) -> int | State:
    history = model.history
    if history.end % 4 == 0:
        transition.slopes = _is_sloping(model, available)
    if history.end < transition.unquiet_until:
        return State.CHANGING
    shortest = max(lim.STILL_BLOCKS, int(lim.STILL_S / model.block_s))
    latest = history.volts[-shortest:] if shortest <= available else history.volts[-lim.STILL_BLOCKS :]
    low, high = min(latest), max(latest)
    if high - low > 4.5 * lim.LEARNED_SCATTER_VOLTS and high - low > 4.5 * _loudest(model, latest[-1]):
        transition.drift_volts_per_block = 0.0
        # No window is level that holds both; so long as the shortest one does, there is no need to look.
        ago = len(latest) - min(latest.index(low), latest.index(high))
        transition.unquiet_until = history.end + shortest - ago
        return State.CHANGING
    if transition.drift_volts_per_block and history.end % 2:
        return State.DRIFTING
    wanted_s = lim.STILL_S if model.noise.is_known else lim.FIRST_STILL_S
    if transition.drift_volts_per_block:
        wanted_s = lim.AFTER_DRIFT_STILL_S
    state = State.DRIFTING if transition.drift_volts_per_block else State.SETTLING
    size = model.window(wanted_s, available)
    while size:
        verdict = _judge(model, size, transition, before)
        if verdict == size:
            return size
        if isinstance(verdict, State):
            state = verdict
            break
        size = verdict if verdict <= available else 0
    longer_s = lim.LONG_WINDOWS_S if model.noise.is_known else lim.UNLEARNED_LONG_WINDOWS_S
    if elapsed_s > longer_s[0] and history.end % 4 == 0 and not transition.drift_volts_per_block:
        # One of them at a time: each is due every few seconds only.
        window_s = longer_s[history.end // 4 % len(longer_s)]
        size = model.window(window_s, available)
        if size and _is_level_in_batches(model, size, window_s, before):
            return size
    return state


def _as_shown(transition: Transition, state: State, elapsed_s: float) -> State:
    """The state in the light of what has been going on for longer."""
    if transition.slopes:
        return State.DRIFTING
    if state is State.CHANGING and elapsed_s > lim.RESTLESS_S:
        return State.CHANGING_LONG
    return state


def _is_sloping(model: SignalModel, available: int) -> bool:
    """Whether the trace has been one slope for longer than a meter's averaging takes."""
    size = model.window(lim.LOOKS_LIKE_DRIFT_S, available)
    if not size:
        return False
    line = line_through(model.history.volts[-size:])
    if line.scatter > lim.SCATTER_RATIO * _loudest(model, line.mean):
        return False
    return abs(line.change) > max(2 * lim.TILT_VOLTS, lim.DRIFT_SIGMAS * line.scatter * sqrt(12 / size))


def is_gradual(model: SignalModel, transition: Transition, before_volts: float, after_volts: float) -> bool:
    """Whether the level after the transition was approached more slowly than switching makes it."""
    history = model.history
    if transition.start_block < history.first:
        return True
    there = before_volts + lim.SHARP_SHARE * (after_volts - before_volts)
    path = history.volts_from(transition.start_block)
    reached = next((i for i, value in enumerate(path) if value >= there), len(path) - 1)
    taken_s = history.time_of(transition.start_block + reached) - transition.start_s
    return taken_s > lim.SHARP_S + model.interval_s


def is_blunt(
    model: SignalModel, start_block: int, end_block: int, from_volts: float, to_volts: float
) -> bool:
    """Whether a change from one level to another was slower in its middle than switching makes it."""
    return edge_s(model, start_block, end_block, from_volts, to_volts) > lim.CRISP_S + model.interval_s


def edge_s(model: SignalModel, start_block: int, end_block: int, from_volts: float, to_volts: float) -> float:
    """How long the middle of a change took: from a fifth to four fifths of the way between two levels.

    A meter's averaging draws out the end of a step without limit, the higher the step; its middle takes 1.4 time
    constants whatever the height. Infinity where the change is no longer kept or does not get that far.
    """
    history = model.history
    if start_block < history.first:
        return inf
    height = to_volts - from_volts
    path = [(value - from_volts) / height for value in history.volts_from(start_block, end_block)]
    left = next((i for i, share in enumerate(path) if share >= lim.EDGE_SHARE), None)
    there = next((i for i, share in enumerate(path) if share >= 1.0 - lim.EDGE_SHARE), None)
    if left is None or there is None:
        return inf
    return history.time_of(start_block + there) - history.time_of(start_block + left)


def _judge(model: SignalModel, size: int, transition: Transition, before: OpenSpan | None) -> int | State:
    """`size` when the latest `size` blocks are level, a larger size when more are needed, else the state."""
    window = model.history.volts[-size:]
    count_volts = model.resolution.count_volts
    sigma = model.noise.sigma_volts
    still_drifting = State.DRIFTING if transition.drift_volts_per_block else State.SETTLING
    if model.noise.is_known:
        louder = model.louder_at(window[-1])
        calm = _calm(model, size)
        if max(window) - min(window) > 4.5 * calm * louder:
            transition.drift_volts_per_block = 0.0
            return State.CHANGING
        line = line_through(window)
        if line.scatter > calm and louder > lim.LOUDER:
            # A movement is smoother from block to block than noise that has grown with the level.
            calm = max(calm, min(1.5 * jitter_of(window), calm * louder))
    else:
        line = line_through(window)
        sigma = jitter_of(window)
        calm = max(lim.SCATTER_VOLTS, 0.6 * count_volts)
        if line.scatter > calm:
            if line.spread > _loudest(model, line.mean) or not is_rough(sigma, line.spread, size):
                return State.CHANGING
            if size * model.block_s < lim.LOUD_STILL_S:
                return ceil(lim.LOUD_STILL_S / model.block_s)
            calm = line.scatter
    if line.scatter > calm:
        transition.drift_volts_per_block = 0.0
        return State.CHANGING
    variance = max(line.scatter, sigma) ** 2 * model.noise.inflation(size)
    u_change = sqrt(12 * variance / size)
    if transition.drift_volts_per_block:
        allowed = 0.5 * transition.drift_volts_per_block * size
        u_flat = max(u_change, 0.4 * count_volts)
        if 2 * u_flat > allowed and size * model.block_s < lim.LONGEST_DRIFT_LOOK_S:
            # What is allowed grows with the length, its uncertainty falls with the root of it.
            return max(size + 1, min(int(size * (2 * u_flat / allowed) ** (2 / 3)), 4 * size))
        if abs(line.change) + 2 * u_flat > max(allowed, 4 * u_flat):
            return still_drifting
    if abs(line.change) > max(lim.TILT_VOLTS, count_volts, lim.TILT_SIGMAS * u_change):
        return still_drifting
    return _enough(model, size, line.mean, variance, transition, before)


def is_rough(jitter: float, spread: float, size: int) -> bool:
    """Whether values scatter from one to the next as much as altogether: noise does, a slow movement does not.

    The ratio of von Neumann (1941), jitter^2 / spread^2, is 1 for white noise, with variance (n - 2) / (n^2 - 1).
    """
    least = 1 - lim.ROUGH_SIGMAS * sqrt((size - 2) / (size * size - 1))
    return jitter * jitter >= least * spread * spread


def _calm(model: SignalModel, size: int) -> float:
    """Scatter that a still window of this size may have. That of few values scatters itself: about its 99% point."""
    ratio = (1 + lim.SCATTER_SPREAD / sqrt(size)) * (1 + 3 / model.noise.weight)
    return max(lim.LEARNED_SCATTER_VOLTS, 0.6 * model.resolution.count_volts, ratio * model.noise.sigma_volts)


def _loudest(model: SignalModel, level: float) -> float:
    """Scatter that the smallest still window may have at most."""
    if model.noise.is_known:
        return _calm(model, lim.STILL_BLOCKS) * model.louder_at(level)
    share = lim.UNLEARNED_SCATTER_SHARE * level
    return max(lim.UNLEARNED_SCATTER_VOLTS, share, 0.6 * model.resolution.count_volts)


def _enough(
    model: SignalModel,
    size: int,
    level: float,
    variance: float,
    transition: Transition,
    before: OpenSpan | None,
) -> int:
    """The number of blocks that a level needs which looks level in `size`: at least that."""
    sigma = sqrt(variance)
    raised = before is not None and model.is_raised(level, before.level, sigma)
    u_wanted = lim.LEVEL_U_VOLTS if raised else max(lim.LEVEL_U_VOLTS, lim.LEVEL_U_SHARE * level)
    needed = min(ceil(variance / (u_wanted * u_wanted)), ceil(lim.LONGEST_WAIT_S / model.block_s))
    if size < needed:
        return needed
    if before is None or not raised:
        return size
    crept = is_gradual(model, transition, before.level, level)
    crept = crept or transition.peak_volts - level > model.significant(sigma)
    wanted_s = lim.RAISED_STILL_S if crept else lim.SHARPLY_RAISED_STILL_S
    return max(size, model.window(wanted_s, len(model.history.volts)))


def _is_level_in_batches(model: SignalModel, size: int, window_s: float, before: OpenSpan | None) -> bool:
    """A long look, for noise that is slow: what scatters are the means of batches."""
    per_batch = max(2, round(lim.LONG_BATCH_S / model.block_s))
    count = size // per_batch
    if count < lim.MIN_BATCHES:
        return False
    window = model.history.volts[-count * per_batch :]
    widest = _widest_spread(model, size, window_s, window[-1], before)
    if max(window) - min(window) > 8 * widest:
        return False
    of_all = line_through(window)
    level = of_all.mean
    if of_all.spread > widest:
        return False
    of_means = line_through(_batch_means(window, per_batch))
    if of_means.spread > sqrt(count) * max(lim.LEVEL_U_VOLTS, lim.LEVEL_U_SHARE * level):
        return False
    if max(window) - level > 4 * of_all.spread:
        return False
    if (
        not model.noise.is_known
        and of_all.spread**2 - of_all.scatter**2 > lim.LONG_TILT_SHARE * of_all.spread**2
    ):
        return False
    u_change = of_means.scatter * sqrt(12 / count)
    return abs(of_means.change) < max(lim.TILT_VOLTS, lim.TILT_SIGMAS * u_change)


def _batch_means(values: Sequence[float], per_batch: int) -> list[float]:
    return [sum(values[i : i + per_batch]) / per_batch for i in range(0, len(values), per_batch)]


def _widest_spread(
    model: SignalModel, size: int, window_s: float, level: float, before: OpenSpan | None
) -> float:
    """How far the blocks of a long window may scatter. A meter that has become noisier is believed after a while."""
    if not model.noise.is_known:
        return max(lim.LONG_SPREAD_VOLTS, lim.LONG_SPREAD_SHARE * level)
    sigma = model.noise.sigma_volts
    raised = before is not None and model.is_raised(level, before.level, sigma)
    if window_s < lim.LONG_WINDOWS_S[2 if raised else 1]:
        return max((1 + lim.SCATTER_SPREAD / sqrt(size)) * sigma * model.louder_at(level), lim.SCATTER_VOLTS)
    return lim.LONG_SPREAD_RATIO * sigma + lim.SCATTER_VOLTS
