"""A night as plain numbers: what all of `logger.night` works on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.settling.events import Event, Gap, Motion, Overload, Settled, Step

Floats = NDArray[np.float64]

MAX_SAMPLE_S = 5.0
"""A sample stands for the time until the next one, but never for more than this: what comes later is missing."""


@dataclass(frozen=True, slots=True)
class NightRecord:
    """Samples and events of a night on one time line that never goes back.

    Args:
        times_s: of the samples, seconds since the night's start, rising; shape (n,).
        volts: AC rms volts, shape (n,).
        events: of the detector, on the same time line, in order of their start.
        end_s: when recording ended.
    """

    times_s: Floats
    volts: Floats
    events: tuple[Event, ...]
    end_s: float

    @property
    def settled(self) -> list[Settled]:
        """The still spans."""
        return [event for event in self.events if isinstance(event, Settled)]

    @property
    def motions(self) -> list[Motion]:
        """The motion episodes."""
        return [event for event in self.events if isinstance(event, Motion)]

    @property
    def steps(self) -> list[Step]:
        """The lasting changes of level."""
        return [event for event in self.events if isinstance(event, Step)]

    @property
    def missing(self) -> list[tuple[float, float]]:
        """Start and end of each time without a value: gaps and overload."""
        return [(event.start_s, event.end_s) for event in self.events if isinstance(event, (Gap, Overload))]

    def still_mask(self) -> NDArray[np.bool_]:
        """Which samples lie in a still span, shape (n,)."""
        inside = np.zeros(len(self.times_s), bool)
        for span in self.settled:
            low = int(np.searchsorted(self.times_s, span.start_s))
            high = int(np.searchsorted(self.times_s, span.end_s, side="right"))
            inside[low:high] = True
        return inside

    def durations_s(self) -> Floats:
        """For how long each sample stands, shape (n,)."""
        if len(self.times_s) == 0:
            return np.zeros(0)
        until = np.append(self.times_s[1:], max(self.end_s, float(self.times_s[-1])))
        durations: Floats = np.minimum(until - self.times_s, MAX_SAMPLE_S)
        return durations
