"""Readings: taken, entered by hand, voided with a reason; nothing is ever changed, a correction is a row of its own."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from functools import cache
from math import isfinite

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.metrology.context import Context
from logger.translation import kept_text, tr, tr_kept
from logger.visit.records.condition import STILL_AFTER_STATEMENT_S
from logger.visit.records.promised_value import PromisedValue
from logger.visit.records.reading_corrections import CONDITION
from logger.visit.records.reading_records import Reading, Span, Taken
from logger.visit.records.recording_records import Live
from logger.visit.records.simulated_run import is_simulated
from logger.visit.results.body_moves import parted_by_gap, unmoved_elsewhere
from logger.visit.results.correction_history import corrected, correction_history, placement_of
from logger.visit.results.remedy_in_force import in_its_home
from logger.visit.results.used_stretch import StretchUse, refuse_reading, uses_of_stretch
from logger.visit.storage.check_store import CheckStore
from logger.visit.storage.correction_rows import corrections_by_reading, live_and_listed, live_json
from logger.visit.storage.current_value import OVERRIDE_SPAN_S, CurrentValue
from logger.visit.storage.detail_stores import SpotDetailStore
from logger.visit.storage.fact_store import FactStore
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.reading_correction_store import ReadingCorrectionStore
from logger.visit.storage.recorder_status import RecorderStatus
from logger.visit.storage.recording_stores import EventStore, RunStore
from logger.visit.storage.remedy_store import RemedyStore
from logger.visit.storage.setup_store import SetupStore
from logger.visit.storage.time_zone import local_time, zone_of


# long: it takes readings and reads them back, with all that is kept beside each.
class ReadingStore:
    """The readings.

    Args:
        connection: the open log.
        current_value: what a reading is taken from.
        checks: the checks that a reading keeps with it.
        facts: until when another condition was stated.
        recorder: gives the newest heartbeat.
        events: show whether anybody has moved since the reading before.
        setup: what was answered after a reading.
        spot_details: how somebody was at a spot at a reading.
        remedies: what had been done for good when a reading was taken.
        runs: where the visit was recorded.
    """

    def __init__(
        self,
        connection: LogConnection,
        current_value: CurrentValue,
        checks: CheckStore,
        facts: FactStore,
        recorder: RecorderStatus,
        events: EventStore,
        setup: SetupStore,
        spot_details: SpotDetailStore,
        remedies: RemedyStore,
        runs: RunStore,
    ) -> None:
        self._connection = connection
        self._current_value = current_value
        self._checks = checks
        self._facts = facts
        self._recorder = recorder
        self._events = events
        self._setup = setup
        self._spot_details = spot_details
        self._remedies = remedies
        self._runs = runs
        self.corrections = ReadingCorrectionStore(connection, self._as_kept, checks, facts.names)

    def all(self) -> list[Reading]:
        """All readings as they count after their corrections, in the order of taking, voided ones too.

        Words that name circuits are the same condition as what was set by the list.
        """
        with self._connection.reading(), self._connection.read_transaction():
            return [self._with_live_in_words(reading) for reading in self._as_kept()]

    def _with_live_in_words(self, reading: Reading) -> Reading:
        """Add what was live where the condition says so in words alone, by the names of its time."""
        if reading.live is not None:
            return reading
        entry, utc_ns = ("reading", reading.id), reading.utc_ns
        for correction in reading.corrections:
            if correction.kind == CONDITION:
                entry, utc_ns = ("reading_correction", correction.id), correction.utc_ns
        found = self._facts.names.live_in_words(reading.condition, entry, utc_ns)
        return reading if found is None else replace(reading, live=found[0], listed=found[1])

    def _as_kept(self) -> list[Reading]:
        """All readings after their corrections, as the log keeps what was live."""
        with self._connection.reading(), self._connection.read_transaction():
            readings = [_reading(r) for r in self._connection.all(f"{_SELECT} ORDER BY reading.id")]
            contexts = self._setup.with_first_answers([(r.utc_ns, r.context) for r in readings])
            readings = [replace(r, context=c) for r, c in zip(readings, contexts, strict=True)]
            if any(reading.live is None for reading in readings):
                readings = self._with_entered_before(readings)
            corrections = corrections_by_reading(self._connection.db)
            spot_ids = (
                {row["id"] for row in self._connection.all("SELECT id FROM spot")} if corrections else ()
            )
            readings = [
                corrected(
                    reading, correction_history(placement_of(reading), corrections[reading.id], spot_ids)
                )
                if reading.id in corrections
                else reading
                for reading in readings
            ]
            details = self._spot_details.at_moments([(r.spot_id, r.utc_ns) for r in readings])
            readings = [replace(r, details=found) for r, found in zip(readings, details, strict=True)]
            return in_its_home(readings, self._remedies.all(), self._day_of())

    def _day_of(self) -> Callable[[int], date]:
        """What gives the local day of a moment, UTC ns, where the visit was recorded last."""
        runs = self._runs.all()
        zone = zone_of(runs[-1]) if runs else None
        return cache(
            lambda utc_ns: local_time(utc_ns, zone).date()
        )  # each entry is asked for at each reading

    def _with_entered_before(self, readings: list[Reading]) -> list[Reading]:
        """Add what was listed before a reading whose circuits were not stated one by one: the entries have an order."""
        # What an older version wrote has no checksum, and its place in the chain is none in time.
        order = self._connection.all(
            "SELECT entry_table, entry_id, min(id) AS place FROM entry_checksum "
            "WHERE entry_table IN ('source', 'reading') GROUP BY entry_table, entry_id HAVING min(length(digest)) > 0"
        )
        place = {(row["entry_table"], row["entry_id"]): row["place"] for row in order}
        sources = [(entry_id, at) for (table, entry_id), at in place.items() if table == "source"]
        return [
            reading
            if reading.live is not None or (now := place.get(("reading", reading.id))) is None
            else replace(reading, entered_before=frozenset(i for i, at in sources if at < now))
            for reading in readings
        ]

    def _by_id(self, reading_id: int) -> Reading:
        return next(reading for reading in self.all() if reading.id == reading_id)

    def take(
        self,
        spot_id: int,
        condition: str = "",
        override: bool = False,
        live: frozenset[int] | None = None,
        switched_utc_ns: int = 0,
        stated_unchanged: bool = False,
        promised: PromisedValue | None = None,
    ) -> Reading:
        """Take the settled value for a spot, or, by override, what the meter shows, marked as such.

        Args:
            spot_id: where.
            condition: what is live, as the user stated it.
            override: take the mean of the last OVERRIDE_SPAN_S although it is not settled. Where the value
                is settled, the settled one is taken and nothing is marked.
            live: ids of the circuits that are live, where that is stated one by one.
            switched_utc_ns: when something was last switched (steady time line): samples before it do not count,
                also where the switching was too small to begin a new still span.
            stated_unchanged: the user's word that something was switched, or that this is another spot than that of
                the reading before, although nothing in the trace shows it. It frees no line of that reading.
            promised: the value that stood when the reading was asked for, which is taken instead of that of now; how
                it is taken is decided then, and not by `override`.

        Raises:
            AlreadyTakenError: a valid reading of that spot and condition rests on a part of the same stretch.
            StretchInUseError: another value rests on its lines, nothing has moved since another one, or nobody since
                the reading of another spot.
            StillvoltError: not settled (and no override), nothing recorded, no such spot, or another condition was
                stated until a moment ago.
        """
        # One transaction, in which no other window can take the same stretch, or state something else.
        with self._connection.writing():
            self._name_of_spot(spot_id)
            current = promised.live if promised is not None else self._recorder.live()
            override = promised.taken == "override" if promised is not None else override
            if promised is not None:
                span, taken = self.promised_span(promised, condition, switched_utc_ns), promised.taken
            else:
                stated_utc_ns = self._stated_since(condition, current, switched_utc_ns, override)
                span, taken = self._current_value.take(override, max(switched_utc_ns, stated_utc_ns))
            elsewhere: StretchUse | None = None
            parted: StretchUse | None = None
            if current is not None:
                readings = self.all()
                uses = uses_of_stretch(readings, self._checks.used_steps(), current)
                elsewhere = unmoved_elsewhere(spot_id, readings, current, self._events.of_run(current.run_id))
                parted = parted_by_gap(readings, current, self._events.of_run)
                refuse_reading(uses, (spot_id, condition), span, taken, stated_unchanged, elsewhere, parted)
            reading_id = self._keep(
                spot_id,
                condition,
                self._live_json(live, condition),
                span.volts,
                span.u_volts,
                taken,
                span,
                stated_unchanged,
                promised,
                elsewhere,
                parted,
            )
        return self._by_id(reading_id)

    def value_at(self, condition: str, live: Live) -> Span | None:
        """The settled value of a heartbeat as `take` would take it then; all of it while that is too soon to be taken.

        Args:
            condition: what is on.
            live: the heartbeat.

        Returns:
            None where nothing is settled.
        """
        with self._connection.reading():
            too_soon = self.too_soon_after_statement(condition, live) is not None
            since_utc_ns = 0 if too_soon else self._stated_since(condition, live, 0, override=False)
            return self._current_value.settled_at(live, since_utc_ns)

    def promised_span(self, promised: PromisedValue, condition: str, switched_utc_ns: int = 0) -> Span:
        """What of a promised value is taken for a condition.

        Args:
            promised: the value that stood when the reading was asked for.
            condition: what is on.
            switched_utc_ns: when something was last switched (steady time line): samples before it do not count.

        Raises:
            StillvoltError: nothing of it remains, or another condition was stated until a moment before it.
        """
        is_override = promised.taken == "override"
        with self._connection.reading():
            stated_utc_ns = self._stated_since(condition, promised.live, switched_utc_ns, is_override)
            return self._current_value.part_since(promised, max(switched_utc_ns, stated_utc_ns))

    def _stated_since(self, condition: str, live: Live | None, switched_utc_ns: int, override: bool) -> int:
        """Since when nothing else than this condition was stated, on the steady time line; 0 where nothing else was.

        Args:
            condition: what is on.
            live: the newest heartbeat; None where nothing was recorded.
            switched_utc_ns: when something was last switched, where the caller has waited for the value since.
            override: the value is taken although it is not settled.

        Raises:
            StillvoltError: it is too short ago for a value to have settled since.
        """
        ended = None if live is None else self._facts.other_condition_ended(condition, live.run_id)
        if live is None or ended is None:
            return 0
        ended_utc_ns = live.run_started_utc_ns + ended.t_ns
        too_soon = self.too_soon_after_statement(condition, live, override)
        if ended_utc_ns > switched_utc_ns and too_soon is not None:
            raise too_soon
        return ended_utc_ns

    def too_soon_after_statement(
        self, condition: str, live: Live, override: bool = False
    ) -> StillvoltError | None:
        """Why no reading can be taken yet, since something else was stated until a moment ago; None where it can.

        Args:
            condition: what is on now.
            live: the newest heartbeat, or that of the moment whose value is taken.
            override: the value is taken although it is not settled.
        """
        ended = self._facts.other_condition_ended(condition, live.run_id)
        wait_s = OVERRIDE_SPAN_S if override else STILL_AFTER_STATEMENT_S
        if ended is None:
            return None
        past_s = (live.beat_steady_utc_ns - live.run_started_utc_ns - ended.t_ns) / NS_PER_S
        if past_s >= wait_s:
            return None
        if past_s < 0.0:
            return StillvoltError(
                tr("“{condition}” was still stated when this value was asked for.").format(
                    condition=tr_kept(ended.condition)
                ),
                tr("No reading was taken."),
                tr("Hold still for {seconds} s, and take it again.").format(seconds=f"{wait_s:.0f}"),
            )
        return StillvoltError(
            tr("What is on was changed {seconds} s ago; before that it was “{condition}”.").format(
                condition=tr_kept(ended.condition), seconds=f"{past_s:.0f}"
            ),
            tr("No reading was taken."),
            tr("Hold still until {seconds} s have passed since then.").format(seconds=f"{wait_s:.0f}"),
        )

    def enter(
        self,
        spot_id: int,
        condition: str,
        volts: float,
        u_volts: float,
        live: frozenset[int] | None = None,
    ) -> Reading:
        """Enter a value that was read from the meter's display by hand; it is marked as such.

        Args:
            spot_id: where.
            condition: what was live.
            volts: as the display showed it; 0 or more.
            u_volts: standard uncertainty of reading a wandering display, as the user judges it.
            live: ids of the circuits that were live, where that is stated one by one.

        Raises:
            StillvoltError: not a voltage, or no such spot.
        """
        if not (isfinite(volts) and isfinite(u_volts) and volts >= 0.0 and u_volts >= 0.0):
            raise StillvoltError(
                tr("An AC voltage is a number of zero or more."), tr("No reading was taken.")
            )
        with self._connection.writing():
            reading_id = self._keep(
                spot_id, condition, self._live_json(live, condition), volts, u_volts, "by hand", None
            )
        return self._by_id(reading_id)

    def void(self, reading_id: int, reason: str) -> None:
        """Declare a reading mistaken; it stays in the log, with the reason. One that is void keeps its reason."""
        with self._connection.writing():
            if self._by_id(reading_id).void_reason is None:
                self.corrections.insert_void(reading_id, reason.strip() or kept_text("undone"))

    def _keep(
        self,
        spot_id: int,
        condition: str,
        live_json: str,
        volts: float,
        u_volts: float,
        taken: Taken,
        span: Span | None,
        stated_unchanged: bool = False,
        promised: PromisedValue | None = None,
        elsewhere: StretchUse | None = None,
        parted: StretchUse | None = None,
    ) -> int:
        spot_name = self._name_of_spot(spot_id)
        utc_ns = promised.utc_ns if promised is not None else self._connection.clock.utc_ns()
        context = replace(
            self._context(span),
            stated_unchanged=stated_unchanged,
            condition_stated_later=promised is not None
            and promised.is_older_than(condition, self._recorder.live()),
        )
        if stated_unchanged and elsewhere is not None:
            context = replace(context, unmoved=elsewhere.seen, unmoved_since=elsewhere.spot_name)
        elif parted is not None and not stated_unchanged:
            context = replace(context, unmoved="missing", unmoved_since=parted.spot_name)
        return self._connection.insert(
            "INSERT INTO reading (utc_ns, run_id, spot_id, spot_name, condition, volts, u_volts, samples, "
            "start_t_ns, end_t_ns, first_line_id, last_line_id, taken, context, live) "
            "VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)",
            (
                utc_ns, span.run_id if span else None, spot_id, spot_name, condition,
                volts, u_volts,
                *((span.samples, span.start_t_ns, span.end_t_ns, span.first_line_id, span.last_line_id)
                if span else (1, None, None, None, None)), taken,
                context.to_json(),
                live_json,
            ),
        )  # fmt: skip

    def _name_of_spot(self, spot_id: int) -> str:
        """The name of a spot that is on the list; raises StillvoltError where it is not."""
        spot = self._connection.all(
            "SELECT name FROM spot WHERE id = ? AND removed_utc_ns IS NULL", (spot_id,)
        )
        if not spot:
            raise StillvoltError(tr("That spot is no longer on the list."), tr("No reading was taken."))
        name: str = spot[0]["name"]
        return name

    def _context(self, span: Span | None) -> Context:
        """What holds for a reading that is taken now."""
        run_id = span.run_id if span else self._current_value.run_id()
        return replace(
            self._checks.context(run_id, span.last_line_id if span else None),
            count_volts=span.count_volts if span else None,
            parts=span.parts if span else None,
        )

    def _live_json(self, live: frozenset[int] | None, condition: str) -> str:
        """The ids of the circuits that were live, as they are kept; empty where neither list nor words tell them."""
        if live is not None:
            return live_json(live, self._listed())
        return live_json(*(self._facts.names.live_in_words(condition) or (None, ())))

    def _listed(self) -> list[int]:
        rows = self._connection.all("SELECT id FROM source WHERE removed_utc_ns IS NULL ORDER BY id")
        return [r["id"] for r in rows]


_SELECT = (
    "SELECT reading.*, run.started_utc_ns, run.port, run.settings FROM reading "
    "LEFT JOIN run ON run.id = reading.run_id"
)


def _reading(r: sqlite3.Row) -> Reading:
    def steady(t_ns: int | None) -> int | None:
        # Where its run is missing, so is its trace.
        return None if None in (t_ns, r["started_utc_ns"]) else r["started_utc_ns"] + t_ns

    live, listed = live_and_listed(r["live"])
    context = Context.from_json(r["context"]) if r["context"] else None
    # The reading's own mark holds where its run is lost; the run's holds for readings of older versions.
    simulated = context is not None and context.simulated
    simulated = simulated or (r["port"] is not None and is_simulated(r["port"], r["settings"]))
    if context is not None:
        newest_ns = steady(r["end_t_ns"])
        ahead_s = 0.0 if newest_ns is None else (r["utc_ns"] - newest_ns) / NS_PER_S
        context = replace(context, simulated=simulated, clock_ahead_s=ahead_s)
    return Reading(
        r["id"], r["utc_ns"], r["run_id"], r["spot_id"], r["spot_name"], r["condition"], r["volts"],
        r["u_volts"], r["samples"], steady(r["start_t_ns"]), steady(r["end_t_ns"]), r["first_line_id"],
        r["last_line_id"], r["taken"], context,
        live, listed, None, None, simulated,
        context is not None and context.stated_unchanged,
    )  # fmt: skip
