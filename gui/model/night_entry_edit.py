"""Enters something of a night, for the one to come or for one that was recorded, and takes it back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Generic, TypeVar

from gui.model.undo_history import UndoableEdit
from gui.model.visit_controller import VisitController
from logger.night.night_entries import NightEntry, entered_for
from logger.night.recorded_nights import Night
from logger.visit import VisitLog

Value = TypeVar("Value")


class NightEntryEdit(Generic[Value]):
    """What is entered of nights, of one kind.

    Args:
        controller: the visit.
        entries: gives those of the visit, oldest first.
        keep: keeps one in the log.
    """

    def __init__(
        self,
        controller: VisitController,
        entries: Callable[[], Sequence[NightEntry[Value]]],
        keep: Callable[[VisitLog, NightEntry[Value]], None],
    ) -> None:
        self._controller = controller
        self._entries = entries
        self._keep = keep

    def tonight(self) -> Value | None:
        """What was entered for the night that is recorded now or next; None while nobody entered it."""
        return entered_for(self._entries(), self._runs_going_on(), self._begins_utc_ns())

    def enter(
        self,
        value: Value,
        night: Night | None,
        edit: tuple[str, str],
        said: str,
        refuse: Callable[[], None] = lambda: None,
    ) -> bool:
        """Keep it of a night; False when refused.

        Args:
            value: what is so in it.
            night: the night; None for the one that is recorded now or next.
            edit: what is entered, and that it is back as it was, for undo.
            said: what the user is told.
            refuse: raises StillvoltError where it cannot be kept.
        """
        log = self._controller.log
        if night is None:
            run_ids, start_utc_ns = self._runs_going_on(), self._begins_utc_ns()
        else:
            run_ids, start_utc_ns = tuple(night.run_starts_s), night.start_utc_ns
        entry = NightEntry(value, run_ids[0] if run_ids else None, night is None)
        before = replace(entry, value=entered_for(self._entries(), run_ids, start_utc_ns))

        def do() -> str:
            refuse()
            self._keep(log, entry)
            name, undone = edit
            self._controller.history.remember_edit(
                UndoableEdit(name, lambda: self._keep(log, before), lambda: self._keep(log, entry), undone)
            )
            return said

        return self._controller.do(do)

    def _runs_going_on(self) -> tuple[int, ...]:
        """The id of the run that is recorded now; empty where none is."""
        snapshot = self._controller.snapshot
        is_going_on = snapshot.recording and snapshot.live is not None
        return (snapshot.live.run_id,) if is_going_on and snapshot.live is not None else ()

    def _begins_utc_ns(self) -> int:
        """When the recording of the night begins: that which goes on has begun, else it is now at the earliest."""
        snapshot = self._controller.snapshot
        if snapshot.recording and snapshot.live is not None:
            return snapshot.live.run_started_utc_ns
        return self._controller.clock.utc_ns()
