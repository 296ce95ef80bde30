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
        """What is on in the night that is recorded now or next; empty while nobody entered it.

        What was stated for readings counts in the recording that goes on, while nothing speaks against it.
        """
        return self._edit.tonight() or self._stated_here()

    def needs_answer(self) -> bool:
        """Whether it has to be asked before the recording that goes on is a night's: nothing says it by now."""
        return not self.is_entered() and not self._stated_here()

    def doubt(self) -> str:
        """What speaks against what is on in the night, in a sentence; empty where nothing does.

        That it was stated in an earlier recording is said of readings alone: what was entered for the night is of the
        recording that follows. In a practice night the program itself began the recording, in the house as it stood.
        """
        controller = self._controller
        doubt, snapshot = controller.readings.condition_doubt(), controller.snapshot
        if snapshot.practice_night or self.tonight() != snapshot.condition:
            return ""
        return "" if self.is_entered() and doubt == snapshot.earlier_recording_doubt() else doubt

    def is_entered(self) -> bool:
        """Whether it was entered for the night itself, or that it is not known."""
        return self._edit.tonight() is not None

    def _stated_here(self) -> str:
        """What was stated in the recording that goes on; empty where something speaks against it."""
        controller = self._controller
        snapshot = controller.snapshot
        if not snapshot.recording or snapshot.live is None or controller.readings.condition_doubt():
            return ""
        return "" if snapshot.earlier_recording_doubt() else snapshot.condition

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
