"""A night as plain numbers: the samples and events that every analysis in `logger.night` takes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from logger.settling.events import Event, Gap, Motion, Overload, Settled, Step

Floats = NDArray[np.float64]

MAX_SAMPLE_S = 5.0
"""A sample counts for the time until the next one, but for this long at most; time beyond that is missing."""


@dataclass(frozen=True, slots=True)
class NightRecord:
    """Samples and events of a night on one time line that never goes back.

    Args:
        times_s: times of the samples, seconds since the night's start, rising; shape (n,).
        volts: the samples, AC rms volts, shape (n,).
        events: events of the detector on the same time line, in order of their start.
        end_s: end of the recording, seconds since the night's start.
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

    def part(self, start_s: float, end_s: float) -> NightRecord:
        """Return the part between two moments, its times counted from the first one; events are cut at both.

        Args:
            start_s: its start, s.
            end_s: its end, s.
        """
        if start_s <= 0.0 and end_s >= self.end_s:
            return self
        inside = (self.times_s >= start_s) & (self.times_s <= end_s)
        cut = (_cut(event, start_s, end_s) for event in self.events)
        return NightRecord(
            self.times_s[inside] - start_s,
            self.volts[inside],
            tuple(shifted(event, -start_s) for event in cut if event is not None),
            end_s - start_s,
        )

    def still_mask(self) -> NDArray[np.bool_]:
        """Return which samples are in a still span, shape (n,)."""
        inside = np.zeros(len(self.times_s), bool)
        for span in self.settled:
            low = int(np.searchsorted(self.times_s, span.start_s))
            high = int(np.searchsorted(self.times_s, span.end_s, side="right"))
            inside[low:high] = True
        return inside

    def durations_s(self) -> Floats:
        """Return the time for which each sample counts, s, shape (n,)."""
        if len(self.times_s) == 0:
            return np.zeros(0)
        until = np.append(self.times_s[1:], max(self.end_s, float(self.times_s[-1])))
        durations: Floats = np.minimum(until - self.times_s, MAX_SAMPLE_S)
        return durations


def shifted(event: Event, by_s: float) -> Event:
    """Return an event on a time line that begins `by_s` seconds earlier."""
    known_at_s = event.known_at_s + by_s
    if isinstance(event, Step):
        return replace(event, time_s=event.time_s + by_s, known_at_s=known_at_s)
    return replace(event, start_s=event.start_s + by_s, end_s=event.end_s + by_s, known_at_s=known_at_s)


def _cut(event: Event, start_s: float, end_s: float) -> Event | None:
    """Return what is left of an event between two moments; None where nothing is."""
    if isinstance(event, Step):
        return event if start_s <= event.time_s <= end_s else None
    if event.end_s <= start_s or event.start_s >= end_s:
        return None
    return replace(event, start_s=max(event.start_s, start_s), end_s=min(event.end_s, end_s))
