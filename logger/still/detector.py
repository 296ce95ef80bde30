"""The settling detector: one sample at a time in, events out. The same code live and in replay.

Volts are AC rms volts, times are seconds on one clock. Nothing is tuned to a meter: what noise is, it learns from the
still spans (see `noise`), and the meter's count from the values. DEVELOPERS.md has the reasons for the tests.
"""

from __future__ import annotations

from math import ceil, isfinite, sqrt
from operator import attrgetter

from logger.still import limits as lim
from logger.still.edges import Edge, find_edges, is_switching, onset_of_small_step
from logger.still.episode import Episode, Span
from logger.still.events import Event, Gap, Motion, Now, Overload, Settled, State, Step
from logger.still.fit import change_of, creeps, line_through, onset_of_ramp, onset_of_step, split_between
from logger.still.history import History
from logger.still.noise import LEAST_VOLTS, SCALES, Noise, Resolution, u_resolution


class Detector:
    """Tells settled from settling, motion, steps, drift, gaps and overload, as samples come in.

    Memory is constant. No input raises: NaN and impossible values are not samples, infinity is an overload, time
    that goes back a little stands still, time that goes back far starts a new stretch.
    """

    def __init__(self) -> None:
        self._history = History()
        self._noise = Noise()
        self._noise_level = 0.0
        self._resolution = Resolution()
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
        self._interval_s = 0.0
        self._per_block = 1.0
        self._noise_per_block = 1.0
        # What is open.
        self._span: Span | None = None
        self._before: Span | None = None
        self._episode = Episode(0, 0, 0.0)
        self._overload_start_s: float | None = None
        self._limit_volts = lim.DEVIATION_VOLTS
        self._check_at = 0
        self._lag_blocks = 1
        self._unsettled = State.SETTLING

    # ---- what comes in

    def feed(self, time_s: float, volts: float) -> list[Event]:
        """One line of the meter: `volts` at `time_s`. Gives what became final with it, mostly nothing."""
        if not lim.LOWEST_VOLTS <= volts < lim.HIGHEST_VOLTS:
            return self.overload(time_s) if volts >= lim.HIGHEST_VOLTS else []
        last_s = self._last_s
        if last_s is not None and 0.0 < (elapsed := time_s - last_s) < lim.SHORTEST_GAP_S:
            interval = self._interval_s
            if interval:
                self._interval_s = interval + 0.1 * (min(elapsed, 3.0 * interval) - interval)
            else:
                self._interval_s = elapsed
            self._last_s = time_s
        elif not self._take_time(time_s):
            return []
        else:
            assert self._last_s is not None
            time_s = self._last_s
        if self._state is State.OVERLOAD or self._state is State.LOST:
            self._back()
        if volts != self._last_volts:
            self._last_volts = volts
            if not self._resolution.learned:
                self._resolution.see(volts)
        count = self._block_count
        if count == 0:
            self._block_start_s = time_s
            self._block_sum = self._block_high = volts
        else:
            self._block_sum += volts
            if volts > self._block_high:
                self._block_high = volts
        self._block_count = count = count + 1
        if time_s - self._block_start_s + (self._interval_s or lim.BLOCK_S) >= lim.BLOCK_S:
            self._block_count = 0
            self._take_block(time_s, self._block_sum / count, self._block_high, count)
        if self._out:
            events, self._out = self._out, []
            return events
        return self._out.copy()

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
        events = self.open_events()
        self._start_stretch(0.0)
        self._last_s = None
        self._set_state(State.WAITING, 0.0)
        return events

    def open_events(self) -> list[Event]:
        """What `finish` would give now, without ending anything."""
        if self._last_s is None:
            return []
        events: list[Event] = []
        if self._before is not None and not self._before.told:
            events.append(self._settled_event(self._before))
        if self._span is not None:
            events += self._span.held
            events.append(self._settled_event(self._span))
        else:
            events += self._unfinished()
        if self._overload_start_s is not None:
            events.append(Overload(self._overload_start_s, self._last_s, self._overload_start_s))
        return sorted(events, key=attrgetter("known_at_s"))

    @property
    def now(self) -> Now:
        """State for the window."""
        span = self._span
        if span is not None and self._state is State.SETTLED:
            return Now(self._state, span.start_s, span.level, self._u_level(span.count), span.count)
        return Now(self._state, self._since_s, self._last_volts, None, 0)

    # ---- time

    def _longest_silence_s(self) -> float:
        return max(lim.SHORTEST_GAP_S, lim.GAP_INTERVALS * self._interval_s)

    def _take_time(self, time_s: float) -> bool:
        """A time that is not simply a little later than the last one. False when it is no time at all."""
        if not isfinite(time_s):
            return False
        last_s = self._last_s
        if last_s is None:
            self._start_stretch(time_s)
        elif time_s < last_s - lim.CLOCK_BACK_S:
            self._out += self.open_events()
            self._start_stretch(time_s)
        elif time_s - last_s > self._longest_silence_s():
            self._out += [*self.open_events(), Gap(last_s, time_s, time_s)]
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
        self._episode = Episode(self._history.end, self._history.end, time_s)
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

    def _take_block(self, time_s: float, volts: float, high: float, count: int) -> None:
        self._history.append(time_s, volts, high)
        self._per_block += 0.1 * (count - self._per_block)
        if not 0.55 < self._per_block / self._noise_per_block < 1.8:
            self._noise.rescale(max(1.0, self._noise_per_block / self._per_block))
            self._noise_per_block = self._per_block
        span = self._span
        if span is None:
            self._seek(volts, high)
            return
        deviation = volts - span.level
        if -self._limit_volts < deviation < self._limit_volts:
            span.count += 1
            span.level += deviation / span.count
            span.end_block += 1
            ripe = span.end_block - self._lag_blocks
            if ripe > span.taught_block:
                span.taught_block = ripe
                self._noise.learn(self._history.volts[-self._lag_blocks] - span.level)
            if span.count >= self._check_at:
                self._check(span)
        else:
            self._leave(self._onset(span, lim.SHIFT_LOOK_BACK))
            self._seek(volts, high)

    # ---- while settled

    def _check(self, span: Span) -> None:
        """Tests that need several blocks: small lasting changes, and drift."""
        noise, run = self._noise, span.end_block - span.floor_block
        volts = self._history.volts
        self._check_at = span.count + (1 if span.count < 32 else 2)
        self._limit_volts = self._deviation_limit()
        for scale in (1, 2, 3):
            size = SCALES[scale]
            if run < 2 * size:
                break
            turn = 4 * run // size
            if turn == span.checked[scale]:
                continue
            span.checked[scale] = turn
            recent = sum(volts[-size:]) / size
            rest_count = max(span.count - size, size)
            rest = (span.level * span.count - recent * size) / (span.count - size)
            u = sqrt(noise.variances[scale] + self._variance_of_mean(rest_count))
            if abs(recent - rest) > max(
                lim.SHIFT_VOLTS, 0.8 * self._resolution.count_volts, lim.SHIFT_SIGMAS * u
            ):
                self._leave(self._onset(span, 2 * size))
                self._episode.by_shift = True
                return
        if run >= span.drift_at:
            span.drift_at = int(run * 1.4) if run < 96 else run + 32
            longest = min(run, lim.LONGEST_DRIFT_BLOCKS)
            for window in (longest, longest // 2, longest // 4) if longest >= 64 else (longest,):
                change = change_of(volts[-window:])
                u = sqrt(12 * self._variance_of_mean(window))
                if abs(change) > max(
                    lim.DRIFT_VOLTS, 1.5 * self._resolution.count_volts, lim.DRIFT_SIGMAS * u
                ):
                    if not self._was_tail(span):
                        self._drifted(span, change / window)
                    return
        if not span.confirmed:
            wait_s = lim.HUMP_S if span.gradual else lim.SUSPECT_S if span.suspect else lim.CONFIRM_S
            if self._history.times_s[-1] - span.start_s >= wait_s:
                span.confirmed = True
                self._tell(span)
        if span.undecided_step_s is not None:
            self._decide_later(span)

    def _was_tail(self, span: Span) -> bool:
        """Whether only the beginning of a young span drifted: then it starts later."""
        history = self._history
        values = history.volts_from(span.start_block)
        half = len(values) // 2
        if span.confirmed or half < 4 or history.times_s[-1] - history.times_s[-half] < lim.STILL_S / 2:
            return False
        early, late = change_of(values[:half]), change_of(values[half:])
        if abs(late) > max(lim.TAIL_SHARE * abs(early), lim.TILT_VOLTS / 2):
            return False
        span.start_block = span.floor_block = history.end - len(values) + half
        span.start_s = history.time_of(span.start_block)
        span.count = len(values) - half
        span.level = sum(values[half:]) / span.count
        span.checked = [0, 0, 0, 0]
        span.drift_at = max(12, span.count + 4)
        return True

    def _drifted(self, span: Span, volts_per_block: float) -> None:
        history = self._history
        begin = max(span.floor_block, history.first)
        recent = history.volts_from(begin)
        head = max(len(recent) // 4, 4)
        onset = begin + onset_of_ramp(recent, sum(recent[:head]) / head)
        if history.time_of(onset) - span.start_s < lim.SHORTEST_BEFORE_DRIFT_S:
            if span.confirmed:
                self._disown(span)
            else:
                self._withdraw(span)
        else:
            self._leave(onset)
        self._episode.drift_volts_per_block = abs(volts_per_block)
        self._set_state(State.DRIFTING, history.time_of(onset))

    def _deviation_limit(self) -> float:
        noise = self._noise
        sigmas = lim.DEVIATION_SIGMAS * (1 + 4 / max(noise.weight, 4))
        return max(lim.DEVIATION_VOLTS, 1.6 * self._resolution.count_volts, sigmas * sqrt(noise.variances[0]))

    def _variance_of_mean(self, count: int) -> float:
        return self._noise.variances[0] * self._noise.inflation(count) / count

    def _u_level(self, count: int) -> float:
        return sqrt(self._variance_of_mean(count) + u_resolution(self._resolution.count_volts) ** 2)

    def _settled_event(self, span: Span) -> Settled:
        growing = span is self._span
        end_s = self._history.time_of(span.end_block - 1) if growing else span.end_s
        u_volts = self._u_level(span.count) if growing else span.u_volts
        return Settled(span.start_s, end_s, span.level, u_volts, span.known_at_s, span.count)

    # ---- leaving a level

    def _onset(self, span: Span, look_back: int) -> int:
        """Block at which the newest blocks left the span's level."""
        history = self._history
        begin = max(span.floor_block, history.end - look_back, history.first)
        recent = history.volts_from(begin)
        onset = onset_of_step(recent, span.level)
        # A body starts gently: what already leans the same way belongs to the change.
        sign = 1.0 if recent[-1] > span.level else -1.0
        lean = 1.5 * sqrt(self._noise.variances[0])
        while onset > 1 and sign * (recent[onset - 1] - span.level) > lean:
            onset -= 1
        return begin + onset

    def _leave(self, onset: int) -> None:
        """The span ended just before block `onset`; what follows is an episode until the next level."""
        span, history = self._span, self._history
        assert span is not None
        late = history.volts_from(onset, span.end_block)
        if late and span.count - len(late) >= 2:
            kept = span.count - len(late)
            span.level = (span.level * span.count - sum(late)) / kept
            span.count = kept
            span.end_block = onset
        span.end_s = history.time_of(span.end_block - 1)
        span.u_volts = self._u_level(span.count)
        if onset < history.end and self._creeps_on(span):
            slope = abs(span.level - history.volts[-1]) / max(history.end - span.start_block, 1)
            if span.confirmed:
                self._disown(span)
            else:
                self._withdraw(span)
            self._episode.drift_volts_per_block = slope
            self._episode.barrier = onset
            self._set_state(State.DRIFTING, span.start_s)
            return
        if not span.confirmed:
            seen = history.volts_from(span.start_block)
            if len(seen) >= lim.STILL_BLOCKS and history.end - onset >= 2 and creeps(seen):
                self._withdraw(span)
                self._episode.drift_volts_per_block = abs(change_of(seen)) / len(seen)
                self._episode.barrier = onset
                self._set_state(State.DRIFTING, span.start_s)
                return
            if self._was_part_of_more(span, onset):
                self._withdraw(span)
                self._set_state(State.MOVING, span.end_s)
                return
        self._tell(span)
        self._span, self._before = None, span
        self._episode = Episode(onset, onset, history.time_of(onset) if onset < history.end else span.end_s)
        for block in range(onset, history.end - 1):
            self._episode.see(history.volts[block - history.first], history.highs[block - history.first])
        self._set_state(State.MOVING, self._episode.start_s)

    def _creeps_on(self, span: Span) -> bool:
        """Whether the level goes on changing a little in the same direction: a drift in steps of the meter's count."""
        before, volts = self._before, self._history.volts
        if before is None or not span.crept or span.end_s - span.start_s > lim.CREEP_S:
            return False
        if before.end_s < span.start_s - lim.CREEP_S:
            return False
        came, goes = (
            span.level - before.level,
            max(volts[-2:], key=lambda v: abs(v - span.level)) - span.level,
        )
        small = max(2 * lim.STEP_VOLTS, 2.5 * self._resolution.count_volts)
        least = 2 * sqrt(self._variance_of_mean(span.count))
        return least < abs(came) < small and abs(goes) < small and came * goes > 0

    def _was_part_of_more(self, span: Span, onset: int) -> bool:
        """Whether a short span was a pause in a movement, or its top, rather than a level."""
        length_s = span.end_s - span.start_s
        if length_s < lim.SHORTEST_SPAN_S:
            return True
        since = self._history.volts_from(onset)
        upwards = bool(since) and since[-1] > span.level
        if not upwards and length_s < (lim.HUMP_S if span.gradual else lim.BLUNT_S if span.blunt else 0.0):
            return True
        moved = any(isinstance(event, Motion) for event in span.held)
        return (span.suspect and length_s < lim.PAUSE_S) or (moved and upwards and length_s < lim.LULL_S)

    def _tell(self, span: Span) -> None:
        """`span` stands: so does the span before it, and what happened in between."""
        if self._before is not None and not self._before.told:
            self._before.told = True
            self._out.append(self._settled_event(self._before))
        self._out += span.held
        span.held = []

    def _withdraw(self, span: Span) -> None:
        """What was called settled was not: the episode before it goes on."""
        self._span = None
        self._episode = span.episode
        self._episode.by_shift = False
        history = self._history
        for block in range(max(span.start_block, history.first), history.end - 1):
            self._episode.see(history.volts[block - history.first], history.highs[block - history.first])

    def _disown(self, span: Span) -> None:
        """What led to the span stands, but it was no level."""
        span.told = True
        span.end_s, span.u_volts = span.start_s, self._u_level(span.count)
        self._span, self._before = None, span
        self._episode = Episode(span.start_block, span.start_block, span.start_s)

    # ---- looking for a level

    def _seek(self, volts: float, high: float) -> None:
        history, episode = self._history, self._episode
        episode.see(volts, high)
        times = history.times_s
        available = history.end - max(episode.barrier, history.first)
        if self._before is not None and not episode.by_shift and self._resume(available):
            return
        wanted_s = lim.STILL_S if self._noise.weight >= lim.LEARNED_BLOCKS else lim.FIRST_STILL_S
        if episode.drift_volts_per_block:
            wanted_s = 2.0 * lim.STILL_S
        self._unsettled = State.DRIFTING if episode.drift_volts_per_block else State.SETTLING
        size = self._window(wanted_s, available)
        while size:
            verdict = self._is_level(size)
            if verdict == 0:
                self._settle(size)
                return
            size = verdict if verdict <= available else 0
        if times[-1] - episode.start_s > lim.LONG_WINDOWS_S[0] and history.end % 4 == 0:
            for window_s in lim.LONG_WINDOWS_S:
                size = self._window(window_s, available)
                if size and self._is_level_in_batches(size, window_s):
                    self._settle(size)
                    return
        if not available or history.end - episode.start_block < lim.STILL_BLOCKS:
            return
        if self._unsettled is State.MOVING and times[-1] - episode.start_s > lim.RESTLESS_S:
            self._unsettled = State.RESTLESS
        self._set_state(self._unsettled, times[-1])

    def _window(self, wanted_s: float, available: int) -> int:
        """Number of latest blocks that last `wanted_s` and are enough; 0 if there are not yet so many."""
        times = self._history.times_s
        size = max(lim.STILL_BLOCKS, int(wanted_s / max(self._interval_s, lim.BLOCK_S)))
        start_s = times[-1] - wanted_s + 1e-6
        available = min(available, len(times))
        while size <= available and times[-size] > start_s:
            size += 1
        return size if size <= available else 0

    def _is_level(self, size: int) -> int:
        """0 when the latest `size` blocks are level; else the size to try next (a huge one: none)."""
        no, noise, episode = 1 << 30, self._noise, self._episode
        window = self._history.volts[-size:]
        count_volts = self._resolution.count_volts
        learned = noise.weight >= lim.LEARNED_BLOCKS
        sigma = sqrt(noise.variances[0])
        calm = max(lim.SCATTER_VOLTS, 0.6 * count_volts)
        if learned:
            ratio = (1 + lim.SCATTER_SPREAD / sqrt(size)) * (1 + 3 / noise.weight)
            calm = max(lim.LEARNED_SCATTER_VOLTS, 0.6 * count_volts, ratio * sigma)
            louder = min(max(window[-1] / self._noise_level, 1.0), 3.0) if self._noise_level > 0 else 1.0
            if max(window) - min(window) > 4.5 * calm * louder:
                episode.drift_volts_per_block = 0.0
                self._unsettled = State.MOVING
                return no
            line = line_through(window)
            if louder > 1.3:
                # Breathing and mains noise grow with the level; a movement is smoother than they are.
                calm = max(calm, min(1.5 * line.jitter, calm * louder))
        else:
            line = line_through(window)
            sigma = line.jitter
            loudest = max(lim.UNLEARNED_SCATTER_VOLTS, lim.UNLEARNED_SCATTER_SHARE * line.mean)
            calm = max(calm, min(lim.SCATTER_RATIO * sigma, loudest))
        if line.scatter > calm:
            episode.drift_volts_per_block = 0.0
            self._unsettled = State.MOVING
            return no
        variance = max(line.scatter, sigma) ** 2 * noise.inflation(size)
        u_change = sqrt(12 * variance / size)
        limit = max(lim.TILT_VOLTS, count_volts, lim.TILT_SIGMAS * u_change)
        if episode.drift_volts_per_block:
            allowed = 0.5 * episode.drift_volts_per_block * size
            u_change = max(u_change, 0.4 * count_volts)
            if 2 * u_change > allowed and size * self._interval_s < lim.LONGEST_DRIFT_LOOK_S:
                return size * 2
            if abs(line.change) + 2 * u_change > max(allowed, 4 * u_change):
                return no
        if abs(line.change) > limit:
            return no
        level = line.mean
        before = self._before
        raised = before is not None and level > before.level + max(lim.STEP_VOLTS, 3 * sigma)
        u_wanted = lim.LEVEL_U_VOLTS if raised else max(lim.LEVEL_U_VOLTS, lim.LEVEL_U_SHARE * level)
        if variance / size > u_wanted * u_wanted:
            needed = ceil(variance / (u_wanted * u_wanted))
            longest = ceil(lim.LONGEST_WAIT_S / max(self._interval_s, lim.BLOCK_S))
            if size < min(needed, longest):
                return min(needed, longest)
        if before is not None and raised:
            crept = self._is_gradual(before.level, level) or episode.peak_volts - level > self._significant(
                sigma
            )
            wanted = self._window(lim.RAISED_STILL_S if crept else lim.SHARPLY_RAISED_STILL_S, 1 << 30)
            if wanted > size:
                return wanted
        return 0

    def _is_level_in_batches(self, size: int, window_s: float) -> bool:
        """A long look, for noise that is slow: the means of batches are what scatters."""
        window = self._history.volts[-size:]
        per_batch = max(2, round(lim.LONG_BATCH_S / max(self._interval_s, lim.BLOCK_S)))
        count = size // per_batch
        if count < 5 or self._episode.drift_volts_per_block:
            return False
        window = window[-count * per_batch :]
        means = [sum(window[i : i + per_batch]) / per_batch for i in range(0, len(window), per_batch)]
        of_means, of_all = line_through(means), line_through(window)
        level = of_all.mean
        limit = max(lim.LONG_SPREAD_VOLTS, lim.LONG_SPREAD_SHARE * level)
        if self._noise.weight >= lim.LEARNED_BLOCKS:
            sigma = sqrt(self._noise.variances[0])
            louder = min(max(level / self._noise_level, 1.0), 3.0) if self._noise_level > 0 else 1.0
            before = self._before
            raised = before is not None and level > before.level + max(lim.STEP_VOLTS, 3 * sigma)
            if window_s < lim.LONG_WINDOWS_S[2 if raised else 1]:
                limit = max((1 + lim.SCATTER_SPREAD / sqrt(size)) * sigma * louder, lim.SCATTER_VOLTS)
            else:
                limit = lim.LONG_SPREAD_RATIO * sigma + lim.SCATTER_VOLTS
        if of_all.spread > limit:
            return False
        if of_means.spread > sqrt(count) * max(lim.LEVEL_U_VOLTS, lim.LEVEL_U_SHARE * level):
            return False
        if max(window) - level > 4 * of_all.spread:
            return False
        return abs(of_means.change) < max(
            lim.TILT_VOLTS, lim.TILT_SIGMAS * of_means.scatter * sqrt(12 / count)
        )

    def _resume(self, available: int) -> bool:
        """After a deviation that was nothing: back on the level at once."""
        span, history = self._before, self._history
        assert span is not None
        if span.told or not 3 <= available <= 8 or history.end - self._episode.start_block > 8:
            return False
        sigma = max(sqrt(self._noise.variances[0]), self._resolution.count_volts / 2, lim.SCATTER_VOLTS / 2)
        recent = history.volts_from(self._episode.barrier)
        back = [abs(value - span.level) < 2.5 * sigma for value in recent]
        off = len(recent) - 1
        while off >= 0 and back[off]:
            off -= 1
        if len(recent) - 1 - off < 2 or off > 1:
            return False
        if abs(recent[0] - span.level) > max(lim.LONE_VOLTS, lim.LONE_SIGMAS * sigma):
            return False
        if any(abs(value - span.level) > self._significant(sigma) for value in recent[1:]):
            return False
        self._span, self._before = span, None
        for value in recent[off + 1 :]:
            span.count += 1
            span.level += (value - span.level) / span.count
        span.end_block = span.taught_block = history.end
        span.floor_block = history.end - (len(recent) - 1 - off)
        self._set_state(State.SETTLED, span.start_s)
        return True

    def _significant(self, sigma: float) -> float:
        return max(lim.MOTION_VOLTS, 2 * self._resolution.count_volts, lim.MOTION_SIGMAS * sigma)

    # ---- a level is found: what happened since the last one

    def _settle(self, size: int) -> None:
        history, episode, before = self._history, self._episode, self._before
        volts = history.volts
        window = volts[-size:]
        level = sum(window) / size
        variance = sum([(value - level) ** 2 for value in window]) / (size - 1)
        sigma = max(sqrt(max(variance, self._noise.variances[0])), lim.SCATTER_VOLTS / 3)
        begin = max(episode.barrier, history.first) - history.first
        index = len(volts) - size
        while index > begin and abs(volts[index - 1] - level) < 2.0 * sigma:
            index -= 1
        start = history.first + index
        self._noise.least_variance = max(LEAST_VOLTS**2, (self._resolution.count_volts / 2) ** 2)
        self._noise.begin(variance, size)
        self._noise_level = level
        count = len(volts) - index
        level = sum(volts[index:]) / count
        now_s = history.times_s[-1]
        self._lag_blocks = ceil(lim.TEACH_AFTER_S / max(self._interval_s, lim.BLOCK_S))
        span = Span(
            start,
            history.times_s[index],
            history.end,
            now_s,
            level,
            count,
            now_s,
            start,
            history.end,
            episode,
        )
        self._limit_volts = self._deviation_limit()
        self._check_at = 0
        transition = volts[max(episode.start_block, history.first) - history.first : index]
        if before is None or not self._switched(span, before):
            span.held += self._motion(span, transition)
        moved = bool(span.held)
        if before is not None:
            raised = level > before.level + max(lim.STEP_VOLTS, 3 * sigma)
            span.raised = raised
            span.blunt = raised and span.start_s - history.time_of(episode.start_block - 1) > lim.CRISP_S
            span.gradual = raised and not moved and self._is_gradual(before.level, level)
            span.suspect = raised and (span.gradual or moved)
            if self._add_steps(span, before, index, moved):
                return
        span.crept = before is not None and not span.held
        self._span = span
        self._set_state(State.SETTLED, span.start_s)

    def _path(self) -> tuple[list[float], list[float], int]:
        """Times and volts from a little before the episode until now, and the number of the first block."""
        history = self._history
        first = max(self._episode.start_block - lim.EDGE_MARGIN_BLOCKS, history.first)
        return history.times_s[first - history.first :], history.volts_from(first), first

    def _edges(self, times_s: list[float], volts: list[float]) -> list[Edge]:
        sigma = sqrt(self._noise.variances[0])
        least = max(lim.STEP_VOLTS, 1.6 * self._resolution.count_volts, lim.EDGE_SIGMAS * sigma)
        return find_edges(times_s, volts, least)

    def _switched(self, span: Span, before: Span) -> bool:
        """Whether what looks like a rise that returned was something switched on and off again."""
        if self._episode.start_block <= self._history.first:
            return False
        times, path, _ = self._path()
        sigma = max(sqrt(self._noise.variances[0]), self._resolution.count_volts / 2)
        return is_switching(times, path, self._edges(times, path), sigma)

    def _is_gradual(self, before: float, after: float) -> bool:
        """Whether the level was approached more slowly than switching makes it."""
        episode, history = self._episode, self._history
        if episode.start_block < history.first:
            return True
        there = before + lim.SHARP_SHARE * (after - before)
        path = history.volts_from(episode.start_block)
        reached = next((i for i, value in enumerate(path) if value >= there), len(path) - 1)
        taken_s = history.time_of(episode.start_block + reached) - episode.start_s
        return taken_s > lim.SHARP_S + self._interval_s

    def _add_steps(self, span: Span, before: Span, index: int, moved: bool) -> bool:
        """Give the span the steps that led to it. True when nothing happened and the span before goes on instead."""
        episode, history = self._episode, self._history
        times, path, first = self._path()
        if moved or episode.start_block <= history.first:
            split = split_between(path, before.level, span.level)
            if moved:
                # The tail of the meter's averaging must not carry the step out of the movement.
                motion = next(event for event in span.held if isinstance(event, Motion))
                span.undecided_step_s = min(times[split], motion.end_s)
            return self._decide(span, before, moved)
        sigma = sqrt(self._noise.variances[0])
        edges = self._edges(times, path)
        if not edges:
            split = split_between(path, before.level, span.level)
            noise = max(sigma, self._resolution.count_volts / 4, 1e-4)
            span.undecided_step_s = onset_of_small_step(times, path, split, before.level, span.level, noise)
            return self._decide(span, before, moved)
        arrived = span.start_block - first
        low = before.level
        for i, edge in enumerate(edges):
            end = edges[i + 1].moved if i + 1 < len(edges) else arrived
            last = i + 1 == len(edges)
            near = times[min(arrived, len(times) - 1)] - times[min(edge.done, len(times) - 1)] < lim.TAIL_S
            rest = path[max(edge.done, end - 5) : end] or path[edge.done : edge.done + 1]
            high = span.level if last and near else sum(rest) / len(rest)
            u = sqrt(
                self._u_level(span.count) ** 2 + before.u_volts**2 + (0 if len(edges) == 1 else sigma * sigma)
            )
            if abs(high - low) > max(lim.STEP_VOLTS, lim.STEP_SIGMAS * u):
                at = (times[edge.moved - 1] + times[edge.moved]) / 2
                span.held.append(Step(at, low, high, u, span.known_at_s))
            low = high
        return False

    def _motion(self, span: Span, transition: list[float]) -> list[Motion | Step]:
        """The rise that returned in `transition`, the blocks between the last level and this one."""
        episode, before, history = self._episode, self._before, self._history
        base = span.level if before is None else max(span.level, before.level)
        sigma = max(sqrt(self._noise.variances[0]), self._resolution.count_volts / 2)
        excess = [value - base for value in transition]
        if not excess:
            return []
        highest = max(max(excess), episode.peak_volts - base)
        raised = [value for value in excess if value > sigma]
        strong = highest > self._significant(sigma)
        if not strong and raised and highest > max(lim.MOTION_VOLTS, 4 * sigma):
            strong = sum(raised) > lim.MOTION_SIGMAS * sigma * sqrt(len(raised))
        if not strong:
            return []
        if before is None and episode.largest_rise < self._significant(sigma):
            return []
        edge = max(3 * sigma, lim.DEVIATION_VOLTS)
        out = [i for i, value in enumerate(excess) if value > edge]
        first = max(episode.start_block, history.first)
        if not out or (len(out) == 1 and highest < max(lim.LONE_VOLTS, lim.LONE_SIGMAS * sigma)):
            return []
        long_ago = episode.start_block < history.first
        start_s = episode.start_s if long_ago else history.time_of(first + out[0])
        end_s = history.time_of(first + out[-1])
        return [Motion(start_s, end_s, episode.peak_volts, span.known_at_s)]

    def _decide(self, span: Span, before: Span, moved: bool) -> bool:
        """Step, same level, or not yet certain. True when the same level goes on."""
        difference = span.level - before.level
        u = sqrt(self._u_level(span.count) ** 2 + before.u_volts**2)
        step_s = span.undecided_step_s
        if step_s is not None and abs(difference) > max(lim.STEP_VOLTS, lim.STEP_SIGMAS * u):
            span.held.append(Step(step_s, before.level, span.level, u, self._history.times_s[-1]))
            span.undecided_step_s = None
        elif not moved and not before.told and abs(difference) < max(lim.DEVIATION_VOLTS, 2 * u):
            self._rejoin(span, before)
            return True
        return False

    def _decide_later(self, span: Span) -> None:
        before = self._before
        if before is None:
            span.undecided_step_s = None
            return
        self._decide(span, before, moved=True)
        if span.confirmed:
            self._tell(span)

    def _rejoin(self, span: Span, before: Span) -> None:
        """Nothing happened: one span."""
        count = before.count + span.count
        before.level = (before.level * before.count + span.level * span.count) / count
        before.count = count
        before.end_block = span.end_block
        before.floor_block = span.start_block
        before.taught_block = span.taught_block
        before.drift_at = 12
        before.checked = [0, 0, 0, 0]
        self._span, self._before = before, None
        self._set_state(State.SETTLED, before.start_s)

    def _unfinished(self) -> list[Event]:
        """What can be said of an episode that has not come to a level."""
        history, episode, before = self._history, self._episode, self._before
        if before is None or history.end - episode.start_block < 2 or episode.drift_volts_per_block:
            return []
        sigma = max(sqrt(self._noise.variances[0]), self._resolution.count_volts / 2)
        times, path, first = self._path()
        last_s = times[-1]
        size = max(3, sum(time_s > last_s - lim.AT_LEAST_FLAT_S for time_s in times[-12:]))
        rest = path[-size:]
        level = sum(rest) / len(rest)
        if max(rest) - min(rest) > max(6 * sigma, lim.DEVIATION_VOLTS):
            level = before.level
        if episode.peak_volts - max(level, before.level) > self._significant(sigma):
            return [Motion(episode.start_s, last_s, episode.peak_volts, last_s)]
        edges = self._edges(times, path) if episode.start_block > history.first else []
        if len(edges) != 1 or abs(level - before.level) < max(lim.STEP_VOLTS, lim.STEP_SIGMAS * sigma):
            return []
        at = (times[edges[0].moved - 1] + times[edges[0].moved]) / 2
        return [Step(at, before.level, level, sqrt(before.u_volts**2 + sigma**2), last_s)]
