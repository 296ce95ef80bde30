"""Changes of several fields of circuits and cords at once, each one step to undo: what the table of circuits enters."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from gui.model.circuit_entry import CircuitEntry, is_same
from gui.model.undo_history import UndoableEdit
from gui.model.visit_controller import VisitController
from logger.name_list import joined, quoted
from logger.translation import tr
from logger.visit.records.home_details import SourceDetails
from logger.visit.records.home_records import Source


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a circuit or cord shall be.

    Args:
        entry: what is to be kept of it.
        source: the one that is changed; None: a circuit is added at the end of the list.
    """

    entry: CircuitEntry
    source: Source | None = None


class CircuitListEdits:
    """Enters rows of the table of circuits into the visit.

    Args:
        controller: the visit.
        before_edit: is called before the list is changed, since what was chosen to be read next depends on it.
    """

    def __init__(self, controller: VisitController, before_edit: Callable[[], None]) -> None:
        self._controller = controller
        self._before_edit = before_edit

    def enter(self, wanted: Sequence[Wanted], edit: str, message: str, undone: str) -> list[int]:
        """Enter rows, as one step to undo; what went before a refusal is entered, and can be undone.

        Args:
            wanted: the rows.
            edit: what is done, as the menu names it behind Undo.
            message: the outcome.
            undone: the message once it is undone.

        Returns:
            The ids of what was entered, in their order.
        """
        undo: list[Callable[[], object]] = []
        redo: list[Callable[[], object]] = []
        entered: list[int] = []
        log = self._controller.log
        details_of = log.source_details.all()

        def enter_one(row: Wanted) -> None:
            if row.source is None:
                # What cannot be kept is refused before anything is.
                details = replace(row.entry.details, entered_by=log.practitioner.current().name).kept()
                added = log.circuits.add("circuit", row.entry.name, two_pole=row.entry.two_pole)
                undo.append(partial(log.circuits.remove, added.id))
                redo.append(partial(log.circuits.restore, added.id))
                entered.append(added.id)
                if details.is_recorded:
                    log.source_details.set(added.id, details)
                if row.entry.stays is not None:
                    log.circuits.set_essential(added.id, row.entry.stays)
                return
            before = CircuitEntry.of(row.source, details_of.get(row.source.id))
            stays = before.stays if row.entry.stays is None else row.entry.stays
            after = replace(row.entry, stays=stays)
            undo.append(partial(self._put, row.source.id, before, after))
            redo.append(partial(self._put, row.source.id, after, before))
            entered.append(row.source.id)
            self._put(row.source.id, after, before)

        def do() -> str:
            try:
                for row in wanted:
                    enter_one(row)
            finally:
                if undo:
                    self._controller.history.remember_edit(
                        UndoableEdit(edit, partial(_run, undo[::-1]), partial(_run, tuple(redo)), undone)
                    )
            return message

        self._before_edit()
        self._controller.do(do)
        if self._controller.message.refused and entered:
            self._controller.snapshot.refresh(force=True)
        return entered

    def _put(self, source_id: int, entry: CircuitEntry, before: CircuitEntry) -> None:
        """Enter what differs from before."""
        log = self._controller.log
        if entry.name != before.name:
            log.circuits.rename(source_id, entry.name)
        if entry.details != before.details:
            who = log.practitioner.current().name
            log.source_details.set(source_id, replace(entry.details, entered_by=who))
        if entry.two_pole != before.two_pole:
            log.circuits.set_two_pole(source_id, entry.two_pole)
        if entry.stays != before.stays:
            log.circuits.set_essential(source_id, entry.stays or "")

    def changes(self, source: Source, entry: CircuitEntry) -> bool:
        """Whether an entry says anything else of a circuit or cord than what is kept of it."""
        return not is_same(source, entry, self.entry_of(source))

    def entry_of(self, source: Source) -> CircuitEntry:
        """What is kept of a circuit or cord."""
        return CircuitEntry.of(source, self._controller.snapshot.source_details.get(source.id))


def _run(steps: Iterable[Callable[[], object]]) -> None:
    for step in steps:
        step()


def doubled_numbers(circuits: Iterable[tuple[str, SourceDetails]]) -> list[str]:
    """Sentences on numbers that more than one circuit of a panel has; they are kept as they are.

    Args:
        circuits: name and details of each circuit.
    """
    names: defaultdict[tuple[str, str], list[str]] = defaultdict(list)
    for name, details in circuits:
        if details.number:
            names[details.panel.casefold(), details.number.casefold()].append(name)
    return [
        tr("The number {number} is at more than one circuit: {names}.").format(
            number=number.upper(), names=joined([quoted(name) for name in same])
        )
        for (_, number), same in names.items()
        if len(same) > 1
    ]
