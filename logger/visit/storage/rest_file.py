"""Keeps the last lines of a run in a visit log of their own, where the log of the run does not take them."""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterable, Mapping
from contextlib import closing, suppress
from dataclasses import replace
from pathlib import Path

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.metrology.rounding import fixed
from logger.settling.events import span_s
from logger.translation import tr
from logger.visit.records.fact_names import REST_ELSEWHERE, REST_OF
from logger.visit.records.rest_record import RestRecord
from logger.visit.storage import connection as _connection
from logger.visit.storage.bare_connection import opened_read_only
from logger.visit.storage.entry_checksum import insert_fact
from logger.visit.storage.file_name import free_rest_name, may_be_rest_of
from logger.visit.storage.read_only import refuse_other_files, schema_version
from logger.visit.storage.run_writer import FinishedRun, insert_finished_run


def rest_folders(visit: Path) -> list[Path]:
    """Where lines are kept that a visit log does not take: as near to it as there is room."""
    folders = [visit.absolute().parent]
    with suppress(RuntimeError):  # no home is known
        folders.append(Path.home())
    return [*folders, Path(tempfile.gettempdir())]


def rests_of(visit: Path, folders: Iterable[Path]) -> set[Path]:
    """The files that `keep_rest` has made for a visit log.

    Args:
        visit: the log of the runs.
        folders: where to look.
    """
    found: set[Path] = set()
    for folder in folders:
        with suppress(OSError):  # none is there, or not of this user
            found |= {path for path in folder.iterdir() if may_be_rest_of(path, visit)}
    return found


def rests_since(visit: Path, utc_ns: int) -> list[Path]:
    """The files with lines that a visit log did not take and that were written since a moment, in order.

    Args:
        visit: the log.
        utc_ns: the moment, by the wall clock.
    """
    found = []
    for path in sorted(rests_of(visit, rest_folders(visit))):
        with suppress(OSError):  # gone since it was listed
            found += [path] if path.stat().st_mtime_ns >= utc_ns else []
    return found


def keep_where_rests_are(visit: Path, utc_ns: int) -> None:
    """Keep in a visit log which files hold lines of its recordings that it did not take, where that is not kept yet.

    Args:
        visit: the log; nobody else records into it.
        utc_ns: now, by the wall clock.

    Raises:
        StillvoltError: it cannot be opened.
        sqlite3.Error: it cannot be written.
    """
    found = [(path, begun) for path in rests_of(visit, rest_folders(visit)) for begun in _begun(path)]
    if not found:
        return
    with closing(_connection.open_existing(visit)) as db, _connection.transaction(db):
        runs = {
            int(row[1]): int(row[0]) for row in db.execute("SELECT id, started_utc_ns FROM run").fetchall()
        }
        kept = {
            str(row[0])
            for row in db.execute("SELECT value FROM fact WHERE name = ?", (REST_ELSEWHERE,)).fetchall()
        }
        for path, (started_utc_ns, t_ns) in found:
            if started_utc_ns in runs and path.absolute() != visit.absolute():
                record = RestRecord(path.name, runs[started_utc_ns], t_ns).as_fact()
                if record not in kept:
                    insert_fact(db, utc_ns, REST_ELSEWHERE, record)


def rest_sentences(
    visit: Path,
    runs: Mapping[int, int],
    rest_of: str,
    elsewhere: Iterable[str] = (),
    with_folder: bool = True,
) -> tuple[str, ...]:
    """A sentence on each file that holds the rest of a recording of a visit log, and one where the log is a rest.

    A file counts by the beginning of its recording, whatever its name says.

    Args:
        visit: the log.
        runs: ids of its runs by when they began, UTC ns.
        rest_of: its fact of that name; empty where it has none.
        elsewhere: its facts of that name: what they name and is not found is told too.
        with_folder: names the folder too; not for a paper that is given to others.
    """
    record = RestRecord.from_fact(rest_of)
    sentences = [record.sentence()] if record else []
    found = set()
    for path in sorted(rests_of(visit, rest_folders(visit))):
        for started_utc_ns, t_ns in _begun(path):
            if started_utc_ns in runs and path.absolute() != visit.absolute():
                found.add((runs[started_utc_ns], t_ns))
                where = path if with_folder else path.name
                sentences.append(
                    tr(
                        "The rest of run {run}, from second {seconds} on, is in {file}: this visit log did "
                        "not take it."
                    ).format(run=runs[started_utc_ns], seconds=fixed(t_ns / NS_PER_S, 1), file=where)
                )
    for gone in filter(None, map(RestRecord.from_fact, elsewhere)):
        if (gone.run_id, gone.t_ns) not in found:
            sentences.append(
                tr(
                    "This visit log lacks the rest of run {run}, from second {seconds} on, which it did not take. It "
                    "was kept in {file}, and that is not where it was."
                ).format(run=gone.run_id, seconds=fixed(gone.t_ns / NS_PER_S, 1), file=gone.visit)
            )
    return tuple(sentences)


def _begun(path: Path) -> list[tuple[int, int]]:
    """Of each recording in a rest, when it began (UTC ns) and its first line (ns since); none where it is no rest."""
    try:
        with opened_read_only(path) as db:
            refuse_other_files(db)
            schema_version(db)
            rows = db.execute(
                "SELECT started_utc_ns, min(t_ns) FROM run JOIN line ON line.run_id = run.id GROUP BY run.id"
            )
            return [(int(row[0]), int(row[1])) for row in rows.fetchall()]
    except (OSError, StillvoltError, sqlite3.Error, ValueError):
        return []


def keep_rest(visit: Path, run_id: int, rest: FinishedRun, folders: Iterable[Path]) -> Path | None:
    """Write lines that a visit log did not take into a new one, named after it, in the first folder that takes it.

    Args:
        visit: the log of the run.
        run_id: of the run in that log.
        rest: the run's beginning and end, and the lines that are left over; their times are those of the run.
        folders: tried in this order.

    Returns:
        The new file; None where no folder takes it.
    """
    first_t_ns = rest.batch.lines[0][1] if rest.batch.lines else 0
    # What began before lies in part in the visit log, whose own lines show it.
    events = [event for event in rest.batch.events if span_s(event)[0] * NS_PER_S >= first_t_ns]
    rest = replace(rest, batch=replace(rest.batch, events=events))
    for folder in folders:
        try:
            path = free_rest_name(folder, visit)
            with closing(_connection.create(path)) as db:
                try:
                    with _connection.transaction(db):
                        insert_finished_run(db, rest)
                        record = RestRecord(visit.name, run_id, first_t_ns)
                        insert_fact(db, rest.end.utc_ns, REST_OF, record.as_fact())
                    db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
                except BaseException:
                    path.unlink(missing_ok=True)
                    raise
        except (OSError, sqlite3.Error, StillvoltError):
            continue
        return path
    return None
