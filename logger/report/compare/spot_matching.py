"""Which spot of an earlier visit is which of a later one, by name.

Names that a person could not distinguish are the same. Names that differ by a typing error are matched too, and the
comparison says so; a match by hand comes before both.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from logger.errors import StillvoltError
from logger.name_list import listed
from logger.translation import marked, tr
from logger.visit.records.home_records import Spot
from logger.visit.records.name_key import name_key

How = Literal["same name", "similar name", "by hand", ""]

HOW_WORDS: dict[How, str] = {
    "same name": marked("same name"),
    "similar name": marked("similar name"),
    "by hand": marked("by hand"),
}
"""How two spots were matched, for people; translated where it is shown."""

MIN_LETTERS = 5
"""Shorter names differ in more than spelling when they differ: Hall, Wall."""

LETTERS_PER_ERROR = 8
"""One typing error (a letter too many, missing, wrong, or two swapped) is allowed for each so many letters.

One is always allowed. No source."""

_PARTS = re.compile(r"[^\W\d_]+|\d+")


@dataclass(frozen=True, slots=True)
class Pair:
    """A spot of one visit and the same of the other; one of them is None where there is none."""

    before: Spot | None
    after: Spot | None
    how: How


Partners = Mapping[int, int | None]
"""By hand: id of a spot before to its id after; None: it has no partner."""


def pairs(before: Sequence[Spot], after: Sequence[Spot], by_hand: Partners) -> list[Pair]:
    """Pair the spots of both visits, in the order of the later route, then those that only the earlier visit has.

    Args:
        before: the spots of the earlier visit.
        after: the spots of the later visit.
        by_hand: what the user matched; a spot that is no longer on its list is passed over.
    """
    partner: dict[int, tuple[Spot, How]] = {}
    old_spots, listed = {spot.id: spot for spot in before}, {spot.id for spot in after}
    alone = {old_id for old_id, new_id in by_hand.items() if new_id is None or new_id in listed}
    for old_id, new_id in by_hand.items():
        if new_id in listed and old_id in old_spots:
            partner[new_id] = (old_spots[old_id], "by hand")
    left = [spot for spot in before if spot.id not in alone]
    rules: tuple[tuple[How, Callable[[Spot, Spot], bool]], ...] = (
        ("same name", _same), ("similar name", _similar),
    )  # fmt: skip
    for how, alike in rules:
        # Only where neither side could mean another one.
        free = [spot for spot in after if spot.id not in partner]
        for old in list(left):
            fitting = [new for new in free if alike(old, new)]
            if len(fitting) == 1 and sum(alike(other, fitting[0]) for other in left) == 1:
                partner[fitting[0].id] = (old, how)
        taken = {old.id for old, _ in partner.values()}
        left = [old for old in left if old.id not in taken]
    with_after = [
        Pair(partner[new.id][0], new, partner[new.id][1]) if new.id in partner else Pair(None, new, "")
        for new in after
    ]
    matched = {old.id for old, _ in partner.values()}
    return [*with_after, *(Pair(old, None, "") for old in before if old.id not in matched)]


def partners(
    by_hand: Mapping[str, str], before: Sequence[Spot], after: Sequence[Spot]
) -> dict[int, int | None]:
    """Turn matches by name into matches by id.

    Args:
        by_hand: name before to name after; an empty name after: it has no partner.
        before: the spots of the earlier visit.
        after: the spots of the later visit.

    Raises:
        StillvoltError: one names a spot that is not there, or two name the same one.
    """
    found: dict[int, int | None] = {}
    for old_name, new_name in by_hand.items():
        old = _named(old_name, before, tr("The earlier visit has no spot {name}."))
        new = _named(new_name, after, tr("The later visit has no spot {name}.")) if new_name else None
        if new is not None and new.id in found.values():
            raise StillvoltError(
                tr("Two spots are matched with {name}.").format(name=repr(new.name)),
                tr("Nothing was changed."),
                tr("Name one of them only."),
            )
        found[old.id] = new.id if new else None
    return found


def read_matches(texts: Sequence[str]) -> dict[str, str]:
    """Read matches as typed: 'Old name=New name', or 'Old name=' for one that has no partner.

    Raises:
        StillvoltError: one is not of that form, or two match the same spot.
    """
    found: dict[str, str] = {}
    for text in texts:
        old, parted, new = (part.strip() for part in text.partition("="))
        if not old or not parted:
            raise StillvoltError(
                tr("{typed} does not match two spots.").format(typed=repr(text)),
                tr("Nothing was changed."),
                tr("Type it like 'Old name=New name'."),
            )
        if name_key(old) in map(name_key, found):
            raise StillvoltError(
                tr("The spot {name} is matched twice.").format(name=repr(old)),
                tr("Nothing was changed."),
                tr("Match it with one spot only."),
            )
        found[old] = new
    return found


def _named(name: str, spots: Sequence[Spot], missing: str) -> Spot:
    found = next((spot for spot in spots if name_key(spot.name) == name_key(name)), None)
    if found is None:
        there = listed([repr(spot.name) for spot in spots])
        raise StillvoltError(
            missing.format(name=repr(name)),
            tr("Nothing was changed."),
            tr("It has {spots}.").format(spots=there) if there else tr("It has none."),
        )
    return found


def _same(one: Spot, other: Spot) -> bool:
    return name_key(one.name) == name_key(other.name)


def _similar(one: Spot, other: Spot) -> bool:
    """Return whether they may be the same word in two spellings.

    Numbers and single letters distinguish spots (Seat A, Seat B), and so do rooms.
    """
    if one.room and other.room and name_key(one.room) != name_key(other.room):
        return False
    first, second = (_PARTS.findall(name_key(spot.name)) for spot in (one, other))
    if _marks(first) != _marks(second):
        return False
    from rapidfuzz.distance import OSA  # noqa: PLC0415 - the window starts without it

    joined = "".join(first), "".join(second)
    shortest = min(map(len, joined))
    if shortest < MIN_LETTERS:
        return joined[0] == joined[1]
    errors = max(1, shortest // LETTERS_PER_ERROR)
    return OSA.distance(*joined, score_cutoff=errors) <= errors


def _marks(parts: Sequence[str]) -> list[str]:
    return [part for part in parts if part.isdigit() or len(part) == 1]
