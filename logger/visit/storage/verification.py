"""Verifies a visit log: pages and rows, tables, counts, and the lines of each run against their checksum."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence, Set
from dataclasses import asdict, dataclass, replace
from itertools import islice
from pathlib import Path
from typing import Any

from logger.errors import StillvoltError
from logger.name_list import joined
from logger.plain_text import one_line
from logger.visit.records.fact_names import REST_OF, SALVAGED_FROM
from logger.visit.records.salvage_record import SalvageRecord, combined
from logger.visit.records.simulated_run import SIMULATED, is_simulated
from logger.visit.storage.bare_connection import opened_read_only
from logger.visit.storage.content_limits import excess, line_problem
from logger.visit.storage.damage import SALVAGE
from logger.visit.storage.decoded_fields import unreadable_entries
from logger.visit.storage.file_name import is_file
from logger.visit.storage.foreign_journal import FOREIGN_JOURNAL, has_foreign_journal
from logger.visit.storage.integrity import ENTRY_NOUNS, Integrity, check_integrity
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

COUNTED = ("run", "line", "event", "notice", "spot", "reading", "mark")
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
        raise StillvoltError(f"There is no visit log {path}.", next_step="See whether the name is right.")
    try:
        if has_foreign_journal(path):
            return Verification(path, None, (FOREIGN_JOURNAL.format(name=path.name),), {}, ())
        with opened_read_only(path) as db:
            # Lines and their checksum are read at one moment, whatever a recorder writes meanwhile.
            db.execute("BEGIN")
            return _verification(path, db)
    except sqlite3.DatabaseError as error:
        return Verification(path, None, (f"The file cannot be read as a visit log ({error}).",), {}, ())
    except OSError as error:
        raise StillvoltError(
            f"{path} cannot be read ({error.strerror}).", "It was not changed.", "Ask its owner for access."
        ) from error


def _verification(path: Path, db: sqlite3.Connection) -> Verification:
    refuse_other_files(db)
    try:
        version = schema_version(db)
    except (StillvoltError, ValueError) as error:
        # Nothing more is read: a view in place of a table may have no end.
        return Verification(path, None, (_sentence(str(error)),), {}, ())
    problems = [f"Pages and rows: {problem}." for problem in _page_problems(db)]
    if too_much := _excess(db, version):
        return Verification(path, version, (*problems, _sentence(f"It cannot be used: {too_much}")), {}, ())
    if strange := _line_problem(db):
        problems.append(_sentence(strange))
    runs = _runs(db, problems)
    for run in runs:
        if run.reason:
            problems.append(f"Run {run.run_id}: its lines cannot be read ({run.reason}).")
        elif run.unchanged is False:
            problems.append(changed_lines_words(run.run_id, run.lines or 0, run.kept_lines or 0))
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
        f"Run {run_id}: it is missing, with the {checksum.lines if checksum else 'unknown number of'} lines that were "
        "recorded."
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
    return tuple(filter(None, (record.sentence, record.doubt_of_readings, record.lost))) if record else ()


def _rest_remarks(path: Path, db: sqlite3.Connection) -> tuple[str, ...]:
    """Where the rest of a recording is, or that this is one."""
    try:
        runs = {
            int(row[1]): int(row[0]) for row in db.execute("SELECT id, started_utc_ns FROM run").fetchall()
        }
        kept = db.execute("SELECT value FROM fact WHERE name = ? ORDER BY id LIMIT 1", (REST_OF,)).fetchone()
        return rest_sentences(path, runs, str(kept[0]) if kept else "")
    except sqlite3.DatabaseError:
        return ()  # the pages' problem is listed


def _line_text_problems(db: sqlite3.Connection) -> list[str]:
    try:
        return line_text_problems(db)
    except sqlite3.DatabaseError:
        return []  # the pages' problem is listed
    except UNREADABLE_CONTENT as error:
        return [f"A line cannot be read ({error})."]


def _unreadable_entries(db: sqlite3.Connection) -> list[str]:
    """A sentence on each entry that the program could not read."""
    try:
        found = [
            f"The {ENTRY_NOUNS.get(table, 'state')} {row_id} cannot be read: {reason}."
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
        return Integrity(others=(f"A reading, check or event cannot be read ({error}).",))


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:] + ("" if text.endswith(".") else ".")


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
            (f"row {row[1]} of {row[0]} belongs to one in {row[2]} that is missing",)
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
        problems.append(f"The runs cannot be listed ({error}).")
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
    return (
        f" It breaks off after line {run.lines:,}: no end was written (it is being recorded, was killed, the power was "
        "cut, or this is a copy from before its end)."
    )


def verification_text(found: Verification) -> str:
    """What was found, in lines for a person."""
    version = "unknown" if found.version is None else str(found.version)
    lines = [f"{found.path}: version {version} of the log."]
    lines += [
        ", ".join(f"{count:,} {table}{'' if count == 1 else 's'}" for table, count in found.counts.items())
    ]
    for run in found.runs:
        name = f"Run {run.run_id}{f' ({SIMULATED})' if run.simulated else ''}"
        if run.unchanged:
            lines.append(f"{name}: {run.lines:,} lines, as they were recorded.{_end_text(run)}")
        elif run.unchanged is None and run.lines is not None:
            lines.append(
                f"{name}: {run.lines:,} lines; no checksum of them was kept (it is older, or it has no end: it is "
                "being recorded, was broken off, or this is a copy from before its end)."
            )
    lines += (*found.rests, *found.remarks)
    if found.by_hand:
        ids = joined([str(reading_id) for reading_id in found.by_hand])
        lines.append(f"Entered by hand, so that no lines can confirm them: reading {ids}.")
    if found.sound:
        lines.append("Nothing more is damaged." if found.remarks else "Nothing is damaged.")
        lines.append(found.not_compared)
    else:
        lines += [*found.problems, SALVAGE]
    return "\n".join(one_line(line) for line in lines if line)
