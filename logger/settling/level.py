"""Is the trace level now? Looks at the latest blocks while nothing is settled."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, inf, sqrt

from logger.settling import limits as lim
from logger.settling.agreement import find_alternation, find_disagreement
from logger.settling.events import State
from logger.settling.line_fit import jitter_of, line_through, share_of_parabola
from logger.settling.signal_model import SignalModel
from logger.settling.span import OpenSpan
from logger.settling.stationary import is_stationary
from logger.settling.transition import Transition


def find_level(model: SignalModel, transition: Transition, before: OpenSpan | None) -> int | State:
    """Size in blocks of the latest window that is level, or the state that the trace is in instead.

    Args:
        model: the noise, the count and the recent blocks.
        transition: what has been going on since the last level; its drift is forgotten when the trace jumps.
        before: the last level, if the trace has had one.
    """
    history = model.history
    end = history.end
    elapsed_s = history.times_s[-1] - transition.start_s
    if end % lim.SEARCH_LATE_BLOCKS and elapsed_s > lim.CHANGING_LONG_S:
        return transition.shown_state
    if end < transition.no_level_before and end % lim.SEARCH_LOUD_BLOCKS:
        transition.shown_state = _state_to_show(model, transition, State.CHANGING, elapsed_s)
        return transition.shown_state
    available = end - max(transition.earliest_block, history.first)
    found = _search(model, transition, before, available)
    if not isinstance(found, State):
        transition.disagreement = find_disagreement(model, found, available, transition.disagreement)
    elif end % lim.ALTERNATION_EVERY_BLOCKS == 0:
        transition.disagreement = find_alternation(model, available)
    if transition.disagreement:
        transition.disagreed_block = end
    if isinstance(found, State) or transition.disagreement:
        transition.shown_state = found = _state_to_show(
            model, transition, found if isinstance(found, State) else State.SETTLING, elapsed_s
        )
    return found


def _search(
    model: SignalModel, transition: Transition, before: OpenSpan | None, available: int
) -> int | State:
    """Size in blocks of the latest window that is level, or the state of the latest blocks.

    Args:
        model: the noise, the count and the recent blocks.
        transition: what has been going on since the last level.
        before: the last level.
        available: number of blocks that a level may rest on.
    """
    history = model.history
    end = history.end
    if end % lim.SEARCH_LOUD_BLOCKS == 0:
        transition.is_slope = _is_slope(model, available)
    if size := _stationary_window(model, transition, available):
        return size
    if end < transition.no_level_before or _is_too_wide(model, transition, available):
        return State.CHANGING
    drifts = transition.drift_volts_per_block
    if drifts and end % lim.SEARCH_LATE_BLOCKS:
        return State.DRIFTING
    is_known = model.noise.is_known
    wanted_s = lim.AFTER_DRIFT_STILL_S if drifts else lim.STILL_S if is_known else lim.FIRST_STILL_S
    state = State.DRIFTING if drifts else State.SETTLING
    size = model.window(wanted_s, available)
    while size:
        found = _test_window(model, size, transition, before)
        if found == size:
            return size
        if isinstance(found, State):
            state = found
            break
        size = found if found <= available else 0
    longer_s = lim.LONG_WINDOWS_S if is_known else lim.UNLEARNED_LONG_WINDOWS_S
    is_due = end % lim.LONG_LOOK_BLOCKS == 0 and history.times_s[-1] - transition.start_s > longer_s[0]
    if is_due and not transition.drift_volts_per_block:
        # One of them at a time; the shortest too where the noise may have grown much with the level.
        due_s = {longer_s[end // lim.LONG_LOOK_BLOCKS % len(longer_s)]}
        if is_known and model.louder_at(history.volts[-1]) > lim.LOUDEST:
            due_s.add(longer_s[0])
        for window_s in sorted(due_s):
            size = model.window(window_s, available)
            if size and _is_level_in_batches(model, size, window_s, before):
                return size
    return state


def _stationary_window(model: SignalModel, transition: Transition, available: int) -> int:
    """Size in blocks of a long window that holds one steady level, noisier than any before; 0 where there is none.

    Args:
        model: the noise and the recent blocks.
        transition: what has been going on since the last level.
        available: number of blocks that a level may rest on.
    """
    history = model.history
    if history.end % lim.STATIONARY_LOOK_BLOCKS or not model.noise.is_known:
        return 0
    size = lim.STATIONARY_BLOCKS
    if size > min(available, history.end - transition.start_block):
        return 0
    return size if is_stationary(history.volts[-size:], model.block_s) else 0


def _is_too_wide(model: SignalModel, transition: Transition, available: int) -> bool:
    """Whether the shortest window ranges too widely; no level is looked for while one would hold both its extremes.

    Args:
        model: the noise, the count and the recent blocks.
        transition: what is going on; gets the block before which there can be no level.
        available: number of blocks that a level may rest on.
    """
    history = model.history
    shortest = max(lim.STILL_BLOCKS, int(lim.STILL_S / model.block_s))
    latest = history.volts[-shortest:] if shortest <= available else history.volts[-lim.STILL_BLOCKS :]
    low, high = min(latest), max(latest)
    if high - low <= lim.WINDOW_RANGE_SIGMAS * lim.LEARNED_SCATTER_VOLTS:
        return False
    if high - low <= lim.WINDOW_RANGE_SIGMAS * _max_scatter(model, latest[-1]):
        return False
    transition.drift_volts_per_block = 0.0
    ago = len(latest) - min(latest.index(low), latest.index(high))
    transition.no_level_before = history.end + shortest - ago
    return True


def _state_to_show(model: SignalModel, transition: Transition, state: State, elapsed_s: float) -> State:
    """The state in the light of what has been going on for longer, and of what anybody sees in the trace.

    Args:
        model: the recent blocks.
        transition: what is going on.
        state: the state of the latest blocks.
        elapsed_s: seconds since the transition began.
    """
    if transition.disagreement and transition.disagreement.is_sure:
        return transition.disagreement.state
    if transition.is_slope:
        return State.DRIFTING
    if state is State.CHANGING and elapsed_s > lim.CHANGING_LONG_S:
        return State.CHANGING_LONG
    return State.SETTLING if state is State.CHANGING and _looks_flat(model, transition) else state


def _looks_flat(model: SignalModel, transition: Transition) -> bool:
    """Whether nobody would say of the latest blocks, drawn as a trace, that they change, whatever proves to be in them.

    Args:
        model: the recent blocks.
        transition: what is going on.
    """
    size = model.window(lim.LOOKS_FLAT_S, model.history.end - transition.earliest_block)
    if not size:
        return False
    latest = model.history.volts[-size:]
    return max(latest) - min(latest) < max(lim.STEP_VOLTS, lim.LOOKS_FLAT_SHARE * latest[-1])


def _is_slope(model: SignalModel, available: int) -> bool:
    """Whether the trace has been one slope for longer than a meter's averaging takes."""
    size = model.window(lim.LOOKS_LIKE_DRIFT_S, available)
    if not size:
        return False
    line = line_through(model.history.volts[-size:])
    if line.scatter > lim.LOOKS_LIKE_DRIFT_SCATTER * _max_scatter(model, line.mean):
        return False
    return abs(line.change) > max(
        lim.LOOKS_LIKE_DRIFT_VOLTS, lim.DRIFT_SIGMAS * line.scatter * sqrt(12 / size)
    )


def is_gradual(model: SignalModel, transition: Transition, before_volts: float, after_volts: float) -> bool:
    """Whether the level after the transition was approached more slowly than switching makes it.

    Args:
        model: the meter's rhythm and the recent blocks.
        transition: what led to the level.
        before_volts: the level before.
        after_volts: the level after.
    """
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
    """Whether a change from one level to another was slower in its middle than switching makes it.

    Args:
        model: the meter's rhythm and the recent blocks.
        start_block: where the change begins.
        end_block: one past where it ends.
        from_volts: the level before.
        to_volts: the level after.
    """
    return edge_s(model, start_block, end_block, from_volts, to_volts) > lim.CRISP_S + model.interval_s


def edge_s(model: SignalModel, start_block: int, end_block: int, from_volts: float, to_volts: float) -> float:
    """How long the middle of a change took: from a fifth to four fifths of the way between two levels.

    A meter's averaging draws out the end of a step without limit, the higher the step; its middle takes 1.4 time
    constants whatever the height.

    Args:
        model: the recent blocks.
        start_block: where the change begins.
        end_block: one past where it ends.
        from_volts: the level before.
        to_volts: the level after.

    Returns:
        seconds; infinity where the change is no longer kept or does not get that far.
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


def _test_window(
    model: SignalModel, size: int, transition: Transition, before: OpenSpan | None
) -> int | State:
    """Test whether the latest `size` blocks are level.

    Args:
        model: the noise, the count and the recent blocks.
        size: number of blocks.
        transition: what has been going on; its drift is forgotten when the window scatters too much.
        before: the last level.

    Returns:
        `size` when they are level, a larger size when more are needed, else the state.
    """
    window = model.history.volts[-size:]
    count_volts = model.resolution.count_volts
    sigma = model.noise.sigma_volts
    still_drifting = State.DRIFTING if transition.drift_volts_per_block else State.SETTLING
    if model.noise.is_known:
        louder = model.louder_at(window[-1])
        calm = _calm_scatter(model, size)
        grown = model.grown_volts(calm, window[-1])
        if max(window) - min(window) > lim.WINDOW_RANGE_SIGMAS * grown:
            transition.drift_volts_per_block = 0.0
            return State.CHANGING
        line = line_through(window)
        if line.scatter > calm and louder > lim.LOUDER:
            # A movement is smoother from block to block than noise that has grown with the level.
            rough = max(calm, min(lim.LOUDER_JITTERS * jitter_of(window), grown))
            if line.scatter > rough and line.scatter <= min(lim.GROWN_SHARE * line.mean, grown):
                if size * model.block_s < lim.GROWN_STILL_S:
                    return ceil(lim.GROWN_STILL_S / model.block_s)
                if share_of_parabola(window) < lim.GROWN_BEND_SHARE:
                    rough = line.scatter
            calm = rough
    else:
        line = line_through(window)
        sigma = jitter_of(window)
        calm = max(lim.SCATTER_VOLTS, lim.CALM_COUNTS * count_volts)
        if line.scatter > calm:
            if line.spread > _max_scatter(model, line.mean) or not is_rough(sigma, line.spread, size):
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
        allowed = lim.DRIFT_LEFT_SHARE * transition.drift_volts_per_block * size
        u_flat = max(u_change, lim.DRIFT_LEFT_COUNTS * count_volts)
        certain = lim.DRIFT_LEFT_SIGMAS * u_flat
        if certain > allowed and size * model.block_s < lim.LONGEST_DRIFT_LOOK_S:
            # What is allowed grows with the length, its uncertainty falls with the root of it.
            longer = int(size * (certain / allowed) ** (2 / 3))
            return max(size + 1, min(longer, lim.DRIFT_WINDOW_GROWTH * size))
        if abs(line.change) + certain > max(allowed, 2 * certain):
            return still_drifting
    if abs(line.change) > max(lim.TILT_VOLTS, count_volts, lim.TILT_SIGMAS * u_change):
        return still_drifting
    return _blocks_needed(model, size, line.mean, variance, transition, before)


def is_rough(jitter: float, spread: float, size: int) -> bool:
    """Whether values scatter from one to the next as much as altogether: noise does, a slow movement does not.

    The ratio of von Neumann (1941), jitter^2 / spread^2, is 1 for white noise, with variance (n - 2) / (n^2 - 1).

    Args:
        jitter: standard deviation from the differences of neighbours.
        spread: standard deviation about the mean.
        size: number of values.
    """
    least = 1 - lim.ROUGH_SIGMAS * sqrt((size - 2) / (size * size - 1))
    return jitter * jitter >= least * spread * spread


def _calm_scatter(model: SignalModel, size: int) -> float:
    """Scatter that a calm window of this size may have. That of few values scatters itself: about its 99 % point."""
    ratio = (1 + lim.SCATTER_SPREAD / sqrt(size)) * (1 + lim.SCATTER_CAUTION / model.noise.weight)
    counts = lim.CALM_COUNTS * model.resolution.count_volts
    return max(lim.LEARNED_SCATTER_VOLTS, counts, ratio * model.noise.sigma_volts)


def _max_scatter(model: SignalModel, level_volts: float) -> float:
    """Scatter that the smallest calm window may have at most at a level."""
    if model.noise.is_known:
        return model.grown_volts(_calm_scatter(model, lim.STILL_BLOCKS), level_volts)
    share = lim.UNLEARNED_SCATTER_SHARE * level_volts
    return max(lim.UNLEARNED_SCATTER_VOLTS, share, lim.CALM_COUNTS * model.resolution.count_volts)


def _blocks_needed(
    model: SignalModel,
    size: int,
    level_volts: float,
    variance: float,
    transition: Transition,
    before: OpenSpan | None,
) -> int:
    """The number of blocks that a level needs which looks level in `size`: at least that.

    Args:
        model: the noise, the count and the recent blocks.
        size: number of blocks looked at.
        level_volts: their mean.
        variance: of a block, with the autocorrelation of the noise, volts squared.
        transition: what led to them.
        before: the last level.
    """
    sigma = sqrt(variance)
    raised = before is not None and model.is_raised(level_volts, before.level_volts, sigma)
    u_wanted = lim.LEVEL_U_VOLTS if raised else max(lim.LEVEL_U_VOLTS, lim.LEVEL_U_SHARE * level_volts)
    needed = min(ceil(variance / (u_wanted * u_wanted)), ceil(lim.LONGEST_WAIT_S / model.block_s))
    if size < needed:
        return needed
    if before is None or not raised:
        return size
    crept = is_gradual(model, transition, before.level_volts, level_volts)
    crept = crept or transition.peak_volts - level_volts > model.significant(sigma)
    wanted_s = lim.RAISED_STILL_S if crept else lim.SHARPLY_RAISED_STILL_S
    return max(size, model.window(wanted_s, len(model.history.volts)))


def _is_level_in_batches(model: SignalModel, size: int, window_s: float, before: OpenSpan | None) -> bool:
    """A long look, for noise that is slow: what scatters are the means of batches.

    Args:
        model: the noise and the recent blocks.
        size: number of blocks in the window.
        window_s: its length in seconds.
        before: the last level.
    """
    per_batch = max(lim.MIN_BATCH_BLOCKS, round(lim.LONG_BATCH_S / model.block_s))
    count = size // per_batch
    if count < lim.MIN_BATCHES:
        return False
    window = model.history.volts[-count * per_batch :]
    widest = _widest_spread(model, size, window_s, window[-1], before)
    if max(window) - min(window) > lim.LONG_RANGE_SIGMAS * widest:
        return False
    of_all = line_through(window)
    level_volts = of_all.mean
    if of_all.spread > widest:
        return False
    of_means = line_through(_batch_means(window, per_batch))
    if of_means.spread > sqrt(count) * max(lim.LEVEL_U_VOLTS, lim.LEVEL_U_SHARE * level_volts):
        return False
    if max(window) - level_volts > lim.LONG_PEAK_SIGMAS * of_all.spread:
        return False
    by_line = of_all.spread**2 - of_all.scatter**2
    if not model.noise.is_known:
        if by_line > lim.LONG_TILT_SHARE * of_all.spread**2:
            return False
        if of_all.spread > lim.SCATTER_VOLTS and share_of_parabola(window) > lim.LONG_BEND_SHARE:
            return False
    u_change = of_means.scatter * sqrt(12 / count)
    return abs(of_means.change) < max(lim.TILT_VOLTS, lim.TILT_SIGMAS * u_change)


def _batch_means(values: Sequence[float], per_batch: int) -> list[float]:
    return [sum(values[i : i + per_batch]) / per_batch for i in range(0, len(values), per_batch)]


def _widest_spread(
    model: SignalModel, size: int, window_s: float, level_volts: float, before: OpenSpan | None
) -> float:
    """How far the blocks of a long window may scatter. A meter may have become noisier, after a while.

    Args:
        model: the noise.
        size: number of blocks in the window.
        window_s: its length in seconds.
        level_volts: its latest block.
        before: the last level.
    """
    if not model.noise.is_known:
        return max(lim.LONG_SPREAD_VOLTS, lim.LONG_SPREAD_SHARE * level_volts)
    sigma = model.noise.sigma_volts
    raised = before is not None and model.is_raised(level_volts, before.level_volts, sigma)
    if window_s < lim.LONG_WINDOWS_S[2 if raised else 1]:
        louder = model.louder_at(level_volts)
        # Noise that grew with the level is breathing, and a window holds few breaths.
        pieces = size / model.noise.inflation(size) if louder > lim.LOUDER else size
        as_learned = (1 + lim.SCATTER_SPREAD / sqrt(pieces)) * sigma * louder
        return max(as_learned, lim.SCATTER_VOLTS)
    return lim.LONG_SPREAD_RATIO * sigma + lim.SCATTER_VOLTS
