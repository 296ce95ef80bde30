"""Whether the pages of a visit log can be read, and its indexes hold what its tables hold."""

from __future__ import annotations

import sqlite3

LARGE_TABLES = frozenset({"line"})
"""Tables without an index of their own whose rows the quick look has seen, and a second look would take as long."""


def page_problem(db: sqlite3.Connection) -> str:
    """What is found first, as SQLite says it; empty where all is well.

    The quick look passes over an index that lacks a row, and what is looked up by such an index is then not there.

    Args:
        db: connection to the log.

    Raises:
        sqlite3.DatabaseError: a page cannot be read at all.
    """
    found = _last_line(db, "SELECT * FROM pragma_quick_check(1)")
    names = [row[0] for row in db.execute("SELECT DISTINCT tbl_name FROM sqlite_schema WHERE type = 'index'")]
    for name in names:
        if found == "ok" and name not in LARGE_TABLES:
            found = _last_line(db, "SELECT * FROM pragma_integrity_check(?)", name)
    return "" if found == "ok" else found


def _last_line(db: sqlite3.Connection, statement: str, *arguments: str) -> str:
    """Some findings have a line before them that names the database."""
    return str(db.execute(statement, arguments).fetchone()[0]).splitlines()[-1]
