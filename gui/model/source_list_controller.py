"""The list of circuits and cords, and how the home is supplied: edits, each of which can be undone."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from gui.model.undo_history import UndoableEdit
from gui.model.visit_controller import VisitController
from logger.metrology.supply import Supply
from logger.sweep.sweep_progress import circuits_of
from logger.visit.records.home_records import Source, SourceKind

MAX_NAMED = 3
"""So many names are listed one by one when they are added."""


class SourceListController:
    """Circuits and cords of the visit.

    Args:
        controller: the visit.
        before_edit: is called before the list is changed, since what was chosen to be read next depends on it.
    """

    def __init__(self, controller: VisitController, before_edit: Callable[[], None]) -> None:
        self._controller = controller
        self._before_edit = before_edit
        self._asked_where: set[int] = set()
        """Ids of the cords of which was asked once where they are plugged in."""

    @property
    def all(self) -> list[Source]:
        """Circuits and cords, in the order of the list."""
        return self._controller.snapshot.sources

    def add(self, kind: SourceKind, *names: str) -> list[Source]:
        """Add circuits or cords; those whose names suggest it are marked as essential.

        Args:
            kind: circuit or cord.
            *names: of those that are added.

        Returns:
            What was added, also where a later name was refused.
        """
        added: list[Source] = []

        def do() -> str:
            for name in names:
                added.append(self._controller.log.circuits.add(kind, name))
                self._can_undo(
                    f"add “{name}”",
                    partial(self._controller.log.circuits.remove, added[-1].id),
                    partial(self._controller.log.circuits.restore, added[-1].id),
                    f"“{name}” is off the list again",
                )
            few = len(added) <= MAX_NAMED
            stay = [f"“{s.name}” ({s.stays})" if few else s.name for s in added if s.stays]
            message = f"Added: {', '.join(s.name for s in added)}" if few else f"Added {len(added)} {kind}s"
            return f"{message}. Must stay on: {', '.join(stay)}" if stay else message

        self._controller.do(do)
        return added

    def take_cords_to_place(self) -> list[Source]:
        """The cords of which nobody knows the circuit, each once: the user is asked where they are plugged in."""
        sources = self._controller.log.circuits.all()
        if not circuits_of(sources):
            return []
        cords = [s for s in sources if s.circuit_is_open and s.id not in self._asked_where]
        self._asked_where.update(cord.id for cord in cords)
        return cords

    def toggle_essential(self, source: Source, because: str = "as the household decided") -> None:
        """Mark a circuit or cord as essential (it must stay on), or remove the mark."""
        why = "" if source.stays else because

        def do() -> str:
            self._controller.log.circuits.set_essential(source.id, why)
            back = source.stays
            self._can_undo(
                f"“{source.name}” stays on",
                lambda: self._controller.log.circuits.set_essential(source.id, back),
                lambda: self._controller.log.circuits.set_essential(source.id, why),
                f"“{source.name}” as it was",
            )
            return f"“{source.name}” must stay on: {why}" if why else f"“{source.name}” may be switched off"

        self._edit(do)

    def toggle_two_pole(self, source: Source) -> None:
        """State that a breaker switches two legs together, or that it does not."""

        def do() -> str:
            self._controller.log.circuits.set_two_pole(source.id, not source.two_pole)
            self._can_undo(
                f"poles of “{source.name}”",
                lambda: self._controller.log.circuits.set_two_pole(source.id, source.two_pole),
                lambda: self._controller.log.circuits.set_two_pole(source.id, not source.two_pole),
                f"“{source.name}” as it was",
            )
            return f"“{source.name}” is a {'single-pole' if source.two_pole else 'two-pole'} breaker"

        self._edit(do)

    def rename(self, source: Source, name: str) -> None:
        """Rename a circuit or cord."""

        def do() -> str:
            self._controller.log.circuits.rename(source.id, name)
            self._can_undo(
                f"rename “{source.name}”",
                lambda: self._controller.log.circuits.rename(source.id, source.name),
                lambda: self._controller.log.circuits.rename(source.id, name),
                f"Named “{source.name}” again",
            )
            return f"“{source.name}” is “{name}” now"

        self._edit(do)

    def plug_into(self, cord: Source, circuit: Source | None) -> None:
        """State which circuit a cord is plugged into; None: not known."""

        def do() -> str:
            self._controller.log.circuits.set_circuit(cord.id, circuit.id if circuit else None)
            self._can_undo(
                f"circuit of “{cord.name}”",
                lambda: self._controller.log.circuits.set_circuit(cord.id, cord.circuit_id),
                lambda: self._controller.log.circuits.set_circuit(cord.id, circuit.id if circuit else None),
                f"“{cord.name}” as it was",
            )
            return f"“{cord.name}” is plugged into {f'“{circuit.name}”' if circuit else 'an unknown circuit'}"

        self._edit(do)

    def remove(self, source: Source) -> None:
        """Take a circuit or cord off the list."""

        def do() -> str:
            self._controller.log.circuits.remove(source.id)
            self._can_undo(
                f"remove “{source.name}”",
                lambda: self._controller.log.circuits.restore(source.id),
                lambda: self._controller.log.circuits.remove(source.id),
                f"“{source.name}” is back",
            )
            return f"Removed “{source.name}”; its readings stay. Undo brings it back"

        self._edit(do)

    def move(self, source: Source, places: int) -> None:
        """Move a circuit along the panel, or a cord along the cords; stops at the ends."""
        of_kind = [s.id for s in self.all if s.kind == source.kind]
        to = of_kind.index(source.id) + places
        if not 0 <= to < len(of_kind):
            return
        every = [s.id for s in self.all]
        by = every.index(of_kind[to]) - every.index(source.id)

        def do() -> str:
            self._controller.log.circuits.move(source.id, by)
            self._can_undo(
                f"move “{source.name}”",
                lambda: self._controller.log.circuits.move(source.id, -by),
                lambda: self._controller.log.circuits.move(source.id, by),
                f"Moved “{source.name}” back",
            )
            return f"Moved “{source.name}” {'down' if places > 0 else 'up'}"

        self._edit(do)

    def state_supply(self, supply: Supply) -> None:
        """State how the home is supplied: it decides which legs there are."""
        self._controller.setup.state(f"supply {supply}", supply=supply)

    def _edit(self, do: Callable[[], str]) -> None:
        self._before_edit()
        self._controller.do(do)

    def _can_undo(
        self, name: str, undo: Callable[[], object], redo: Callable[[], object], undone_text: str
    ) -> None:
        self._controller.history.remember_edit(UndoableEdit(name, undo, redo, undone_text))
