"""Rows that take the place of lost ones which others refer to: a run for its lines, a spot for its readings, a circuit.

In: a log of this version into which rows were brought over. Out: the log with every such reference led somewhere. What
stands in for a lost row says so; nothing in it is made up but the name, and of a run the beginning and end that its
lines give.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable

from logger.translation import kept_text
from logger.visit.records.simulated_run import SIMULATED
from logger.visit.storage.content_limits import MAX_ROWS
from logger.visit.storage.remedy_store import stored_source_ids

PARENTS = ("run", "spot", "source")
"""Tables whose lost rows get a placeholder."""

RESTORED = "restored"
"""Key in the settings of a run whose own were lost."""

LOST_PORT = kept_text("not known (lost)")
"""In place of the port of a run whose settings were lost."""

RESTORED_END = kept_text("restored after damage; how it ended is not known")

_RUN_COLUMNS = ("run_end", "line", "event", "notice", "live", "reading", "mark", "step_name")
"""Tables with a column `run_id`."""

_STEP_OF_RUN = (
    "FROM check_result, json_each(check_result.steps) AS step "
    "WHERE json_extract(step.value, '$.span.run_id') = ? ORDER BY check_result.id, step.key DESC LIMIT 1"
)
"""The last step of the first check that rests on a run."""

_STARTS = (
    # What was written with both clocks, the most exact first.
    "SELECT utc_ns - t_ns FROM line WHERE run_id = ? ORDER BY id LIMIT 1",
    "SELECT utc_ns - t_ns FROM notice WHERE run_id = ? ORDER BY id LIMIT 1",
    "SELECT beat_utc_ns - beat_t_ns FROM live WHERE run_id = ?",
    "SELECT utc_ns - t_ns FROM run_end WHERE run_id = ?",
    "SELECT utc_ns - t_ns FROM mark WHERE run_id = ? AND t_ns IS NOT NULL ORDER BY id LIMIT 1",
    "SELECT utc_ns - end_t_ns FROM reading WHERE run_id = ? AND end_t_ns IS NOT NULL ORDER BY id LIMIT 1",
    "SELECT utc_ns - t_ns FROM step_name WHERE run_id = ? ORDER BY id LIMIT 1",
    f"SELECT utc_ns - json_extract(step.value, '$.span.end_t_ns') {_STEP_OF_RUN}",
    "SELECT min(utc_ns) FROM reading WHERE run_id = ?",
)

_LAST_MOMENTS = (
    "SELECT max(t_ns) FROM line WHERE run_id = ?",
    "SELECT max(end_t_ns) FROM event WHERE run_id = ?",
    "SELECT max(t_ns) FROM notice WHERE run_id = ?",
    "SELECT beat_t_ns FROM live WHERE run_id = ?",
    "SELECT max(end_t_ns) FROM reading WHERE run_id = ?",
    f"SELECT json_extract(step.value, '$.span.end_t_ns') {_STEP_OF_RUN}",
)


def is_possible_id(table: str, value: object) -> bool:
    """Whether a value may be the id of a row of a table, which is lost or not; they are numbered from 1."""
    return isinstance(value, int) and 1 <= value <= MAX_ROWS[table]


def restore_runs(db: sqlite3.Connection) -> tuple[int, ...]:
    """Insert a run for each that only its lines, readings, checks and the like refer to; returns their ids.

    Args:
        db: the log, inside a transaction.
    """
    lost: set[int] = set()
    queries = [f"SELECT run_id FROM {table}" for table in _RUN_COLUMNS]
    queries.append(
        "SELECT json_extract(step.value, '$.span.run_id') AS run_id "
        "FROM check_result, json_each(check_result.steps) AS step"
    )
    for some in (queries[:4], queries[4:8], queries[8:]):  # a query may have five parts
        referred = " UNION ".join(some)
        lost |= {
            row[0]
            for row in db.execute(f"SELECT run_id FROM ({referred}) WHERE run_id NOT IN (SELECT id FROM run)")
            if row[0] is not None
        }
    zone = db.execute("SELECT zone, utc_offset_s FROM run ORDER BY id DESC LIMIT 1").fetchone() or ("UTC", 0)
    for run_id in sorted(lost):
        settings = {RESTORED: True} | ({SIMULATED: True} if _was_simulated(db, run_id) else {})
        db.execute(
            "INSERT INTO run (id, started_utc_ns, zone, utc_offset_s, port, settings, software) "
            "VALUES (?,?,?,?,?,?,?)",
            (run_id, _first(db, _STARTS, run_id), *zone, LOST_PORT, json.dumps(settings), LOST_PORT),
        )
        t_ns = max((_first(db, (query,), run_id) for query in _LAST_MOMENTS), default=0)
        db.execute(
            "INSERT OR IGNORE INTO run_end (run_id, utc_ns, t_ns, reason) "
            "SELECT id, started_utc_ns + ?, ?, ? FROM run WHERE id = ?",
            (t_ns, t_ns, RESTORED_END, run_id),
        )
    return tuple(sorted(lost))


def restore_spots(db: sqlite3.Connection) -> tuple[int, ...]:
    """Insert a spot for each lost one that others refer to, as readings and remedies; returns their ids.

    Args:
        db: the log, inside a transaction.
    """
    referred = {row[0]: row[1] for row in db.execute("SELECT spot_id, spot_name FROM reading ORDER BY id")}
    for query in (
        "SELECT from_spot_id, from_spot_name FROM reading_correction WHERE from_spot_id IS NOT NULL",
        "SELECT to_spot_id, to_spot_name FROM reading_correction WHERE to_spot_id IS NOT NULL",
    ):
        for spot_id, name in db.execute(query):
            referred.setdefault(spot_id, name or "")
    for (spot_id,) in db.execute(
        "SELECT spot_id FROM step_name UNION SELECT spot_id FROM spot_detail UNION SELECT spot_id FROM photo_place "
        "UNION SELECT spot_id FROM remedy UNION SELECT spot_id FROM remedy_baseline"
    ):
        if spot_id is not None:
            referred.setdefault(spot_id, "")
    lost = _missing(db, "spot", referred)
    for spot_id in lost:
        name = referred[spot_id] or f"Spot {spot_id} (name lost)"
        if db.execute("SELECT 1 FROM spot WHERE name = ?", (name,)).fetchone():
            name = f"{name} (spot {spot_id})"
        db.execute("INSERT INTO spot (id, name, position) VALUES (?,?,?)", (spot_id, name, float(spot_id)))
    return lost


def restore_circuits(db: sqlite3.Connection) -> tuple[int, ...]:
    """Insert a circuit for each lost one that others refer to, as cords, readings and remedies; returns their ids.

    Args:
        db: the log, inside a transaction.
    """
    referred = {
        row[0]
        for row in db.execute(
            "SELECT source_id FROM step_name UNION SELECT circuit_id FROM source "
            "UNION SELECT source_id FROM source_detail"
        )
        if row[0] is not None
    }
    for query in (
        "SELECT live FROM reading WHERE live <> ''",
        "SELECT from_live FROM reading_correction WHERE from_live <> ''",
        "SELECT to_live FROM reading_correction WHERE to_live <> ''",
        "SELECT live FROM remedy_baseline WHERE live <> ''",
    ):
        for (live,) in db.execute(query):
            referred |= _circuits_of_reading(live)
    for (sources,) in db.execute("SELECT sources FROM remedy"):
        referred.update(stored_source_ids(sources))
    lost = _missing(db, "source", referred)
    for circuit_id in lost:
        db.execute(
            "INSERT INTO source (id, kind, name, position) VALUES (?, 'circuit', ?, ?)",
            (circuit_id, f"Circuit {circuit_id} (name lost)", float(circuit_id)),
        )
    return lost


def _missing(db: sqlite3.Connection, table: str, ids: Iterable[int]) -> tuple[int, ...]:
    there = {row[0] for row in db.execute(f"SELECT id FROM {table}")}
    return tuple(sorted(set(ids) - there))


def _circuits_of_reading(live: str) -> set[int]:
    try:
        kept = json.loads(live)
        listed = [*kept["live"], *kept["listed"]]
    except (ValueError, KeyError, TypeError, RecursionError):
        return set()
    return {value for value in listed if is_possible_id("source", value)}


def _first(db: sqlite3.Connection, queries: Iterable[str], run_id: int) -> int:
    """The first moment that one of the queries gives, not below 0; 0 where none does."""
    for query in queries:
        row = db.execute(query, (run_id,)).fetchone()
        if row is not None and row[0] is not None:
            return max(int(row[0]), 0)
    return 0


def _was_simulated(db: sqlite3.Connection, run_id: int) -> bool:
    """Whether a reading or a check of a run is marked as simulated."""
    for (context,) in db.execute("SELECT context FROM reading WHERE run_id = ? AND context <> ''", (run_id,)):
        if _is_marked(context, run_id):
            return True
    return any(_is_marked(steps, run_id) for (steps,) in db.execute("SELECT steps FROM check_result"))


def _is_marked(kept: str, run_id: int) -> bool:
    """Whether the context of a reading, or a step of a check in a run, has the mark."""
    try:
        content = json.loads(kept)
    except (ValueError, RecursionError):
        return False
    if isinstance(content, dict):
        return content.get(SIMULATED) is True
    return isinstance(content, list) and any(
        isinstance(step, dict)
        and step.get(SIMULATED) is True
        and isinstance(step.get("span"), dict)
        and step["span"].get("run_id") == run_id
        for step in content
    )
