"""Photos and sketches of spots. None is ever deleted: one is moved to another spot, taken off and brought back."""

from __future__ import annotations

import sqlite3
from dataclasses import replace

from logger.errors import StillvoltError
from logger.metrology.rounding import grouped
from logger.translation import tr
from logger.visit.records.kept_line import kept_line
from logger.visit.records.photo import Photo, PhotoKind, photo_problem, photo_size
from logger.visit.storage.content_limits import MAX_PHOTOS
from logger.visit.storage.log_connection import LogConnection

_PHOTOS = (
    "SELECT photo.id, photo.utc_ns, kind, width, height, length(jpeg) AS octets, caption, entered_by, "
    "(SELECT spot_id FROM photo_place WHERE photo_id = photo.id ORDER BY id DESC LIMIT 1) AS spot_id FROM photo"
)


class PhotoStore:
    """The photos."""

    def __init__(self, connection: LogConnection) -> None:
        self._connection = connection

    def all(self) -> dict[int, Photo]:
        """All photos by id, those that are taken off too, without their pictures."""
        return {r["id"]: _photo(r) for r in self._connection.all(f"{_PHOTOS} ORDER BY photo.id")}

    def of_spot(self, spot_id: int) -> list[Photo]:
        """The photos of a spot in the order in which they were added."""
        return [photo for photo in self.all().values() if photo.spot_id == spot_id]

    def picture(self, photo_id: int) -> bytes:
        """The picture, a JPEG without any metadata.

        Raises:
            StillvoltError: it is damaged, or none that this program has kept: it is not shown.
        """
        rows = self._connection.all("SELECT width, height, jpeg FROM photo WHERE id = ?", (photo_id,))
        problem = photo_problem(rows[0]["jpeg"], rows[0]["width"], rows[0]["height"]) if rows else ""
        if problem or not rows:
            raise StillvoltError(
                tr("Photo {number} cannot be shown.").format(number=photo_id),
                problem or tr("It is not in the visit log."),
                tr("Add the photo again."),
            )
        return bytes(rows[0]["jpeg"])

    def add(
        self, spot_id: int, jpeg: bytes, kind: PhotoKind = "photo", caption: str = "", entered_by: str = ""
    ) -> Photo:
        """Add a photo to a spot.

        Args:
            spot_id: of the spot.
            jpeg: the picture, as `logger.visit.photo_file.kept_photo` makes it.
            kind: photo or sketch.
            caption: in the user's words.
            entered_by: the practitioner's name.

        Raises:
            StillvoltError: it is no such picture, the visit has as many photos as it can hold, or the caption cannot
                be kept; nothing is added.
        """
        size = photo_size(jpeg)
        if (problem := photo_problem(jpeg)) or size is None:
            raise StillvoltError(problem, tr("Nothing was added."), tr("Choose another file."))
        caption, entered_by = kept_line(caption, tr("Caption")), kept_line(entered_by, tr("Entered by"))
        with self._connection.writing():
            if self._connection.one("SELECT count(*) FROM photo")[0] >= MAX_PHOTOS:
                raise StillvoltError(
                    tr("The visit has {n} photos, and more do not fit into it.").format(
                        n=grouped(MAX_PHOTOS)
                    ),
                    tr("Nothing was added."),
                    tr("Keep further photos beside the visit."),
                )
            utc_ns = self._connection.clock.utc_ns()
            photo = Photo(0, utc_ns, kind, *size, len(jpeg), caption, entered_by, spot_id)
            return replace(photo, id=insert_photo(self._connection.db, photo, jpeg, utc_ns))

    def move(self, photo_id: int, spot_id: int) -> None:
        """Let a photo belong to another spot from now on."""
        with self._connection.writing():
            self._place(photo_id, spot_id)

    def take_off(self, photo_id: int) -> None:
        """Take a photo off its spot; it stays in the log, and `bring_back` undoes it."""
        with self._connection.writing():
            self._place(photo_id, None)

    def bring_back(self, photo_id: int) -> None:
        """Bring a photo that was taken off back to the spot that it belonged to last."""
        with self._connection.writing():
            rows = self._connection.all(
                "SELECT spot_id FROM photo_place WHERE photo_id = ? AND spot_id IS NOT NULL ORDER BY id DESC LIMIT 1",
                (photo_id,),
            )
            if rows:
                self._place(photo_id, rows[0]["spot_id"])

    def _place(self, photo_id: int, spot_id: int | None) -> None:
        """Enter where a photo belongs within a transaction, unless it does already."""
        rows = self._connection.all(
            "SELECT spot_id FROM photo_place WHERE photo_id = ? ORDER BY id DESC LIMIT 1", (photo_id,)
        )
        if rows and rows[0]["spot_id"] == spot_id:
            return
        self._connection.insert(
            "INSERT INTO photo_place (utc_ns, photo_id, spot_id) VALUES (?,?,?)",
            (self._connection.clock.utc_ns(), photo_id, spot_id),
        )


def insert_photo(db: sqlite3.Connection, photo: Photo, jpeg: bytes, utc_ns: int) -> int:
    """Enter a photo and the spot that it belongs to, within a transaction; returns its id.

    Args:
        db: connection to the log.
        photo: what is entered of it; its own id does not count.
        jpeg: the picture.
        utc_ns: since when it belongs to the spot, UTC ns.
    """
    photo_id = db.execute(
        "INSERT INTO photo (utc_ns, kind, width, height, jpeg, caption, entered_by) VALUES (?,?,?,?,?,?,?)",
        (photo.utc_ns, photo.kind, photo.width, photo.height, jpeg, photo.caption, photo.entered_by),
    ).lastrowid
    assert photo_id is not None
    db.execute(
        "INSERT INTO photo_place (utc_ns, photo_id, spot_id) VALUES (?,?,?)",
        (utc_ns, photo_id, photo.spot_id),
    )
    return photo_id


def _photo(r: sqlite3.Row) -> Photo:
    kind: PhotoKind = "sketch" if r["kind"] == "sketch" else "photo"
    return Photo(
        r["id"], r["utc_ns"], kind, r["width"], r["height"], r["octets"], r["caption"], r["entered_by"], r["spot_id"]
    )  # fmt: skip
