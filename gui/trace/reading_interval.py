"""A reading, or the step of a check, with the stretch of the trace that it rests on."""

from __future__ import annotations

from dataclasses import dataclass

from gui.model.visit_controller import VisitController
from gui.model.wording import u_of
from logger.translation import tr_kept
from logger.visit.records.reading_records import CheckStep, Reading

MARGIN_S = 15.0
MARGIN_SHARE = 0.1
"""Shown before and after the stretch: the larger of these, so that it is seen beside a long stretch too."""


@dataclass(frozen=True, slots=True)
class ReadingInterval:
    """A value with the stretch it rests on, in seconds on the time line of the trace."""

    name: str
    volts: float
    u_volts: float
    """Standard uncertainty with what meter and reference add: the value has its figures by it."""
    start_utc_ns: int
    start_s: float
    end_s: float
    in_doubt: bool

    @classmethod
    def of_step(cls, controller: VisitController, step: CheckStep) -> ReadingInterval:
        """The value of a check's step."""
        span = step.span
        zero_utc_ns = controller.log.runs.started_utc_ns(span.run_id)
        start_utc_ns, end_utc_ns = zero_utc_ns + span.start_t_ns, zero_utc_ns + span.end_t_ns
        trace = controller.snapshot.trace
        return cls(
            tr_kept(step.name), span.volts,
            controller.snapshot.budget_of_level(span.volts, span.u_volts).u_volts, start_utc_ns,
            trace.seconds(start_utc_ns, span.run_id), trace.seconds(end_utc_ns, span.run_id),
            bool(controller.snapshot.span_review.of_span(span)),
        )  # fmt: skip

    @classmethod
    def of_reading(cls, controller: VisitController, reading: Reading, name: str) -> ReadingInterval | None:
        """A reading; None for one that rests on no trace.

        Args:
            controller: the visit.
            reading: the reading.
            name: what the interval is called in the picture.
        """
        if reading.run_id is None or reading.start_utc_ns is None or reading.end_utc_ns is None:
            return None
        trace = controller.snapshot.trace
        return cls(
            name, reading.volts, u_of(reading), reading.start_utc_ns,
            trace.seconds(reading.start_utc_ns, reading.run_id),
            trace.seconds(reading.end_utc_ns, reading.run_id),
            bool(controller.readings.doubt(reading)),
        )  # fmt: skip

    def window_s(self) -> tuple[float, float]:
        """Start and end of what is shown of it."""
        margin_s = max(MARGIN_S, MARGIN_SHARE * (self.end_s - self.start_s))
        return self.start_s - margin_s, self.end_s + margin_s
