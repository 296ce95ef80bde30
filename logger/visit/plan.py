"""The plan of a visit: its spots in the order of the route. It may be edited; readings keep the name as it was."""

from __future__ import annotations

import unicodedata

from logger.errors import StillvoltError
from logger.visit.model import Spot
from logger.visit.store import Store, row_id


class Plan(Store):
    """The spots."""

    def spots(self) -> list[Spot]:
        """The spots of the visit in the order of the route, without removed ones."""
        rows = self._all(
            "SELECT id, name, room, reminder FROM spot WHERE removed_utc_ns IS NULL ORDER BY position, id"
        )
        return [Spot(r["id"], r["name"], r["room"], r["reminder"]) for r in rows]

    def add_spot(self, name: str, room: str = "", reminder: str = "") -> Spot:
        """Add a spot at the end of the route; raises StillvoltError for an empty or duplicate name."""
        with self._writing():
            name = self._new_spot_name(name, None)
            position = self._one("SELECT coalesce(max(position), 0) + 1 FROM spot")[0]
            room, reminder = room.strip(), reminder.strip()
            cursor = self._db.execute(
                "INSERT INTO spot (name, position, room, reminder) VALUES (?, ?, ?, ?)",
                (name, position, room, reminder),
            )
            return Spot(row_id(cursor), name, room, reminder)

    def describe_spot(self, spot_id: int, room: str, reminder: str) -> None:
        """State where a spot is and what has to be on when it is read."""
        with self._writing():
            self._db.execute(
                "UPDATE spot SET room = ?, reminder = ? WHERE id = ?",
                (room.strip(), reminder.strip(), spot_id),
            )

    def rename_spot(self, spot_id: int, name: str) -> None:
        """Rename a spot; readings keep the name that it had."""
        with self._writing():
            name = self._new_spot_name(name, spot_id)
            self._db.execute("UPDATE spot SET name = ? WHERE id = ?", (name, spot_id))

    def move_spot(self, spot_id: int, places: int) -> None:
        """Move a spot by so many places along the route (negative: earlier); stops at the ends."""
        with self._writing():
            order = [spot.id for spot in self.spots()]
            if spot_id not in order:
                return
            at = order.index(spot_id)
            order.insert(min(max(at + places, 0), len(order) - 1), order.pop(at))
            self._db.executemany(
                "UPDATE spot SET position = ? WHERE id = ?", [(i + 1, s) for i, s in enumerate(order)]
            )

    def remove_spot(self, spot_id: int) -> None:
        """Take a spot off the route; its readings stay, and `restore_spot` brings it back."""
        with self._writing():
            self._db.execute(
                "UPDATE spot SET removed_utc_ns = ? WHERE id = ?", (self._clock.utc_ns(), spot_id)
            )

    def restore_spot(self, spot_id: int) -> None:
        """Bring a removed spot back to where it was; raises StillvoltError if its name is taken by now."""
        with self._writing():
            self._new_spot_name(self._one("SELECT name FROM spot WHERE id = ?", (spot_id,))[0], spot_id)
            self._db.execute("UPDATE spot SET removed_utc_ns = NULL WHERE id = ?", (spot_id,))

    def _new_spot_name(self, name: str, but_not: int | None) -> str:
        name = unicodedata.normalize("NFC", " ".join(name.split()))
        if not _same_for(name):
            raise StillvoltError("A spot needs a name.", "Nothing was changed.", "Type one, such as 'Bed'.")
        if any(_same_for(spot.name) == _same_for(name) and spot.id != but_not for spot in self.spots()):
            raise StillvoltError(
                f"There is a spot '{name}' already.", "Nothing was changed.", "Give this one another name."
            )
        return name


def _same_for(name: str) -> str:
    """What two names have in common that a person could not tell apart: case, blanks, how Unicode composes letters
    (NFKC, Unicode Standard Annex 15) and characters that show nothing."""
    shown = "".join(c for c in unicodedata.normalize("NFKC", name) if unicodedata.category(c) != "Cf")
    return unicodedata.normalize("NFKC", " ".join(shown.casefold().split()))
