"""A table that is an ordered list of unique names edited by the user, as the spots and the circuits are."""

from __future__ import annotations

import unicodedata
from typing import NamedTuple

from logger.errors import StillvoltError
from logger.translation import tr
from logger.visit.records.name_key import name_key
from logger.visit.storage.content_limits import MAX_ROWS
from logger.visit.storage.log_connection import LogConnection


class NameRefusals(NamedTuple):
    """What is said where a name cannot be taken, in English.

    Args:
        empty: it is none.
        taken: another entry has it; with a place for the name.
        full: it has as many rows as it may have, removed entries among them; with a place for the number.
    """

    empty: str
    taken: str
    full: str


class OrderedList:
    """Order and names of one table. `new_name` and `next_position` are called within the transaction that adds.

    Args:
        connection: the open visit log.
        table: its name in the schema.
        words: what is said where a name is refused.
    """

    def __init__(self, connection: LogConnection, table: str, words: NameRefusals) -> None:
        self._connection = connection
        self._table = table
        self._words = words

    def new_name(self, name: str, renamed_id: int | None = None) -> str:
        """The name as it is kept.

        Args:
            name: as typed.
            renamed_id: the entry that is renamed, which may keep its own name; None for a new one.

        Raises:
            StillvoltError: the name is empty, another entry of the list has it, or with a new one the log
                would be refused when it is opened.
        """
        if renamed_id is None and self._rows() >= (most := MAX_ROWS[self._table]):
            raise StillvoltError(
                tr(self._words.full).format(most=most),
                tr("Nothing was changed."),
                tr("Rename one that is not needed."),
            )
        name = unicodedata.normalize("NFC", " ".join(name.split()))
        if not name_key(name):
            raise StillvoltError(tr(self._words.empty), tr("Nothing was changed."), tr("Type one."))
        rows = self._connection.all(f"SELECT id, name FROM {self._table} WHERE removed_utc_ns IS NULL")
        if any(name_key(row["name"]) == name_key(name) and row["id"] != renamed_id for row in rows):
            raise StillvoltError(
                tr(self._words.taken).format(name=name),
                tr("Nothing was changed."),
                tr("Give this one another name."),
            )
        return name

    def _rows(self) -> int:
        return int(self._connection.one(f"SELECT count(*) FROM {self._table}")[0])

    def next_position(self) -> float:
        """The position after the last entry."""
        sql = f"SELECT coalesce(max(position), 0) + 1 FROM {self._table}"
        return float(self._connection.one(sql)[0])

    def rename(self, row_id: int, name: str) -> None:
        """Rename an entry; raises StillvoltError for an empty or duplicate name."""
        with self._connection.writing():
            self.rename_within(row_id, name)

    def rename_within(self, row_id: int, name: str) -> str:
        """Do what `rename` does as a part of a transaction that others began; return the name as it is kept."""
        name = self.new_name(name, row_id)
        self._connection.execute(f"UPDATE {self._table} SET name = ? WHERE id = ?", (name, row_id))
        return name

    def move(self, row_id: int, places: int) -> None:
        """Move an entry by so many places (negative: earlier); it stops at the ends."""
        with self._connection.writing():
            rows = self._connection.all(
                f"SELECT id FROM {self._table} WHERE removed_utc_ns IS NULL ORDER BY position, id"
            )
            order = [row["id"] for row in rows]
            if row_id not in order:
                return
            at = order.index(row_id)
            order.insert(min(max(at + places, 0), len(order) - 1), order.pop(at))
            for i, entry_id in enumerate(order):
                self._connection.execute(
                    f"UPDATE {self._table} SET position = ? WHERE id = ?", (i + 1, entry_id)
                )

    def remove(self, row_id: int) -> None:
        """Take an entry off the list; what refers to it stays, and `restore` brings it back."""
        with self._connection.writing():
            self._connection.execute(
                f"UPDATE {self._table} SET removed_utc_ns = ? WHERE id = ?",
                (self._connection.clock.utc_ns(), row_id),
            )

    def restore(self, row_id: int) -> None:
        """Bring a removed entry back to where it was; raises StillvoltError if its name is taken by now."""
        with self._connection.writing():
            row = self._connection.one(f"SELECT name FROM {self._table} WHERE id = ?", (row_id,))
            self.new_name(row["name"], row_id)
            self._connection.execute(
                f"UPDATE {self._table} SET removed_utc_ns = NULL WHERE id = ?", (row_id,)
            )
