"""What a list of visits shows of each: its household, and whether anything was ever put in it.

In: the path of a visit log. Out: a few words, read in a moment and without changing the file; what cannot be read has
no household and is not empty, so that it stays in sight.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

from logger.errors import StillvoltError
from logger.metrology.setup import Setup
from logger.plain_text import one_line
from logger.visit.records.fact_names import PRACTITIONER, SETUP
from logger.visit.storage.bare_connection import opened_read_only
from logger.visit.storage.read_only import UNREADABLE_CONTENT, refuse_other_files
from logger.visit.storage.visit_folder import is_visit_name

_CONTENT = ("run", "line", "spot", "reading", "mark", "source", "check_result", "step_name")
"""Tables with what a user or a meter put in; an older log lacks some of them."""

JOURNAL_SUFFIXES = ("-wal", "-shm")


@dataclass(frozen=True, slots=True)
class VisitBrief:
    """A visit in a list.

    Args:
        path: the file.
        household: as entered; empty where it was not.
        is_unused: nothing was measured in it, and no spot entered; it may have been prepared.
        is_empty: nothing was entered in it at all.
    """

    path: Path
    household: str
    is_unused: bool
    is_empty: bool

    @property
    def title(self) -> str:
        """The household, then the file's name, which is a date unless the user chose another one."""
        return visit_title(self.household, self.path)


def visit_title(household: str, path: Path) -> str:
    """How a visit is shown: by its household beside the name of its file.

    Args:
        household: as entered; empty where it was not.
        path: the file.
    """
    name = one_line(path.stem if is_visit_name(path) else path.name)
    return name if household.casefold() in name.casefold() else f"{household}, {name}"


def read_brief(path: Path) -> VisitBrief:
    """Read what a list shows of a visit."""
    try:
        with opened_read_only(path) as db:
            refuse_other_files(db)
            names = {row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            has_content = any(
                db.execute(f"SELECT 1 FROM {table} LIMIT 1").fetchone()
                for table in _CONTENT
                if table in names
            )
            facts = db.execute("SELECT name, value FROM fact ORDER BY id").fetchall()
        stated = [value for name, value in facts if name == SETUP]
        setup = Setup.from_json(stated[-1]) if stated else Setup()
    except (sqlite3.Error, StillvoltError, OSError, *UNREADABLE_CONTENT):
        return VisitBrief(path, "", is_unused=False, is_empty=False)
    # The program states the usual target of the practitioner, and who that is, by itself.
    usual = replace(setup, target_volts=Setup().target_volts, target_source=Setup().target_source)
    has_facts = usual != Setup() or any(name not in (SETUP, PRACTITIONER) for name, _ in facts)
    household = " ".join(setup.household.split())
    return VisitBrief(path, household, not has_content, not (has_content or has_facts))


def remove_if_empty(path: Path) -> bool:
    """Delete a visit log in which nothing is, and which no other window has open; whether it was deleted."""
    if not read_brief(path).is_empty:
        return False
    try:
        with closing(sqlite3.connect(path, timeout=0.0)) as db:
            # Is granted only where nobody else has the file open.
            is_alone = db.execute("PRAGMA journal_mode = DELETE").fetchone()[0] == "delete"
        if not is_alone or not read_brief(path).is_empty:
            return False
        path.unlink()
        for suffix in JOURNAL_SUFFIXES:
            path.with_name(path.name + suffix).unlink(missing_ok=True)
    except (sqlite3.Error, OSError):
        return False
    return True
