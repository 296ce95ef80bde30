"""What is on in a night: entered for the one to come, or for one that was recorded; never assumed."""

from __future__ import annotations

from gui.model.condition_controller import refuse_value_as_condition
from gui.model.night_entry_edit import NightEntryEdit
from gui.model.visit_controller import VisitController
from logger.night.night_conditions import NOT_ENTERED, WHAT_WAS_ON, keep_night_entry
from logger.night.recorded_nights import Night
from logger.translation import marked, tr, tr_kept
from logger.visit.records.condition import typed_condition

WHAT_IS_ON = marked("What is on in the night")


class NightConditionController:
    """What is on in the nights of a visit.

    Args:
        controller: the visit.
    """

    def __init__(self, controller: VisitController) -> None:
        self._controller = controller
        self._edit = NightEntryEdit(controller, lambda: controller.snapshot.night_entries, keep_night_entry)

    def tonight(self) -> str:
        """What is on in the night that is recorded now or next; empty while nobody entered it."""
        entered = self._edit.tonight()
        return self._controller.snapshot.condition if entered is None else entered

    def state(self, condition: str, night: Night | None) -> bool:
        """Keep what is on in a night; False when refused.

        Args:
            condition: what is on; empty: not known.
            night: the night; None for the one that is recorded now or next.
        """
        condition = typed_condition(condition)
        what = tr(WHAT_IS_ON) if night is None else tr(WHAT_WAS_ON)
        return self._edit.enter(
            condition,
            night,
            (tr("what is on in the night"), tr("What is on in the night is back as it was.")),
            f"{what}: {tr_kept(condition) or tr(NOT_ENTERED)}",
            lambda: refuse_value_as_condition(condition),
        )
