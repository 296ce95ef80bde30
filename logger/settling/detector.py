"""The settling detector: one sample at a time in, events out. The same code live and in replay.

Volts are AC rms volts, times are seconds on one clock. Nothing is tuned to a meter: what noise is, it learns from the
settled spans (see `noise`), and the meter's count from the values (see `resolution`).

`Detector` keeps time and averages samples to blocks; `SpanTracker` follows the blocks from level to level.
"""

from __future__ import annotations

from math import isfinite
from operator import attrgetter

from logger.settling import limits as lim
from logger.settling.events import Disagreement, Event, Gap, Now, Overload, Settled, State
from logger.settling.frozen_stretches import FrozenStretches
from logger.settling.rhythm import SlowRhythm, longest_silence_s
from logger.settling.signal_model import SignalModel
from logger.settling.span_uncertainty import update_uncertainty
from logger.settling.tracker import SpanTracker


# long: every way in which a line or a silence changes the time or the block being filled is one short method here.
class Detector:
    """Finds settled spans, motion, steps, drift, gaps and overload, as samples come in.

    Memory is bounded. No input raises: NaN and impossible values are not samples, infinity is an overload, a time
    that goes back a little counts as the time before it, one that goes back far starts a new stretch.
    """

    def __init__(self) -> None:
        self._model = SignalModel()
        self._tracker = SpanTracker(self._model)
        self._last_s: float | None = None
        self._last_volts: float | None = None
        self._overload_start_s: float | None = None
        self._frozen = FrozenStretches()
        self._slow = SlowRhythm()
        self._is_interrupted = False
        """Whether the state is OVERLOAD or LOST."""
        # The block that is being filled.
        self._block_sum = 0.0
        self._block_count = 0
        self._block_high = 0.0
        self._block_start_s = 0.0
        self._refused = 0
        """Lines that were refused since the last block."""
        self._only_refused_since_s: float | None = None
        """When the first line was refused since the last sample."""
        self._is_port_lost = False
        """Whether the port was lost since the last sample."""
        self._first_silence: tuple[float, float] | None = None
        """A gap after the very first line, in seconds, which a slow meter's next interval may prove to be none."""

    # ---- what comes in

    def feed(self, time_s: float, volts: float, digit_volts: float = 0.0) -> list[Event]:
        """Take in one line of the meter.

        Args:
            time_s: when it came.
            volts: its value.
            digit_volts: what its last digit is worth; 0 where that is not known.

        Returns:
            What became final with it, mostly nothing.
        """
        if not lim.LOWEST_VOLTS <= volts < lim.HIGHEST_VOLTS:
            return self.overload(time_s) if volts >= lim.HIGHEST_VOLTS else []
        if self._is_port_lost:
            self._end_port_loss(time_s)
        model, last_s = self._model, self._last_s
        if self._only_refused_since_s is not None:
            self._end_refused(time_s)
            last_s = self._last_s
        if last_s is not None and 0.0 < (elapsed := time_s - last_s) < lim.SHORTEST_GAP_S:
            interval_s = model.interval_s
            if interval_s:
                # A missing line or a burst must not change the rhythm.
                longest = lim.MAX_RHYTHM_INTERVALS * interval_s
                capped = elapsed if elapsed < longest else longest
                interval_s += lim.RUNNING_MEAN_SHARE * (capped - interval_s)
            else:
                interval_s = elapsed
                self._end_first_silence(time_s)
            model.interval_s = interval_s
            self._last_s = time_s
        elif self._take_time(time_s):
            assert self._last_s is not None
            time_s = self._last_s
            interval_s = model.interval_s or lim.BLOCK_S
        else:
            return []
        if self._is_interrupted:
            self._end_interruption()
        if digit_volts and not model.resolution.has_digit(digit_volts):
            self._change_range(time_s, last_s, digit_volts)
        if volts != self._last_volts:
            self._last_volts = volts
            if model.resolution.wants_more:
                model.resolution.add(volts)
        self._frozen.take_sample(time_s, volts, model.resolution.count_volts)
        model.history.samples.append(volts)
        count = self._block_count
        if count == 0:
            self._block_start_s = time_s
            self._block_sum = self._block_high = volts
        else:
            self._block_sum += volts
            if volts > self._block_high:
                self._block_high = volts
        self._block_count = count = count + 1
        tracker = self._tracker
        if time_s - self._block_start_s + interval_s >= lim.FULL_BLOCK_S:
            tracker.take_block(time_s, self._block_sum / count, self._block_high, count, self._refused)
            self._block_count = self._refused = 0
        return self._take_events() if tracker.events else []

    def overload(self, time_s: float) -> list[Event]:
        """Take in a line that means overload at `time_s`. Returns what became final with it."""
        if self._is_port_lost:
            self._end_port_loss(time_s)
        if not self._take_time(time_s):
            return []
        assert self._last_s is not None
        if self._overload_start_s is None:
            self._overload_start_s = self._last_s
            self._drop_block()
            self._tracker.interrupt()
            self._show_interruption(State.OVERLOAD)
        return self._take_events()

    def refuse(self, time_s: float, contradicts: bool = False) -> None:
        """Take note that a line came at `time_s` that gives no sample.

        Args:
            time_s: when it came.
            contradicts: it reads as a value, which was refused in the light of the lines around it.
        """
        self._refused += contradicts
        start_s = self._only_refused_since_s
        if start_s is None:
            self._only_refused_since_s = time_s
        elif self._last_s is not None and time_s - start_s > self._longest_refused_s():
            self._show_interruption(State.LOST)

    def lose_port(self) -> None:
        """Take note that the port was lost: what comes next may be another meter, so no span goes on through it."""
        if self._last_s is not None:
            self._is_port_lost = True
            if self._overload_start_s is None:
                self._show_interruption(State.LOST)

    def tick(self, time_s: float) -> list[Event]:
        """Take note that time has passed without a line: the meter may be lost. The gap is an event when it ends."""
        if self._last_s is not None and time_s - self._last_s > self._longest_silence_s():
            self._show_interruption(State.LOST)
        return []

    def finish(self) -> list[Event]:
        """Close everything that is open and return its events.

        The detector then waits as a new one, but keeps what it learned of the meter.
        """
        events = self._frozen.without_frozen(self._close())
        self._start_stretch(0.0)
        self._last_s = None
        self._is_port_lost = False
        self._tracker.state.change(State.WAITING, 0.0)
        return events

    def open_events(self) -> list[Event]:
        """What `finish` would return now, without ending anything, and before the last retractions."""
        return self._frozen.without_frozen(self._open_events())

    def _open_events(self) -> list[Event]:
        if self._last_s is None:
            return []
        events = self._tracker.open_events()
        if self._overload_start_s is not None:
            events.append(Overload(self._overload_start_s, self._last_s, self._overload_start_s))
        if self._first_silence is not None:
            events.append(Gap(*self._first_silence, self._last_s))
        return sorted(events, key=attrgetter("known_at_s"))

    @property
    def disagreement(self) -> Disagreement | None:
        """Why the latest lines show no level although their means may look level; None where it is not so."""
        return None if self._is_interrupted else self._tracker.disagreement

    @property
    def now(self) -> Now:
        """The state for the window and, while settled, the value."""
        tracker = self._tracker
        span, state = tracker.span, tracker.state
        if span is not None and state.state is State.SETTLED:
            u_volts = update_uncertainty(self._model, span).u_volts
            return Now(state.state, span.start_s, span.level_volts, u_volts, span.samples)
        return Now(state.state, state.since_s, self._last_volts, None, 0)

    def _take_events(self) -> list[Event]:
        """The final events that nobody has taken yet."""
        events, self._tracker.events = self._tracker.events, []
        return self._frozen.without_frozen(events)

    def _close(self) -> list[Event]:
        """The events of what is open, when nothing more will come that could decide about it."""
        self._tracker.decide_open()
        events = self._open_events()
        self._first_silence = None
        return [event.as_final() if isinstance(event, Settled) else event for event in events]

    # ---- time

    def _longest_silence_s(self) -> float:
        return longest_silence_s(self._model.interval_s)

    def _take_time(self, time_s: float) -> bool:
        """Take in a time that is not simply a little later than the last one. False when it is no time at all."""
        if not isfinite(time_s):
            return False
        last_s = self._last_s
        if last_s is None:
            self._start_stretch(time_s)
        elif time_s < last_s - lim.CLOCK_BACK_S:
            self._tracker.events += self._close()
            self._start_stretch(time_s)
        elif time_s - last_s > self._longest_silence_s():
            interval_s = self._slow.take_silence(last_s, time_s)
            if (
                interval_s is None
                and not self._model.interval_s
                and time_s - last_s <= lim.SLOWEST_INTERVAL_S
            ):
                self._end_first_silence(time_s)
                self._first_silence = (last_s, time_s)
                self._start_stretch(time_s)
            elif interval_s is None:
                self._bridge_gap(last_s, time_s)
            else:
                self._first_silence = None
                self._model.interval_s = interval_s
                self._last_s = time_s
        else:
            self._last_s = max(time_s, last_s)
        return True

    def _end_refused(self, time_s: float) -> None:
        """Go on with a sample at `time_s` after refused lines: the voltage was unseen where there was nothing else."""
        start_s, last_s = self._only_refused_since_s, self._last_s
        self._only_refused_since_s = None
        if start_s is None or last_s is None or self._overload_start_s is not None:
            return
        if self._longest_refused_s() < time_s - start_s and time_s - last_s <= self._longest_silence_s():
            self._bridge_gap(last_s, time_s)

    def _end_port_loss(self, time_s: float) -> None:
        """Go on with a line at `time_s` after a loss of the port, however short: the voltage was unseen."""
        last_s = self._last_s
        if not isfinite(time_s):
            return
        self._is_port_lost = False
        if last_s is not None and time_s >= last_s - lim.CLOCK_BACK_S:
            self._bridge_gap(last_s, max(time_s, last_s))

    def _end_first_silence(self, known_at_s: float) -> None:
        """Let the silence after the first line be a gap, as `known_at_s` shows: the meter is not so slow."""
        if self._first_silence is not None:
            self._tracker.events.append(Gap(*self._first_silence, known_at_s))
            self._first_silence = None

    def _longest_refused_s(self) -> float:
        return max(lim.LONGEST_REFUSED_S, lim.REFUSED_INTERVALS * self._model.interval_s)

    def _bridge_gap(self, last_s: float, time_s: float) -> None:
        """Go on at `time_s` after a gap since the last sample at `last_s`, in seconds."""
        unseen_since_s = last_s if self._overload_start_s is None else self._overload_start_s
        self._tracker.events += [*self._close(), Gap(last_s, time_s, time_s)]
        if time_s - unseen_since_s > lim.LONGEST_BRIDGED_S:
            self._start_stretch(time_s)
        else:
            self._forget_block(time_s)
            self._tracker.bridge_gap(unseen_since_s, time_s)

    def _change_range(self, time_s: float, last_s: float | None, digit_volts: float) -> None:
        """Go on with another last digit: no level goes on through a change of range.

        Args:
            time_s: of the first sample with it.
            last_s: of the sample before it; None for none.
            digit_volts: what the last digit is worth now.
        """
        before_volts = self._model.resolution.digit_volts
        if before_volts and last_s is not None:
            self._drop_block()
            self._tracker.change_range(min(last_s, time_s), time_s, max(before_volts, digit_volts))
        self._model.resolution.begin_range(digit_volts)

    def _drop_block(self) -> None:
        """Forget the block that is being filled."""
        if self._block_count:
            del self._model.history.samples[-self._block_count :]
            self._block_count = 0

    def _start_stretch(self, time_s: float) -> None:
        """Begin anew: nothing before is comparable with what comes."""
        self._forget_block(time_s)
        self._tracker.start_stretch(time_s)

    def _forget_block(self, time_s: float) -> None:
        """Begin a new block at `time_s`, after an interruption."""
        self._last_s = time_s
        self._drop_block()
        self._only_refused_since_s = None
        self._overload_start_s = None
        self._is_interrupted = False

    def _show_interruption(self, state: State) -> None:
        assert self._last_s is not None
        self._is_interrupted = True
        self._tracker.state.change(state, self._last_s)

    def _end_interruption(self) -> None:
        """Go on after an overload, or after a silence that was not long enough for a gap after all."""
        assert self._last_s is not None
        self._is_interrupted = False
        start_s = self._overload_start_s
        if start_s is not None and self._last_s - start_s > lim.LONGEST_BRIDGED_S:
            self._tracker.events += self._close()
            self._start_stretch(self._last_s)
            return
        if start_s is not None:
            self._tracker.events.append(Overload(start_s, self._last_s, start_s))
            self._overload_start_s = None
            self._tracker.bridge_overload(start_s, self._last_s)
        self._tracker.show_current(self._last_s)
