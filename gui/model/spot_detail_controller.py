"""How somebody is at each spot, described once: what a description begins with, and each one kept as an edit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from gui.model.undo_history import UndoableEdit, UndoHistory
from gui.model.visit_access import VisitAccess
from logger.errors import StillvoltError
from logger.translation import marked, tr
from logger.visit.records.home_details import SPOT_FIELDS, SpotDetails
from logger.visit.records.home_records import Spot

POSTURES = (
    marked("lying on the back"),
    marked("lying on the side"),
    marked("lying on the front"),
    marked("sitting, feet on the floor"),
    marked("sitting, feet up"),
    marked("standing, in shoes"),
    marked("standing, bare feet"),
)
"""What is offered; any other posture is typed. It is kept as it was shown, like every word of the user."""


@dataclass(frozen=True, slots=True)
class ProposedDetails:
    """What a description begins with.

    Args:
        details: what is described, filled up from spots that were described before.
        taken_over: the fields of `details` that are of another spot, with the name of that spot.
    """

    details: SpotDetails
    taken_over: dict[str, str]


class SpotDetailController:
    """The descriptions of the spots.

    Args:
        access: the visit.
        history: notes the edits, so that they can be undone.
    """

    def __init__(self, access: VisitAccess, history: UndoHistory) -> None:
        self._access = access
        self._history = history

    def of(self, spot: Spot) -> SpotDetails:
        """What is described of a spot; nothing where nobody has described it."""
        return self._access.snapshot.spot_details.get(spot.id, SpotDetails())

    def proposed(self, spot: Spot) -> ProposedDetails:
        """What a description of a spot begins with.

        One that is described begins as it is. Another one takes over who was measured, who stood where and where the
        meter was from the spot that was described last, and posture, measured place, bed and probe from the last one
        of the same kind: another bed. What no spot has begins with what was entered for the whole visit.
        """
        details = self.of(spot)
        if details.is_recorded:
            return ProposedDetails(details, {})
        taken_over: dict[str, str] = {}
        for other in self._described_before(spot):
            known = self.of(other)
            for field, described in SPOT_FIELDS.items():
                is_alike = described.same_at == "all" or _kind(other) == _kind(spot)
                if not (described.same_at and is_alike):
                    continue
                if not getattr(details, field) and (value := getattr(known, field)):
                    details = replace(details, **{field: value})
                    taken_over[field] = other.name
        for field, described in SPOT_FIELDS.items():
            if described.of_visit and not getattr(details, field):
                of_visit: dict[str, Any] = {field: getattr(self._access.snapshot.circumstances, field)}
                details = replace(details, **of_visit)
        return ProposedDetails(details, taken_over)

    def _described_before(self, spot: Spot) -> list[Spot]:
        """The other spots that are described, the one of which it was done last first."""
        others = [
            one for one in self._access.snapshot.spots if one.id != spot.id and self.of(one).is_recorded
        ]
        return sorted(others, key=lambda one: self.of(one).utc_ns, reverse=True)

    def describe(self, spot: Spot, details: SpotDetails) -> bool:
        """Keep what is described of a spot, as one edit; False when refused."""
        store = self._access.log.spot_details

        def change(before: SpotDetails, after: SpotDetails) -> None:
            if store.all().get(spot.id, SpotDetails()) != before:
                raise StillvoltError(
                    tr("“{spot}” has been described anew in another window.").format(spot=spot.name),
                    tr("Nothing was changed."),
                )
            store.set(spot.id, after)

        def do() -> str:
            was = store.all().get(spot.id, SpotDetails())
            entered_by = self._access.log.practitioner.current().name
            store.set(spot.id, replace(details, entered_by=entered_by))
            now = store.all().get(spot.id, SpotDetails())
            if now == was:
                return tr("“{spot}” is described as before.").format(spot=spot.name)
            self._history.remember_edit(
                UndoableEdit(
                    tr("describe “{spot}”").format(spot=spot.name),
                    lambda: change(now, was),
                    lambda: change(was, now),
                    tr("The description of “{spot}” is back as it was.").format(spot=spot.name),
                )
            )
            return tr("“{spot}” is described.").format(spot=spot.name)

        return self._access.do(do)

    def correct_earlier(self, spot: Spot) -> bool:
        """State that it was at the earlier readings of a spot as it is described now; False when refused."""

        def do() -> str:
            self._access.log.spot_details.correct_earlier(spot.id)
            return tr("The description of “{spot}” holds for its earlier readings too.").format(
                spot=spot.name
            )

        return self._access.do(do)


def _kind(spot: Spot) -> str:
    """What a spot is, without its room and what follows a comma: "Bedroom: bed, lying down" is a bed."""
    room, colon, place = spot.name.partition(":")
    name = place if colon and place.strip() and room.strip().casefold() == spot.room.casefold() else spot.name
    return name.partition(",")[0].strip().casefold()
