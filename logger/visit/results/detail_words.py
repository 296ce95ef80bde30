"""Details of a spot and circumstances of a visit in words: what is recorded, and what is not.

A length is written by the function that the caller gives, as the window and the report show them in other units.
"""

from __future__ import annotations

from collections.abc import Callable, Collection

from logger.name_list import listed
from logger.translation import tr
from logger.visit.records.circumstances import CIRCUMSTANCE_FIELDS, Circumstances
from logger.visit.records.home_details import SPOT_FIELDS, SpotDetails

LengthText = Callable[[float], str]
"""Writes a length in metres."""


def spot_facts(details: SpotDetails, length: LengthText) -> list[tuple[str, str]]:
    """What is recorded of a spot: names with what is stated of them."""
    return _facts(details, SPOT_FIELDS, length)


def circumstance_facts(
    circumstances: Circumstances, length: LengthText, left_out: Collection[str] = ()
) -> list[tuple[str, str]]:
    """What is recorded of the circumstances: names with what is stated of them.

    Args:
        circumstances: of the visit.
        length: writes a length.
        left_out: fields that are not wanted.
    """
    return _facts(circumstances, {f: n for f, n in CIRCUMSTANCE_FIELDS.items() if f not in left_out}, length)


def not_recorded_of_spot(details: SpotDetails) -> str:
    """What is not recorded of a spot, in one sentence; empty where everything is."""
    return _not_recorded(details, SPOT_FIELDS)


def not_recorded_of_visit(circumstances: Circumstances, left_out: Collection[str] = ()) -> str:
    """What is not recorded of the circumstances, in one sentence; empty where everything is.

    Args:
        circumstances: of the visit.
        left_out: fields that are not missed.
    """
    return _not_recorded(circumstances, {f: n for f, n in CIRCUMSTANCE_FIELDS.items() if f not in left_out})


def short_spot_text(details: SpotDetails, length: LengthText) -> str:
    """What is recorded of a spot in one line, the posture first; empty where nothing is."""
    height = (
        tr("{height} above the floor").format(height=length(details.height_m))
        if details.height_m is not None
        else ""
    )
    plugged = tr("on: {devices}").format(devices=details.plugged) if details.plugged else ""
    parts = (details.posture, height, details.place, plugged, details.person, details.others)
    return " · ".join(filter(None, parts))


def _facts(
    record: SpotDetails | Circumstances, fields: dict[str, str], length: LengthText
) -> list[tuple[str, str]]:
    found = []
    for field, name in fields.items():
        value = getattr(record, field)
        if value not in ("", None):
            found.append((tr(name), length(value) if isinstance(value, float) else value))
    return found


def _not_recorded(record: SpotDetails | Circumstances, fields: dict[str, str]) -> str:
    missing = [tr(name) for field, name in fields.items() if getattr(record, field) in ("", None)]
    return tr("Not recorded: {fields}.").format(fields=listed(missing)) if missing else ""
