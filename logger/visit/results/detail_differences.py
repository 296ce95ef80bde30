"""How somebody was at a spot at two readings: what differs, and what only one visit has.

Where neither has them nothing is said: that holds for every visit of before they were kept.
"""

from __future__ import annotations

import math

from logger.metrology.lengths import length_text
from logger.name_list import listed
from logger.translation import tr
from logger.visit.records.home_details import SPOT_FIELDS, SpotDetails
from logger.visit.records.name_key import name_key
from logger.visit.results.detail_words import short_spot_text

SAME_HEIGHT_M = 0.05
"""Heights that differ by less are one height, measured with a folding rule on another day. No source, ours."""

NAMED_APART = ("posture", "height_m", "person")
"""Fields whose difference makes another body of it, each with sentences of its own."""


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
            length_text(before.height_m),
            length_text(after.height_m),
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
        *(_other_words(before, after, name) for name in SPOT_FIELDS if name not in NAMED_APART),
        _in_one_visit(before, after, tr("not recorded before: {what}")),
        _in_one_visit(after, before, tr("not recorded after: {what}")),
    ]
    return [text for text in found if text]


def _other_words(before: SpotDetails, after: SpotDetails, name: str) -> str:
    """How a field differs that both visits have; empty where it does not."""
    one, other = getattr(before, name), getattr(after, name)
    if not one or not other or name_key(one) == name_key(other):
        return ""
    text = tr("{what}: {before} before, {after} after")
    return text.format(what=tr(SPOT_FIELDS[name].label), before=one, after=other)


def _in_one_visit(without: SpotDetails, of: SpotDetails, text: str) -> str:
    """Which further fields only the second one has; empty for none, and where the first has no description at all."""
    names = [
        tr(field.label)
        for name, field in SPOT_FIELDS.items()
        if name not in NAMED_APART and getattr(of, name) and not getattr(without, name)
    ]
    return text.format(what=listed(names)) if names and without.is_recorded else ""


def _difference(before: str, after: str, other: str, not_before: str, not_after: str) -> str:
    """Which of three texts holds; none where both are the same or neither is recorded."""
    if name_key(before) == name_key(after):
        return ""
    if not before or not after:
        return not_after if before else not_before
    return other.format(before=before, after=after)


def other_body(one: SpotDetails, other: SpotDetails) -> tuple[SpotDetails, SpotDetails] | None:
    """What of two descriptions is another body or place of it: posture, height or person; None where nothing is.

    What only one of them has is no difference. The returned descriptions have the differing parts alone.

    Args:
        one: how it was at the one reading.
        other: the same of the other.
    """
    heights = one.height_m, other.height_m
    differ = [
        *(
            name
            for name in ("posture", "person")
            if (first := getattr(one, name))
            and (second := getattr(other, name))
            and name_key(first) != name_key(second)
        ),
        *(["height_m"] if _is_other_height(*heights) else []),
    ]
    if not differ:
        return None
    first, second = (SpotDetails(**{name: getattr(d, name) for name in differ}) for d in (one, other))
    return first, second


def why_other_body(on: SpotDetails, off: SpotDetails) -> str:
    """Why on and off cannot be subtracted, as the person was otherwise there; empty where they can."""
    found = other_body(on, off)
    if found is None:
        return ""
    first, second = (short_spot_text(details, length_text) for details in found)
    return tr("Not comparable: it was not read in the same way. On: {on}. Off: {off}.").format(
        on=first, off=second
    )


def why_other_way(one: SpotDetails, other: SpotDetails) -> str:
    """Why two readings of the same are no repeats of each other, as the person was otherwise there; empty where so."""
    found = other_body(one, other)
    if found is None:
        return ""
    first, second = (short_spot_text(details, length_text) for details in found)
    return tr("Not comparable: it was not read in the same way ({one}; {other}).").format(
        one=first, other=second
    )


def _is_other_height(one: float | None, other: float | None) -> bool:
    return one is not None and other is not None and not math.isclose(one, other, abs_tol=SAME_HEIGHT_M)
