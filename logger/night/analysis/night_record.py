"""A night as plain numbers: the samples and events that every analysis in `logger.night` takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from logger.settling.events import Event, Gap, Motion, Overload, Settled, Step, unseen_stretch
from logger.settling.rhythm import longest_silence_s

Floats = NDArray[np.float64]

Stretch = tuple[float, float]
"""Start and end in seconds on a time line."""


@dataclass(frozen=True, slots=True)
class SwitchedStretch:
    """A time in which a load switched again and again, and nobody moved.

    Args:
        start_s: its start, s.
        end_s: its end, s.
        low_volts: the lower one of both levels, V.
        high_volts: the higher one, V.
        period_s: after what time it switched on again, s.
    """

    start_s: float
    end_s: float
    low_volts: float
    high_volts: float
    period_s: float


@dataclass(frozen=True, slots=True)
class NightRecord:
    """Samples and events of a night on one time line that never goes back.

    Args:
        times_s: times of the samples, seconds since the night's start, rising; shape (n,).
        volts: the samples, AC rms volts, shape (n,).
        events: events of the detector on the same time line, in order of their start.
        end_s: end of the recording, seconds since the night's start.
        frozen: start and end of each time in which the display stood still, in order and apart, s: its samples are no
            measurement and are in no figure.
        steps_around: steps of the recording that are not of the night, in order; before its start below 0. What comes
            again by itself shows in the whole recording, whatever part of it counts as the night.
        switched: times in which a load switched again and again, in order: still, at both levels.
        wandering: start and end of each time in which the level wandered slowly, and the detector found none, in order
            and apart, s: still.
    """

    times_s: Floats
    volts: Floats
    events: tuple[Event, ...]
    end_s: float
    frozen: tuple[tuple[float, float], ...] = ()
    steps_around: tuple[Step, ...] = ()
    switched: tuple[SwitchedStretch, ...] = ()
    wandering: tuple[Stretch, ...] = ()

    @property
    def switched_times(self) -> list[Stretch]:
        """Start and end of each time in which a load switched again and again, s."""
        return [(one.start_s, one.end_s) for one in self.switched]

    @property
    def still(self) -> list[Stretch]:
        """Start and end of each time in which nobody moved, in order and apart, s: settled, switched or wandering."""
        settled = [(span.start_s, span.end_s) for span in self.settled]
        return merged([*settled, *self.switched_times, *self.wandering])

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
    def steps_of_recording(self) -> list[Step]:
        """The lasting changes of level of the whole recording, in order."""
        return sorted([*self.steps, *self.steps_around], key=lambda step: step.time_s)

    @property
    def missing(self) -> list[tuple[float, float]]:
        """Start and end of each time without a value, in order and apart: gaps, overload, no value at either end.

        What is a gap is the detector's rule alone; it holds at both ends of the recording too.
        """
        found = [(event.start_s, event.end_s) for event in self.events if isinstance(event, (Gap, Overload))]
        times_s = self.times_s
        interval_s = float(np.median(np.diff(times_s))) if len(times_s) > 1 else 0.0
        first_s, last_s = (
            (float(times_s[0]), float(times_s[-1])) if len(times_s) else (self.end_s, self.end_s)
        )
        ends = [(0.0, first_s), (last_s, self.end_s)]
        found += [(low, high) for low, high in ends if high - low > longest_silence_s(interval_s)]
        return merged(found)

    @property
    def overloaded(self) -> list[tuple[float, float]]:
        """Start and end of each time in which the voltage was above the meter's range, in order and apart, s."""
        return merged([(e.start_s, e.end_s) for e in self.events if isinstance(e, Overload)])

    @property
    def silent(self) -> list[tuple[float, float]]:
        """Start and end of each time in which nothing was recorded: what is missing, but for overload."""
        return without(self.missing, self.overloaded)

    @property
    def unmeasured(self) -> list[tuple[float, float]]:
        """Start and end of each time that tells nothing of the voltage, in order and apart: missing, or frozen."""
        return merged([*self.missing, *self.frozen])

    def without_frozen(self, stretches: Sequence[tuple[float, float]]) -> NightRecord:
        """Return the record with the times in which the display stood still cut out of its still spans and motions.

        Args:
            stretches: start and end of each of these times, s.
        """
        frozen = merged(stretches)
        events: list[Event] = []
        for event in self.events:
            if not isinstance(event, (Settled, Motion)):
                events.append(event)
                continue
            start_s = event.start_s
            for low, high in frozen:
                if low < event.end_s and start_s < high:
                    events += [self._piece(event, start_s, low)] if start_s < low else []
                    start_s = high
            if start_s < event.end_s:
                events.append(self._piece(event, start_s, event.end_s))
        return replace(self, events=tuple(events), frozen=tuple(frozen))

    def without_motions_in(self, stretches: Sequence[Stretch], least_s: float) -> NightRecord:
        """Return the record with stretches cut out of its motions.

        Args:
            stretches: start and end of each, s.
            least_s: what is left of a motion that was cut counts if it is longer, s.
        """
        cuts = merged(stretches)
        events: list[Event] = []
        for event in self.events:
            if not isinstance(event, Motion):
                events.append(event)
                continue
            whole = (event.start_s, event.end_s)
            left = without([whole], cuts)
            events += [
                self._piece(event, *piece)
                for piece in left
                if piece == whole or piece[1] - piece[0] > least_s
            ]
        return replace(self, events=tuple(events))

    def _piece(self, event: Settled | Motion, start_s: float, end_s: float) -> Settled | Motion:
        """Return a piece of an event, with what its own samples show."""
        if (start_s, end_s) == (event.start_s, event.end_s):
            return event
        low, high = np.searchsorted(self.times_s, (start_s, end_s))
        volts = self.volts[low:high]
        if isinstance(event, Motion):
            peak_volts = float(volts.max(initial=0.0))
            return replace(event, start_s=start_s, end_s=end_s, peak_volts=peak_volts)
        mean_volts = float(volts.mean()) if len(volts) else event.volts
        return replace(event, start_s=start_s, end_s=end_s, volts=mean_volts, samples=len(volts))

    def unseen(self, step: Step) -> tuple[float, float] | None:
        """Return start and end of the time without values that a step lies in, s; None for a step that was seen."""
        return unseen_stretch(step, self.missing)

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
            _within(self.frozen, start_s, end_s),
            tuple(
                replace(step, time_s=step.time_s - start_s, known_at_s=step.known_at_s - start_s)
                for step in self.steps_of_recording
                if not start_s <= step.time_s <= end_s
            ),
            tuple(
                replace(
                    one, start_s=max(one.start_s, start_s) - start_s, end_s=min(one.end_s, end_s) - start_s
                )
                for one in self.switched
                if one.start_s < end_s and start_s < one.end_s
            ),
            _within(self.wandering, start_s, end_s),
        )

    def still_mask(self) -> NDArray[np.bool_]:
        """Return which samples are in a still span, shape (n,)."""
        inside = np.zeros(len(self.times_s), bool)
        for start_s, end_s in self.still:
            low = int(np.searchsorted(self.times_s, start_s))
            high = int(np.searchsorted(self.times_s, end_s, side="right"))
            inside[low:high] = True
        for start_s, end_s in self.frozen:
            low, high = np.searchsorted(self.times_s, (start_s, end_s)).tolist()
            inside[low:high] = False
        return inside

    def durations_s(self) -> Floats:
        """Return the time for which each sample counts, s, shape (n,): until the next one, measured time only."""
        if len(self.times_s) == 0:
            return np.zeros(0)
        until = np.append(self.times_s[1:], max(self.end_s, float(self.times_s[-1])))
        return _length_without(self.unmeasured, self.times_s, until)


def _within(stretches: Sequence[Stretch], start_s: float, end_s: float) -> tuple[Stretch, ...]:
    """Return what of stretches lies between two moments, counted from the first one."""
    return tuple(
        (max(low, start_s) - start_s, min(high, end_s) - start_s)
        for low, high in stretches
        if low < end_s and start_s < high
    )


def without(stretches: Sequence[Stretch], cuts: Sequence[Stretch]) -> list[Stretch]:
    """Return what is left of stretches without others.

    Args:
        stretches: in order and apart.
        cuts: what is taken out, in order and apart.
    """
    left = []
    for start_s, end_s in stretches:
        for low, high in cuts:
            if low < end_s and start_s < high:
                if start_s < low:
                    left.append((start_s, low))
                start_s = high
        if start_s < end_s:
            left.append((start_s, end_s))
    return left


def merged(stretches: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return stretches in order, with those that overlap put together."""
    found: list[tuple[float, float]] = []
    for start_s, end_s in sorted(stretches):
        if found and start_s < found[-1][1]:
            found[-1] = found[-1][0], max(found[-1][1], end_s)
        else:
            found.append((start_s, end_s))
    return found


def _length_without(missing: Sequence[tuple[float, float]], start_s: Floats, end_s: Floats) -> Floats:
    """Return the length of each stretch without what is missing in it, s, shape (n,).

    Args:
        missing: start and end of what is missing, in order and apart, s.
        start_s: starts of the stretches, shape (n,).
        end_s: ends of the stretches, shape (n,).
    """
    if not missing:
        return end_s - start_s
    edges = np.array(missing).ravel()
    lost = np.concatenate([[0.0], np.cumsum(np.diff(edges) * (np.arange(len(edges) - 1) % 2 == 0))])
    length_s: Floats = (end_s - start_s) - (np.interp(end_s, edges, lost) - np.interp(start_s, edges, lost))
    return length_s


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
