"""Whether the stretch of the trace that a value rests on still stands in the light of what came after it.

A value can be taken a few seconds after it has settled; only what follows tells whether that was a level or a pause
in a movement, or a display on HOLD. In: stretches, the detector's final events, and the recorder's notices of a
frozen display. Out: "" or one sentence. What was recorded stays as it was recorded; the sentence is given beside it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot, inf

from logger.clock import NS_PER_S
from logger.meter.date_watch import STORED_NOTICE
from logger.metrology.rounding import plain
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.name_list import joined
from logger.settling.events import Event, Gap, Motion, Overload, Settled, Step, span_s
from logger.settling.limits import BLOCK_S, MAX_UNSURE_BLOCKS, TILT_VOLTS
from logger.translation import marked, tr
from logger.visit.records.reading_records import Reading, Span
from logger.visit.records.recording_records import Live, LoggedEvent, Notice
from logger.visit.results.frozen_times import FrozenStretch, is_of_frozen_display, with_notice

ALLOWED_SHARE = 0.25
"""So much of a stretch may be left out of the final span before it is worth a word, and never more than the detector
itself leaves out about a small change (`MAX_UNSURE_BLOCKS`): then the level is still that of the stretch."""


STORED_DOUBT = marked(
    "The meter's lines carried another date: this may be a stored value, not what was there."
)
"""Doubt about a value of a run whose lines carry another date than that of the recording."""


_FOUND = (
    (Motion, marked("motion")),
    (Step, marked("a step")),
    (Overload, marked("overload")),
    (Gap, marked("a gap")),
)
"""What the detector may find within a value, in words."""


@dataclass(frozen=True, slots=True)
class SpanUnderReview:
    """A value and what it rests on, in seconds since the start of its run."""

    run_id: int
    start_s: float
    end_s: float
    volts: float
    u_volts: float
    samples: int

    @classmethod
    def of(cls, span: Span) -> SpanUnderReview:
        """The stretch of a value that was taken."""
        start_s, end_s = span.start_t_ns / NS_PER_S, span.end_t_ns / NS_PER_S
        return cls(span.run_id, start_s, end_s, span.volts, span.u_volts, span.samples)

    @property
    def length_s(self) -> float:
        """How long it is."""
        return self.end_s - self.start_s

    @property
    def allowed_s(self) -> float:
        """How much of it may be left out of the final span."""
        block_s = max(BLOCK_S, self.length_s / max(self.samples, 1))
        return min(ALLOWED_SHARE * self.length_s, MAX_UNSURE_BLOCKS * block_s)

    def shared_s(self, event: Event) -> float:
        """How much of it an event takes up."""
        return self.overlap_s(*span_s(event))

    def overlap_s(self, start_s: float, end_s: float) -> float:
        """How much of it lies between two moments; negative where it lies apart."""
        return min(self.end_s, end_s) - max(self.start_s, start_s)


def decided_until_s(events: Iterable[Event]) -> float:
    """Up to where a run's final events decide what it was. An overload is told at once, before what led to it."""
    return max((span_s(event)[1] for event in events if not isinstance(event, Overload)), default=0.0)


def why_in_doubt(stretch: SpanUnderReview, events: Sequence[Event], decided_s: float) -> str:
    """What speaks against a value by now, in one sentence; "" while nothing does, or nothing is known yet.

    Args:
        stretch: what the value rests on, taken while it was settled.
        events: the final events of its run, as the detector gave them; provisional ones do not count.
        decided_s: up to where they decide (`decided_until_s`); infinite once the run is over.
    """
    if decided_s <= stretch.end_s:
        return ""
    spans = [event for event in events if isinstance(event, Settled) and stretch.shared_s(event) > 0.0]
    lost_s = stretch.length_s - max(map(stretch.shared_s, spans), default=0.0)
    if lost_s <= stretch.allowed_s:
        return ""
    found = [
        tr(word)
        for kind, word in _FOUND
        if any(isinstance(event, kind) and _lies_in(event, stretch) for event in events)
    ]
    if found:
        text = tr("The detector later found {found} within the {seconds} s it rests on.")
        return text.format(found=joined(found), seconds=plain(round(stretch.length_s, 2)))
    if any(_agrees(stretch, span) for span in spans):
        return ""  # only the beginning was left out, and what was left gave the same value
    text = tr("The detector later found that {lost} s of the {seconds} s it rests on were not steady.")
    return text.format(lost=plain(round(lost_s, 2)), seconds=plain(round(stretch.length_s, 2)))


class SpanReview:
    """Answers `why_in_doubt` for the readings and checks of a visit, as its events come in.

    Once the answer for a stretch is known it is kept: final events do not change.
    """

    def __init__(self) -> None:
        self._live: Live | None = None
        """The heartbeat of the run that is going on: more events of it may come."""
        self._events: dict[int, list[Event]] = {}
        self._started_utc_ns: dict[int, int] = {}
        self._frozen: dict[int, list[FrozenStretch]] = {}
        """Per run: when its display was frozen."""
        self._decided_s: dict[int, float] = {}
        """Per run: up to where its final events have decided."""
        self._stored: set[int] = set()
        """Runs whose lines carry another date than that of their recording."""
        self._known: dict[SpanUnderReview, str] = {}

    @classmethod
    def of_log(
        cls, events: Iterable[LoggedEvent], notices: Iterable[Notice], live: Live | None
    ) -> SpanReview:
        """The review of a visit as it is now.

        Args:
            events: all final events, in the order written.
            notices: all notices, in the order written.
            live: the newest heartbeat; None where nothing was recorded.
        """
        review = cls()
        review.append(events)
        review.append_notices(notices)
        review.follow(live)
        return review

    def follow(self, live: Live | None) -> None:
        """Take over the newest heartbeat: what it holds as open is not decided yet."""
        self._live = live if live is not None and not live.ended else None

    def append(self, events: Iterable[LoggedEvent]) -> None:
        """Add final events, in the order written."""
        for logged in events:
            run_id, event = logged.run_id, logged.event
            self._events.setdefault(run_id, []).append(event)
            self._started_utc_ns[run_id] = logged.run_started_utc_ns
            self._decided_s[run_id] = max(self._decided_s.get(run_id, 0.0), decided_until_s([event]))

    def append_notices(self, notices: Iterable[Notice]) -> None:
        """Add notices, in the order written. Those of a frozen display count from when it froze."""
        for notice in notices:
            if notice.kind == STORED_NOTICE:
                self._stored.add(notice.run_id)
            if is_of_frozen_display(notice):
                self._started_utc_ns[notice.run_id] = notice.run_started_utc_ns
                self._frozen[notice.run_id] = with_notice(self._frozen.get(notice.run_id, []), notice)

    def of_span(self, span: Span) -> str:
        """What contradicts a check's value by now."""
        stretch = SpanUnderReview.of(span)
        return _joined(self._frozen_doubt(stretch) or self._of(stretch), self._stored_doubt(span.run_id))

    def of_reading(self, reading: Reading) -> str:
        """What contradicts a reading by now.

        A reading by hand rests on no stretch; one by override never claimed to be settled, but a frozen display is
        no measurement either.
        """
        run_id, start_ns, end_ns = reading.run_id, reading.start_utc_ns, reading.end_utc_ns
        if run_id not in self._started_utc_ns or start_ns is None or end_ns is None:
            return self._stored_doubt(run_id)
        zero_ns = self._started_utc_ns[run_id]
        start_s, end_s = (start_ns - zero_ns) / NS_PER_S, (end_ns - zero_ns) / NS_PER_S
        stretch = SpanUnderReview(run_id, start_s, end_s, reading.volts, reading.u_volts, reading.samples)
        doubt = self._frozen_doubt(stretch)
        doubt = doubt or (self._of(stretch) if reading.taken == "settled" else "")
        return _joined(doubt, self._stored_doubt(run_id))

    def _stored_doubt(self, run_id: int | None) -> str:
        """That the lines of a run may be values that the meter had stored, in one sentence; "" where they are not."""
        return tr(STORED_DOUBT) if run_id in self._stored else ""

    def _frozen_doubt(self, stretch: SpanUnderReview) -> str:
        """That the display was frozen while a value was taken, in one sentence; "" where it was not."""
        for frozen in self._frozen.get(stretch.run_id, ()):
            if stretch.overlap_s(frozen.start_s, frozen.end_s) > stretch.allowed_s:
                return tr(
                    "The display did not change for {length} while this was read: the meter may be on HOLD."
                ).format(length=frozen.length_text)
        return ""

    def _of(self, stretch: SpanUnderReview) -> str:
        if stretch in self._known:
            return self._known[stretch]
        run_id, live = stretch.run_id, self._live
        is_recording = live is not None and run_id == live.run_id
        if (
            live is not None
            and is_recording
            and any(
                isinstance(event, Settled) and stretch.shared_s(event) > 0.0 for event in live.open_events
            )
        ):
            return ""  # it may still become the level of the stretch
        decided_s = self._decided_s.get(run_id, 0.0) if is_recording else inf
        sentence = why_in_doubt(stretch, self._events.get(run_id, ()), decided_s)
        if decided_s > stretch.end_s:
            self._known[stretch] = sentence
        return sentence


def _joined(*sentences: str) -> str:
    return " ".join(filter(None, sentences))


def _agrees(stretch: SpanUnderReview, span: Settled) -> bool:
    """Whether a final span has the level that was taken: within k = 2, or within what it calls level at all."""
    within_volts = max(TILT_VOLTS, COVERAGE_FACTOR * hypot(stretch.u_volts, span.u_volts))
    return abs(stretch.volts - span.volts) <= within_volts


def _lies_in(event: Event, stretch: SpanUnderReview) -> bool:
    if isinstance(event, Step):
        return stretch.start_s < event.time_s < stretch.end_s
    return stretch.shared_s(event) > 0.0
