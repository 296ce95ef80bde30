"""What is on in a night: entered for the one to come, or for one that was recorded; never assumed."""

from __future__ import annotations

from dataclasses import replace

from gui.model.condition_controller import refuse_value_as_condition
from gui.model.undo_history import UndoableEdit
from gui.model.visit_controller import VisitController
from logger.night.night_conditions import (
    NOT_ENTERED,
    WHAT_WAS_ON,
    NightEntry,
    entered_for,
    keep_night_entry,
)
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

    def tonight(self) -> str:
        """What is on in the night that is recorded now or next; empty while nobody entered it.

        What was stated for readings counts in the recording that goes on, while nothing speaks against it.
        """
        return self._entered_tonight() or self._stated_here()

    def needs_answer(self) -> bool:
        """Whether it has to be asked before the recording that goes on is a night's: nothing says it by now."""
        return not self.is_entered() and not self._stated_here()

    def is_entered(self) -> bool:
        """Whether it was entered for the night itself, or that it is not known."""
        return self._entered_tonight() is not None

    def _entered_tonight(self) -> str | None:
        run_id = self._run_going_on()
        run_ids = () if run_id is None else (run_id,)
        return entered_for(self._controller.snapshot.night_entries, run_ids, self._controller.clock.utc_ns())

    def _stated_here(self) -> str:
        """What was stated in the recording that goes on; empty where something speaks against it."""
        controller, run_id = self._controller, self._run_going_on()
        if run_id is None or controller.readings.condition_doubt():
            return ""
        snapshot = controller.snapshot
        return "" if snapshot.earlier_recording_doubt() else snapshot.condition

    def state(self, condition: str, night: Night | None) -> bool:
        """Keep what is on in a night; False when refused.

        Args:
            condition: what is on; empty: not known.
            night: the night; None for the one that is recorded now or next.
        """
        condition = typed_condition(condition)
        log, entries = self._controller.log, self._controller.snapshot.night_entries
        if night is None:
            run_ids: tuple[int, ...] = tuple(filter(None, (self._run_going_on(),)))
            start_utc_ns = self._controller.clock.utc_ns()
        else:
            run_ids, start_utc_ns = tuple(night.run_starts_s), night.start_utc_ns
        entry = NightEntry(condition, run_ids[0] if run_ids else None, night is None)
        before = replace(entry, condition=entered_for(entries, run_ids, start_utc_ns))

        def do() -> str:
            refuse_value_as_condition(condition)
            keep_night_entry(log, entry)
            self._controller.history.remember_edit(
                UndoableEdit(
                    tr("what is on in the night"),
                    lambda: keep_night_entry(log, before),
                    lambda: keep_night_entry(log, entry),
                    tr("What is on in the night is back as it was."),
                )
            )
            what = tr(WHAT_IS_ON) if night is None else tr(WHAT_WAS_ON)
            return f"{what}: {tr_kept(condition) or tr(NOT_ENTERED)}"

        return self._controller.do(do)

    def _run_going_on(self) -> int | None:
        """The id of the run that is recorded now; None where none is."""
        snapshot = self._controller.snapshot
        return snapshot.live.run_id if snapshot.recording and snapshot.live is not None else None
