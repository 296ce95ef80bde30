"""Whether a file has exactly the tables, indexes and triggers of a visit log of its version, before any row is read.

A visit may come from somebody else. A trigger, a view or a virtual table that a visit log does not have would run code
of the sender's with each query; a missing trigger would let a program error change what was recorded.
"""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from functools import cache

from logger.errors import StillvoltError
from logger.name_list import listed
from logger.translation import tr
from logger.visit.storage.damage import SALVAGE
from logger.visit.storage.schema import UPGRADES

MAX_ENTRIES = 200
"""Tables, indexes and triggers that are looked at; a visit log has about 40."""

Schema = frozenset[tuple[str, str, str]]
"""Type, name and definition of each entry, the definitions without comments and extra blanks."""


def refuse_foreign_schema(db: sqlite3.Connection, version: int, name: str) -> None:
    """Refuse a file whose schema is not the one that this program writes.

    Args:
        db: connection to the file.
        version: its `user_version`, not above this program's.
        name: of the file, for the sentence.

    Raises:
        StillvoltError: something is missing, is defined otherwise, or does not belong into a visit log.
    """
    found, expected = _entries(db), expected_schema(version)
    if found and found == expected:
        return
    names = {(kind, entry) for kind, entry, _ in expected}
    foreign = sorted(f"{kind} {entry}" for kind, entry, _ in found - expected if (kind, entry) not in names)
    missing = sorted(f"{kind} {entry}" for kind, entry in names - {(kind, entry) for kind, entry, _ in found})
    changed = sorted(
        f"{kind} {entry}" for kind, entry, _ in expected - found if f"{kind} {entry}" not in missing
    )
    if not found:
        raise StillvoltError(
            tr(
                "{name} has no tables. It is a copy without its journal ({name}-wal), which has the data."
            ).format(name=name),
            tr("It was not changed."),
            tr("Copy {name} and {name}-wal together, or close the visit before you copy it.").format(
                name=name
            ),
        )
    reasons = [
        words.format(entries=_shown(entries))
        for words, entries in (
            (tr("it has what a visit log does not have: {entries}"), foreign),
            (tr("what a visit log has is missing: {entries}"), missing),
            (tr("what a visit log has was changed: {entries}"), changed),
        )
        if entries
    ]
    raise StillvoltError(
        tr("{name} is not a visit log as this program writes it ({reasons}).").format(
            name=name, reasons="; ".join(reasons)
        ),
        tr("It was not changed, and nothing else was read of it."),
        tr(SALVAGE),
    )


@cache
def expected_schema(version: int) -> Schema:
    """The schema of a visit log of that version."""
    with closing(sqlite3.connect(":memory:")) as db:
        for script in UPGRADES[:version]:
            db.executescript(script)
        return _entries(db)


def _entries(db: sqlite3.Connection) -> Schema:
    rows = db.execute(
        f"SELECT type, name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite\\_%' ESCAPE '\\' LIMIT {MAX_ENTRIES:d}"
    ).fetchall()
    return frozenset((str(kind), str(name), _plain(str(sql))) for kind, name, sql in rows)


def _plain(sql: str) -> str:
    without_comments = re.sub(r"--[^\n]*", " ", sql)
    return " ".join(re.sub(r"([(),])", r" \1 ", without_comments).split())


def _shown(entries: list[str], most: int = 3) -> str:
    """Some names, without characters that a terminal would obey."""
    shown = ["".join(c if c.isprintable() else "?" for c in entry[:60]) for entry in entries[:most]]
    more = len(entries) - most
    names = listed(shown)
    return tr("{names} and {n} more").format(names=names, n=more) if more > 0 else names
