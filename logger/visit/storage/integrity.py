"""Whether what a visit log holds agrees with itself: lines, values, entries and events.

In: an open connection. Out: what does not agree, by run, by reading and by check, in sentences. `verify` lists it;
report, export, comparison, night and archive state it beside what they take from the log. The lines of a run are
compared with the checksum that was kept with them, each value and each settled span with the lines that it rests on,
each entry with its own checksum, and all of these with their chain (`entry_checksum`).
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np

from logger.metrology.check_words import check_name
from logger.metrology.rounding import grouped
from logger.name_list import joined
from logger.settling.events import Gap, Motion, Overload, Settled, Step
from logger.translation import marked, tr, tr_kept, tr_n
from logger.visit.records.fact_names import CHECK_STEP
from logger.visit.records.name_key import name_key
from logger.visit.records.reading_corrections import Placement
from logger.visit.results.correction_history import correction_history, misfit_sentence
from logger.visit.results.value_verification import (
    SettledSpan,
    SpanLines,
    StoredValue,
    why_not_of_lines,
    why_not_of_samples,
    why_not_possible,
)
from logger.visit.storage.check_store import pending_step
from logger.visit.storage.correction_rows import TABLE as CORRECTION_TABLE
from logger.visit.storage.correction_rows import corrections_by_reading, kept_answers, live_and_listed
from logger.visit.storage.entry_checksum import (
    ENTRY_TABLES,
    Entry,
    EntryDifferences,
    changed_old_entries,
    entry_differences,
    has_entry_checksums,
)
from logger.visit.storage.run_checksum import (
    RunChecksum,
    changed_lines_words,
    computed_checksum,
    kept_checksum,
)
from logger.visit.storage.unfinished_run import heartbeat_problems

EVENT_KINDS = (Settled.kind, Motion.kind, Step.kind, Gap.kind, Overload.kind)

CHANGED_ENTRY = marked("It is not as it was entered (its checksum differs).")

NO_SIGNATURE = marked(
    "This finds damage and careless edits. It is no signature: whoever has the file and the program can make every "
    "checksum anew."
)
"""What the comparison does not prove, in English, for whoever states that everything agrees."""

UNKNOWN_ENTRY = marked("It has no checksum, so another program has written it.")

GONE_ENTRY = marked("It was entered and is gone.")

_OF_NAMED = {
    CHANGED_ENTRY: marked("The {entry}: it is not as it was entered (its checksum differs)."),
    UNKNOWN_ENTRY: marked("The {entry} has no checksum, so another program has written it."),
    GONE_ENTRY: marked("The {entry}: it was entered and is gone."),
}
"""The same of an entry that is named."""

MAX_OTHERS = 50
"""So many sentences on other entries are enough; how many more there are is counted."""

ENTRY_NOUNS = {
    "fact": marked("statement {number}"), "run": marked("beginning of recording {number}"),
    "run_end": marked("end of recording {number}"), "event": marked("event {number}"),
    "notice": marked("notice {number}"), "spot": marked("spot {number}"),
    "source": marked("circuit or cord {number}"), "reading": marked("reading {number}"),
    "reading_void": marked("void of reading {number}"), "reading_correction": marked("correction {number}"),
    "mark": marked("mark {number}"), "mark_void": marked("void of mark {number}"),
    "check_result": marked("check {number}"), "step_name": marked("label of a step {number}"),
    "spot_detail": marked("details of a spot {number}"),
    "source_detail": marked("details of a circuit or cord {number}"),
    "photo": marked("photo {number}"), "photo_place": marked("place of a photo {number}"),
    "reference_correction": marked("answers of correction {number}"),
    "remedy": marked("remedy {number}"), "remedy_entry": marked("decision {number} on a remedy"),
    "remedy_baseline": marked("earlier value {number} of a remedy"),
}  # fmt: skip
"""What a user calls an entry of a table, with a place for its number."""

_EVENT_NAMES = {
    Settled.kind: marked("settled"), Motion.kind: marked("motion"), Step.kind: marked("step"), Gap.kind: marked("gap"),
    Overload.kind: marked("overload"),
}  # fmt: skip

_NO_ENTRY = marked("entry {number} of a kind that no entry is")

_NAMES = {
    "fact": "name", "spot": "name", "source": "name", "event": "kind", "notice": "kind", "step_name": "meaning",
}  # fmt: skip
"""The column that names an entry besides its number."""


_SAMPLE = np.dtype([("run_id", "i8"), ("t_ns", "i8"), ("volts", "f8")])


@dataclass(frozen=True, slots=True)
class Integrity:
    """What does not agree in a visit log; everything is empty where nothing was found.

    Args:
        runs: of each run with other lines than were recorded, how many there are and were; by its id.
        readings: of each reading that does not agree, one sentence, by its id; voided ones too.
        checks: of each check that does not agree, one sentence, by its id.
        others: sentences on what is neither: other entries, and entries that are gone.
        by_hand: ids of the readings by hand, which no lines can confirm.
        unchecked: how many entries have no checksum, as an older version wrote them or they were salvaged.
        old_runs: ids of the runs whose lines have no checksum, as an older version recorded them.
    """

    runs: dict[int, tuple[RunChecksum, RunChecksum]] = field(default_factory=dict)
    readings: dict[int, str] = field(default_factory=dict)
    checks: dict[int, str] = field(default_factory=dict)
    others: tuple[str, ...] = ()
    by_hand: tuple[int, ...] = ()
    unchecked: int = 0
    old_runs: tuple[int, ...] = ()

    def not_compared(self) -> str:
        """What the comparison could not cover and does not prove, for whoever states that everything agrees."""
        parts = []
        if self.unchecked:
            entries = tr_n(
                "{n} entry of before checksums were kept",
                "{n} entries of before checksums were kept",
                self.unchecked,
            )
            parts.append(entries.format(n=grouped(self.unchecked)))
        if self.old_runs:
            lines = tr("the lines of recording {runs}, of which no checksum was kept")
            parts.append(lines.format(runs=joined([str(run_id) for run_id in self.old_runs])))
        if not parts:
            return tr(NO_SIGNATURE)
        unconfirmed = tr("Nothing confirms {what}.").format(what=joined(parts))
        return f"{unconfirmed} {tr(NO_SIGNATURE)}"

    @property
    def sound(self) -> bool:
        """Whether everything agrees."""
        return not (self.runs or self.readings or self.checks or self.others)

    def sentences(self) -> tuple[str, ...]:
        """Everything that does not agree, a sentence each."""
        return (
            *(
                tr_kept(changed_lines_words(run_id, found.lines, kept.lines))
                for run_id, (found, kept) in self.runs.items()
            ),
            *(
                tr("Reading {number}: {sentence}").format(number=reading_id, sentence=sentence)
                for reading_id, sentence in self.readings.items()
            ),
            *(
                tr("Check {number}: {sentence}").format(number=check_id, sentence=sentence)
                for check_id, sentence in self.checks.items()
            ),
            *self.others,
        )

    def summary(self) -> str:
        """One sentence for the first page of what is made from the log; empty where everything agrees."""
        found = []
        if self.runs:
            lines = tr_n(
                "the lines of {n} recording are not those that were recorded",
                "the lines of {n} recordings are not those that were recorded",
                len(self.runs),
            )
            found.append(lines.format(n=grouped(len(self.runs))))
        if self.readings:
            readings = tr_n(
                "reading {ids} does not agree with what it rests on",
                "readings {ids} do not agree with what they rest on",
                len(self.readings),
            )
            found.append(readings.format(ids=joined([str(key) for key in self.readings])))
        if self.checks:
            checks = tr_n(
                "check {ids} does not agree with what it rests on",
                "checks {ids} do not agree with what they rest on",
                len(self.checks),
            )
            found.append(checks.format(ids=joined([str(key) for key in self.checks])))
        if self.others:
            found.append(tr("what else it holds is not whole"))
        if not found:
            return ""
        return tr(
            "This visit log is damaged or was changed after it was recorded: {what}. What rests on that is in doubt; "
            "`stillvolt verify` lists it."
        ).format(what=joined(found))


def check_integrity(db: sqlite3.Connection, *, with_lines: bool = True) -> Integrity:
    """Check a visit log, of this version or any older one.

    Args:
        db: connection to the log, its schema and content checked.
        with_lines: whether the lines of each run are compared with their checksum, which takes a second for a
            million lines.

    Raises:
        sqlite3.DatabaseError: a page is damaged.
    """
    tables = {
        str(row[0]) for row in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall()
    }
    readings = dict(_reading_problems(db))
    checks = dict(_check_problems(db)) if "check_result" in tables else {}
    for reading_id, sentence in _correction_problems(db, CORRECTION_TABLE in tables):
        readings[reading_id] = " ".join(filter(None, (readings.get(reading_id, ""), sentence)))
    others = [
        *_noted_step_problems(db),
        *_event_problems(db),
        *_settled_problems(db),
        *heartbeat_problems(db),
    ]
    entries = entry_differences(db)
    for (table, row_id), sentence in _entry_sentences(db, entries):
        if table == "reading" and sentence in (CHANGED_ENTRY, UNKNOWN_ENTRY):
            readings.setdefault(row_id, tr(sentence))
        elif table == "check_result" and sentence in (CHANGED_ENTRY, UNKNOWN_ENTRY):
            checks.setdefault(row_id, tr(sentence))
        else:
            others.append(tr(_OF_NAMED[sentence]).format(entry=_described(db, table, row_id)))
    others += filter(None, (tr_kept(entries.chain),))
    without = _runs_without_checksum(db)
    others += [
        tr("Recording {run}: the checksum of its lines is gone.").format(run=run_id)
        for run_id, is_old in without
        if not is_old
    ]
    if len(others) > MAX_OTHERS:
        more = len(others) - MAX_OTHERS
        text = tr_n("{n} more entry does not agree.", "{n} more entries do not agree.", more)
        others[MAX_OTHERS:] = [text.format(n=grouped(more))]
    by_hand = db.execute("SELECT id FROM reading WHERE taken = 'by hand' ORDER BY id").fetchall()
    return Integrity(
        dict(_changed_runs(db)) if with_lines else {},
        readings,
        checks,
        tuple(others),
        tuple(int(row[0]) for row in by_hand),
        entries.unchecked if has_entry_checksums(db) else _count_entries(db, tables),
        tuple(run_id for run_id, is_old in without if is_old),
    )


def _entry_sentences(db: sqlite3.Connection, entries: EntryDifferences) -> Iterator[tuple[Entry, str]]:
    """Each entry that does not agree with its checksum, with a sentence on it in English."""
    for entry in entries.changed:
        yield entry, CHANGED_ENTRY
    for entry in entries.missing:
        yield entry, GONE_ENTRY
    for entry in entries.unknown:
        yield entry, UNKNOWN_ENTRY
    for table, row_id, is_there in changed_old_entries(db):
        yield (table, row_id), CHANGED_ENTRY if is_there else GONE_ENTRY


def _described(db: sqlite3.Connection, table: str, row_id: int) -> str:
    """An entry, as in 'spot 2 (“Bed”)'."""
    entry = entry_name(table, row_id)
    if table not in _NAMES:
        return entry
    # As bytes: a text with a flipped bit may be none any more.
    row = db.execute(f"SELECT CAST({_NAMES[table]} AS BLOB) FROM {table} WHERE id = ?", (row_id,)).fetchone()
    if not row:
        return entry
    return tr("{entry} (“{name}”)").format(entry=entry, name=bytes(row[0]).decode(errors="replace")[:60])


def entry_name(table: str, row_id: int) -> str:
    """An entry, as in 'spot 2'.

    Args:
        table: that it is in.
        row_id: its id.
    """
    return tr(ENTRY_NOUNS.get(table, _NO_ENTRY)).format(number=row_id)


def _runs_without_checksum(db: sqlite3.Connection) -> list[tuple[int, bool]]:
    """The runs with lines that have no checksum, each with whether an older version recorded it."""
    ids = [int(row[0]) for row in db.execute("SELECT id FROM run ORDER BY id").fetchall()]
    without = {run_id for run_id in ids if kept_checksum(db, run_id) is None}
    if not without:
        return []
    without &= {int(row[0]) for row in db.execute("SELECT DISTINCT run_id FROM line").fetchall()}
    new = "SELECT entry_id FROM entry_checksum WHERE entry_table = 'run' AND digest <> x''"
    checked = {int(row[0]) for row in db.execute(new)} if has_entry_checksums(db) else set()
    return [(run_id, run_id not in checked) for run_id in sorted(without)]


def _count_entries(db: sqlite3.Connection, tables: Set[str]) -> int:
    """How many entries a log of a version without checksums has."""
    counted = [table for table in ENTRY_TABLES if table in tables]
    return sum(int(db.execute(f"SELECT count(*) FROM {table}").fetchone()[0]) for table in counted)


def _changed_runs(db: sqlite3.Connection) -> Iterator[tuple[int, tuple[RunChecksum, RunChecksum]]]:
    for row in db.execute("SELECT id FROM run ORDER BY id").fetchall():
        kept = kept_checksum(db, int(row[0]))
        if kept is not None and (found := computed_checksum(db, int(row[0]))) != kept:
            yield int(row[0]), (found, kept)


def _reading_problems(db: sqlite3.Connection) -> Iterator[tuple[int, str]]:
    spots = {int(row[0]): str(row[1]) for row in db.execute("SELECT id, name FROM spot").fetchall()}
    rows = db.execute(
        "SELECT id, volts, u_volts, samples, taken, run_id, start_t_ns, end_t_ns, first_line_id, last_line_id, utc_ns, "
        "spot_id, spot_name FROM reading ORDER BY id"
    ).fetchall()
    for reading_id, *values, spot_id, spot_name in map(tuple, rows):
        sentences = (_why_value_differs(db, StoredValue(*values)), _why_other_spot(spot_id, spot_name, spots))
        if sentence := " ".join(filter(None, sentences)):
            yield int(reading_id), sentence


def _correction_problems(db: sqlite3.Connection, has_table: bool) -> Iterator[tuple[int, str]]:
    """Of each reading what of its corrections does not fit, in sentences.

    Args:
        db: connection to the log.
        has_table: whether the log has the table of corrections.
    """
    if not has_table:
        return
    columns = {row[1] for row in db.execute("PRAGMA table_info(reading)")}
    live, context = (name if name in columns else "''" for name in ("live", "context"))
    taken = {
        int(row[0]): Placement(
            int(row[1]), str(row[2]), str(row[3]), *live_and_listed(str(row[4])), kept_answers(str(row[5]))
        )
        for row in db.execute(
            f"SELECT id, spot_id, spot_name, condition, {live}, {context} FROM reading "
            "WHERE id IN (SELECT reading_id FROM reading_correction UNION SELECT reading_id FROM reading_void)"
        ).fetchall()
    }
    spot_ids = {int(row[0]) for row in db.execute("SELECT id FROM spot").fetchall()}
    for reading_id, corrections in corrections_by_reading(db).items():
        if reading_id not in taken:
            continue
        history = correction_history(taken[reading_id], corrections, spot_ids)
        if sentence := misfit_sentence(history):
            yield reading_id, sentence


def _why_other_spot(spot_id: int, spot_name: str, spots: dict[int, str]) -> str:
    """What does not agree between the name of a reading's spot and the list; a renamed spot has its old name there."""
    if spot_id not in spots:
        return tr("The spot at which it was taken is gone.")
    if name_key(spots[spot_id]) == name_key(spot_name):
        return ""
    others = [name for key, name in spots.items() if key != spot_id and name_key(name) == name_key(spot_name)]
    if not others:
        return ""
    text = tr("It was taken for “{spot}”, and the log counts it for “{other}”.")
    return text.format(spot=spot_name, other=spots[spot_id])


def _check_problems(db: sqlite3.Connection) -> Iterator[tuple[int, str]]:
    for check_id, steps in map(
        tuple, db.execute("SELECT id, steps FROM check_result ORDER BY id").fetchall()
    ):
        for step in json.loads(steps):
            if sentence := _why_value_differs(db, _value_of_step(step["span"])):
                yield (
                    int(check_id),
                    tr("{step}: {sentence}").format(step=tr_kept(step["name"]), sentence=sentence),
                )
                break


def _noted_step_problems(db: sqlite3.Connection) -> Iterator[str]:
    """A sentence on each step of a check that has no result, whose value is not that of its lines."""
    rows = db.execute("SELECT id, value FROM fact WHERE name = ? ORDER BY id", (CHECK_STEP,)).fetchall()
    if not rows:
        return
    done = {
        (step["span"]["run_id"], step["span"]["last_line_id"])
        for (steps,) in map(tuple, db.execute("SELECT steps FROM check_result").fetchall())
        for step in json.loads(steps)
    }
    for fact_id, text in map(tuple, rows):
        step = pending_step(text)
        if step is None or (step.span.run_id, step.span.last_line_id) in done:
            continue
        if sentence := _why_value_differs(db, _value_of_step(asdict(step.span))):
            entry = entry_name("fact", fact_id)
            yield tr("The {entry} (step “{step}” of the {check}): {sentence}").format(
                entry=entry, step=tr_kept(step.name), check=check_name(step.kind), sentence=sentence
            )


def _value_of_step(span: Mapping[str, Any]) -> StoredValue:
    """The value of a step of a check, by the fields of its span."""
    return StoredValue(
        span["volts"], span["u_volts"], span["samples"], "settled", span["run_id"], span["start_t_ns"],
        span["end_t_ns"], span["first_line_id"], span["last_line_id"],
    )  # fmt: skip


def _why_value_differs(db: sqlite3.Connection, value: StoredValue) -> str:
    if impossible := why_not_possible(value):
        return impossible
    if value.run_id is None:
        return ""
    if db.execute("SELECT 1 FROM run WHERE id = ?", (value.run_id,)).fetchone() is None:
        return tr("The recording that it was taken in is gone.")
    return why_not_of_lines(value, _span_lines(db, value))


def _span_lines(db: sqlite3.Connection, value: StoredValue) -> SpanLines:
    ends = (value.first_line_id, value.last_line_id)
    lines, of_run = db.execute(
        "SELECT count(*), coalesce(sum(run_id = ?), 0) FROM line WHERE id BETWEEN ? AND ?",
        (value.run_id, *ends),
    ).fetchone()
    samples: Sequence[tuple[float, int, int]] = [
        tuple(row)
        for row in db.execute(
            "SELECT volts, t_ns, utc_ns FROM line WHERE id BETWEEN ? AND ? AND run_id = ? AND status = 'volts' "
            "ORDER BY id",
            (*ends, value.run_id),
        )
    ]
    first, last = (samples[0], samples[-1]) if samples else (None, None)
    return SpanLines(
        int(lines), int(of_run), first[1] if first else None, last[1] if last else None, last[2] if last else None,
        np.array([volts for volts, _, _ in samples], np.float64),
    )  # fmt: skip


def _settled_problems(db: sqlite3.Connection) -> Iterator[str]:
    """A sentence on each settled span that is not the mean of the samples in it."""
    rows = db.execute(
        "SELECT id, run_id, start_t_ns, end_t_ns, volts, u_volts, samples FROM event WHERE kind = 'settled' "
        "AND volts IS NOT NULL AND u_volts IS NOT NULL AND samples IS NOT NULL ORDER BY id"
    ).fetchall()
    if not rows:
        return
    cursor = db.cursor()
    cursor.row_factory = None
    # Lines have no index of their run: one pass over all of them.
    lines = np.fromiter(
        cursor.execute(
            "SELECT run_id, t_ns, volts FROM line WHERE status = 'volts' AND volts IS NOT NULL ORDER BY id"
        ),
        dtype=_SAMPLE,
    )
    samples = {int(run_id): lines[lines["run_id"] == run_id] for run_id in np.unique(lines["run_id"])}
    for event_id, run_id, *span in map(tuple, rows):
        of_run = samples.get(run_id, lines[:0])
        if sentence := why_not_of_samples(SettledSpan(*span), of_run["t_ns"], of_run["volts"]):
            yield tr("Event {number} (settled): {sentence}").format(number=event_id, sentence=sentence)


def _event_problems(db: sqlite3.Connection) -> Iterator[str]:
    kinds = ", ".join("?" * len(EVENT_KINDS))
    rows = db.execute(
        f"SELECT id, kind, start_t_ns, end_t_ns FROM event WHERE kind NOT IN ({kinds}) OR end_t_ns < start_t_ns "
        "OR (kind IN ('settled', 'motion') AND volts < 0) OR u_volts < 0 OR samples < 0 "
        "OR (kind = 'step' AND (before_volts IS NULL OR after_volts IS NULL OR before_volts < 0 OR after_volts < 0)) "
        "ORDER BY id LIMIT 20",
        EVENT_KINDS,
    ).fetchall()
    for event_id, kind, start_ns, end_ns in map(tuple, rows):
        if kind not in EVENT_KINDS:
            text = tr("Event {number} is of the kind {kind}, which no event is.")
            yield text.format(number=event_id, kind=repr(kind))
        elif end_ns < start_ns:
            text = tr("Event {number} ({kind}) ends before it begins.")
            yield text.format(number=event_id, kind=tr(_EVENT_NAMES[kind]))
        else:
            text = tr("Event {number} ({kind}) has a value that it cannot have.")
            yield text.format(number=event_id, kind=tr(_EVENT_NAMES[kind]))
