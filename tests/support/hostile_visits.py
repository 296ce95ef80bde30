"""Visits as somebody might send them to exhaust, mislead or end the program: a sound visit, changed behind its back."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from logger.visit.storage.connection import open_existing
from logger.visit.storage.content_limits import MAX_ROWS

MAX_INT = 2**63 - 1

PHOTO = (
    "INSERT INTO photo (utc_ns, kind, width, height, jpeg, caption, entered_by) "
    "VALUES (1, 'photo', 9, 9, {}, '', '')"
)

MANY = (
    "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n LIMIT {rows}) INSERT INTO {table} {columns} "
    "SELECT {values} FROM n"
)


@contextmanager
def unguarded(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection for which tables are not strict and triggers do not fire; afterwards the schema is as it was."""
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("PRAGMA journal_mode = DELETE")
        schema = db.execute(
            "SELECT rowid, type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL"
        ).fetchall()
        for _, kind, name, _ in schema:
            if kind == "trigger":
                db.execute(f"DROP TRIGGER {name}")
        db.execute("PRAGMA writable_schema = ON")
        db.execute(
            "UPDATE sqlite_schema SET sql = replace(replace(sql, ') STRICT', ')'), 'NOT NULL', '') WHERE type = 'table'"
        )
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        yield db
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        for _, kind, _, sql in schema:
            if kind == "trigger":
                db.execute(sql)
        db.execute("PRAGMA writable_schema = ON")
        for _, kind, name, sql in schema:
            if kind == "table":
                db.execute("UPDATE sqlite_schema SET sql = ? WHERE name = ?", (sql, name))
        db.execute("PRAGMA journal_mode = WAL")


def rows(table: str, columns: str, values: str, count: int) -> str:
    """The statement that inserts many rows.

    Args:
        table: into which.
        columns: their names in parentheses.
        values: SQL expressions, of `i` from 1 on.
        count: how many.
    """
    return MANY.format(table=table, columns=columns, values=values, rows=count)


def statements(rows_factor: float = 1.001, text_bytes: int = 20_000_000) -> dict[str, str]:
    """SQL of each hostile visit, by what is wrong with it.

    Args:
        rows_factor: rows of a table that has too many, over what is allowed.
        text_bytes: of one text that is too long.
    """

    def too_many(table: str) -> int:
        return int(MAX_ROWS[table] * rows_factor) + 1

    long_text = f"CAST(zeroblob({text_bytes:d}) AS TEXT)"
    return {
        "many spots": rows("spot", "(name, position)", "'spot ' || i, i", too_many("spot")),
        "many facts": rows("fact", "(utc_ns, name, value)", "i, 'n' || i, 'v'", too_many("fact")),
        "many readings": rows(
            "reading",
            "(utc_ns, spot_id, spot_name, condition, volts, u_volts, samples, taken)",
            "i, 1, 's', '', 0.1, 0.1, 1, 'by hand'",
            too_many("reading"),
        ),
        "many circuits": rows(
            "source", "(kind, name, position)", "'circuit', 'c' || i, i", too_many("source")
        ),
        "many runs": rows(
            "run",
            "(started_utc_ns, zone, utc_offset_s, port, settings, software)",
            "i, 'UTC', 0, 'p', '{}', 's'",
            too_many("run"),
        ),
        "much text": rows(
            "fact", "(utc_ns, name, value)", "i, 'n' || i, CAST(zeroblob(190000) AS TEXT)", 200
        ),
        "a long name": f"UPDATE spot SET name = {long_text} WHERE id = 1",
        "a name of one megabyte": "UPDATE spot SET name = replace(hex(zeroblob(490000)), '0', 'x') WHERE id = 1",
        "a household of ten megabytes": f"UPDATE fact SET value = {long_text} WHERE id = 1",
        "a long line": f"UPDATE line SET raw = zeroblob({text_bytes:d}) WHERE id = 5",
        "a line of a megabyte": "UPDATE line SET raw = zeroblob(900000) WHERE id = 5",
        "a number as a name": "UPDATE spot SET name = 5",
        "bytes as a name": "UPDATE spot SET name = x'00ff'",
        "a text as volts": "UPDATE reading SET volts = '0.27 V'",
        "nothing as volts": "UPDATE reading SET volts = NULL",
        "infinite volts": "UPDATE reading SET volts = 9e999",
        "infinite samples": "UPDATE line SET volts = 9e999 WHERE id = 7",
        "a text as a sample": "UPDATE line SET volts = 'many' WHERE id = 7",
        "huge volts": "UPDATE reading SET volts = 1e308",
        "the year 1677": f"UPDATE run SET started_utc_ns = {-MAX_INT}",
        "the year 2262": f"UPDATE reading SET utc_ns = {MAX_INT}",
        "a run of 292 years": f"UPDATE line SET t_ns = {MAX_INT} WHERE id = (SELECT max(id) FROM line)",
        "an event of 292 years": f"UPDATE event SET end_t_ns = {MAX_INT} WHERE id = 1",
        "a run's largest id": f"UPDATE run SET id = {MAX_INT} WHERE id = 1",
        "a line's largest id": f"UPDATE line SET id = {MAX_INT} WHERE id = (SELECT max(id) FROM line)",
        "a line's negative id": "UPDATE line SET id = -5 WHERE id = 1",
        "an offset of years": f"UPDATE run SET utc_offset_s = {MAX_INT}",
        "a nested context": (
            "UPDATE reading SET context = replace(hex(zeroblob(45000)), '0', '[')"
            " || replace(hex(zeroblob(45000)), '0', ']')"
        ),
        "a context that is a number": "UPDATE reading SET context = '5'",
        "circuits that are a text": """UPDATE reading SET live = '{"live": "x", "listed": 5}'""",
        "steps that are a number": "UPDATE check_result SET steps = '7'",
        "settings that are a list": "UPDATE run SET settings = '[1]'",
        "a set-up that is a list": "UPDATE fact SET value = '[[1]]' WHERE name = 'setup'",
        "a number without end": "UPDATE reading SET context = replace(hex(zeroblob(50000)), '0', '9')",
        "an event of no kind": "UPDATE event SET kind = 'miracle'",
        "a check of no kind": "UPDATE check_result SET kind = 'miracle', verdict = 'maybe'",
        "a state of no kind": "UPDATE live SET state = 'miracle'",
        "a zone of no land": "UPDATE run SET zone = '../../../../etc/passwd'",
        "a photo of half a megabyte": PHOTO.format("zeroblob(500000)"),
        "a text as a photo": PHOTO.format("'no picture'"),
        "many photos": rows(
            "photo",
            "(utc_ns, kind, width, height, jpeg, caption, entered_by)",
            "1, 'photo', 1, 1, x'00', '', ''",
            too_many("photo"),
        ),
        "a text that is no text": "UPDATE spot SET name = CAST(x'edafbf41ff' AS TEXT) WHERE id = 1",
    }


def make_hostile(sound: Path, path: Path, sql: str) -> Path:
    """A copy of a sound visit, changed.

    Args:
        sound: a visit that no recorder is at work on.
        path: of the new one.
        sql: what is done to it.
    """
    path.write_bytes(sound.read_bytes())
    open_existing(path).close()  # of this version, so that it has every table
    with unguarded(path) as db:
        db.executescript(sql)
    return path
