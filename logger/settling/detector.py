"""The settling detector: one sample at a time in, events out. The same code live and in replay.

Volts are AC rms volts, times are seconds on one clock. Nothing is tuned to a meter: what noise is, it learns from the
still spans (see `noise`), and the meter's count from the values. DEVELOPERS.md has the reasons for the tests.

The trace is always in one of two conditions: a still span is growing, or an transition goes on that will end with the
next one. `level` finds a level, `watch` tells that it was left, `found` tells what happened in between. A span that
proves to have been no level is withdrawn, so events are given only when nothing can undo them; `open_events` has the
rest.
"""

from __future__ import annotations

from math import ceil, isfinite
from operator import attrgetter

from logger.settling import limits as lim
from logger.settling.classification import (
    classify,
    classify_movement,
    classify_unfinished,
    is_same_level,
    step_between,
)
from logger.settling.departure import DepartureKind, creeps_on, departure, jump_within, onset
from logger.settling.events import Event, Gap, Motion, Now, Overload, Settled, State, Step
from logger.settling.level import find_level, is_blunt, is_gradual
from logger.settling.line_fit import change_of, creeps, jitter_of, mean_and_variance, onset_of_ramp
from logger.settling.noise import MIN_NOISE_VOLTS
from logger.settling.retraction import first_in_doubt, is_higher, is_unquiet, waiting_before
from logger.settling.signal_model import SignalModel
from logger.settling.span import OpenSpan, Transition


class Detector:
    """Tells settled from settling, motion, steps, drift, gaps and overload, as samples come in.

    Memory is constant. No input raises: NaN and impossible values are not samples, infinity is an overload, time
    that goes back a little stands still, time that goes back far starts a new stretch.
    """

    def __init__(self) -> None:
        self._model = SignalModel()
        self._history = self._model.history
        self._state = State.WAITING
        self._since_s = 0.0
        self._out: list[Event] = []
        # The block that is being filled.
        self._block_sum = 0.0
        self._block_count = 0
        self._block_high = 0.0
        self._block_start_s = 0.0
        self._last_s: float | None = None
        self._last_volts: float | None = None
        # What is open.
        self._span: OpenSpan | None = None
        self._before: OpenSpan | None = None
        self._episode = Transition(0, 0, 0.0)
        self._overload_start_s: float | None = None
        self._limit_volts = lim.DEVIATION_VOLTS
        self._check_at = 0
        self._teach_after = 1

    # ---- what comes in

    def feed(self, time_s: float, volts: float) -> list[Event]:
        """One line of the meter: `volts` at `time_s`. Gives what became final with it, mostly nothing."""
        if not lim.LOWEST_VOLTS <= volts < lim.HIGHEST_VOLTS:
            return self.overload(time_s) if volts >= lim.HIGHEST_VOLTS else []
        model, last_s = self._model, self._last_s
        if last_s is not None and 0.0 < (elapsed := time_s - last_s) < lim.SHORTEST_GAP_S:
            interval_s = model.interval_s
            if interval_s:
                # A missing line or a burst must not change the rhythm.
                capped = elapsed if elapsed < 3.0 * interval_s else 3.0 * interval_s
                model.interval_s = interval_s = interval_s + 0.1 * (capped - interval_s)
            else:
                model.interval_s = interval_s = elapsed
            self._last_s = time_s
        elif self._take_time(time_s):
            assert self._last_s is not None
            time_s = self._last_s
            interval_s = model.interval_s or lim.BLOCK_S
        else:
            return []
        if self._state is State.OVERLOAD or self._state is State.LOST:
            self._back()
        if volts != self._last_volts:
            self._last_volts = volts
            if model.resolution.wants_more:
                model.resolution.see(volts)
        count = self._block_count
        if count == 0:
            self._block_start_s = time_s
            self._block_sum = self._block_high = volts
        else:
            self._block_sum += volts
            if volts > self._block_high:
                self._block_high = volts
        self._block_count = count = count + 1
        if time_s - self._block_start_s + interval_s >= lim.BLOCK_S:
            self._block_count = 0
            self._take_block(time_s, self._block_sum / count, self._block_high, count)
        if self._out:
            events, self._out = self._out, []
            return events
        return []

    def overload(self, time_s: float) -> list[Event]:
        """A line that says the voltage is above the meter's range."""
        if not self._take_time(time_s):
            return []
        assert self._last_s is not None
        if self._overload_start_s is None:
            self._overload_start_s = self._last_s
            self._block_count = 0
            if self._span is not None:
                self._leave(self._history.end)
            self._set_state(State.OVERLOAD, self._last_s)
        events, self._out = self._out, []
        return events

    def tick(self, time_s: float) -> list[Event]:
        """Time has passed without a line; may tell that the meter is lost. The gap itself is told when it ends."""
        if self._last_s is not None and time_s - self._last_s > self._longest_silence_s():
            self._set_state(State.LOST, self._last_s)
        return []

    def finish(self) -> list[Event]:
        """Close everything that is open. Waits then as a new one, but keeps what it learned of the meter."""
        events = self._close()
        self._start_stretch(0.0)
        self._last_s = None
        self._set_state(State.WAITING, 0.0)
        return events

    def _close(self) -> list[Event]:
        """What is open, when nothing more will come that could decide about it."""
        if self._span is not None and not self._span.confirmed:
            self._decide(self._span)
            self._doubt_before(self._span)
        return self.open_events()

    def open_events(self) -> list[Event]:
        """What `finish` would give now, without ending anything, and without the last doubts."""
        if self._last_s is None:
            return []
        events: list[Event] = []
        for waiting in waiting_before(self._before):
            events += [*waiting.held, self._settled_event(waiting)]
        if self._span is not None:
            events += self._span.held
            step = self._step_to(self._span)
            if step is not None:
                events.append(step)
            events.append(self._settled_event(self._span))
        else:
            events += classify_unfinished(self._model, self._episode, self._before)
        if self._overload_start_s is not None:
            events.append(Overload(self._overload_start_s, self._last_s, self._overload_start_s))
        return sorted(events, key=attrgetter("known_at_s"))

    @property
    def now(self) -> Now:
        """State for the window."""
        span = self._span
        if span is not None and self._state is State.SETTLED:
            return Now(self._state, span.start_s, span.level, self._model.u_level(span.count), span.samples)
        return Now(self._state, self._since_s, self._last_volts, None, 0)

    # ---- time

    def _longest_silence_s(self) -> float:
        return max(lim.SHORTEST_GAP_S, lim.GAP_INTERVALS * self._model.interval_s)

    def _take_time(self, time_s: float) -> bool:
        """A time that is not simply a little later than the last one. False when it is no time at all."""
        if not isfinite(time_s):
            return False
        last_s = self._last_s
        if last_s is None:
            self._start_stretch(time_s)
        elif time_s < last_s - lim.CLOCK_BACK_S:
            self._out += self._close()
            self._start_stretch(time_s)
        elif time_s - last_s > self._longest_silence_s():
            self._out += [*self._close(), Gap(last_s, time_s, time_s)]
            self._start_stretch(time_s)
        else:
            self._last_s = max(time_s, last_s)
        return True

    def _start_stretch(self, time_s: float) -> None:
        """Nothing before is comparable with what comes."""
        self._last_s = time_s
        self._block_count = 0
        self._overload_start_s = None
        self._span = self._before = None
        self._episode = Transition(self._history.end, self._history.end, time_s)
        self._set_state(State.SETTLING, time_s)

    def _back(self) -> None:
        """A sample after an overload, or after a silence that was not long enough for a gap after all."""
        assert self._last_s is not None
        if self._overload_start_s is not None:
            self._out.append(Overload(self._overload_start_s, self._last_s, self._overload_start_s))
            self._overload_start_s = None
            self._episode.barrier = self._history.end
        if self._span is not None:
            self._set_state(State.SETTLED, self._span.start_s)
        else:
            self._set_state(State.SETTLING, self._last_s)

    def _set_state(self, state: State, since_s: float) -> None:
        if state is not self._state:
            self._state = state
            self._since_s = since_s

    # ---- blocks

    def _take_block(self, time_s: float, volts: float, high: float, samples: int) -> None:
        model, span = self._model, self._span
        model.add_block(time_s, volts, high, samples)
        if span is None:
            self._seek(volts, high)
            return
        deviation = volts - span.level
        if -self._limit_volts < deviation < self._limit_volts:
            span.count += 1
            span.samples += samples
            span.level += deviation / span.count
            span.end_block += 1
            if span.end_block - self._teach_after >= span.taught_block + 4:
                self._teach(span)
            if span.count >= self._check_at:
                self._check(span)
        else:
            start = onset(model, span)
            self._leave(jump_within(model, span, start) or start)
            self._seek(volts, high)

    def _teach(self, span: OpenSpan) -> None:
        """Four more blocks have proved to be still."""
        volts, level = self._history.volts, span.level
        end = len(volts) - self._teach_after + 1
        span.taught_block = span.end_block - self._teach_after
        self._model.noise.learn([value - level for value in volts[end - 4 : end]])
        self._limit_volts = self._model.deviation_limit()

    def _check(self, span: OpenSpan) -> None:
        """What need not be looked at with every block of a span."""
        self._check_at = span.count + (2 if span.count < lim.YOUNG_BLOCKS else 4)
        if span.unproven and not span.confirmed:
            self._cut_loud_beginning(span)
        found = departure(self._model, span)
        if found is not None:
            if found.kind is DepartureKind.SHIFT:
                self._leave(found.onset)
                self._episode.by_shift = True
            elif not self._was_tail(span):
                self._drifted(span, found.volts_per_block)
            return
        if not span.confirmed:
            if span.raised and span.count % 4 < 2 and self._is_restless(span):
                self._withdraw(span)
                self._set_state(State.CHANGING, self._history.times_s[-1])
                return
            if self._history.times_s[-1] - span.start_s >= self._wait_s(span):
                self._doubt_before(span)
                if self._is_the_same(span):
                    return
                span.confirmed = True
                self._tell(span)
        if span.undecided_step_s is not None and span.confirmed:
            self._decide(span)
            self._tell(span)

    # ---- leaving a level

    def _was_tail(self, span: OpenSpan) -> bool:
        """Whether only the beginning of a young span drifted: then it starts later."""
        history = self._history
        values = history.volts_from(span.start_block)
        half = len(values) // 2
        if span.confirmed or half < 4 or history.times_s[-1] - history.times_s[-half] < lim.STILL_S / 2:
            return False
        early, late = change_of(values[:half]), change_of(values[half:])
        if abs(late) > max(lim.TAIL_SHARE * abs(early), lim.TILT_VOLTS / 2):
            return False
        start = history.end - len(values) + half
        span.start_at(start, history.time_of(start), values[half:], history.samples_from(start))
        return True

    def _cut_loud_beginning(self, span: OpenSpan) -> None:
        """A young span that has become much quieter than it began (F test) starts where it did."""
        history, model = self._history, self._model
        values = history.volts_from(span.start_block)
        size = model.window(lim.STILL_S, len(values))
        if not size or size > len(values) - 2:
            return
        level, variance = mean_and_variance(values[-size:])
        variance = max(variance, model.noise.least_variance)
        if mean_and_variance(values)[1] < lim.LOUD_RATIO * variance:
            return
        reach = max(lim.DEVIATION_SIGMAS * variance**0.5, lim.TILT_VOLTS)
        start = len(values) - size
        while start > 0 and abs(values[start - 1] - level) < reach:
            start -= 1
        kept = values[start:]
        if start:
            begin = history.end - len(kept)
            span.start_at(begin, history.time_of(begin), kept, history.samples_from(begin))
            span.taught_block = max(span.taught_block, span.start_block)
            model.noise.begin(mean_and_variance(kept)[1], jitter_of(kept) ** 2, len(kept))
            self._limit_volts = model.deviation_limit()

    def _wait_s(self, span: OpenSpan) -> float:
        """How long a span must last to stand whatever comes."""
        if span.loud:
            return lim.LOUD_CONFIRM_S
        if span.crept and not span.stepped:
            return lim.CREPT_S
        if span.is_first:
            return lim.BLUNT_S
        return lim.HIGHER_S if is_higher(self._model, self._before, span) else lim.CONFIRM_S

    def _doubt_before(self, span: OpenSpan) -> None:
        """Withdraw spans before this one that now prove to have been part of a movement or a drift."""
        doubted = first_in_doubt(self._model, self._before, span)
        if doubted is None:
            return
        if doubted.drifted:
            self._before, span.transition = doubted.first.earlier, doubted.first.transition
        else:
            self._merge(doubted.first, span)

    def _merge(self, first: OpenSpan, span: OpenSpan) -> None:
        """Everything from the span `first` until `span` was one movement."""
        history, transition = self._history, first.transition
        begin = max(first.start_block - history.first, 0)
        for index in range(begin, max(span.start_block - history.first, 0)):
            transition.see(history.volts[index], history.highs[index])
        self._before, span.transition = first.earlier, transition
        span.is_first = first.is_first
        found = classify_movement(self._model, transition, first.earlier, span)
        span.held, span.undecided_step_s = found.events, found.step_s
        span.raised = span.crept = span.stepped = False

    def _drifted(self, span: OpenSpan, volts_per_block: float) -> None:
        history = self._history
        begin = max(span.floor_block, history.first)
        recent = history.volts_from(begin)
        head = max(len(recent) // 4, 4)
        start = begin + onset_of_ramp(recent, sum(recent[:head]) / head)
        start_s = history.time_of(start)
        if start_s - span.start_s < lim.SHORTEST_BEFORE_DRIFT_S:
            self._undo(span)
        else:
            self._leave(start)
        self._episode.drift_volts_per_block = abs(volts_per_block)
        self._set_state(State.DRIFTING, start_s)

    def _leave(self, start: int) -> None:
        """The span ended just before block `start`; what follows is an transition until the next level."""
        span, history = self._span, self._history
        assert span is not None
        unsure = self._unsure_blocks(span, start)
        late = (start - unsure, span.end_block)
        span.end_before(start - unsure, history.volts_from(*late), history.samples_from(*late))
        span.end_s = history.time_of(span.end_block - 1)
        span.u_volts = self._model.u_level(span.count)
        if span.loud and not span.confirmed:
            span.variance = mean_and_variance(history.volts_from(span.start_block, span.end_block))[1]
        if not span.confirmed:
            self._decide(span)
        if start < history.end and creeps_on(self._model, span, self._before):
            run = max(history.end - span.start_block, 1)
            self._undo_as_drift(span, start, abs(span.level - history.volts[-1]) / run)
        elif self._crept(span, start):
            seen = history.volts_from(span.start_block)
            self._undo_as_drift(span, start, abs(change_of(seen)) / len(seen))
        elif span.crept and not span.stepped and span.end_s - span.start_s < lim.PAUSE_S:
            self._withdraw(span)
            self._set_state(State.CHANGING, span.end_s)
        elif span.confirmed and span.end_s - span.start_s < lim.SHORTEST_SPAN_S:
            self._disown(span)
            self._set_state(State.CHANGING, span.end_s)
        elif not span.confirmed and self._was_part_of_more(span, start):
            self._withdraw(span)
            self._set_state(State.CHANGING, span.end_s)
        else:
            if not span.confirmed:
                self._doubt_before(span)
            if span.confirmed or self._wait_s(span) <= lim.CONFIRM_S:
                self._tell(span)
            else:
                self._put_off(span)
            self._span, self._before = None, span
            self._episode = Transition(
                start, start + unsure, history.time_of(start) if start < history.end else span.end_s
            )
            self._look_again(start)
            self._set_state(State.CHANGING, self._episode.start_s)

    def _unsure_blocks(self, span: OpenSpan, start: int) -> int:
        """How many blocks either way the change at `start` may have been, where it does not stand out of the noise.

        The likelihood falls by exp(-d^2 / 8) with each block, d being the change in standard deviations (see limits).
        """
        since = self._history.volts_from(start)
        change = abs(sum(since) / len(since) - span.level) if since else 0.0
        if change <= 0:
            return 0
        unsure = int(lim.UNSURE_BLOCKS * (self._model.stray_volts / change) ** 2)
        return min(unsure, lim.MAX_UNSURE_BLOCKS, span.count // 4)

    def _put_off(self, span: OpenSpan) -> None:
        """Whether the span stands is decided when a later one does. Only so many wait for that."""
        if self._before is not None and len(waiting_before(self._before)) > lim.MAX_WAITING:
            self._tell_span(self._before)
        span.earlier = self._before

    def _crept(self, span: OpenSpan, start: int) -> bool:
        """Whether a young span, with what left it, is one slope rather than a level and something else."""
        if span.confirmed or self._history.end - start < 2:
            return False
        seen = self._history.volts_from(span.start_block)
        own = seen[: len(seen) - (self._history.end - start)]
        if len(own) < 3 or len(seen) < lim.STILL_BLOCKS:
            return False
        late = own[-max(len(own) // 2, 3) :]
        rise, whole = change_of(late), change_of(seen)
        if rise * whole <= 0 or abs(rise) < 2 * self._model.u_change(len(late)):
            return False
        since = seen[len(own) :]
        departs = (sum(since) / len(since) - sum(late) / len(late)) / (len(late) + len(since)) * 2
        return abs(rise) / len(late) > lim.TAIL_SHARE * abs(departs) and creeps(seen)

    def _was_part_of_more(self, span: OpenSpan, start: int) -> bool:
        """Whether a short span was a pause in a movement, or its top, rather than a level."""
        length_s = span.end_s - span.start_s
        if length_s < (lim.CREEP_S if span.crept and not span.stepped else lim.SHORTEST_SPAN_S):
            return True
        since = self._history.volts_from(start)
        upwards = bool(since) and since[-1] > span.level
        moved = any(isinstance(event, Motion) for event in span.held)
        return (span.suspect and length_s < lim.PAUSE_S) or (moved and upwards and length_s < lim.LULL_S)

    def _is_restless(self, span: OpenSpan) -> bool:
        """Whether a raised span scatters more than noise. One that a long look found is noisier, and believed so."""
        before = self._before
        if before is None or span.patient or span.count < lim.RESTLESS_BLOCKS:
            return False
        return is_unquiet(self._model, span, before.level)

    def _undo_as_drift(self, span: OpenSpan, start: int, volts_per_block: float) -> None:
        self._undo(span)
        self._episode.drift_volts_per_block = volts_per_block
        self._episode.barrier = start
        self._set_state(State.DRIFTING, span.start_s)

    def _undo(self, span: OpenSpan) -> None:
        if span.confirmed:
            self._disown(span)
        else:
            self._withdraw(span)

    def _withdraw(self, span: OpenSpan) -> None:
        """What was called settled was not: the transition before it goes on."""
        self._span = None
        self._episode = span.transition
        self._episode.by_shift = False
        self._look_again(span.start_block)

    def _disown(self, span: OpenSpan) -> None:
        """The same when what led to the span has been told already: a new transition starts in its place."""
        span.told = True
        span.end_s, span.u_volts = span.start_s, self._model.u_level(span.count)
        self._span, self._before = None, span
        self._episode = Transition(span.start_block, span.start_block, span.start_s)

    def _look_again(self, start: int) -> None:
        """Blocks from `start` on turn out to be the transition's; the newest is seen by `_seek`."""
        history = self._history
        for index in range(max(start - history.first, 0), len(history.volts) - 1):
            self._episode.see(history.volts[index], history.highs[index])

    # ---- looking for a level

    def _seek(self, volts: float, high: float) -> None:
        transition = self._episode
        transition.see(volts, high)
        length = self._history.end - transition.start_block
        before = self._before
        if (
            before is not None
            and length <= lim.RESUME_BLOCKS
            and not transition.by_shift
            and self._resume(before)
        ):
            return
        found = find_level(self._model, transition, self._before)
        if not isinstance(found, State):
            self._settle(found)
        elif length >= lim.STILL_BLOCKS:
            self._set_state(found, self._history.times_s[-1])

    def _resume(self, span: OpenSpan) -> bool:
        """After a deviation that was nothing: back on the level at once."""
        model, history, transition = self._model, self._history, self._episode
        if span.told:
            return False
        recent = history.volts_from(transition.barrier)
        if len(recent) < 3:
            return False
        stray = max(model.stray_volts, lim.SCATTER_VOLTS / 2)
        back = 0
        while back < len(recent) and abs(recent[-1 - back] - span.level) < 2.5 * stray:
            back += 1
        if back < 2 or len(recent) - back > 2:
            return False
        if abs(recent[0] - span.level) > model.standing_out(stray):
            return False
        if any(abs(value - span.level) > model.significant(stray) for value in recent[1:]):
            return False
        self._span, self._before, span.earlier = span, span.earlier, None
        for value in recent[-back:]:
            span.count += 1
            span.level += (value - span.level) / span.count
        span.samples += sum(history.counts[-back:])
        span.end_block = span.taught_block = history.end
        span.floor_block = history.end - back
        self._set_state(State.SETTLED, span.start_s)
        return True

    # ---- a level is found

    def _settle(self, size: int) -> None:
        """The latest `size` blocks are level: open a span, as far back as the level reaches."""
        model, history, transition, before = self._model, self._history, self._episode, self._before
        volts = history.volts
        window = volts[-size:]
        level, variance = mean_and_variance(window)
        is_loud = not model.noise.is_known and variance > lim.SCATTER_VOLTS**2
        sigma = max(variance**0.5, model.noise.sigma_volts, lim.SCATTER_VOLTS / 3)
        begin = max(transition.barrier - history.first, 0)
        index = len(volts) - size
        while index > begin and abs(volts[index - 1] - level) < 2.0 * sigma:
            index -= 1
        model.noise.least_variance = max(MIN_NOISE_VOLTS, model.resolution.count_volts / 2) ** 2
        model.noise.begin(variance, jitter_of(window) ** 2, size)
        model.noise_level = level
        model.resolution.renew()
        self._teach_after = ceil(lim.TEACH_AFTER_S / model.block_s)
        self._limit_volts = model.deviation_limit()
        self._check_at = 0
        samples = sum(history.counts[index:])
        start_s, now_s = history.times_s[index], history.times_s[-1]
        span = OpenSpan.begun(history.first + index, start_s, volts[index:], samples, now_s, transition)
        span.loud, span.is_first = is_loud, before is None
        span.unproven = is_loud or (before is not None and before.loud and not before.told)
        found = classify(model, transition, before, span)
        span.held, span.undecided_step_s = found.events, found.step_s
        span.patient = size * model.block_s > lim.LONG_WINDOWS_S[0] + 1
        if before is not None:
            if model.is_raised(span.level, before.level, sigma):
                span.raised = True
                span.blunt = is_blunt(
                    model, transition.start_block, span.start_block + 1, before.level, span.level
                )
                unclear = not found.switched or is_gradual(model, transition, before.level, span.level)
                span.gradual = unclear and not found.moved
                span.suspect = span.gradual or found.moved
            if not found.switched:
                if found.moved:
                    self._decide(span)
                if self._is_the_same(span):
                    return
            span.crept = not span.held
        self._span = span
        self._set_state(State.SETTLED, span.start_s)

    def _step_to(self, span: OpenSpan) -> Step | None:
        """The step that led to the span, if that was not certain before and is now."""
        if span.undecided_step_s is None or self._before is None:
            return None
        return step_between(self._model, span.undecided_step_s, self._before, span)

    def _decide(self, span: OpenSpan) -> None:
        """Give the span its step when that is certain."""
        step = self._step_to(span)
        if step is not None:
            span.held.append(step)
            span.undecided_step_s = None
            span.stepped = True

    def _is_the_same(self, span: OpenSpan) -> bool:
        """When nothing happened between a new span and the one before, that one goes on in its place."""
        before = self._before
        if before is None or before.told or span.held or not is_same_level(self._model, before, span):
            return False
        before.join(span)
        self._span, self._before, before.earlier = before, before.earlier, None
        self._set_state(State.SETTLED, before.start_s)
        return True

    def _tell(self, span: OpenSpan) -> None:
        """`span` stands: so does the span before it, and what happened in between."""
        if self._before is not None:
            self._tell_span(self._before)
        self._decide(span)
        self._out += span.held
        span.held = []

    def _tell_span(self, span: OpenSpan) -> None:
        """A span that has ended is told, with what waits for it."""
        if span.told:
            return
        if span.earlier is not None:
            self._tell_span(span.earlier)
        span.told, span.earlier = True, None
        self._out += [*span.held, self._settled_event(span)]
        span.held = []

    def _settled_event(self, span: OpenSpan) -> Settled:
        growing = span is self._span
        end_s = self._history.time_of(span.end_block - 1) if growing else span.end_s
        u_volts = self._model.u_level(span.count) if growing else span.u_volts
        return Settled(span.start_s, end_s, span.level, u_volts, span.known_at_s, span.samples)
