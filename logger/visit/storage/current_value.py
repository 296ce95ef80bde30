"""The value that can be taken now: the settled one, or, by override, what the meter shows."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import numpy as np

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.metrology.uncertainty import LevelParts
from logger.settling.events import State
from logger.translation import marked, tr, tr_kept
from logger.visit.records.condition import STILL_AFTER_STATEMENT_S
from logger.visit.records.promised_value import PromisedValue
from logger.visit.records.reading_records import Span, Taken
from logger.visit.records.recording_records import Live
from logger.visit.results.span_count import SpanCount
from logger.visit.storage.fact_store import FactStore
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.recorder_status import RecorderStatus
from logger.visit.storage.recording_stores import SampleStore

MIN_SAMPLES = 2
"""Fewer samples than this are no mean."""

OVERRIDE_SPAN_S = 3.0
"""A reading that is taken by override is the mean of the samples of this last stretch."""


class CurrentValue:
    """The value of the newest heartbeat, with the samples it comes from.

    Args:
        connection: the open log.
        recorder: gives the newest heartbeat.
        samples: gives the samples of a span.
        facts: tell since when the reference and the meter's input are what they are stated to be.
    """

    def __init__(
        self,
        connection: LogConnection,
        recorder: RecorderStatus,
        samples: SampleStore,
        facts: FactStore,
    ) -> None:
        self._connection = connection
        self._recorder = recorder
        self._samples = samples
        self._facts = facts
        self._count: SpanCount | None = None
        """Of the stretch that was looked at last: the one that goes on is asked for with each new line."""

    def run_id(self) -> int | None:
        """The run that goes on now; None where nothing is being recorded."""
        live = self._recorder.live()
        return None if live is None or live.ended else live.run_id

    def why_not_settled(self) -> str:
        """Why no settled value can be taken now, in one sentence; empty when one can."""
        return self.why_not_settled_at(self._recorder.live())

    def why_not_settled_at(self, live: Live | None) -> str:
        """Why a heartbeat has no settled value, in one sentence; empty where it has one.

        Args:
            live: the heartbeat; None where there is none.
        """
        if no_value := self._recorder.why_no_value(live):
            return no_value
        assert live is not None
        if live.warning and (live.frozen or live.state in _WARNING_IS_THE_REASON):
            return tr_kept(live.warning)
        return tr(_NOT_SETTLED.get(live.state, ""))

    def settled_span(self, since_utc_ns: int = 0) -> Span:
        """The settled value now with the stretch it rests on, without samples before a moment of the steady time line.

        Raises:
            StillvoltError: none is settled, or none has come since.
        """
        with self._connection.writing():
            return self.take(override=False, switched_utc_ns=since_utc_ns)[0]

    def promise(self, override: bool = False, condition: str = "") -> PromisedValue:
        """Hold the value of now for a reading of which something has still to be asked.

        Args:
            override: also while it is not settled; see `take`.
            condition: what is on as stated by now; empty where it is not stated.

        Raises:
            StillvoltError: nothing is settled (and no override), or nothing comes.
        """
        with self._connection.writing():
            span, taken = self.take(override, switched_utc_ns=0)
            live = self._recorder.live()
            assert live is not None  # a value was there
            return PromisedValue(span, taken, live, self._connection.clock.utc_ns(), condition)

    def settled_at(self, live: Live, since_utc_ns: int) -> Span | None:
        """The settled value of a heartbeat as it would be taken then; None where there is none.

        Args:
            live: the heartbeat.
            since_utc_ns: samples before this moment of the steady time line do not count.
        """
        if live.volts is None or live.u_volts is None or self.why_not_settled_at(live):
            return None
        with self._connection.reading():
            try:
                since_ns = max(since_utc_ns - live.run_started_utc_ns, self._setup_changed_ns(live))
                span = self._part_since(self._settled(live), since_ns)
            except StillvoltError:
                return None
            return self._with_count(span)

    def part_since(self, promised: PromisedValue, since_utc_ns: int) -> Span:
        """What remains of a promised value without the samples before a moment of the steady time line.

        Raises:
            StillvoltError: none had come since, or another reference or meter input was stated since.
        """
        live, changed_ns = promised.live, self._facts.setup_changed_ns(promised.live.run_id)
        if changed_ns is not None and changed_ns >= live.beat_steady_utc_ns - live.run_started_utc_ns:
            raise StillvoltError(
                tr("Something else was stated of reference, meter or laptop after this value was asked for."),
                tr("No reading was taken."),
                tr("Hold still, and take it again."),
            )
        start_ns = since_utc_ns - promised.live.run_started_utc_ns
        if promised.taken != "settled" or start_ns <= promised.span.start_t_ns:
            return promised.span
        return self._with_count(self._part_since(promised.span, start_ns))

    def take(self, override: bool, switched_utc_ns: int) -> tuple[Span, Taken]:
        """The value that can be taken now, and how it was taken.

        It is called within `writing`, so that everything it reads is of one moment.

        Args:
            override: take the mean of the last OVERRIDE_SPAN_S where nothing is settled.
            switched_utc_ns: when something was last switched (steady time line); samples before it do not count.

        Raises:
            StillvoltError: nothing is settled (and no override), nothing comes, or another reference or meter input
                was stated a moment ago.
        """
        live = self._recorder.live()
        refusal = self.why_not_settled_at(live)
        # An override takes what is not settled, never what was there before the cable was pulled.
        if refusal and (not override or self._recorder.why_no_value(live)):
            raise StillvoltError(refusal, tr("No reading was taken."))
        assert live is not None
        changed_ns = self._setup_changed_ns(live)
        if changed_ns and self._is_too_soon_after(changed_ns, live, is_settled=not refusal):
            raise StillvoltError(
                tr("Something else was stated of reference, meter or laptop a moment ago."),
                tr("No reading was taken."),
                tr("Hold still until {seconds} s have passed since then.").format(
                    seconds=f"{STILL_AFTER_STATEMENT_S:.0f}"
                ),
            )
        if refusal:
            return self._last_stretch(live), "override"
        switched_ns = max(switched_utc_ns - live.run_started_utc_ns, changed_ns)
        return self._with_count(self._part_since(self._settled(live), switched_ns)), "settled"

    def _is_too_soon_after(self, moment_ns: int, live: Live, *, is_settled: bool) -> bool:
        """Whether the value of now is in part of a time before a moment of its run, and hardly any of it of after that.

        Args:
            moment_ns: the moment, ns since the run's start.
            live: the newest heartbeat.
            is_settled: the value is the settled one, and not what the meter shows.
        """
        past_s = (live.beat_steady_utc_ns - live.run_started_utc_ns - moment_ns) / NS_PER_S
        if not is_settled:
            return past_s < OVERRIDE_SPAN_S
        began_before = live.since_steady_utc_ns - live.run_started_utc_ns < moment_ns
        return began_before and past_s < STILL_AFTER_STATEMENT_S

    def _setup_changed_ns(self, live: Live) -> int:
        """Since when reference and meter input are those of now, ns since the run's start; 0: since it began."""
        return self._facts.setup_changed_ns(live.run_id) or 0

    def _settled(self, live: Live) -> Span:
        """The settled span that goes on, without the display's count."""
        start_ns = live.since_steady_utc_ns - live.run_started_utc_ns
        last, end_ns = self._connection.one(
            "SELECT id, t_ns FROM line WHERE id <= ? AND status = 'volts' ORDER BY id DESC LIMIT 1",
            (live.last_line_id,),
        )
        assert live.volts is not None and live.u_volts is not None
        first = self._samples.line_at(live.run_id, start_ns)
        growing = live.growing_span
        parts = None if growing is None else LevelParts.of_span(growing)
        return Span(
            live.volts, live.u_volts, live.samples, live.run_id, start_ns, end_ns, first, last, parts=parts
        )

    def _part_since(self, span: Span, start_ns: int) -> Span:
        """What remains of a settled span without the samples before a moment, without the display's count.

        Args:
            span: a settled span.
            start_ns: the moment, ns since the run's start.
        """
        if start_ns <= span.start_t_ns:
            return span
        first = self._samples.line_at(span.run_id, start_ns)
        since = self._samples.between(first, span.last_line_id).volts
        if len(since) < MIN_SAMPLES:
            raise StillvoltError(
                tr("Too few values have come since then."),
                tr("No reading was taken."),
                tr("Wait a moment."),
            )
        # The scatter is that of the whole span; fewer samples average it less.
        u_volts = span.u_volts * sqrt(max(span.samples / len(since), 1.0))
        return replace(
            span,
            volts=float(since.mean()),
            u_volts=u_volts,
            samples=len(since),
            start_t_ns=start_ns,
            first_line_id=first,
        )

    def _with_count(self, span: Span) -> Span:
        """The same span with the display's count as its lines show it."""
        count_volts = self._count_volts(span.run_id, span.first_line_id, span.last_line_id)
        return replace(span, count_volts=count_volts)

    def _count_volts(self, run_id: int, first: int, last: int) -> float | None:
        """What the values of a stretch are rounded to; None where neither they nor their text show it.

        Args:
            run_id: the run it is of.
            first, last: ids of its first line and its last one.
        """
        count = self._count
        if (
            count is None
            or (count.run_id, count.first_line_id) != (run_id, first)
            or count.last_line_id > last
        ):
            count = self._count = SpanCount(run_id, first)
        for r in self._connection.all(
            "SELECT id, volts, raw FROM line WHERE id BETWEEN ? AND ? AND run_id = ? AND status = 'volts' ORDER BY id",
            (count.last_line_id + 1, last, run_id),
        ):
            count.add(r["id"], bytes(r["raw"]), r["volts"])
        return count.count_volts

    def _last_stretch(self, live: Live) -> Span:
        end_ns = live.beat_steady_utc_ns - live.run_started_utc_ns
        start_ns = end_ns - round(OVERRIDE_SPAN_S * NS_PER_S)
        rows = self._connection.all(
            "SELECT id, volts FROM line WHERE id >= ? AND run_id = ? AND status = 'volts' ORDER BY id",
            (self._samples.line_at(live.run_id, start_ns), live.run_id),
        )
        if len(rows) < MIN_SAMPLES:
            raise StillvoltError(
                tr("The meter sent no value in the last {seconds} s.").format(
                    seconds=f"{OVERRIDE_SPAN_S:.0f}"
                ),
                tr("No reading was taken."),
            )
        volts = np.array([r["volts"] for r in rows])
        # Not divided by sqrt(n): while the body moves, more samples do not make the mean any truer.
        u_volts = float(volts.std(ddof=1))
        first, last = rows[0]["id"], rows[-1]["id"]
        return Span(
            float(volts.mean()),
            u_volts,
            len(rows),
            live.run_id,
            start_ns,
            end_ns,
            first,
            last,
            self._count_volts(live.run_id, first, last),
        )


_WARNING_IS_THE_REASON = (State.WAITING, State.LOST, State.ALTERNATING, State.REFUSED)

_NOT_SETTLED = {
    State.WAITING: marked("The meter has not sent a value yet."),
    State.SETTLING: marked("The value is still settling."),
    State.CHANGING: marked("The value is changing: hold still until it has settled."),
    State.CHANGING_LONG: marked("The body has not been still for long enough."),
    State.DRIFTING: marked("The value is drifting."),
    State.ALTERNATING: marked("Several values alternate, so none of them is settled."),
    State.REFUSED: marked("Too many lines are refused for a value to be settled."),
    State.OVERLOAD: marked("The meter shows overload."),
    State.LOST: marked("No value comes from the meter."),
}
