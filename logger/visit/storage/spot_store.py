"""The spots of a visit in the order of the route. The list may be edited; a reading is kept with the name as it was."""

from __future__ import annotations

from logger.translation import marked
from logger.visit.records.home_records import Spot
from logger.visit.storage.log_connection import LogConnection
from logger.visit.storage.ordered_list import NameRefusals, OrderedList

_REFUSALS = NameRefusals(
    marked("A spot needs a name."),
    marked("There is a spot “{name}” already."),
    marked("A visit holds at most {most} spots, removed ones among them."),
)


class SpotStore:
    """The spots."""

    def __init__(self, connection: LogConnection) -> None:
        self._connection = connection
        self._list = OrderedList(connection, "spot", _REFUSALS)

    def all(self) -> list[Spot]:
        """The spots of the visit in the order of the route, without removed ones."""
        rows = self._connection.all(
            "SELECT id, name, room, reminder FROM spot WHERE removed_utc_ns IS NULL ORDER BY position, id"
        )
        return [Spot(r["id"], r["name"], r["room"], r["reminder"]) for r in rows]

    def with_removed(self) -> list[Spot]:
        """All spots that the visit ever had: older readings are of them."""
        rows = self._connection.all("SELECT id, name, room, reminder FROM spot ORDER BY position, id")
        return [Spot(r["id"], r["name"], r["room"], r["reminder"]) for r in rows]

    def add(self, name: str, room: str = "", reminder: str = "") -> Spot:
        """Add a spot at the end of the route.

        Args:
            name: unique among the spots of the route.
            room: where it is; may be empty.
            reminder: what has to be on when it is read; may be empty.

        Raises:
            StillvoltError: an empty or duplicate name.
        """
        with self._connection.writing():
            name = self._list.new_name(name)
            room, reminder = room.strip(), reminder.strip()
            spot_id = self._connection.insert(
                "INSERT INTO spot (name, position, room, reminder) VALUES (?, ?, ?, ?)",
                (name, self._list.next_position(), room, reminder),
            )
            return Spot(spot_id, name, room, reminder)

    def describe(self, spot_id: int, room: str, reminder: str) -> None:
        """Set the room and the reminder of a spot.

        Args:
            spot_id: of the spot.
            room: where it is; may be empty.
            reminder: what has to be on when it is read; may be empty.
        """
        with self._connection.writing():
            self._connection.execute(
                "UPDATE spot SET room = ?, reminder = ? WHERE id = ?",
                (room.strip(), reminder.strip(), spot_id),
            )

    def rename(self, spot_id: int, name: str) -> None:
        """Rename a spot; the log keeps the name that its readings were taken with. Raises StillvoltError as `add`."""
        self._list.rename(spot_id, name)

    def move(self, spot_id: int, places: int) -> None:
        """Move a spot by so many places along the route (negative: earlier); it stops at the ends."""
        self._list.move(spot_id, places)

    def remove(self, spot_id: int) -> None:
        """Take a spot off the route; its readings stay, and `restore` brings it back."""
        self._list.remove(spot_id)

    def restore(self, spot_id: int) -> None:
        """Bring a removed spot back to where it was; raises StillvoltError if its name is taken by now."""
        self._list.restore(spot_id)
