"""The spans before the latest one: those that wait to become final, after the last one that is."""

from __future__ import annotations

from logger.settling import limits as lim
from logger.settling.events import Event, Step
from logger.settling.retraction import confirm_after_s, find_retraction
from logger.settling.signal_model import SignalModel
from logger.settling.span import OpenSpan, Route, SpanStatus
from logger.settling.transition_classification import NewLevel, classify_movement, is_same_level, step_between


class PreviousSpans:
    """Ended spans in their order. The first may be final, as what the others are compared with; the others wait.

    The methods that take a span take the latest one, which is not among them yet, and change what is known of it.
    """

    def __init__(self, model: SignalModel) -> None:
        self._model = model
        self._spans: list[OpenSpan] = []

    @property
    def newest(self) -> OpenSpan | None:
        """The span before the latest one."""
        return self._spans[-1] if self._spans else None

    def clear(self) -> None:
        """Forget all: nothing before is comparable with what comes."""
        self._spans = []

    def replace(self, span: OpenSpan) -> None:
        """Keep only `span`, the one that later spans are compared with."""
        self._spans = [span]

    def take_newest(self) -> OpenSpan:
        """Take the newest span out: it goes on."""
        return self._spans.pop()

    # ---- events

    def events_so_far(self) -> list[Event]:
        """The events of the spans that wait, with what led to them."""
        return [
            event
            for span in self._spans
            if span.status is not SpanStatus.EMITTED
            for event in (*span.held_events, span.as_event())
        ]

    def emit_until(self, span: OpenSpan) -> list[Event]:
        """Make final what came before `span`, which is kept whatever comes, and return the events."""
        events = self._emit()
        self.decide_step(span)
        events += span.held_events
        span.held_events = []
        return events

    def add_ended(self, span: OpenSpan) -> list[Event]:
        """Put a span that has ended behind the others; returns the events that are final now."""
        if span.is_provisional:
            self.retract_before(span)
            if confirm_after_s(self._model, self.newest, span) > lim.CONFIRM_S:
                # Whether it was a level is decided by a later one. Only so many wait for that.
                waiting = sum(one.status is not SpanStatus.EMITTED for one in self._spans)
                events = self._emit() if waiting > lim.MAX_WAITING else []
                self._spans.append(span)
                return events
        events = self.emit_until(span)
        self.replace(span)
        return events

    def _emit(self) -> list[Event]:
        """Make all final and return their events; the newest remains to be compared with."""
        events = self.events_so_far()
        for span in self._spans:
            if span.status is not SpanStatus.EMITTED and span.reported and span.reported.fit:
                self._model.wander.add(span.reported.fit)
            span.status = SpanStatus.EMITTED
            span.held_events = []
        self._spans = self._spans[-1:]
        return events

    # ---- what becomes certain of the latest span, and of these in its light

    def step_to(self, span: OpenSpan) -> Step | None:
        """The step that led to the span, if that was not certain before and is now."""
        before = self.newest
        if span.undecided_step_s is None or before is None:
            return None
        return step_between(self._model, span.undecided_step_s, before, span)

    def decide_step(self, span: OpenSpan) -> None:
        """Give the span its step when that is certain."""
        step = self.step_to(span)
        if step is not None:
            span.held_events.append(step)
            span.undecided_step_s = None
            span.approach = span.approach.with_step()

    def rejoin(self, span: OpenSpan) -> OpenSpan | None:
        """The newest span, taken out and joined with `span`, when nothing happened between them; else None."""
        before = self.newest
        if before is None or before.status is SpanStatus.EMITTED or not before.may_go_on:
            return None
        if span.held_events:
            return None
        if not is_same_level(self._model, before, span) or self._was_elsewhere(before, span):
            return None
        before.join(span, self._model.history.volts_from(before.end_block, span.start_block))
        return self.take_newest()

    def _was_elsewhere(self, before: OpenSpan, span: OpenSpan) -> bool:
        """Whether the voltage was off the common level for longer than an excursion between two spans.

        A slow swing comes back to its crest again and again: what lies between belongs to no level.
        """
        history = self._model.history
        between = history.volts_from(before.end_block, span.start_block)
        left_out = before.left_out + span.left_out + len(between)
        count = before.count + span.count
        if left_out > lim.MAX_LEFT_OUT_SHARE * (count + left_out):
            return True
        level = (before.level_volts * before.count + span.level_volts * span.count) / count
        off_level = before.left_out_volts + span.left_out_volts + sum(between) - left_out * level
        if abs(off_level) / (count + left_out) > max(lim.LEFT_OUT_VOLTS, self._model.u_level(count)):
            return True
        length_s = history.time_of(span.start_block) - history.time_of(before.end_block)
        if not between or length_s <= lim.LONGEST_EXCURSION_S:
            return False
        off = abs(sum(between) / len(between) - before.level_volts)
        return off > self._model.deviation_limit()

    def retract_before(self, span: OpenSpan) -> None:
        """Drop the spans that `span` proves to have been part of a movement or a drift."""
        found = find_retraction(self._model, self._spans, span)
        if found is None:
            return
        index = next(i for i, one in enumerate(self._spans) if one is found.first)
        del self._spans[index:]
        span.transition = found.first.transition
        if not found.drifted:
            self._merge(found.first, span)

    def _merge(self, first: OpenSpan, span: OpenSpan) -> None:
        """Classify everything from the dropped span `first` until `span` as one movement."""
        model, transition = self._model, first.transition
        transition.add_blocks(model.history, first.start_block, span.start_block)
        level = NewLevel(
            volts=span.level_volts,
            u_volts=model.u_level(span.count),
            start_block=span.start_block,
            start_s=span.start_s,
            known_at_s=span.known_at_s,
        )
        found = classify_movement(model, transition, self.newest, level)
        span.held_events, span.undecided_step_s = list(found.events), found.step_s
        span.approach = span.approach.merged(first.approach.route is Route.FIRST)
