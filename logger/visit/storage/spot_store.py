"""The plan of a visit: its spots in the order of the route. It may be edited; readings keep the name as it was."""

from __future__ import annotations

from logger.visit.records.records import Spot
from logger.visit.storage import ordered_list
from logger.visit.storage.store import Store, row_id


class SpotStore(Store):
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
            name = ordered_list.new_name(self._db, "spot", "a spot", name)
            position = ordered_list.next_position(self._db, "spot")
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
            name = ordered_list.new_name(self._db, "spot", "a spot", name, spot_id)
            self._db.execute("UPDATE spot SET name = ? WHERE id = ?", (name, spot_id))

    def move_spot(self, spot_id: int, places: int) -> None:
        """Move a spot by so many places along the route (negative: earlier); stops at the ends."""
        with self._writing():
            ordered_list.move(self._db, "spot", spot_id, places)

    def remove_spot(self, spot_id: int) -> None:
        """Take a spot off the route; its readings stay, and `restore_spot` brings it back."""
        with self._writing():
            ordered_list.remove(self._db, "spot", spot_id, self._clock.utc_ns())

    def restore_spot(self, spot_id: int) -> None:
        """Bring a removed spot back to where it was; raises StillvoltError if its name is taken by now."""
        with self._writing():
            ordered_list.restore(self._db, "spot", "a spot", spot_id)
