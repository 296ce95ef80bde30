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
    height = (
        tr("{height} above the floor").format(height=length(details.height_m))
        if details.height_m is not None
        else ""
    )
    plugged = tr("on: {devices}").format(devices=details.plugged) if details.plugged else ""
    parts = (details.posture, height, details.place, plugged, details.person, details.others)
    return " · ".join(filter(None, parts))
