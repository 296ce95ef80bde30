"""What is recorded of spots, with photos, so that a reading can be repeated."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from math import ceil

from logger.metrology.lengths import length_text
from logger.name_list import in_turn, joined, listed, quoted
from logger.report.document.blocks import Block, HeadingBlock, Pairs, Photo, Photos, TableBlock, Text
from logger.report.document.report_data import ReportData, SpotPhoto
from logger.report.stated_answers import numbers_text
from logger.translation import tr, tr_kept, tr_n
from logger.visit.records.home_details import SPOT_FIELDS, SpotDetails
from logger.visit.records.home_records import Spot
from logger.visit.records.photo import PHOTO_KINDS

MAX_COLUMNS = 9
"""Of a table of words that a sheet of A4 or Letter has room for, its first one counted."""

MAX_LISTED_ROWS = 2
"""So few lines of more columns than that are easier to read one under another."""


BESIDE = {"cover": "carried_by", "slept_in": "posture"}
"""What has no column of its own, but stands in the cell of another field: a sheet has no room for more columns."""


def spot_details(data: ReportData) -> list[Block]:
    """Build the table of how somebody was at each spot; nothing where nothing is recorded."""
    rooms = any(spot.room for spot in data.spots)
    described = [(spot, name, found) for spot in data.spots for name, found in _descriptions(spot, data)]
    if not described:
        return []
    columns: dict[str, list[str]] = (
        {tr("Room"): [tr_kept(spot.room) for spot, _, _ in described]} if rooms else {}
    )
    columns |= {
        tr(field.label): [_cell(found, name) or _of_visit(name, data) for _, _, found in described]
        for name, field in SPOT_FIELDS.items()
        if name != "height_of"
    }
    for name, beside in BESIDE.items():
        columns = _put_beside(columns, tr(SPOT_FIELDS[name].label), tr(SPOT_FIELDS[beside].label))
    everywhere, nowhere = _told_once(columns)
    shown = {head: cells for head, cells in columns.items() if head not in everywhere and any(cells)}
    rows = [
        (name, *(cells[at] or tr("not recorded") for cells in shown.values()))
        for at, (_, name, _) in enumerate(described)
    ]
    caption = tr("To repeat a reading: how it was at each spot")
    blocks = _tables(caption, (tr("Spot"), *shown), rows)
    text = tr("{what}, the same in each line: {value}.")
    sentences = [text.format(what=head, value=value) for head, value in everywhere.items()]
    if nowhere:
        sentences.append(tr("Not recorded of any of them: {what}.").format(what=listed(nowhere)))
    if others := [spot.name for spot in data.spots if not _descriptions(spot, data)]:
        sentences.append(tr("How it was there is not recorded of: {spots}.").format(spots=listed(others)))
    return [*blocks, *([Text(" ".join(sentences))] if sentences else [])]


def _put_beside(columns: dict[str, list[str]], head: str, beside: str) -> dict[str, list[str]]:
    """The columns with what stands in one of them put into the cells of another one; an empty one stays as it is."""
    if not any(columns[head]):
        return columns
    text = tr("{what}: {value}")
    cells = [
        in_turn([*filter(None, (cell, text.format(what=head, value=value) if value else ""))])
        for cell, value in zip(columns[beside], columns[head], strict=True)
    ]
    return {name: cells if name == beside else found for name, found in columns.items() if name != head}


def _tables(caption: str, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> list[Block]:
    """The table in parts that a sheet of paper has room for; a few lines of many columns as a list of pairs each."""
    if len(heads) <= MAX_COLUMNS:
        return [TableBlock(caption, heads, tuple(rows), small=True)]
    if len(rows) <= MAX_LISTED_ROWS:
        return [
            block
            for row in rows
            for block in (
                HeadingBlock(tr("{caption}: {spot}").format(caption=caption, spot=row[0])),
                Pairs(tuple(zip(heads[1:], row[1:], strict=True))),
            )
        ]
    parts = ceil((len(heads) - 1) / (MAX_COLUMNS - 1))
    width = ceil((len(heads) - 1) / parts)
    continued = tr("{caption}, continued").format(caption=caption)
    return [
        TableBlock(
            caption if start == 1 else continued,
            (heads[0], *heads[start : start + width]),
            tuple((row[0], *row[start : start + width]) for row in rows),
            small=True,
        )
        for start in range(1, len(heads), width)
    ]


def _cell(found: SpotDetails, name: str) -> str:
    """What is recorded of a spot in a column; the height with the place of the body that has it."""
    if name == "height_m":
        height, of = length_text(found.height_m), found.height_of
        return tr("{height} ({place})").format(height=height, place=of) if height and of else height or of
    if name == "plug_side" and not found.plug_side and found.has_no_plugs:
        return tr("does not apply")
    value: str = getattr(found, name)
    return value


def _of_visit(name: str, data: ReportData) -> str:
    """What was entered for the whole visit, of a field that it has as well; empty where it was changed meanwhile."""
    if not SPOT_FIELDS[name].of_visit:
        return ""
    value: str = getattr(data.circumstances, name)
    held = {getattr(circumstances, name) for circumstances in data.circumstances_at.values()}
    return value if held <= {value} else ""


def _told_once(columns: Mapping[str, Sequence[str]]) -> tuple[dict[str, str], list[str]]:
    """The columns of what is the same everywhere and says so in each line, with what, and those that are empty."""
    usual = {tr(field.label) for field in SPOT_FIELDS.values() if field.same_at == "all" or field.of_visit}
    everywhere = {
        head: cells[0]
        for head, cells in columns.items()
        if head in usual and cells[0] and len(cells) > 1 and len(set(cells)) == 1
    }
    return everywhere, [head for head, cells in columns.items() if not any(cells)]


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
    none = [spot.name for spot in data.spots if spot.name not in {photo.spot_name for photo in data.photos}]
    without = []
    if none and len(none) < len(data.spots):
        text = tr("No photo and no sketch there is of: {spots}.")
        without.append(Text(text.format(spots=joined([quoted(name) for name in none]))))
    elif none:
        without.append(Text(tr("There is no photo and no sketch of any spot.")))
    damaged = [Text(f"{_photo_text(photo)}: {photo.problem}") for photo in data.photos if photo.problem]
    return [*([Photos(shown)] if shown else []), *damaged, *without]


def _photo_text(photo: SpotPhoto) -> str:
    text = tr("“{spot}”, {kind}: {caption}") if photo.caption else tr("“{spot}”, {kind}")
    return text.format(spot=photo.spot_name, kind=tr(PHOTO_KINDS[photo.kind]), caption=photo.caption)
