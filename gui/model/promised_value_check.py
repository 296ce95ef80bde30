"""Whether a value that was asked for is still one, once the questions about it are answered."""

from __future__ import annotations

from gui.model.visit_snapshot import VisitSnapshot
from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.metrology.rounding import fixed
from logger.settling.events import Motion
from logger.translation import tr
from logger.visit.records.promised_value import PROMISE_HOLDS_S, PromisedValue
from logger.visit.results.span_review import SpanUnderReview


def refuse_withdrawn(promised: PromisedValue, snapshot: VisitSnapshot, now_utc_ns: int) -> None:
    """Refuse a value that the trace no longer supports, or that is too old for a statement about it.

    Args:
        promised: the value that stood when the reading was asked for.
        snapshot: the visit as last read.
        now_utc_ns: by the computer's clock.

    Raises:
        StillvoltError: it moved, was no level after all, or the questions were open for too long.
    """
    if abs(now_utc_ns - promised.utc_ns) > PROMISE_HOLDS_S * NS_PER_S:
        raise StillvoltError(
            tr(
                "You asked for this value more than {minutes} min ago. That is too long ago: take it again."
            ).format(minutes=fixed(PROMISE_HOLDS_S / 60, 0)),
            tr("No reading was taken."),
        )
    if promised.taken != "settled":
        return
    if snapshot.span_review.of_span(promised.span) or _is_in_open_motion(promised, snapshot):
        raise StillvoltError(tr("The value moved meanwhile: take it again."), tr("No reading was taken."))


def _is_in_open_motion(promised: PromisedValue, snapshot: VisitSnapshot) -> bool:
    """Whether a motion that goes on, or of which the detector is not sure yet, reaches back into the value."""
    live, stretch = snapshot.live, SpanUnderReview.of(promised.span)
    if live is None or live.ended or live.run_id != stretch.run_id:
        return False
    motions = (event for event in live.open_events if isinstance(event, Motion))
    return any(stretch.shared_s(motion) > stretch.allowed_s for motion in motions)
