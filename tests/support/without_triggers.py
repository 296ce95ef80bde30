"""A visit log as a stranger with a database program changes it: what refuses a change is off meanwhile."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path


@contextmanager
def without_triggers(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection for which no trigger fires; afterwards they are there again, and what was changed is written."""
    with closing(sqlite3.connect(path)) as db:
        triggers = db.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            db.execute(f"DROP TRIGGER {name}")
        yield db
        for _, sql in triggers:
            db.execute(sql)
        db.commit()
