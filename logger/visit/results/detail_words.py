"""Details of a spot in one line: in the window, and on the form that is filled in by pen.

A length is written by the function that the caller gives, as the window and the form show them in other units.
"""

from __future__ import annotations

from collections.abc import Callable

from logger.translation import tr
from logger.visit.records.home_details import SpotDetails

LengthText = Callable[[float], str]
"""Writes a length in metres."""


def short_spot_text(details: SpotDetails, length: LengthText) -> str:
    """What is recorded of a spot in one line, the posture first; empty where nothing is."""
    height = height_text(details, length)
    plugged = tr("plugged in: {devices}").format(devices=details.plugged) if details.plugged else ""
    parts = (
        details.posture, height, details.place, details.distances, details.carried_by,
        details.cover, details.slept_in,
        details.probe_held, details.meter_place, plugged, details.plug_side, details.person, details.others,
    )  # fmt: skip
    return " · ".join(filter(None, parts))


def height_text(details: SpotDetails, length: LengthText) -> str:
    """How high the body was and which place of it, in a few words; empty where neither is recorded.

    Args:
        details: how somebody was there.
        length: writes a length in metres.
    """
    if details.height_m is None:
        return tr("height measured at: {place}").format(place=details.height_of) if details.height_of else ""
    if not details.height_of:
        return tr("{height} above the floor").format(height=length(details.height_m))
    return tr("{height} above the floor ({place})").format(
        height=length(details.height_m), place=details.height_of
    )
