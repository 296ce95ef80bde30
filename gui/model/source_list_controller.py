"""The list of circuits and cords, and how the home is supplied: edits, each of which can be undone."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from gui.model.undo_history import UndoableEdit
from gui.model.visit_controller import VisitController
from logger.errors import StillvoltError
from logger.metrology.supply import Supply
from logger.sweep.sweep_progress import circuits_of
from logger.translation import kept_text, tr, tr_kept, tr_n
from logger.visit.records.home_records import Source, SourceKind

AS_DECIDED = kept_text("as the household decided")
"""Why a circuit or cord must stay on, where nothing else was stated."""

ESSENTIAL_REASONS = (
    AS_DECIDED,
    kept_text("keeps food cold"),
    kept_text("may be a medical device"),
    kept_text("is an alarm or a pump"),
    kept_text("may carry emergency calls"),
)
"""Why a circuit must stay on, as it is offered; the log keeps these in English."""

MAX_NAMED = 3
"""So many names are listed one by one when they are added."""


def stays_text(source: Source) -> str:
    """Why a circuit or cord must stay on, as it is shown: a reason that somebody typed stays as it is."""
    return tr_kept(source.stays)


def _added_text(kind: SourceKind, count: int) -> str:
    if kind == "cord":
        return tr_n("Added {n} cord", "Added {n} cords", count).format(n=count)
    return tr_n("Added {n} circuit", "Added {n} circuits", count).format(n=count)


class SourceListController:
    """Circuits and cords of the visit.

    Args:
        controller: the visit.
        before_edit: is called before the list is changed, since what was chosen to be read next depends on it.
    """

    def __init__(self, controller: VisitController, before_edit: Callable[[], None]) -> None:
        self._controller = controller
        self.forget_chosen = before_edit
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
            What was added, also where another name was refused.
        """
        added: list[Source] = []

        def do() -> str:
            refused: list[StillvoltError] = []
            for name in names:
                try:
                    added.append(self._controller.log.circuits.add(kind, name))
                except StillvoltError as error:
                    refused.append(error)
                    continue
                self._can_undo(
                    tr("add “{name}”").format(name=name),
                    partial(self._controller.log.circuits.remove, added[-1].id),
                    partial(self._controller.log.circuits.restore, added[-1].id),
                    tr("“{name}” is off the list again").format(name=name),
                )
            if refused and not added:
                raise refused[0]
            few = len(added) <= MAX_NAMED
            stay = [
                tr("“{name}” ({why})").format(name=s.name, why=stays_text(s)) if few else s.name
                for s in added
                if s.stays
            ]
            message = (
                tr("Added: {names}").format(names=", ".join(s.name for s in added))
                if few
                else _added_text(kind, len(added))
            )
            if stay:
                message = tr("{message}. Must stay on: {names}").format(
                    message=message, names=", ".join(stay)
                )
            if refused:
                whys = " ".join(dict.fromkeys(error.what for error in refused))
                message = tr("{message}. Not added: {whys}").format(message=message, whys=whys)
            return message

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

    def toggle_essential(self, source: Source, because: str = AS_DECIDED) -> None:
        """Mark a circuit or cord as essential (it must stay on), or remove the mark."""
        why = "" if source.stays else because

        def do() -> str:
            self._controller.log.circuits.set_essential(source.id, why)
            back = source.stays
            self._can_undo(
                tr("“{source}” stays on").format(source=source.name),
                lambda: self._controller.log.circuits.set_essential(source.id, back),
                lambda: self._controller.log.circuits.set_essential(source.id, why),
                tr("“{source}” is back as it was.").format(source=source.name),
            )
            return (
                tr("“{source}” must stay on: {why}").format(source=source.name, why=tr_kept(why))
                if why
                else tr("“{source}” may be switched off").format(source=source.name)
            )

        self._edit(do)

    def toggle_two_pole(self, source: Source) -> None:
        """State that a breaker switches two legs together, or that it does not."""

        def do() -> str:
            self._controller.log.circuits.set_two_pole(source.id, not source.two_pole)
            self._can_undo(
                tr("poles of “{source}”").format(source=source.name),
                lambda: self._controller.log.circuits.set_two_pole(source.id, source.two_pole),
                lambda: self._controller.log.circuits.set_two_pole(source.id, not source.two_pole),
                tr("“{source}” is back as it was.").format(source=source.name),
            )
            text = (
                tr("“{source}” is a single-pole breaker")
                if source.two_pole
                else tr("“{source}” is a two-pole breaker")
            )
            return text.format(source=source.name)

        self._edit(do)

    def rename(self, source: Source, name: str) -> None:
        """Rename a circuit or cord."""

        def do() -> str:
            self._controller.log.circuits.rename(source.id, name)
            self._can_undo(
                tr("rename “{source}”").format(source=source.name),
                lambda: self._controller.log.circuits.rename(source.id, source.name),
                lambda: self._controller.log.circuits.rename(source.id, name),
                tr("Named “{source}” again").format(source=source.name),
            )
            return tr("“{source}” is “{name}” now").format(source=source.name, name=name)

        self._edit(do)

    def plug_into(self, cord: Source, circuit: Source | None) -> None:
        """State which circuit a cord is plugged into; None: not known."""

        def do() -> str:
            self._controller.log.circuits.set_circuit(cord.id, circuit.id if circuit else None)
            self._can_undo(
                tr("circuit of “{cord}”").format(cord=cord.name),
                lambda: self._controller.log.circuits.set_circuit(cord.id, cord.circuit_id),
                lambda: self._controller.log.circuits.set_circuit(cord.id, circuit.id if circuit else None),
                tr("“{cord}” is back as it was.").format(cord=cord.name),
            )
            if circuit is None:
                return tr("“{cord}” is plugged into an unknown circuit").format(cord=cord.name)
            return tr("“{cord}” is plugged into “{circuit}”").format(cord=cord.name, circuit=circuit.name)

        self._edit(do)

    def remove(self, source: Source) -> None:
        """Take a circuit or cord off the list."""

        def do() -> str:
            self._controller.log.circuits.remove(source.id)
            self._can_undo(
                tr("remove “{source}”").format(source=source.name),
                lambda: self._controller.log.circuits.restore(source.id),
                lambda: self._controller.log.circuits.remove(source.id),
                tr("“{source}” is back").format(source=source.name),
            )
            return tr("Removed “{source}”; its readings stay. Undo brings it back").format(source=source.name)

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
                tr("move “{source}”").format(source=source.name),
                lambda: self._controller.log.circuits.move(source.id, -by),
                lambda: self._controller.log.circuits.move(source.id, by),
                tr("Moved “{source}” back").format(source=source.name),
            )
            text = tr("Moved “{source}” down") if places > 0 else tr("Moved “{source}” up")
            return text.format(source=source.name)

        self._edit(do)

    def state_supply(self, supply: Supply) -> None:
        """State how the home is supplied: it decides which legs there are."""
        self._controller.setup.state(tr("supply {supply}").format(supply=tr(supply)), supply=supply)

    def _edit(self, do: Callable[[], str]) -> None:
        self.forget_chosen()
        self._controller.do(do)

    def _can_undo(
        self, name: str, undo: Callable[[], object], redo: Callable[[], object], undone_text: str
    ) -> None:
        self._controller.history.remember_edit(UndoableEdit(name, undo, redo, undone_text))
