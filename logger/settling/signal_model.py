"""What the detector has learned of the meter and keeps of the recent past, and the limits that follow from it."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

from logger.settling import limits as lim
from logger.settling.history import History
from logger.settling.noise import Noise
from logger.settling.resolution import Resolution, u_resolution
from logger.settling.wander import LearnedWander


class SignalModel:
    """The recent blocks, the learned noise and least count, and the meter's rhythm."""

    __slots__ = (
        "_noise_per_block",
        "_per_block",
        "block_s",
        "history",
        "interval_s",
        "noise",
        "noise_level_volts",
        "resolution",
        "wander",
    )

    def __init__(self) -> None:
        self.history = History()
        self.noise = Noise()
        self.resolution = Resolution()
        self.wander = LearnedWander()
        """How slowly the level of earlier spans wandered; only the reported uncertainty rests on it."""
        self.interval_s = 0.0
        """Running mean of the time between two samples; 0 before there are two."""
        self.block_s = lim.BLOCK_S
        """Usual time between two blocks."""
        self.noise_level_volts = 0.0
        """Level at which noise was last learned."""
        self._per_block = 1.0
        self._noise_per_block = 1.0

    def add_block(
        self, time_s: float, volts: float, high_volts: float, samples: int, refused: int = 0
    ) -> None:
        """Take in one more block; when blocks come to hold fewer samples than before, each is noisier.

        Args:
            time_s: time of its last sample.
            volts: mean of its samples.
            high_volts: highest of its samples.
            samples: number of its samples.
            refused: number of lines that were refused since the block before.
        """
        self.history.append(time_s, volts, high_volts, samples, refused)
        self.block_s = self.interval_s if self.interval_s > lim.BLOCK_S else lim.BLOCK_S
        if samples == self._per_block == self._noise_per_block:
            return
        self._per_block += lim.RUNNING_MEAN_SHARE * (samples - self._per_block)
        ratio = self._per_block / self._noise_per_block
        if not lim.MIN_BLOCK_SIZE_RATIO < ratio < lim.MAX_BLOCK_SIZE_RATIO:
            self.noise.rescale(max(1.0, self._noise_per_block / self._per_block))
            self._noise_per_block = self._per_block

    @property
    def sample_s(self) -> float:
        """Usual time between two samples."""
        return self.interval_s or self.block_s

    @property
    def stray_volts(self) -> float:
        """How far a settled block strays: learned noise, but at least half a count."""
        sigma, half = self.noise.sigma_volts, self.resolution.count_volts / 2
        return sigma if sigma > half else half

    def louder_at(self, level_volts: float) -> float:
        """Ratio by which noise may have grown with the level since it was learned."""
        return self.louder_than_at(self.noise_level_volts, level_volts)

    def louder_than_at(self, before_volts: float, level_volts: float) -> float:
        """Ratio by which noise may have grown from one level to another: what modulates a voltage grows with it."""
        if level_volts <= before_volts or before_volts <= 0:
            return 1.0
        longest = max(lim.LOUDEST, lim.BREATHING_SHARE * level_volts / self.least_sigma_volts)
        return min(level_volts / before_volts, longest)

    @property
    def least_sigma_volts(self) -> float:
        """Standard deviation of one block, at least what digits that stood still may have hidden of it."""
        return max(self.noise.sigma_volts, self.hidden_volts)

    @property
    def hidden_volts(self) -> float:
        """Standard deviation of noise that the digits of a level may hide."""
        return max(lim.MIN_NOISE_VOLTS, lim.HIDDEN_COUNTS * self.resolution.count_volts)

    def is_held(self, values: Sequence[float], level_volts: float) -> bool:
        """Whether digits stand still that noise moved before at about this level: a hold, which says nothing of noise.

        Args:
            values: volts of some blocks.
            level_volts: their level.
        """
        if not self.noise.is_known or level_volts < lim.HELD_SHARE * self.noise_level_volts:
            return False
        least_volts = max(lim.MIN_NOISE_VOLTS, lim.HELD_COUNTS * self.resolution.count_volts)
        return self.noise.sigma_volts > least_volts and max(values) == min(values)

    def grown_volts(self, calm_volts: float, level_volts: float) -> float:
        """The scatter that noise may have grown to with the level since it was learned, in volts.

        Args:
            calm_volts: what may be calm at the level where it was learned.
            level_volts: the level.
        """
        most = max(lim.LOUDEST * calm_volts, lim.BREATHING_SHARE * level_volts)
        return min(calm_volts * self.louder_at(level_volts), most)

    def u_level(self, count: int) -> float:
        """Standard uncertainty of a level that rests on `count` blocks, for tests: learned noise and the count.

        What is reported of a level is in `level_uncertainty`, and may be much more while the noise is not known.
        """
        return sqrt(self.noise.variance_of_mean(count) + u_resolution(self.resolution.coarsest_volts) ** 2)

    def u_change(self, count: int) -> float:
        """Standard uncertainty of the rise of a line through `count` settled blocks."""
        return sqrt(12 * self.noise.variance_of_mean(count))

    def deviation_limit(self) -> float:
        """How far one block may be off the level; wider while the noise is known from few values, as Student's t."""
        few = lim.FEW_VALUES_WIDENING
        sigmas = lim.DEVIATION_SIGMAS * (1 + few / max(self.noise.weight, few))
        counts = lim.DEVIATION_COUNTS * self.resolution.count_volts
        return max(lim.DEVIATION_VOLTS, counts, sigmas * self.noise.sigma_volts)

    def significant(self, stray_volts: float) -> float:
        """An excess of one block above the level that no noise explains, where blocks stray by `stray_volts`."""
        counts = lim.MOTION_COUNTS * self.resolution.count_volts
        return max(lim.MOTION_VOLTS, counts, lim.MOTION_SIGMAS * stray_volts)

    def is_raised(self, level_volts: float, above_volts: float, sigma_volts: float) -> bool:
        """Whether a level is clearly above another.

        Args:
            level_volts: the level in question.
            above_volts: the other one.
            sigma_volts: standard deviation of one block about the level.
        """
        return level_volts > above_volts + max(lim.STEP_VOLTS, lim.RAISED_SIGMAS * sigma_volts)

    def window(self, wanted_s: float, available: int) -> int:
        """Number of the latest blocks that last `wanted_s` and are enough; 0 if `available` are too few."""
        times_s = self.history.times_s
        available = min(available, len(times_s))
        size = max(lim.STILL_BLOCKS, int(wanted_s / self.block_s))
        start_s = times_s[-1] - wanted_s + lim.TIME_ROUNDING_S
        while size <= available and times_s[-size] > start_s:
            size += 1
        return size if size <= available else 0


def outlier_limit(stray_volts: float) -> float:
    """An excess that no single block reaches by chance, where blocks stray by `stray_volts`: noise has outliers."""
    return max(lim.LONE_VOLTS, lim.LONE_SIGMAS * stray_volts)
