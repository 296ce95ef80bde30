"""Where the person lay in a night, as somebody entered it: never assumed, and "not recorded" where nobody did.

In: the facts of a visit log, and its spots. Out: the spot of a night, under its present name.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from logger.night.night_entries import NightEntry, entries_of, keep_entry, whole
from logger.plain_text import one_line
from logger.translation import marked, tr
from logger.visit.records.fact_names import NIGHT_SPOT
from logger.visit.records.home_records import Spot
from logger.visit.records.name_key import name_key
from logger.visit.storage.visit_log import VisitLog

WHERE_SOMEBODY_LAY = marked("Where the person lay")
NOT_RECORDED = marked("not recorded")

BED_WORDS = frozenset((
    "bed", "cot", "crib", "mattress", "sleep", "sleeping", "lying", "matratze", "liegend", "liegen", "cama", "cuna",
    "colchón", "acostado", "acostada", "tumbado", "tumbada", "lit", "berceau", "matelas", "couché", "couchée",
    "allongé", "allongée",
))  # fmt: skip
"""What says that somebody lies at a spot, in the languages of the program."""
BED_ENDING = "bett"
"""German writes kinds of beds as one word: Doppelbett."""


@dataclass(frozen=True, slots=True)
class NightSpot:
    """Where the person lay in a night.

    Args:
        spot_id: of the spot; None for a place that is no spot of the visit, or where nobody knows.
        name: its present one, or the place as it was entered; empty where nobody knows.
    """

    spot_id: int | None
    name: str

    @property
    def is_known(self) -> bool:
        """Whether somebody entered it."""
        return bool(self.name)

    @property
    def text(self) -> str:
        """The spot in words."""
        return self.name or tr(NOT_RECORDED)

    def is_another(self, other: NightSpot, *, same_visit: bool) -> bool:
        """Whether two nights were at different spots; False where either is not known.

        Args:
            other: the spot of the other night.
            same_visit: whether both are of one visit, in which a spot that was renamed is the same one.
        """
        if not self.is_known or not other.is_known or name_key(self.name) == name_key(other.name):
            return False
        return not same_visit or self.spot_id is None or self.spot_id != other.spot_id


NOWHERE_KNOWN = NightSpot(None, "")


def keep_night_spot(log: VisitLog, entry: NightEntry[NightSpot]) -> None:
    """Keep where the person lies in a night; its time is that of now."""
    spot = entry.value
    value = {"spot_id": spot.spot_id if spot else None, "spot": spot.name if spot else None}
    keep_entry(log, NIGHT_SPOT, entry, value)


def night_spot_entries(log: VisitLog) -> list[NightEntry[NightSpot]]:
    """Return what was entered for the nights of a visit, oldest first; what is no entry is left out."""
    names = {spot.id: spot.name for spot in log.spots.with_removed()}

    def spot_of(kept: Mapping[str, Any]) -> NightSpot | None:
        spot = _spot_of(kept)
        return None if spot is None else replace(spot, name=names.get(spot.spot_id or 0, spot.name))

    return entries_of(log, NIGHT_SPOT, spot_of)


def _spot_of(kept: Mapping[str, Any]) -> NightSpot | None:
    spot_id, name = kept["spot_id"], kept["spot"]
    if name is None:
        return None
    if not isinstance(name, str):
        raise TypeError(name)
    return NightSpot(None if spot_id is None else whole(spot_id), one_line(name))


def is_bed(spot: Spot, posture: str = "") -> bool:
    """Whether name or posture of a spot says that somebody lies there, in a language of the program.

    Only for what is suggested: whoever sleeps elsewhere chooses that.

    Args:
        spot: the spot.
        posture: as entered for it; empty where it was not.
    """
    words = "".join(c if c.isalnum() else " " for c in name_key(f"{spot.name} {posture}")).split()
    return any(word in BED_WORDS or word.endswith(BED_ENDING) for word in words)


def beds_first(spots: Iterable[Spot], postures: Mapping[int, str], chosen_id: int | None) -> list[Spot]:
    """Sort spots as they are suggested for a night: beds before all others, the chosen one first among its kind.

    Args:
        spots: of the visit, in the order of the route.
        postures: as entered, by the id of the spot.
        chosen_id: of the spot that the next reading is for; None for none.
    """
    return sorted(
        spots,
        key=lambda spot: (not is_bed(spot, postures.get(spot.id, "")), spot.id != chosen_id),
    )
