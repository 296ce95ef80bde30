"""What the spots and the sources have in common: a list in an order, with names of which none stands twice, that is
edited by hand. Every function is to be called within the log's transaction."""

from __future__ import annotations

import sqlite3
import unicodedata

from logger.errors import StillvoltError


def new_name(db: sqlite3.Connection, table: str, thing: str, name: str, but_not: int | None = None) -> str:
    """The name as it is kept.

    Args:
        db: the log.
        table: spot or source.
        thing: what a user calls it, with its article: 'a spot'.
        name: as typed.
        but_not: id of the one that is renamed.

    Raises:
        StillvoltError: empty, or taken by another one that is on the list.
    """
    name = unicodedata.normalize("NFC", " ".join(name.split()))
    if not name_key(name):
        raise StillvoltError(f"{thing.capitalize()} needs a name.", "Nothing was changed.", "Type one.")
    rows = db.execute(f"SELECT id, name FROM {table} WHERE removed_utc_ns IS NULL")
    if any(name_key(row["name"]) == name_key(name) and row["id"] != but_not for row in rows):
        raise StillvoltError(
            f"There is {thing} '{name}' already.", "Nothing was changed.", "Give this one another name."
        )
    return name


def move(db: sqlite3.Connection, table: str, row_id: int, places: int) -> None:
    """Move one by so many places (negative: earlier); stops at the ends."""
    rows = db.execute(f"SELECT id FROM {table} WHERE removed_utc_ns IS NULL ORDER BY position, id")
    order = [row["id"] for row in rows]
    if row_id not in order:
        return
    at = order.index(row_id)
    order.insert(min(max(at + places, 0), len(order) - 1), order.pop(at))
    db.executemany(f"UPDATE {table} SET position = ? WHERE id = ?", [(i + 1, s) for i, s in enumerate(order)])


def next_position(db: sqlite3.Connection, table: str) -> float:
    """The place after the last one."""
    return float(db.execute(f"SELECT coalesce(max(position), 0) + 1 FROM {table}").fetchone()[0])


def remove(db: sqlite3.Connection, table: str, row_id: int, utc_ns: int) -> None:
    """Take one off the list; what refers to it stays."""
    db.execute(f"UPDATE {table} SET removed_utc_ns = ? WHERE id = ?", (utc_ns, row_id))


def restore(db: sqlite3.Connection, table: str, thing: str, row_id: int) -> None:
    """Bring a removed one back to where it was; raises StillvoltError if its name is taken by now."""
    new_name(
        db,
        table,
        thing,
        db.execute(f"SELECT name FROM {table} WHERE id = ?", (row_id,)).fetchone()[0],
        row_id,
    )
    db.execute(f"UPDATE {table} SET removed_utc_ns = NULL WHERE id = ?", (row_id,))


def name_key(name: str) -> str:
    """What two names have in common that a person could not tell apart: case, blanks, how Unicode composes letters
    (NFKC, Unicode Standard Annex 15) and characters that show nothing."""
    shown = "".join(c for c in unicodedata.normalize("NFKC", name) if unicodedata.category(c) != "Cf")
    return unicodedata.normalize("NFKC", " ".join(shown.casefold().split()))
