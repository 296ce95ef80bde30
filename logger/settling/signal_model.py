"""What the detector knows of the meter and of the recent past, and the limits that follow from it."""

from __future__ import annotations

from math import sqrt

from logger.settling import limits as lim
from logger.settling.history import History
from logger.settling.noise import SCALES, Noise, Resolution, u_resolution


class SignalModel:
    """The recent blocks, the learned noise and count, and the meter's rhythm."""

    __slots__ = (
        "_noise_per_block",
        "_per_block",
        "block_s",
        "history",
        "interval_s",
        "noise",
        "noise_level",
        "resolution",
    )

    def __init__(self) -> None:
        self.history = History()
        self.noise = Noise()
        self.resolution = Resolution()
        self.interval_s = 0.0
        """Running mean of the time between two samples; 0 before there are two."""
        self.block_s = lim.BLOCK_S
        """Usual time between two blocks."""
        self.noise_level = 0.0
        """Level at which noise was last learned."""
        self._per_block = 1.0
        self._noise_per_block = 1.0

    def add_block(self, time_s: float, volts: float, high_volts: float, samples: int) -> None:
        """One more block. When blocks come to hold fewer samples than before, each is noisier."""
        self.history.append(time_s, volts, high_volts, samples)
        self.block_s = self.interval_s if self.interval_s > lim.BLOCK_S else lim.BLOCK_S
        if samples == self._per_block == self._noise_per_block:
            return
        self._per_block += 0.1 * (samples - self._per_block)
        if not 0.55 < self._per_block / self._noise_per_block < 1.8:
            self.noise.rescale(max(1.0, self._noise_per_block / self._per_block))
            self._noise_per_block = self._per_block

    @property
    def stray_volts(self) -> float:
        """How far a still block strays: learned noise, but at least half a count."""
        sigma, half = self.noise.sigma_volts, self.resolution.count_volts / 2
        return sigma if sigma > half else half

    def louder_at(self, level_volts: float) -> float:
        """How much noise may have grown with the level: what modulates a voltage grows with it."""
        if self.noise_level <= 0:
            return 1.0
        return min(max(level_volts / self.noise_level, 1.0), lim.LOUDEST)

    def variance_of_mean(self, count: int) -> float:
        """Variance of the mean of `count` still blocks, with their autocorrelation."""
        variances = self.noise.variances
        scale = 3 if count >= 32 else 2 if count >= 8 else 1
        return max(variances[0], variances[scale] * SCALES[scale]) / count

    def u_level(self, count: int) -> float:
        """Standard uncertainty of a level that rests on `count` blocks: scatter and the meter's count."""
        return sqrt(self.variance_of_mean(count) + u_resolution(self.resolution.count_volts) ** 2)

    def u_change(self, count: int) -> float:
        """Standard uncertainty of the rise of a line through `count` still blocks."""
        return sqrt(12 * self.variance_of_mean(count))

    def deviation_limit(self) -> float:
        """How far one block may be off the level; wider while the noise is known from few values, as Student's t."""
        sigmas = lim.DEVIATION_SIGMAS * (1 + 4 / max(self.noise.weight, 4))
        return max(lim.DEVIATION_VOLTS, 1.6 * self.resolution.count_volts, sigmas * self.noise.sigma_volts)

    def significant(self, stray_volts: float) -> float:
        """An excess above the level that no noise explains."""
        return max(lim.MOTION_VOLTS, 2 * self.resolution.count_volts, lim.MOTION_SIGMAS * stray_volts)

    def standing_out(self, stray_volts: float) -> float:
        """The same for a single block: noise has outliers."""
        return max(lim.LONE_VOLTS, lim.LONE_SIGMAS * stray_volts)

    def is_raised(self, level_volts: float, above_volts: float, sigma_volts: float) -> bool:
        """Whether a level stands clearly above another."""
        return level_volts > above_volts + max(lim.STEP_VOLTS, 3 * sigma_volts)

    def window(self, wanted_s: float, available: int) -> int:
        """Number of the latest blocks that last `wanted_s` and are enough; 0 if `available` are too few."""
        times_s = self.history.times_s
        available = min(available, len(times_s))
        size = max(lim.STILL_BLOCKS, int(wanted_s / self.block_s))
        start_s = times_s[-1] - wanted_s + 1e-6
        while size <= available and times_s[-size] > start_s:
            size += 1
        return size if size <= available else 0
