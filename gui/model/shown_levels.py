"""How levels of the trace and the steps between them are shown: a step is the difference of its levels as shown.

A step that is final keeps its figures, though its levels go on and may round otherwise later: one change has one size.
In: settled spans and steps. Out: their figures, the same in the trace, in lists and in sentences.
"""

from __future__ import annotations

from collections.abc import Callable

from gui.model.wording import volts_text
from logger.metrology.context import Context
from logger.metrology.rounding import difference_as_shown, signed, signed_as_shown
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.settling.events import Settled, Step
from logger.visit.trace import Kind, Placed

LOOKS_S = 60.0
"""How far from a step its levels may lie: a motion may be in between."""

SAME_LEVEL_VOLTS = 0.01
"""A span that began as the level of a step may have moved by that since; one further away is another level."""

_AT_STEP_S = 1.0
"""A span may reach that far over the moment of the step that ends it."""


class ShownLevels:
    """The figures of levels and steps.

    Args:
        spans_between: the events of a kind between two times of the trace.
        context: with what a value is read now.
        seen_of: the value of a span, with its whole standard uncertainty, that the window shows elsewhere: in the
            readout or as a reading; None where it shows none.
        is_final: whether the detector will not change a step any more.
    """

    def __init__(
        self,
        spans_between: Callable[[Kind, float, float], list[Placed]],
        context: Callable[[], Context],
        seen_of: Callable[[Placed], tuple[float, float] | None],
        is_final: Callable[[Step], bool],
    ) -> None:
        self._spans_between = spans_between
        self._context_of_now = context
        self._seen_of = seen_of
        self._is_final = is_final
        self._final_sizes: dict[Step, str] = {}
        """What final steps were shown as first."""
        self._context: Context | None = None
        self._texts: dict[tuple[float, float], str] = {}

    def level(self, placed: Placed) -> str:
        """A level without its unit: as the readout or a reading of it has it, else by its whole uncertainty.

        A reading takes a part of its span, which may round otherwise than the whole: nobody shall see two figures of
        the same seconds.
        """
        span = placed.event
        assert isinstance(span, Settled)
        seen = self._seen_of(placed)
        if seen is not None and abs(seen[0] - span.volts) <= SAME_LEVEL_VOLTS:
            return volts_text(*seen)
        context = self._context_of_now()
        if context is not self._context:
            if context != self._context:
                self._texts = {}
            self._context = context
        key = span.volts, span.u_volts
        text = self._texts.get(key)
        if text is None:
            budget = context.budget(span.volts, span.u_volts)
            text = self._texts[key] = volts_text(span.volts, budget.u_volts)
        return text

    def step(self, at_s: float, step: Step) -> str:
        """A step with sign and unit: '+0.17 V'.

        Args:
            at_s: its time on the time line of the trace.
            step: the step.
        """
        kept = self._final_sizes.get(step)
        if kept is not None:
            return kept
        text = self._size(at_s, step)
        if self._is_final(step):
            self._final_sizes[step] = text
        return text

    def _size(self, at_s: float, step: Step) -> str:
        near = self._spans_between(Settled, at_s - LOOKS_S, at_s + LOOKS_S)
        before = [p for p in near if p.end_s <= at_s + _AT_STEP_S]
        after = [p for p in near if p.start_s >= at_s - _AT_STEP_S]
        change = difference_as_shown(
            self._shown(before[-1:], step.before_volts, step), self._shown(after[:1], step.after_volts, step)
        )
        if not change:  # too small for the figures of its levels
            return f"{signed(step.after_volts - step.before_volts, 3)} V"
        return f"{signed_as_shown(change)} V"

    def _shown(self, spans: list[Placed], volts: float, step: Step) -> str:
        """A level of a step as it is shown: that of the span beside it, else by itself."""
        apart = max(SAME_LEVEL_VOLTS, COVERAGE_FACTOR * step.u_volts)
        for placed in spans:
            if isinstance(placed.event, Settled) and abs(placed.event.volts - volts) <= apart:
                return self.level(placed)
        return volts_text(volts)
