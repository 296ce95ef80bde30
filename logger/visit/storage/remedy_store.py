"""The remedies: what is to be done, each decision on it, and what earlier visits read before it was done.

Every table is only ever appended to. A decision that was made by mistake is taken back by an entry of its own.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import asdict, fields, replace
from datetime import date
from typing import Any

from logger.errors import StillvoltError
from logger.metrology.context import Context
from logger.metrology.posture import Repeatability
from logger.metrology.rounding import grouped
from logger.translation import tr
from logger.visit.records.home_details import MAX_HEIGHT_M, SpotDetails
from logger.visit.records.kept_line import is_length, kept_line, kept_metres
from logger.visit.records.kept_object import kept_object
from logger.visit.records.practitioner import why_not_a_line
from logger.visit.records.remedy_records import (
    MAX_DISTANCE_M,
    Remedy,
    RemedyBaseline,
    RemedyDecision,
    RemedyEntry,
    RemedyKind,
    standing_entries,
)
from logger.visit.storage.content_limits import MAX_ROWS
from logger.visit.storage.correction_rows import live_and_listed, live_json
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.time_zone import local_time


class RemedyStore:
    """The remedies.

    Args:
        connection: the open log.
    """

    def __init__(self, connection: LogConnection) -> None:
        self._connection = connection

    def all(self) -> list[Remedy]:
        """All remedies with their entries, in the order in which they were entered."""
        entries: dict[int, list[RemedyEntry]] = {}
        for row in self._connection.all("SELECT * FROM remedy_entry ORDER BY id"):
            entries.setdefault(row["remedy_id"], []).append(_entry(row))
        return [
            Remedy(
                row["id"],
                row["utc_ns"],
                RemedyKind(row["kind"]),
                stored_source_ids(row["sources"]),
                row["spot_id"],
                row["text"],
                row["from_visit"],
                tuple(entries.get(row["id"], ())),
            )
            for row in self._connection.all("SELECT * FROM remedy ORDER BY id")
        ]

    def baselines(self) -> list[RemedyBaseline]:
        """What earlier visits read before the remedies that were taken over from them were done."""
        return [_baseline(row) for row in self._connection.all("SELECT * FROM remedy_baseline ORDER BY id")]

    def add(
        self,
        kind: RemedyKind,
        entry: RemedyEntry,
        source_ids: Iterable[int] = (),
        spot_id: int | None = None,
        text: str = "",
    ) -> Remedy:
        """Enter a remedy with the first decision on it.

        Args:
            kind: what is done.
            entry: the decision; its moment and id are those of now.
            source_ids: the circuits and cords that it is about.
            spot_id: the spot that it is about; None where it is about none in particular.
            text: in the user's own words; the kind `OWN` needs it.

        Raises:
            StillvoltError: a text, a date or the distance cannot be kept, an own one has no words, or the visit has as
                many as it can hold; nothing is entered.
        """
        text = kept_line(text, tr("Remedy"))
        if kind is RemedyKind.OWN and not text:
            raise StillvoltError(
                tr("A remedy of your own needs words that say what is done."),
                tr("Nothing was entered."),
                tr("Type what is to be done."),
            )
        entry = _kept(entry, local_time(self._connection.clock.utc_ns(), None).date())
        with self._connection.writing():
            self._refuse_full("remedy")
            utc_ns = self._connection.clock.utc_ns()
            remedy = Remedy(0, utc_ns, kind, tuple(sorted(set(source_ids))), spot_id, text)
            remedy_id = insert_remedy(self._connection.db, remedy)
            kept = self._insert_entry(remedy_id, replace(entry, utc_ns=utc_ns, corrects=None))
        return replace(remedy, id=remedy_id, entries=(kept,))

    def decide(self, remedy_id: int, entry: RemedyEntry) -> RemedyEntry:
        """Enter another decision on a remedy: planned again, done, undone, not wanted.

        Args:
            remedy_id: of the remedy.
            entry: the decision; its moment and id are those of now.

        Raises:
            StillvoltError: a text, a date or the distance cannot be kept, the day lies before that of what was entered
                last, or the visit has as many entries as it can hold; nothing is entered.
        """
        entry = _kept(entry, local_time(self._connection.clock.utc_ns(), None).date())
        with self._connection.writing():
            utc_ns = self._connection.clock.utc_ns()
            remedy = next(remedy for remedy in self.all() if remedy.id == remedy_id)
            _refuse_earlier_day(remedy, _day_of(replace(entry, utc_ns=utc_ns)))
            return self._insert_entry(remedy_id, replace(entry, utc_ns=utc_ns, corrects=None))

    def take_back(self, remedy_id: int, entry_id: int, entered_by: str = "") -> RemedyEntry:
        """Take an entry back as mistaken: what held before it holds again, and both stay in the log.

        An entry that took another one back can be taken back as well.

        Args:
            remedy_id: of the remedy.
            entry_id: of the entry.
            entered_by: the practitioner's name; empty where it is not stated.
        """
        with self._connection.writing():
            before = next(remedy for remedy in self.all() if remedy.id == remedy_id).entries
            left = standing_entries(
                (
                    *before,
                    RemedyEntry(
                        0, RemedyDecision.UNDONE, id=max(e.id for e in before) + 1, corrects=entry_id
                    ),
                )
            )
            holds = left[-1] if left else RemedyEntry(0, RemedyDecision.UNDONE)
            utc_ns = self._connection.clock.utc_ns()
            entered_by = kept_line(entered_by, tr("Entered by"))
            return self._insert_entry(
                remedy_id, replace(holds, utc_ns=utc_ns, entered_by=entered_by, corrects=entry_id)
            )

    def _insert_entry(self, remedy_id: int, entry: RemedyEntry) -> RemedyEntry:
        self._refuse_full("remedy_entry")
        return replace(entry, id=insert_entry(self._connection.db, remedy_id, entry))

    def _refuse_full(self, table: str) -> None:
        if self._connection.one(f"SELECT count(*) FROM {table}")[0] >= MAX_ROWS[table]:
            raise StillvoltError(
                tr("The visit has {n} entries on remedies, and more do not fit into it.").format(
                    n=grouped(MAX_ROWS[table])
                ),
                tr("Nothing was entered."),
                tr("Begin a new visit of this home."),
            )


def insert_remedy(db: sqlite3.Connection, remedy: Remedy) -> int:
    """Enter a remedy as it is, within a transaction; returns its id.

    Args:
        db: connection to the log.
        remedy: what is entered of it; its own id and its entries do not count.
    """
    remedy_id = db.execute(
        "INSERT INTO remedy (utc_ns, kind, sources, spot_id, text, from_visit) VALUES (?,?,?,?,?,?)",
        (
            remedy.utc_ns, remedy.kind, json.dumps(list(remedy.source_ids)), remedy.spot_id, remedy.text,
            remedy.from_visit,
        ),
    ).lastrowid  # fmt: skip
    assert remedy_id is not None
    return remedy_id


def insert_entry(db: sqlite3.Connection, remedy_id: int, entry: RemedyEntry) -> int:
    """Enter a decision as it is, within a transaction; returns its id.

    Args:
        db: connection to the log.
        remedy_id: of its remedy.
        entry: the decision; its own id does not count.
    """
    entry_id = db.execute(
        "INSERT INTO remedy_entry (utc_ns, remedy_id, decision, due, done_on, by_whom, note, distance_m, corrects, "
        "entered_by) VALUES (?,?,?,?,?,?,?,?,?,?)",
        (
            entry.utc_ns, remedy_id, entry.decision, entry.due, entry.done_on, entry.by_whom, entry.note,
            entry.distance_m, entry.corrects, entry.entered_by,
        ),
    ).lastrowid  # fmt: skip
    assert entry_id is not None
    return entry_id


def insert_baseline(db: sqlite3.Connection, utc_ns: int, baseline: RemedyBaseline) -> None:
    """Enter what an earlier visit read before a remedy was done, within a transaction.

    Args:
        db: connection to the log.
        utc_ns: when it is entered, UTC ns.
        baseline: what was read.
    """
    db.execute(
        "INSERT INTO remedy_baseline (utc_ns, remedy_id, spot_id, read_utc_ns, visit, condition, live, volts, u_volts, "
        "context, details, posture_share, posture_degrees, predicted_volts, u_predicted_volts, "
        "predicted_together_volts, u_predicted_together_volts) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)",
        (
            utc_ns, baseline.remedy_id, baseline.spot_id, baseline.utc_ns, baseline.visit, baseline.condition,
            live_json(baseline.live, baseline.listed), baseline.volts, baseline.u_volts,
            baseline.context.to_json() if baseline.context else "", json.dumps(asdict(baseline.details)),
            baseline.repeatability.share, baseline.repeatability.degrees, baseline.predicted_volts,
            baseline.u_predicted_volts, baseline.predicted_together_volts, baseline.u_predicted_together_volts,
        ),
    )  # fmt: skip


def _kept(entry: RemedyEntry, today: date) -> RemedyEntry:
    """An entry as it is kept; raises StillvoltError for what cannot be.

    Args:
        entry: as typed.
        today: nothing is done on a later day.
    """
    done_on = _kept_date(entry.done_on, tr("Done on"))
    if done_on and date.fromisoformat(done_on) > today:
        raise StillvoltError(
            tr("{day} is yet to come: what is done has the day on which it was done.").format(day=done_on),
            tr("Nothing was entered."),
        )
    return replace(
        entry,
        due=_kept_date(entry.due, tr("Due")),
        done_on=done_on,
        by_whom=kept_line(entry.by_whom, tr("By whom")),
        note=kept_line(entry.note, tr("Note")),
        distance_m=kept_metres(entry.distance_m, tr("How far"), MAX_DISTANCE_M),
        entered_by=kept_line(entry.entered_by, tr("Entered by")),
    )


def _day_of(entry: RemedyEntry) -> date:
    """The day on which an entry took effect: the one that is stated, else that of the entry."""
    return date.fromisoformat(entry.done_on) if entry.done_on else local_time(entry.utc_ns, None).date()


def _refuse_earlier_day(remedy: Remedy, day: date) -> None:
    """Refuse what would have been done or undone before it was undone or done: it would change what readings prove."""
    effective = [e for e in remedy.standing if e.decision in (RemedyDecision.DONE, RemedyDecision.UNDONE)]
    last = max(map(_day_of, effective), default=day)
    if day < last:
        raise StillvoltError(
            tr("{day} lies before {last}, the day of what was entered last for this remedy.").format(
                day=day.isoformat(), last=last.isoformat()
            ),
            tr("Nothing was entered."),
            tr("Take the entry of that day back first if it is wrong."),
        )


def _kept_date(text: str, field: str) -> str:
    """A day as it is kept: an ISO date; empty for none."""
    if not text:
        return ""
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError as error:
        raise StillvoltError(
            tr("“{field}” is a day like 2026-03-31.").format(field=field), tr("Nothing was entered.")
        ) from error


def stored_source_ids(text: str) -> tuple[int, ...]:
    """The ids of circuits and cords from the JSON of a remedy's row.

    Raises:
        ValueError: it is none.
    """
    ids = json.loads(text)
    if not isinstance(ids, list) or any(
        not isinstance(value, int) or isinstance(value, bool) for value in ids
    ):
        raise ValueError("no list of ids")
    return tuple(ids)


def stored_day(text: str) -> str:
    """A day as a row keeps it, or empty.

    Raises:
        ValueError: it is none.
    """
    return date.fromisoformat(text).isoformat() if text else ""


_DETAIL_TEXTS = tuple(f.name for f in fields(SpotDetails) if f.type == "str")


def _entry(row: sqlite3.Row) -> RemedyEntry:
    return RemedyEntry(
        row["utc_ns"], RemedyDecision(row["decision"]), stored_day(row["due"]), stored_day(row["done_on"]),
        row["by_whom"], row["note"], row["distance_m"], row["entered_by"], row["id"], row["corrects"],
    )  # fmt: skip


def _baseline(row: sqlite3.Row) -> RemedyBaseline:
    live, listed = live_and_listed(row["live"])
    return RemedyBaseline(
        row["remedy_id"], row["spot_id"], row["read_utc_ns"], row["visit"], row["condition"], live, listed,
        row["volts"], row["u_volts"], Context.from_json(row["context"]) if row["context"] else None,
        stored_details(row["details"]), Repeatability(row["posture_share"], row["posture_degrees"]),
        row["predicted_volts"], row["u_predicted_volts"], row["predicted_together_volts"],
        row["u_predicted_together_volts"],
    )  # fmt: skip


def stored_details(text: str) -> SpotDetails:
    """How somebody was at a spot, from the JSON of a baseline's row; a part that is none is left out.

    Args:
        text: JSON; empty where nothing is kept.
    """
    data = kept_object(text)
    texts: dict[str, Any] = {
        name: value
        for name in _DETAIL_TEXTS
        if isinstance(value := data.get(name), str) and not why_not_a_line(value)
    }
    height_m = data.get("height_m")
    return SpotDetails(height_m=height_m if is_length(height_m, MAX_HEIGHT_M) else None, **texts)
