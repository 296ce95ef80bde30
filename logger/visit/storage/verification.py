"""Verifies a visit log: pages and rows, tables, counts, and the lines of each run against their checksum."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence, Set
from dataclasses import asdict, dataclass, replace
from itertools import islice
from pathlib import Path
from typing import Any

from logger.errors import StillvoltError
from logger.metrology.rounding import grouped
from logger.name_list import joined, listed
from logger.plain_text import one_line
from logger.translation import tr, tr_kept, tr_n
from logger.visit.records.fact_names import REST_ELSEWHERE, REST_OF, SALVAGED_FROM
from logger.visit.records.salvage_record import SalvageRecord, combined, shown_lost
from logger.visit.records.simulated_run import is_simulated
from logger.visit.storage.bare_connection import opened_read_only
from logger.visit.storage.content_limits import excess, line_problem
from logger.visit.storage.damage import SALVAGE
from logger.visit.storage.decoded_fields import unreadable_entries
from logger.visit.storage.file_name import is_file
from logger.visit.storage.foreign_journal import FOREIGN_JOURNAL, has_foreign_journal
from logger.visit.storage.integrity import ENTRY_NOUNS, Integrity, check_integrity, entry_name
from logger.visit.storage.journal_file import copy_again, why_not_whole
from logger.visit.storage.line_text import line_text_problems
from logger.visit.storage.read_only import UNREADABLE_CONTENT, refuse_other_files, schema_version
from logger.visit.storage.rest_file import rest_sentences
from logger.visit.storage.run_checksum import (
    FACT_PREFIX,
    RunChecksum,
    changed_lines_words,
    computed_checksum,
    kept_checksum,
)

MAX_PROBLEMS = 20
"""Problems of pages and rows that are listed."""

COUNTED = ("run", "line", "event", "notice", "spot", "reading", "mark", "photo")
"""Tables whose rows are counted for the user."""


@dataclass(frozen=True, slots=True)
class RunVerification:
    """What became of the lines of a run.

    Args:
        run_id: the run.
        lines: lines that the log holds; None where they cannot be read.
        kept_lines: lines that the run had when it ended in order; None where no checksum was kept.
        unchanged: whether lines and checksum agree; None where no checksum was kept.
        reason: why the lines cannot be read; else empty.
        simulated: whether it was simulated; None where that cannot be read.
        has_end: whether its end was written; None where that cannot be read.
    """

    run_id: int
    lines: int | None
    kept_lines: int | None
    unchanged: bool | None
    reason: str = ""
    simulated: bool | None = None
    has_end: bool | None = None


@dataclass(frozen=True, slots=True)
class Verification:
    """The state of a visit log.

    Args:
        path: the file.
        version: of its schema; None where it cannot be read.
        problems: sentences, empty where nothing is damaged.
        counts: rows by table; tables that cannot be counted are left out.
        runs: every run that can be listed.
        remarks: sentences on what was lost before, where the visit was salvaged.
        rests: sentences on where the rest of a recording is, or that this is one.
        by_hand: ids of the readings by hand, which no lines can confirm.
        not_compared: sentences on what nothing confirms, and on what the comparison does not prove.
    """

    path: Path
    version: int | None
    problems: tuple[str, ...]
    counts: dict[str, int]
    runs: tuple[RunVerification, ...]
    remarks: tuple[str, ...] = ()
    rests: tuple[str, ...] = ()
    by_hand: tuple[int, ...] = ()
    not_compared: str = ""

    @property
    def sound(self) -> bool:
        """Whether nothing was found damaged."""
        return not self.problems

    def to_json(self) -> dict[str, Any]:
        """As `stillvolt verify --json` prints it."""
        return asdict(self) | {"path": str(self.path), "sound": self.sound}


def verify(path: Path) -> Verification:
    """Verify a visit log; file and folder stay as they are.

    Raises:
        StillvoltError: there is no such file, it may not be read, or it is no visit log.
    """
    if not is_file(path):
        raise StillvoltError(
            tr("There is no visit log {path}.").format(path=path),
            next_step=tr("See whether the name is right."),
        )
    try:
        if has_foreign_journal(path):
            return Verification(path, None, (tr_kept(FOREIGN_JOURNAL.format(name=path.name)),), {}, ())
        with opened_read_only(path) as db:
            # Lines and their checksum are read at one moment, whatever a recorder writes meanwhile.
            db.execute("BEGIN")
            return _verification(path, db)
    except sqlite3.DatabaseError as error:
        if short := why_not_whole(path):
            return Verification(path, None, (tr_kept(short), copy_again(path)), {}, ())
        problem = tr("The file cannot be read as a visit log ({reason}).").format(reason=error)
        return Verification(path, None, (problem,), {}, ())
    except OSError as error:
        raise StillvoltError(
            tr("{path} cannot be read ({reason}).").format(path=path, reason=error.strerror),
            tr("It was not changed."),
            tr("Ask its owner for access."),
        ) from error


def _verification(path: Path, db: sqlite3.Connection) -> Verification:
    refuse_other_files(db)
    try:
        version = schema_version(db)
    except StillvoltError as error:
        # Nothing more is read: a view in place of a table may have no end.
        return Verification(path, None, (str(error),), {}, ())
    except UnicodeDecodeError as error:
        problem = tr("The file's own list of its tables of data cannot be read ({reason}).").format(
            reason=error
        )
        return Verification(path, None, (problem,), {}, ())
    problems = [tr("Pages and rows: {problem}.").format(problem=problem) for problem in _page_problems(db)]
    if too_much := _excess(db, version):
        return Verification(
            path, version, (*problems, tr("It cannot be used. {problem}").format(problem=too_much)), {}, ()
        )
    if strange := _line_problem(db):
        problems.append(strange)
    runs = _runs(db, problems)
    for run in runs:
        if run.reason:
            text = tr("Run {run}: its lines cannot be read ({reason}).")
            problems.append(text.format(run=run.run_id, reason=run.reason))
        elif run.unchanged is False:
            problems.append(tr_kept(changed_lines_words(run.run_id, run.lines or 0, run.kept_lines or 0)))
    problems += _missing_runs(db, {run.run_id for run in runs})
    problems += _line_text_problems(db)
    problems += _unreadable_entries(db)
    integrity = _integrity(db)
    problems += integrity.sentences()
    return Verification(
        path,
        version,
        tuple(problems),
        _counts(db),
        tuple(runs),
        _salvage_remarks(db),
        _rest_remarks(path, db),
        integrity.by_hand,
        integrity.not_compared(),
    )


def _missing_runs(db: sqlite3.Connection, listed: Set[int]) -> list[str]:
    """A sentence on each run whose checksum was kept and which is not there any more."""
    try:
        rows = db.execute("SELECT name, value FROM fact WHERE name GLOB ? ORDER BY id", (f"{FACT_PREFIX}*",))
        kept = {str(row[0]).removeprefix(FACT_PREFIX): RunChecksum.from_fact(str(row[1])) for row in rows}
    except sqlite3.DatabaseError:
        return []  # the pages' problem is listed
    return [
        tr("Run {run}: it is missing, with the {lines} lines that were recorded.").format(
            run=run_id, lines=checksum.lines
        )
        if checksum
        else tr("Run {run}: it is missing, with the lines that were recorded; how many is not known.").format(
            run=run_id
        )
        for run_id, checksum in kept.items()
        if run_id.isdecimal() and int(run_id) not in listed
    ]


def _salvage_remarks(db: sqlite3.Connection) -> tuple[str, ...]:
    """That the visit was salvaged, and what was lost then; empty where it never was."""
    try:
        rows = db.execute("SELECT value FROM fact WHERE name = ? ORDER BY id", (SALVAGED_FROM,)).fetchall()
    except sqlite3.DatabaseError:
        return ()  # the pages' problem is listed
    record = combined([SalvageRecord.from_fact(str(row[0])) for row in rows])
    return (
        tuple(filter(None, (record.sentence, record.doubt_of_readings, shown_lost(record.lost))))
        if record
        else ()
    )


def _rest_remarks(path: Path, db: sqlite3.Connection) -> tuple[str, ...]:
    """Where the rest of a recording is, or that this is one."""
    try:
        runs = {
            int(row[1]): int(row[0]) for row in db.execute("SELECT id, started_utc_ns FROM run").fetchall()
        }
        kept = db.execute("SELECT value FROM fact WHERE name = ? ORDER BY id LIMIT 1", (REST_OF,)).fetchone()
        elsewhere = db.execute(
            "SELECT value FROM fact WHERE name = ? ORDER BY id", (REST_ELSEWHERE,)
        ).fetchall()
        return rest_sentences(path, runs, str(kept[0]) if kept else "", [str(row[0]) for row in elsewhere])
    except sqlite3.DatabaseError:
        return ()  # the pages' problem is listed


def _line_text_problems(db: sqlite3.Connection) -> list[str]:
    try:
        return line_text_problems(db)
    except sqlite3.DatabaseError:
        return []  # the pages' problem is listed
    except UNREADABLE_CONTENT as error:
        return [tr("A line cannot be read ({reason}).").format(reason=error)]


def _unreadable_entries(db: sqlite3.Connection) -> list[str]:
    """A sentence on each entry that the program could not read."""
    try:
        found = [
            tr("The {entry} cannot be read: {reason}.").format(
                entry=entry_name(table, row_id)
                if table in ENTRY_NOUNS
                else tr("state {number}").format(number=row_id),
                reason=reason,
            )
            for table, row_id, reason in islice(unreadable_entries(db), MAX_PROBLEMS)
        ]
    except sqlite3.DatabaseError:
        return []  # the pages' problem is listed
    return found


def _integrity(db: sqlite3.Connection) -> Integrity:
    try:
        return check_integrity(db, with_lines=False)
    except sqlite3.DatabaseError:
        return Integrity()  # the pages' problem is listed
    except UNREADABLE_CONTENT as error:
        return Integrity(
            others=(tr("A reading, check or event cannot be read ({reason}).").format(reason=error),)
        )


def _excess(db: sqlite3.Connection, version: int) -> str:
    try:
        return excess(db, version)
    except sqlite3.DatabaseError:
        return ""  # the pages' problem is listed


def _line_problem(db: sqlite3.Connection) -> str:
    try:
        return line_problem(db)
    except sqlite3.DatabaseError:
        return ""  # the pages' problem is listed


def _page_problems(db: sqlite3.Connection) -> list[str]:
    try:
        rows = db.execute(f"PRAGMA integrity_check({MAX_PROBLEMS:d})").fetchall()
        rows += [
            (
                tr("row {number} of {table} belongs to one in {parent} that is missing").format(
                    number=row[1], table=row[0], parent=row[2]
                ),
            )
            for row in db.execute("PRAGMA foreign_key_check").fetchmany(MAX_PROBLEMS)
        ]
    except sqlite3.DatabaseError as error:
        return [str(error)]
    return [
        text
        for row in rows
        for text in str(row[0]).splitlines()
        if text != "ok" and not text.startswith("***")
    ]


def _counts(db: sqlite3.Connection) -> dict[str, int]:
    counts = {}
    for table in COUNTED:
        try:
            counts[table] = int(db.execute(f"SELECT count(*) FROM {table}").fetchone()[0])
        except sqlite3.DatabaseError:
            continue  # the pages' problem is listed
    return counts


def _runs(db: sqlite3.Connection, problems: list[str]) -> Sequence[RunVerification]:
    try:
        ids = [int(row[0]) for row in db.execute("SELECT id FROM run ORDER BY id").fetchall()]
    except sqlite3.DatabaseError as error:
        problems.append(tr("The runs cannot be listed ({reason}).").format(reason=error))
        return []
    return [
        replace(_run(db, run_id), simulated=_simulated(db, run_id), has_end=_has_end(db, run_id))
        for run_id in ids
    ]


def _simulated(db: sqlite3.Connection, run_id: int) -> bool | None:
    try:
        row = db.execute("SELECT port, settings FROM run WHERE id = ?", (run_id,)).fetchone()
    except sqlite3.DatabaseError:
        return None
    return is_simulated(str(row[0]), str(row[1])) if row else None


def _has_end(db: sqlite3.Connection, run_id: int) -> bool | None:
    """Whether the end of a run was written; None where that cannot be read."""
    try:
        return db.execute("SELECT 1 FROM run_end WHERE run_id = ?", (run_id,)).fetchone() is not None
    except sqlite3.DatabaseError:
        return None


def _run(db: sqlite3.Connection, run_id: int) -> RunVerification:
    try:
        kept = kept_checksum(db, run_id)
        found = computed_checksum(db, run_id)
    except (sqlite3.DatabaseError, *UNREADABLE_CONTENT) as error:
        return RunVerification(run_id, None, None, None, str(error))
    if kept is None:
        return RunVerification(run_id, found.lines, None, None)
    return RunVerification(run_id, found.lines, kept.lines, kept == found)


def _end_text(run: RunVerification) -> str:
    """That a run has no end in the file, after a sentence on its lines; empty where it has one."""
    if run.has_end is not False:
        return ""
    text = tr(
        "It breaks off after line {line}: no end was written (it is being recorded, was killed, the power was cut, or "
        "this is a copy from before its end)."
    )
    return f" {text.format(line=grouped(run.lines or 0))}"


def _counted(table: str, n: int) -> str:
    """How many rows one of the tables of `COUNTED` has, in words."""
    words = {
        "run": tr_n("{n} run", "{n} runs", n),
        "line": tr_n("{n} line", "{n} lines", n),
        "event": tr_n("{n} event", "{n} events", n),
        "notice": tr_n("{n} notice", "{n} notices", n),
        "spot": tr_n("{n} spot", "{n} spots", n),
        "reading": tr_n("{n} reading", "{n} readings", n),
        "mark": tr_n("{n} mark", "{n} marks", n),
        "photo": tr_n("{n} photo", "{n} photos", n),
    }
    return words[table].format(n=grouped(n))


def verification_text(found: Verification) -> str:
    """What was found, in lines for a person."""
    known, unknown = (
        tr("{path} is a visit log of version {version}."),
        tr("{path} is a visit log of unknown version."),
    )
    lines = [
        unknown.format(path=found.path)
        if found.version is None
        else known.format(path=found.path, version=found.version),
        listed([_counted(table, count) for table, count in found.counts.items()]),
    ]
    for run in found.runs:
        name = tr("Run {run} (simulated)") if run.simulated else tr("Run {run}")
        name = name.format(run=run.run_id)
        if run.unchanged:
            text = tr("{run}: {lines} lines, as they were recorded.")
            lines.append(text.format(run=name, lines=grouped(run.lines or 0)) + _end_text(run))
        elif run.unchanged is None and run.lines is not None:
            text = tr(
                "{run}: {lines} lines; no checksum of them was kept (it is older, or it has no end: it is being "
                "recorded, was broken off, or this is a copy from before its end)."
            )
            lines.append(text.format(run=name, lines=grouped(run.lines)))
    lines += (*found.rests, *found.remarks)
    if found.by_hand:
        ids = joined([str(reading_id) for reading_id in found.by_hand])
        text = tr("Entered by hand, so that no lines can confirm them: reading {ids}.")
        lines.append(text.format(ids=ids))
    if found.sound:
        lines.append(tr("Nothing more is damaged.") if found.remarks else tr("Nothing is damaged."))
        lines.append(found.not_compared)
    else:
        lines += [*found.problems, tr(SALVAGE)]
    return "\n".join(one_line(line) for line in lines if line)
