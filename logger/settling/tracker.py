"""Follows a trace from span to span, block by block: opens, grows, ends and withdraws settled spans.

The trace is always in one of two conditions: a settled span is growing, or a transition goes on that will end with the
next one. A span that proves to have been no level is withdrawn, so events are given only when nothing can undo them.
"""

from __future__ import annotations

from math import ceil

from logger.settling import limits as lim
from logger.settling.agreement import find_disagreement
from logger.settling.departure import (
    DepartureKind,
    blocks_back_on_level,
    find_departure,
    find_drift_onset,
    find_jump,
    find_onset,
)
from logger.settling.events import Disagreement, Event, State, Step
from logger.settling.level import find_level
from logger.settling.opening import open_span
from logger.settling.previous_spans import PreviousSpans
from logger.settling.retraction import confirm_after_s, scatters_more_than_noise
from logger.settling.signal_model import SignalModel
from logger.settling.span import NoiseTrust, OpenSpan, SpanStatus
from logger.settling.span_end import SpanEndKind, classify_end, end_span
from logger.settling.span_start import (
    skip_drifting_start,
    skip_loud_start,
    skip_other_start,
    skip_restless_start,
)
from logger.settling.span_uncertainty import end_uncertainty, growing_event
from logger.settling.transition import Interruption, Transition
from logger.settling.transition_classification import Cause, classify_unfinished


class TraceState:
    """What the trace is doing, and since when."""

    __slots__ = ("since_s", "state")

    def __init__(self) -> None:
        self.state = State.WAITING
        self.since_s = 0.0

    def change(self, state: State, since_s: float) -> None:
        """Change to `state`, unless it is that already."""
        if state is not self.state:
            self.state = state
            self.since_s = since_s


# long: each way from a span to the next is one short method here, and all of them change the same span and state.
class SpanTracker:
    """Takes blocks, keeps the open span or the transition, and collects the events that are final in `events`."""

    def __init__(self, model: SignalModel) -> None:
        self.state = TraceState()
        self.span: OpenSpan | None = None
        """The settled span that grows; None during a transition."""
        self.events: list[Event] = []
        """Final events that nobody has taken yet."""
        self._model = model
        self._history = model.history
        self._transition = Transition(0, 0, 0.0)
        self._previous = PreviousSpans(model)
        self._limit_volts = lim.DEVIATION_VOLTS
        """A block this far off the span's level ends it."""
        self._check_at = 0
        """Number of blocks in the span at which it is checked next."""
        self._teach_after = 1
        """Number of blocks that must follow one before it teaches noise."""

    # ---- stretches of samples

    def start_stretch(self, time_s: float) -> None:
        """Begin anew: nothing before is comparable with what comes."""
        self.span = None
        self._previous.clear()
        self._transition = Transition(self._history.end, self._history.end, time_s)
        self.state.change(State.SETTLING, time_s)

    def interrupt(self) -> None:
        """End the span, since the voltage is beyond the meter's range."""
        if self.span is not None:
            self._leave(self._history.end)

    def bridge_overload(self, start_s: float, end_s: float) -> None:
        """Go on after an overload: no level goes on through it or reaches back into it."""
        self._interrupt_transition(start_s, end_s)
        if self._previous.newest is not None:
            self._previous.newest.may_go_on = False

    def change_range(self, start_s: float, end_s: float, digit_volts: float) -> None:
        """Go on in another range of the meter: no level goes on through it, and rounding anew is no step.

        Args:
            start_s: time of the last sample in the range before.
            end_s: time of the first one in the new range.
            digit_volts: what the last digit is worth in the coarser of the two.
        """
        self.interrupt()
        self._interrupt_transition(start_s, end_s, digit_volts)
        if self._previous.newest is not None:
            self._previous.newest.may_go_on = False

    def bridge_gap(self, start_s: float, end_s: float) -> None:
        """Go on after a gap whose events until now were given out: the level before it is still of use.

        Args:
            start_s: when the voltage was last seen.
            end_s: when it is seen again.
        """
        span, before, transition = self.span, self._previous.newest, self._transition
        if span is not None:
            span.finish(self._history.time_of(span.end_block - 1), self._model.u_level(span.count))
            self.start_stretch(end_s)
            self._previous.replace(span)
            self._interrupt_transition(start_s, end_s)
            return
        if before is None or end_s - before.end_s > lim.LONGEST_BRIDGED_S or transition.drift_volts_per_block:
            self.start_stretch(end_s)
            return
        events = classify_unfinished(self._model, transition, before)
        self.start_stretch(end_s)
        if any(isinstance(event, Step) for event in events):
            # It led to a level that nobody knows well.
            return
        before.finish(before.end_s, before.u_volts)
        self._previous.replace(before)
        if events:
            # A movement has been given out: only what comes after the gap is looked at.
            self._transition.margin_blocks = 0
        else:
            self._transition = transition
        self._interrupt_transition(start_s, end_s)

    def _interrupt_transition(self, start_s: float, end_s: float, digit_volts: float = 0.0) -> None:
        """Let no new level reach back before the next block, the first one after an interruption.

        Args:
            start_s: when the interruption began.
            end_s: when it ended.
            digit_volts: of a change of range, what the last digit is worth in the coarser one.
        """
        self._transition.earliest_block = self._history.end
        self._transition.interruptions.append(Interruption(self._history.end, start_s, end_s, digit_volts))

    def show_current(self, time_s: float) -> None:
        """Show again what the trace is doing, after an interruption that ended at `time_s`."""
        if self.span is not None:
            self.state.change(State.SETTLED, self.span.start_s)
        else:
            self.state.change(State.SETTLING, time_s)

    def decide_open(self) -> None:
        """Decide about the open span and those before it, when nothing more will come that could."""
        if self.span is not None:
            end_uncertainty(self._model, self.span)
        if self.span is not None and self.span.is_provisional:
            self._previous.decide_step(self.span)
            self._previous.retract_before(self.span)

    def open_events(self) -> list[Event]:
        """The events of what is open, should nothing more come."""
        events = self._previous.events_so_far()
        if self.span is not None:
            events += self.span.held_events
            step = self._previous.step_to(self.span)
            if step is not None:
                events.append(step)
            events.append(growing_event(self._model, self.span))
        else:
            events += classify_unfinished(self._model, self._transition, self._previous.newest)
        return events

    # ---- blocks

    @property
    def disagreement(self) -> Disagreement | None:
        """Why the latest lines show no level; None where they do, or only change."""
        found = self._transition.disagreement if self.span is None else None
        return found if found is not None and found.is_sure else None

    def take_block(
        self, time_s: float, volts: float, high_volts: float, samples: int, refused: int = 0
    ) -> None:
        """Take in one more block.

        Args:
            time_s: time of its last sample.
            volts: mean of its samples.
            high_volts: highest of its samples.
            samples: number of its samples.
            refused: number of lines that were refused since the block before.
        """
        model, span = self._model, self.span
        model.add_block(time_s, volts, high_volts, samples, refused)
        if span is None:
            self._seek(volts, high_volts)
            return
        deviation = volts - span.level_volts
        if -self._limit_volts < deviation < self._limit_volts:
            span.count += 1
            span.samples += samples
            span.level_volts += deviation / span.count
            span.line.add(span.end_block, volts)
            span.end_block += 1
            if span.end_block - self._teach_after >= span.taught_block + lim.TEACH_BLOCKS:
                self._teach(span)
            if span.count >= self._check_at:
                self._check(span)
        else:
            start = find_onset(model, span)
            jump = find_jump(model, span, start)
            self._leave(start if jump is None or skip_other_start(model, span, jump) else jump)
            self._seek(volts, high_volts)

    def _teach(self, span: OpenSpan) -> None:
        """Let the blocks of the span teach the noise after which the level has held for long enough."""
        volts, level = self._history.volts, span.level_volts
        end = len(volts) - self._teach_after + 1
        span.taught_block = span.end_block - self._teach_after
        if self._model.is_held(volts[end - lim.TEACH_BLOCKS : end], level):
            return
        self._model.noise.add_batch([value - level for value in volts[end - lim.TEACH_BLOCKS : end]])
        self._limit_volts = self._model.deviation_limit()

    def _check(self, span: OpenSpan) -> None:
        """Test what need not be looked at with every block of a span."""
        is_young = span.count < lim.YOUNG_BLOCKS
        self._check_at = span.count + (lim.YOUNG_CHECK_BLOCKS if is_young else lim.CHECK_BLOCKS)
        is_unproven = span.is_provisional and span.noise_trust is not NoiseTrust.KNOWN
        if is_unproven and skip_loud_start(self._model, span):
            self._limit_volts = self._model.deviation_limit()
        if is_young or span.count % lim.ALTERNATION_EVERY_BLOCKS < lim.CHECK_BLOCKS:
            blocks = min(span.count, lim.ALTERNATION_BLOCKS)
            disagreement = find_disagreement(self._model, blocks, blocks)
            if disagreement is not None:
                self._leave_by_disagreement(span, disagreement)
                return
        found = find_departure(self._model, span)
        if found is not None:
            if found.kind is DepartureKind.LONG_TREND:
                self._leave_long_trend(span)
            elif found.kind is DepartureKind.SHIFT:
                if not skip_other_start(self._model, span, found.onset):
                    self._leave(found.onset)
                    self._transition.by_shift = True
            elif not skip_drifting_start(self._model, span):
                self._leave_by_drift(span, found.volts_per_block)
            return
        now_s = self._history.times_s[-1]
        if span.is_provisional:
            if self._is_restless(span) and not (
                skip_restless_start(self._model, span) and not self._is_restless(span)
            ):
                self._withdraw(span)
                self.state.change(State.CHANGING, now_s)
                return
            if now_s - span.start_s >= confirm_after_s(self._model, self._previous.newest, span):
                self._previous.retract_before(span)
                if self._rejoin_previous(span):
                    return
                span.status = SpanStatus.CONFIRMED
                self.events += self._previous.emit_until(span)
        if span.undecided_step_s is not None and not span.is_provisional:
            self.events += self._previous.emit_until(span)

    def _is_restless(self, span: OpenSpan) -> bool:
        """Whether a raised span scatters more than noise. One that a long look found is noisier."""
        before = self._previous.newest
        is_due = span.count % lim.UNREST_CHECK_BLOCKS < lim.YOUNG_CHECK_BLOCKS
        if not span.approach.is_raised or not is_due or before is None:
            return False
        if span.by_long_look or span.count < lim.UNREST_BLOCKS:
            return False
        return scatters_more_than_noise(self._model, span, before.level_volts)

    # ---- leaving a level

    def _leave(self, start: int) -> None:
        """End the span just before block `start`; what follows is a transition until the next level."""
        span, history = self.span, self._history
        assert span is not None
        unsure = end_span(self._model, span, start)
        if unsure is None:
            self._withdraw_or_disown(span)
            self.state.change(State.CHANGING, span.start_s)
            return
        if span.is_provisional:
            self._previous.decide_step(span)
        end = classify_end(self._model, span, start, self._previous.newest)
        if end.kind is SpanEndKind.DRIFT:
            self._withdraw_or_disown(span)
            self._transition.drift_volts_per_block = end.volts_per_block
            self._transition.earliest_block = start
            self.state.change(State.DRIFTING, span.start_s)
        elif end.kind is SpanEndKind.PAUSE:
            self._withdraw(span)
            self.state.change(State.CHANGING, span.end_s)
        elif end.kind is SpanEndKind.PART_OF_MOVEMENT:
            self._withdraw_or_disown(span)
            self.state.change(State.CHANGING, span.end_s)
        else:
            self.events += self._previous.add_ended(span)
            start_s = history.time_of(start) if start < history.end else span.end_s
            self.span, self._transition = None, Transition(start, start + unsure, start_s)
            self._transition.add_blocks(history, start, history.end - 1)
            self.state.change(State.CHANGING, start_s)

    def _leave_by_drift(self, span: OpenSpan, volts_per_block: float) -> None:
        """End a span that proves to drift where the slope began, or withdraw it if that is too soon."""
        start = find_drift_onset(self._model, span)
        start_s = self._history.time_of(start)
        if start_s - span.start_s < lim.SHORTEST_BEFORE_DRIFT_S:
            self._withdraw_or_disown(span)
        else:
            self._leave(start)
        self._transition.drift_volts_per_block = abs(volts_per_block)
        self.state.change(State.DRIFTING, start_s)

    def _leave_long_trend(self, span: OpenSpan) -> None:
        """End a span that has risen too far for one level, however slowly: another one may begin at once."""
        self._leave(self._history.end)
        self._transition.by_shift = True
        span.may_go_on = False

    def _leave_by_disagreement(self, span: OpenSpan, disagreement: Disagreement) -> None:
        """End a span whose latest lines show no level; one that is not final yet never was one."""
        if span.is_provisional:
            self._withdraw(span)
        else:
            self._leave(max(self._history.end - lim.ALTERNATION_BLOCKS, span.floor_block))
        if self._previous.newest is not None:
            self._previous.newest.may_go_on = False
        self._transition.disagreement = disagreement
        self._transition.disagreed_block = self._history.end
        shown = disagreement.state if disagreement.is_sure else State.SETTLING
        self.state.change(shown, self._history.times_s[-1])

    def _withdraw_or_disown(self, span: OpenSpan) -> None:
        if span.is_provisional:
            self._withdraw(span)
        else:
            self._disown(span)

    def _withdraw(self, span: OpenSpan) -> None:
        """Take back that the trace was settled: the transition before the span goes on."""
        self.span = None
        self._transition = span.transition
        self._transition.by_shift = False
        self._transition.add_blocks(self._history, span.start_block, self._history.end - 1)

    def _disown(self, span: OpenSpan) -> None:
        """Take it back when what led to the span is final already: a new transition starts in its place."""
        span.finish(span.start_s, self._model.u_level(span.count))
        self.span = None
        self._previous.replace(span)
        self._transition = Transition(span.start_block, span.start_block, span.start_s)

    # ---- finding a level

    def _seek(self, volts: float, high_volts: float) -> None:
        """Look for a level with the newest block, which belongs to the transition until one is found."""
        transition, before = self._transition, self._previous.newest
        transition.add(volts, high_volts)
        length = self._history.end - transition.start_block
        may_resume = before is not None and length <= lim.RESUME_BLOCKS and not transition.by_shift
        if may_resume and before is not None and self._resume(before):
            return
        found = find_level(self._model, transition, None if transition.interruptions else before)
        if not isinstance(found, State):
            self._settle(found)
        elif length >= lim.STILL_BLOCKS:
            self.state.change(found, self._history.times_s[-1])

    def _resume(self, span: OpenSpan) -> bool:
        """Resume the previous span after a brief excursion; returns whether it was one."""
        if span.status is SpanStatus.EMITTED or not span.may_go_on:
            return False
        back = blocks_back_on_level(self._model, span, self._transition.earliest_block)
        if not back:
            return False
        history = self._history
        self.span = self._previous.take_newest()
        left_out = history.volts_from(span.end_block, history.end - back)
        span.resume(left_out, history.volts[-back:], sum(history.counts[-back:]), history.end)
        self.state.change(State.SETTLED, span.start_s)
        return True

    def _settle(self, size: int) -> None:
        """Open a span over the latest `size` blocks, which are level, or let the one before go on."""
        model, before = self._model, self._previous.newest
        span, cause = open_span(model, self._transition, before, size)
        self._teach_after = ceil(lim.TEACH_AFTER_S / model.block_s)
        self._limit_volts = model.deviation_limit()
        self._check_at = 0
        if cause is Cause.MOVED:
            self._previous.decide_step(span)
        if cause is not Cause.SWITCHED and self._rejoin_previous(span):
            return
        self.span = span
        self.state.change(State.SETTLED, span.start_s)

    def _rejoin_previous(self, span: OpenSpan) -> bool:
        """Let the span before go on in place of a new one when nothing happened between them; whether it does."""
        joined = self._previous.rejoin(span)
        if joined is None:
            return False
        if span.is_steady:
            joined.noise_trust = NoiseTrust.KNOWN
        self.span = joined
        self.state.change(State.SETTLED, joined.start_s)
        return True
