"""What is recorded of spots and of the circumstances, with photos, so that a reading can be repeated."""

from __future__ import annotations

import base64
from collections.abc import Callable, Sequence
from typing import Any

from logger.metrology.lengths import length_text
from logger.name_list import listed
from logger.report.document.blocks import Block, Photo, Photos, TableBlock, Text
from logger.report.document.held_text import held_text
from logger.report.document.report_data import ReportData, SpotPhoto
from logger.report.stated_answers import numbers_text
from logger.translation import tr, tr_n
from logger.visit.records.home_details import SpotDetails
from logger.visit.records.home_records import Spot
from logger.visit.records.photo import PHOTO_KINDS


def spot_details(data: ReportData) -> list[Block]:
    """Build the table of how somebody was at each spot; nothing where nothing is recorded."""
    rows = [
        (
            name,
            found.posture,
            length_text(found.height_m),
            found.place,
            found.plugged,
            found.person,
            found.others,
        )
        for spot in data.spots
        for name, found in _descriptions(spot, data)
    ]
    heads = (
        tr("Spot"),
        tr("Posture"),
        tr("Height above the floor"),
        tr("Where exactly"),
        tr("Plugged in and on"),
        tr("Person measured"),
        tr("Other people"),
    )
    table = _filled_columns(tr("To repeat a reading: how it was at each spot"), heads, rows)
    others = [spot.name for spot in data.spots if not _descriptions(spot, data)]
    if not table or not others:
        return table
    text = tr("How it was there is not recorded of: {spots}.")
    return [*table, Text(text.format(spots=listed(others)))]


def _descriptions(spot: Spot, data: ReportData) -> list[tuple[str, SpotDetails]]:
    """How it was at a spot, as recorded: once, or where it was changed, each with the readings that it held for."""
    found: dict[SpotDetails, list[int]] = {}
    for reading in data.valid_readings:
        if reading.spot_id == spot.id:
            found.setdefault(reading.details, []).append(reading.id)
    newest = data.spot_details.get(spot.id, SpotDetails())
    # With nothing read since it was changed, it is what the next reading would be taken with.
    found.setdefault(newest, [])
    recorded = {details: ids for details, ids in found.items() if details.is_recorded}
    if len(recorded) == 1:
        return [(spot.name, details) for details in recorded]
    return [(_described_text(spot, ids), details) for details, ids in recorded.items()]


def _described_text(spot: Spot, ids: list[int]) -> str:
    if not ids:
        return tr("{spot} (entered since: nothing was read so)").format(spot=spot.name)
    text = tr_n("{spot} (reading {numbers})", "{spot} (readings {numbers})", len(ids))
    return text.format(spot=spot.name, numbers=numbers_text(ids))


def photos(data: ReportData) -> list[Block]:
    """Show the photos and sketches of the spots; of a damaged one say so."""
    shown = tuple(
        Photo(base64.b64encode(photo.jpeg).decode("ascii"), _photo_text(photo), _photo_text(photo))
        for photo in data.photos
        if not photo.problem
    )
    damaged = [Text(f"{_photo_text(photo)}: {photo.problem}") for photo in data.photos if photo.problem]
    return [*([Photos(shown)] if shown else []), *damaged]


def _photo_text(photo: SpotPhoto) -> str:
    text = tr("“{spot}”, {kind}: {caption}") if photo.caption else tr("“{spot}”, {kind}")
    return text.format(spot=photo.spot_name, kind=tr(PHOTO_KINDS[photo.kind]), caption=photo.caption)


def circumstance_pairs(data: ReportData) -> tuple[tuple[str, str], ...]:
    """What is recorded of person, bed, rod and lead, with its names; nothing where nothing is."""

    def held(name: str, shown: Callable[[Any], str] = str) -> str:
        return held_text(data.circumstance_answers(name), shown)

    pairs = (
        (tr("Length of the rod"), held("rod_length_m", length_text)),
        (tr("Depth of the rod"), held("rod_depth_m", length_text)),
        (tr("Place of the rod"), held("rod_place")),
        (tr("Probe"), held("probe")),
        (tr("Person measured"), held("person")),
        (tr("Footwear"), held("footwear")),
        (tr("Bedding"), held("bedding")),
        (tr("Weather"), held("weather")),
    )
    return tuple(pair for pair in pairs if pair[1])


def _filled_columns(caption: str, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> list[Block]:
    """A table without the columns in which nothing is recorded at all."""
    filled = [at for at in range(len(heads)) if any(row[at] for row in rows)]
    if not rows:
        return []
    shown = tuple(tuple(row[at] or "–" for at in filled) for row in rows)
    return [TableBlock(caption, tuple(heads[at] for at in filled), shown)]
