"""Where the person lies in a night: entered for the one to come, or for one that was recorded; never assumed."""

from __future__ import annotations

from gui.model.night_entry_edit import NightEntryEdit
from gui.model.visit_controller import VisitController
from logger.night.night_spots import (
    NOWHERE_KNOWN,
    WHERE_SOMEBODY_LAY,
    NightSpot,
    beds_first,
    is_bed,
    keep_night_spot,
)
from logger.night.recorded_nights import Night
from logger.translation import marked, tr
from logger.visit import Spot

WHERE_SOMEBODY_LIES = marked("Where the person lies")


class NightSpotController:
    """Where the person lies in the nights of a visit.

    Args:
        controller: the visit.
    """

    def __init__(self, controller: VisitController) -> None:
        self._controller = controller
        self._edit = NightEntryEdit(controller, lambda: controller.snapshot.night_spots, keep_night_spot)

    def tonight(self) -> NightSpot:
        """Where the person lies in the night that is recorded now or next."""
        return self._edit.tonight() or NOWHERE_KNOWN

    def needs_answer(self) -> bool:
        """Whether nobody was asked yet where the person lies, also not that it is not known."""
        return bool(self._controller.snapshot.spots) and self._edit.tonight() is None

    def proposed(self) -> Spot | None:
        """The spot that is chosen on the stage Spots, where name or posture says that somebody lies there."""
        chosen = self._controller.route.chosen
        return chosen if chosen is not None and is_bed(chosen, self._postures().get(chosen.id, "")) else None

    def suggested(self) -> list[Spot]:
        """The spots of the visit, as they are suggested."""
        return beds_first(self._controller.snapshot.spots, self._postures(), self._controller.route.chosen_id)

    def state(self, spot: Spot | None, night: Night | None) -> bool:
        """Keep where the person lies in a night; False when refused.

        Args:
            spot: where; None: not known.
            night: the night; None for the one that is recorded now or next.
        """
        where = NOWHERE_KNOWN if spot is None else NightSpot(spot.id, spot.name)
        what = tr(WHERE_SOMEBODY_LIES) if night is None else tr(WHERE_SOMEBODY_LAY)
        return self._edit.enter(
            where,
            night,
            (tr("where the person lies"), tr("The place where the person lies is set back to what it was.")),
            f"{what}: {where.text}",
        )

    def _postures(self) -> dict[int, str]:
        """The posture at each spot for which one was entered."""
        return {
            spot_id: details.posture for spot_id, details in self._controller.snapshot.spot_details.items()
        }
