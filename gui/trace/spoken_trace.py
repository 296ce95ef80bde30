"""The trace in words, for a screen reader: state, newest value, what is in sight and what is selected."""

from __future__ import annotations

from gui.model.status import status
from gui.model.wording import volts_text
from gui.trace.trace_canvas import TraceCanvas
from logger.clock import NS_PER_S
from logger.translation import tr

EVERY_NS = NS_PER_S
"""The words change no more often: a screen reader would never finish a sentence."""


class SpokenTrace:
    """Keeps the trace's accessible description up to date.

    Args:
        trace: the trace.
    """

    def __init__(self, trace: TraceCanvas) -> None:
        self._trace = trace
        self._described_ns: int | None = None
        self._view: tuple[str, str] | None = None
        """What was in sight and selected when it was described last."""

    def refresh(self) -> None:
        """Describe what is known now, if that is due; another stretch in sight, or another selection, at once."""
        now_ns = self._trace.controller.clock.steady_ns()
        view = self._trace.state_text(), self._trace.selection_text()
        is_early = self._described_ns is not None and now_ns - self._described_ns < EVERY_NS
        if is_early and view == self._view:
            return
        self._described_ns, self._view = now_ns, view
        text = self.text()
        if text != self._trace.accessibleDescription():
            self._trace.setAccessibleDescription(text)

    def value(self) -> str:
        """State and newest value in words."""
        now = status(self._trace.controller.snapshot)
        words = now.spoken
        if now.volts is not None:
            words = tr("{state}, {volts} volts").format(state=words, volts=volts_text(now.volts, now.u_volts))
        return tr("simulated, {words}").format(words=words) if now.simulated else words

    def text(self) -> str:
        """State, newest value, what is in sight, the zone of its times, and what is selected."""
        trace = self._trace
        parts = [self.value(), trace.state_text(), trace.zone_text(), trace.selection_text()]
        return ". ".join(part for part in parts if part)
