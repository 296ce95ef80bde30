"""The error for a visit log that is damaged, in one form for every way of opening one."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from logger.errors import StillvoltError
from logger.translation import marked, tr, tr_all, tr_kept
from logger.visit.storage.journal_file import copy_again, why_not_whole

SALVAGE = marked(
    "In a terminal, `stillvolt salvage VISIT --out NEW` brings what can be read into a new visit log."
)
"""What to do with a file that does not open, and what comes of it."""

UNREADABLE_ENTRY = marked("an entry in it cannot be read")
"""What the error of SQLite, Python or JSON on an entry means to a user; `verify` names the entry."""

_PRIMARY_CODE = 0xFF


def damaged(path: Path, reason: str) -> StillvoltError:
    """The error for a visit log that is damaged.

    Args:
        path: the file.
        reason: what was found, as it is shown.
    """
    if short := why_not_whole(path):
        return StillvoltError(tr_kept(short), tr("It was not changed."), f"{copy_again(path)} {tr(SALVAGE)}")
    return StillvoltError(
        tr("{path} is damaged ({reason}).").format(path=path, reason=reason.removesuffix(".")),
        tr("It was not changed."),
        tr_all((SALVAGE, marked("`stillvolt verify VISIT` lists what is damaged."))),
    )


def damage_of(error: sqlite3.Error) -> str:
    """What is damaged in a file where reading it raises this error; empty where the error is no damage.

    Args:
        error: that SQLite or its Python module raised.
    """
    code = getattr(error, "sqlite_errorcode", None)
    if code is None:
        # The module itself found a text whose bytes are none, and cites it; its other errors are of other kinds.
        return tr(UNREADABLE_ENTRY) if isinstance(error, sqlite3.OperationalError) else ""
    return str(error) if code & _PRIMARY_CODE in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB) else ""
