"""Notices a journal that is not of the file beside it: with both, SQLite would show a mixture of two visits.

A file that is overwritten in place keeps the name, and the journal of what was there before stays beside it, as after a
killed window. A journal of the file itself goes on from it: whatever was entered in the file is also in both together.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from logger.translation import kept_text
from logger.visit.storage.bare_connection import opened_read_only, opened_without_journal
from logger.visit.storage.entry_checksum import NO_DIGEST, chain_holds
from logger.visit.storage.journal_file import has_journal

FOREIGN_JOURNAL = kept_text(
    "The journal beside the file ({name}-wal) is not of it: the file was overwritten by another program, such as by "
    "another visit or an older copy, and together they would be a mixture of two."
)
"""Filled with the name of the file, and shown by `tr_kept`."""


def has_foreign_journal(path: Path) -> bool:
    """Whether the journal beside a visit log is not of it, so that they must not be read together.

    Only a file that is whole by itself is judged: one that a checkpoint was cut off in needs its journal.
    """
    if not has_journal(path):
        return False
    try:
        with opened_without_journal(path) as alone:
            if not chain_holds(alone):
                return False
            entries = _entries(alone)
    except sqlite3.Error:
        return False
    try:
        with opened_read_only(path) as both:
            together = _entries(both)
            goes_on = len(together) >= len(entries) and all(map(_is_same, entries, together))
            return not goes_on or (_has_no_gap(entries) and not _has_no_gap(together))
    except sqlite3.OperationalError:
        return False
    except sqlite3.DatabaseError:
        return True


def _entries(db: sqlite3.Connection) -> list[tuple[object, ...]]:
    rows = db.execute("SELECT id, entry_table, entry_id, digest FROM entry_checksum ORDER BY id")
    return [tuple(row) for row in rows.fetchall()]


def _is_same(entry: tuple[object, ...], other: tuple[object, ...]) -> bool:
    """Whether two rows are of one entry, which another program may have taken the checksum from since."""
    return entry == other or (entry[:3] == other[:3] and other[3] == NO_DIGEST)


def _has_no_gap(entries: list[tuple[object, ...]]) -> bool:
    """Whether no entry is missed between others: pages of an older copy lack those of their time."""
    return [entry[0] for entry in entries] == list(range(1, len(entries) + 1))
