"""Details of the spots, and photos, whose pictures are files of their own."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass

from logger.errors import StillvoltError
from logger.report.export.table import ExportColumn, ExportTable, integers, local, utc
from logger.visit.records.home_details import FURTHER_FIELDS, SPOT_FIELDS, SpotDetails
from logger.visit.records.photo import Photo
from logger.visit.storage.visit_log import VisitLog


@dataclass(frozen=True, slots=True)
class SpotDetailLine:
    """What was entered of a spot at one time."""

    spot_id: int
    spot: str
    details: SpotDetails
    newest: bool


def _details(log: VisitLog) -> list[SpotDetailLine]:
    return [
        SpotDetailLine(spot.id, spot.name, details, details is entered[-1])
        for spot in log.spots.with_removed()
        for entered in (log.spot_details.history(spot.id),)
        for details in entered
    ]


def _further_column(name: str) -> ExportColumn[SpotDetailLine]:
    return ExportColumn(
        name, "", SPOT_FIELDS[name].label.casefold(), lambda line: getattr(line.details, name)
    )


SPOT_DETAILS: ExportTable[SpotDetailLine] = ExportTable(
    "spot_details",
    "What makes a reading at a spot repeatable, each time it was entered; empty cells are not recorded.",
    _details,
    (
        ExportColumn("spot_id", "", "number of the spot in this visit", lambda line: line.spot_id),
        ExportColumn("spot", "", "its name now", lambda line: line.spot),
        utc(lambda line: line.details.utc_ns),
        local(lambda line: line.details.utc_ns),
        ExportColumn("holds", "", "yes: entered last, and holds now", lambda line: "yes" if line.newest else "no"),
        ExportColumn("posture", "", "lying, sitting, standing and how", lambda line: line.details.posture),
        ExportColumn(
            "height_m", "m", "of the body's measured place above the floor", lambda line: line.details.height_m
        ),
        ExportColumn("place", "", "where exactly", lambda line: line.details.place),
        ExportColumn("plugged", "", "what was plugged in and on there", lambda line: line.details.plugged),
        ExportColumn("person", "", "who was measured", lambda line: line.details.person),
        ExportColumn("others", "", "who stood where", lambda line: line.details.others),
        *map(_further_column, FURTHER_FIELDS),
        ExportColumn(
            "entered_by", "", "name of the practitioner; empty where it was not stated",
            lambda line: line.details.entered_by,
        ),
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class PhotoLine:
    """A photo with the name of its spot; empty while it is taken off."""

    photo: Photo
    spot: str


def _photos(log: VisitLog) -> list[PhotoLine]:
    names = {spot.id: spot.name for spot in log.spots.with_removed()}
    return [PhotoLine(photo, names.get(photo.spot_id or 0, "")) for photo in log.photos.all().values()]


PHOTOS: ExportTable[PhotoLine] = ExportTable(
    "photos",
    "Photos and sketches of spots. Beside the CSV tables each picture is a file of its own.",
    _photos,
    (
        ExportColumn("photo_id", "", "number in this visit", lambda line: line.photo.id),
        utc(lambda line: line.photo.utc_ns),
        local(lambda line: line.photo.utc_ns),
        ExportColumn("kind", "", "photo, sketch", lambda line: line.photo.kind),
        ExportColumn(
            "spot_id", "", "where it belongs; empty while it is taken off", lambda line: line.photo.spot_id, integers
        ),
        ExportColumn("spot", "", "name of that spot", lambda line: line.spot),
        ExportColumn("width", "pixels", "of the picture", lambda line: line.photo.width),
        ExportColumn("height", "pixels", "of the picture", lambda line: line.photo.height),
        ExportColumn("bytes", "", "size of the picture", lambda line: line.photo.octets),
        ExportColumn("caption", "", "in the user's words", lambda line: line.photo.caption),
        ExportColumn(
            "entered_by", "", "name of the practitioner; empty where it was not stated",
            lambda line: line.photo.entered_by,
        ),
        ExportColumn(
            "file", "", "of the picture, beside the CSV tables; a damaged picture has none there",
            lambda line: picture_file(line.photo.id),
        ),
    ),
)  # fmt: skip


def picture_file(photo_id: int) -> str:
    """The name of the file with a picture.

    Args:
        photo_id: of the photo.
    """
    return f"photo_{photo_id}.jpg"


def pictures(log: VisitLog) -> dict[str, bytes]:
    """The pictures that are whole, by the names of their files."""
    found = {}
    for photo_id in log.photos.all():
        with suppress(StillvoltError):
            found[picture_file(photo_id)] = log.photos.picture(photo_id)
    return found
