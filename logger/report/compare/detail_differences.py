"""How somebody was at a spot in two visits: where posture, height or person differ, or only one visit has them.

Where neither has them nothing is said: that holds for every visit of before they were kept.
"""

from __future__ import annotations

import math

from logger.metrology.rounding import plain
from logger.translation import tr
from logger.visit.records.home_details import SpotDetails
from logger.visit.records.name_key import name_key

SAME_HEIGHT_M = 0.05
"""Heights that differ by less are one height, measured with a folding rule on another day. No source, ours."""


def detail_differences(before: SpotDetails, after: SpotDetails) -> list[str]:
    """Say what differs, a few words each.

    Args:
        before: how it was when the earlier value was read.
        after: the same of the later value.
    """
    heights = (before.height_m, after.height_m)
    is_same_height = None not in heights and math.isclose(
        before.height_m or 0.0, after.height_m or 0.0, abs_tol=SAME_HEIGHT_M
    )
    found = [
        _difference(
            before.posture,
            after.posture,
            tr("posture: {before} before, {after} after"),
            tr("posture not recorded before"),
            tr("posture not recorded after"),
        ),
        ""
        if is_same_height
        else _difference(
            _metres(before.height_m),
            _metres(after.height_m),
            tr("height: {before} before, {after} after"),
            tr("height not recorded before"),
            tr("height not recorded after"),
        ),
        _difference(
            before.person,
            after.person,
            tr("person: {before} before, {after} after"),
            tr("person not recorded before"),
            tr("person not recorded after"),
        ),
    ]
    return [text for text in found if text]


def is_another_way(before: SpotDetails, after: SpotDetails) -> bool:
    """Return whether posture, height or person are recorded in both visits, and not as the same.

    Args:
        before: how it was when the earlier value was read.
        after: the same of the later value.
    """
    if before.height_m is None or after.height_m is None:
        is_other_height = False
    else:
        is_other_height = not math.isclose(before.height_m, after.height_m, abs_tol=SAME_HEIGHT_M)
    texts = ((before.posture, after.posture), (before.person, after.person))
    return is_other_height or any(one and other and name_key(one) != name_key(other) for one, other in texts)


def _difference(before: str, after: str, other: str, not_before: str, not_after: str) -> str:
    """Which of three texts holds; none where both are the same or neither is recorded."""
    if name_key(before) == name_key(after):
        return ""
    if not before or not after:
        return not_after if before else not_before
    return other.format(before=before, after=after)


def _metres(height_m: float | None) -> str:
    return "" if height_m is None else tr("{metres} m").format(metres=plain(height_m))
