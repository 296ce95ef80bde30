"""Whether blocks are the noise of a steady level: alike from first to last, rough, and as often above as below.

In: the blocks of a long window. Out: yes or no. A level may be noisier than all before it, as where a load adds noise
of its own. A movement is not like that for so long: it is smooth from block to block, raises the reading by peaks, and
ends elsewhere or wanders. Where a meter is slow its blocks are rough too, and nothing is found so.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

from logger.settling import limits as lim
from logger.settling.line_fit import jitter_of, line_through, mean_and_variance


def is_stationary(values: Sequence[float], block_s: float) -> bool:
    """Whether a window holds one level with noise that has not changed within it.

    Args:
        values: volts of its blocks; fewer than `STATIONARY_BLOCKS` show nothing.
        block_s: seconds from block to block.
    """
    size = len(values)
    if size < lim.STATIONARY_BLOCKS or block_s > lim.SLOWEST_STATIONARY_S:
        return False
    level, variance = mean_and_variance(values)
    spread = sqrt(variance)
    if not 0.0 < spread <= lim.STATIONARY_SHARE * level:
        return False
    deviations = [(value - level) / spread for value in values]
    if max(map(abs, deviations)) > lim.STATIONARY_PEAK_SIGMAS:
        return False
    jitter = jitter_of(values)
    # Von Neumann's ratio, as in `level.is_rough`, from both sides: values that alternate are no noise either.
    off = lim.STATIONARY_ROUGH_SIGMAS * sqrt((size - 2) / (size * size - 1))
    if abs(jitter * jitter / variance - 1.0) > off:
        return False
    skewness = sum(d**3 for d in deviations) / size
    if abs(skewness) > lim.STATIONARY_SIGMAS * sqrt(6 / size):
        return False
    quarter = size // lim.STATIONARY_PARTS
    parts = [values[i * quarter : (i + 1) * quarter] for i in range(lim.STATIONARY_PARTS)]
    found = [mean_and_variance(part) for part in parts]
    if any(abs(mean - level) > lim.STATIONARY_SIGMAS * spread / sqrt(quarter) for mean, _ in found):
        return False
    most = 1.0 + lim.STATIONARY_SIGMAS * sqrt(2 / quarter)
    if any(not 1 / most <= sqrt(of_part / variance) <= most for _, of_part in found):
        return False
    return abs(line_through(values).change) <= lim.TILT_SIGMAS * spread * sqrt(12 / size)
