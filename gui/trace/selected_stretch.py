"""The stretch of the trace that the user has selected: where it lies, its value, and both in words."""

from __future__ import annotations

from gui.model.visit_controller import VisitController
from gui.model.wording import span_text, value_text, volts_text
from gui.trace.trace_moment import time_at
from logger.metrology.context import Context
from logger.metrology.rounding import fixed
from logger.settling.events import Settled
from logger.translation import tr
from logger.visit.results.stretch_value import EDGE_S, StretchState, StretchValue, stretch_value
from logger.visit.trace import Placed

SHORT_S = 10.0
"""Seconds. The length of a shorter stretch is given with a decimal."""


class SelectedStretch:
    """A stretch of the trace; its value follows what the detector makes of it later.

    Args:
        controller: the visit.
    """

    def __init__(self, controller: VisitController) -> None:
        self._controller = controller
        self._bounds_s: tuple[float, float] | None = None
        self._value: StretchValue | None = None
        self._rests_on: object = None

    @property
    def bounds_s(self) -> tuple[float, float] | None:
        """Start and end on the trace's time line; None where nothing is selected."""
        return self._bounds_s

    @property
    def value(self) -> StretchValue | None:
        """Its value; None where nothing is selected."""
        return self._value

    def select(self, one_s: float, other_s: float, snap_s: float = 0.0) -> None:
        """Select a stretch; nothing where it has no length.

        Args:
            one_s: one of its ends, on the trace's time line.
            other_s: the other one.
            snap_s: an end no further from an end of a settled span is put there.
        """
        now_s = self._controller.snapshot.now_s
        start_s, end_s = (min(max(at_s, 0.0), now_s) for at_s in sorted((one_s, other_s)))
        if snap_s:
            start_s, end_s = self._snapped(start_s, snap_s), self._snapped(end_s, snap_s)
        self._bounds_s = (start_s, end_s) if end_s > start_s else None
        self._value, self._rests_on = None, None
        self.refresh()

    def clear(self) -> None:
        """Select nothing."""
        self._bounds_s, self._value, self._rests_on = None, None, None

    def contains(self, time_s: float) -> bool:
        """Whether a moment lies in it."""
        return self._bounds_s is not None and self._bounds_s[0] <= time_s <= self._bounds_s[1]

    def refresh(self) -> None:
        """Work out the value anew where what it rests on has changed."""
        if self._bounds_s is None:
            return
        snapshot = self._controller.snapshot
        settled = self._spans()
        rests_on = (
            [self._as_seen(span) for span in settled], snapshot.setup, snapshot.checks, snapshot.check_doubts
        )  # fmt: skip
        if rests_on != self._rests_on:
            self._rests_on = rests_on
            self._value = stretch_value(snapshot.trace, settled, *self._bounds_s, self._context_at)

    def lines(self) -> list[str]:
        """Two short lines: length and state of the stretch, and its value; none where nothing is selected."""
        value = self._value
        if value is None:
            return []
        length_s = value.end_s - value.start_s
        length = (
            span_text(length_s)
            if length_s >= SHORT_S
            else tr("{seconds} s").format(seconds=fixed(length_s, 1))
        )
        return [f"{length}: {_state_word(value.state)}", _value_words(value)]

    def sentence(self) -> str:
        """The stretch in one sentence with its times, to be copied and read out; empty where nothing is selected."""
        value = self._value
        if value is None:
            return ""
        snapshot = self._controller.snapshot
        return tr("{start} to {end}, {lines}").format(
            start=time_at(snapshot, value.start_s),
            end=time_at(snapshot, value.end_s),
            lines=", ".join(self.lines()),
        )

    def _spans(self) -> list[Placed]:
        assert self._bounds_s is not None
        return self._controller.snapshot.events_between(Settled, *self._bounds_s)

    def _as_seen(self, span: Placed) -> object:
        """What the value depends on of a span: not its growing end while that lies beyond the stretch."""
        assert self._bounds_s is not None and isinstance(span.event, Settled)
        end_s = self._bounds_s[1]
        if span.end_s > end_s + EDGE_S:
            return span.start_s, None, None
        return span.start_s, span.end_s, span.event.u_volts

    def _snapped(self, at_s: float, snap_s: float) -> float:
        spans = self._controller.snapshot.events_between(Settled, at_s - snap_s, at_s + snap_s)
        ends = [end_s for span in spans for end_s in (span.start_s, span.end_s)]
        nearest_s = min(ends, key=lambda end_s: abs(end_s - at_s), default=at_s)
        return nearest_s if abs(nearest_s - at_s) <= snap_s else at_s

    def _context_at(self, run_id: int, utc_ns: int) -> Context:
        log = self._controller.log
        after_line_id = log.samples.line_at(run_id, utc_ns - log.runs.started_utc_ns(run_id))
        return log.checks.context_at(utc_ns, run_id, after_line_id - 1)


def _state_word(state: StretchState) -> str:
    return {
        StretchState.EMPTY: tr("no value in it"),
        StretchState.UNSETTLED: tr("not settled"),
        StretchState.SHORT: tr("too short for an uncertainty"),
        StretchState.SETTLED: tr("settled"),
    }[state]


def _value_words(value: StretchValue) -> str:
    if value.mean_volts is None:
        return tr("no value")
    if value.budget is None:
        return tr("mean {volts} V").format(volts=volts_text(value.mean_volts))
    return value_text(value.mean_volts, value.budget.u_volts)
