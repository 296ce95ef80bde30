"""The table of circuits as Qt's model: a row for each circuit, its cords below it, an empty one to type the next in.

What cannot be kept stays in its cell, with the reason, until it is put right. No widget.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QColor, QFont

from gui.model.circuit_entry import COLUMNS, OF_CORDS, CircuitEntry, Column, counted_up
from gui.model.circuit_list_edits import CircuitListEdits, Wanted, doubled_numbers
from gui.model.source_list_controller import stays_text
from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.widgets.theme import Theme
from logger.errors import StillvoltError
from logger.plain_text import inert_cell
from logger.translation import tr
from logger.visit.records.home_records import Source

NEW = 0
"""Stands for the id of the circuit that is being typed in the last row: ids of a log begin at 1."""

_Index = QModelIndex | QPersistentModelIndex
_NO_INDEX = QModelIndex()
_ROLE = Qt.ItemDataRole


# long: every cell has a text, a state and a reason, and what is typed for the next circuit is held beside the list
class CircuitTableModel(QAbstractTableModel):
    """Rows of the list, as last read, and what was typed.

    Args:
        controller: the visit.
        edits: enters what was typed.
        theme: colours of the window.
        parent: see Qt.
    """

    entered = Signal()
    """Something was typed, and is kept or refused by now."""

    def __init__(
        self,
        controller: VisitController,
        edits: CircuitListEdits,
        theme: Theme,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._controller = controller
        self._edits = edits
        self.theme = theme
        self.sources: list[Source] = []
        self._entries: list[CircuitEntry] = []
        self._draft: dict[Column, str] = {}
        """What was typed in the last row, which is no circuit before it has a name."""
        self._refused: dict[tuple[int, Column], tuple[str, str]] = {}
        """What was typed and cannot be kept, with the reason, by the id of its circuit."""
        self.added_id = NEW
        """The circuit that the last row became with the newest edit; `NEW` where it did not."""
        self.refresh()

    # --- what is shown -----------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Show what is kept now."""
        sources = in_table_order(self._controller.snapshot.sources)
        entries = [self._edits.entry_of(source) for source in sources]
        if [s.id for s in sources] != [s.id for s in self.sources]:
            self.beginResetModel()
            self.sources, self._entries = sources, entries
            self.endResetModel()
            return
        changed = [row for row, entry in enumerate(entries) if entry != self._entries[row]]
        self.sources, self._entries = sources, entries
        if changed:
            last = len(COLUMNS) - 1
            # The last row too: what it suggests depends on those above.
            self.dataChanged.emit(self.index(changed[0], 0), self.index(len(entries), last))

    def id_at(self, row: int) -> int:
        """The id of the circuit or cord of a row; `NEW` for the last one."""
        return self.sources[row].id if 0 <= row < len(self.sources) else NEW

    def row_of(self, source_id: int) -> int:
        """The row of a circuit or cord; the last one where it is not on the list."""
        return next((row for row, s in enumerate(self.sources) if s.id == source_id), len(self.sources))

    def has_draft(self) -> bool:
        """Whether anything was typed in the last row."""
        return bool(self._draft) or any(source_id == NEW for source_id, _ in self._refused)

    def why_refused(self, row: int, column: int) -> str:
        """Why what stands in a cell is not kept, in a sentence; empty where it is."""
        return self._refused.get((self.id_at(row), COLUMNS[column]), ("", ""))[1]

    def reasons(self) -> list[str]:
        """Why cells hold what is not kept, each with the circuit it is of."""
        names = {source.id: source.name for source in self.sources}
        return [
            tr("“{text}” is not kept ({column} of “{name}”). {why}").format(
                text=text, column=column.shown, name=names.get(source_id) or tr("the new circuit"), why=why
            )
            for (source_id, column), (text, why) in self._refused.items()
            if source_id == NEW or source_id in names
        ]

    def rowCount(self, parent: _Index = _NO_INDEX) -> int:
        """See Qt."""
        return 0 if parent.isValid() else len(self.sources) + 1

    def columnCount(self, parent: _Index = _NO_INDEX) -> int:
        """See Qt."""
        return 0 if parent.isValid() else len(COLUMNS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = _ROLE.DisplayRole) -> Any:
        """See Qt."""
        if orientation is Qt.Orientation.Horizontal and role in (_ROLE.DisplayRole, _ROLE.ToolTipRole):
            shown = COLUMNS[section].shown
            if role == _ROLE.ToolTipRole and COLUMNS[section] is Column.DEVICE:
                hint = tr(
                    "What is typed, such as: 30 mA. Where there is none: none. Empty means not recorded."
                )
                return f"{shown}. {hint}"
            if role == _ROLE.ToolTipRole and COLUMNS[section] is Column.POLES:
                hint = tr(
                    "Of a breaker what it switches: phase; phase and neutral. Of a cord its plug, and where its switch "
                    "is: with earth contact, switch in the cord. Empty means not recorded."
                )
                return f"{shown}. {hint}"
            return shown
        if role != _ROLE.DisplayRole:
            return None
        is_new = section >= len(self.sources)
        return (
            self._name(section)
            if is_new
            else self._controller.snapshot.shown_source(self.sources[section]).name
        )

    def data(self, index: _Index, role: int = _ROLE.DisplayRole) -> Any:
        """See Qt."""
        row, column = index.row(), COLUMNS[index.column()]
        refused = self._refused.get((self.id_at(row), column))
        text = refused[0] if refused else self._text(row, column)
        if role == _ROLE.EditRole:
            return text
        if role == _ROLE.DisplayRole:
            if column is Column.TWO_POLE and not refused:
                return ""
            return f"    ↳ {text}" if self._is_cord(row) and column is Column.NAME else text
        if role == _ROLE.CheckStateRole and column is Column.TWO_POLE and not self._is_cord(row):
            return Qt.CheckState.Checked if text else Qt.CheckState.Unchecked
        if role == _ROLE.ToolTipRole:
            lines = filter(None, (text, refused[1] if refused else ""))
            return "<br>".join(map(escape, lines))  # Qt would read what looks like HTML in a tip as such
        if role == _ROLE.AccessibleTextRole:
            spoken = tr("{name}, {column}: {text}").format(
                name=self._name(row), column=column.shown, text=text or tr("empty")
            )
            return f"{spoken}. {refused[1]}" if refused else spoken
        if role == _ROLE.ForegroundRole and (refused or self._is_suggested(row, column)):
            return QColor(self.theme.error if refused else self.theme.quiet)
        if role == _ROLE.FontRole and (refused or self._is_suggested(row, column)):
            font = QFont()
            font.setBold(refused is not None)
            font.setItalic(refused is None)
            return font
        return None

    def flags(self, index: _Index) -> Qt.ItemFlag:
        """See Qt."""
        base = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        column = COLUMNS[index.column()]
        if self._is_cord(index.row()) and column not in OF_CORDS:
            return base
        if column is Column.TWO_POLE:
            return base | Qt.ItemFlag.ItemIsUserCheckable
        return base | Qt.ItemFlag.ItemIsEditable

    def _is_cord(self, row: int) -> bool:
        return row < len(self.sources) and self.sources[row].kind == "cord"

    def _name(self, row: int) -> str:
        """A row as it is spoken of."""
        return self.sources[row].name if row < len(self.sources) else tr("New circuit")

    def _text(self, row: int, column: Column) -> str:
        if row >= len(self.sources):
            return self._draft[column] if column in self._draft else self._suggested(column)
        if column is Column.STAYS:
            return stays_text(self.sources[row])
        if self._is_cord(row) and column not in OF_CORDS:
            return ""
        return self._entries[row].text(column)

    def _is_suggested(self, row: int, column: Column) -> bool:
        return row >= len(self.sources) and column not in self._draft

    def _suggested(self, column: Column) -> str:
        """What the last row has before anybody types in it: the panel of the one above, and the number after it."""
        circuits = [e for s, e in zip(self.sources, self._entries, strict=True) if s.kind == "circuit"]
        if column is Column.PANEL:
            return circuits[-1].details.panel if circuits else ""
        if column is not Column.NUMBER:
            return ""
        panel = self._text(len(self.sources), Column.PANEL)
        numbers = [e.details.number for e in circuits if e.details.panel == panel]
        if not numbers:
            return "1"
        number = counted_up(numbers[-1])
        while number and number in numbers:
            number = counted_up(number)
        return number

    # --- what is typed -----------------------------------------------------------------------------------

    def setData(self, index: _Index, value: Any, role: int = _ROLE.EditRole) -> bool:
        """See Qt."""
        # What cannot be kept stays in its cell.
        self.added_id = NEW
        row, column = index.row(), COLUMNS[index.column()]
        if role == _ROLE.CheckStateRole:
            value = "" if self._text(row, column) else "yes"
        elif role != _ROLE.EditRole:
            return False
        text = str(value)
        if row < len(self.sources):
            self._set_kept(self.sources[row], column, text)
        else:
            self._set_draft(column, text)
        self.dataChanged.emit(self.index(row, 0), self.index(row, len(COLUMNS) - 1))
        self.entered.emit()
        return True

    def _set_kept(self, source: Source, column: Column, text: str) -> None:
        key = source.id, column
        try:
            entry = self._edits.entry_of(source).with_text(column, text)
        except StillvoltError as error:
            self._refuse(key, text, error.what, str(error))
            return
        if not self._edits.changes(source, entry):
            self._refused.pop(key, None)
            return
        shown = entry.text(column)
        message = (
            tr("{column} of “{name}” is {text} now.").format(
                column=column.shown, name=source.name, text=shown
            )
            if shown
            else tr("{column} of “{name}” is empty now.").format(column=column.shown, name=source.name)
        )
        self._edits.enter(
            [Wanted(entry, source)],
            tr("{column} of “{name}”").format(column=column.shown, name=source.name),
            " ".join([message, *self._doubled(entry, source)]),
            tr("“{source}” is back as it was.").format(source=source.name),
        )
        if self._controller.message.refused:
            self._refuse(key, text, self._controller.message.text)
        else:
            self._refused.pop(key, None)

    def _set_draft(self, column: Column, text: str) -> None:
        text = " ".join(text.split())
        key = NEW, column
        self._refused.pop(key, None)
        self._draft.pop(column, None)
        if text != self._suggested(column):
            self._draft[column] = text
        try:
            CircuitEntry().with_text(column, text)
        except StillvoltError as error:
            self._refuse(key, text, error.what, str(error))
        self._add_draft()

    def _add_draft(self) -> None:
        """Add the circuit of the last row, once it has a name and nothing in it is refused."""
        if not self._draft.get(Column.NAME):
            return
        if why := next((why for (source_id, _), (_, why) in self._refused.items() if source_id == NEW), ""):
            self._controller.message = Message(why, refused=True)
            return
        entry = CircuitEntry()
        for column in COLUMNS:
            if text := self._text(len(self.sources), column):
                entry = entry.with_text(column, text)
        added = self._edits.enter(
            [Wanted(entry)],
            tr("add “{name}”").format(name=entry.name),
            " ".join(
                [tr("“{name}” is on the list now.").format(name=entry.name), *self._doubled(entry, None)]
            ),
            tr("“{name}” is off the list again").format(name=entry.name),
        )
        if self._controller.message.refused:
            self._refuse((NEW, Column.NAME), entry.name, self._controller.message.text)
        if not added:
            return
        self.added_id = added[0]
        self._draft.clear()
        source = next((s for s in self._controller.snapshot.sources if s.id == self.added_id), None)
        if source is not None and source.stays:
            self._controller.message = Message(
                tr("{message} It must stay on: {why}.").format(
                    message=self._controller.message.text, why=stays_text(source)
                )
            )

    def _refuse(self, key: tuple[int, Column], text: str, why: str, message: str = "") -> None:
        """Keep in its cell what cannot be kept in the log."""
        self._refused[key] = text, why
        self._controller.message = Message(message or why, refused=True)

    def _doubled(self, entry: CircuitEntry, changed: Source | None) -> list[str]:
        """A sentence where a number that was typed is at another circuit too; it is kept as it is."""
        others = [
            (e.name, e.details)
            for s, e in zip(self.sources, self._entries, strict=True)
            if s.kind == "circuit" and (changed is None or s.id != changed.id)
        ]
        before = set(doubled_numbers(others))
        return [
            text for text in doubled_numbers([*others, (entry.name, entry.details)]) if text not in before
        ]

    # --- copying -----------------------------------------------------------------------------------------

    def table_text(self) -> str:
        """The whole table with its headings, cells parted by tabs, as a spreadsheet takes it."""
        heads = [column.shown for column in COLUMNS]
        rows = [[self._text(row, column) for column in COLUMNS] for row in range(len(self.sources))]
        return "\n".join("\t".join(map(_inert, cells)) for cells in (heads, *rows)) + "\n"

    def cells_text(self, indexes: Iterable[QModelIndex]) -> str:
        """Cells, parted by tabs and in lines as they stand."""
        by_row: dict[int, dict[int, str]] = {}
        for index in indexes:
            text = str(index.data(_ROLE.EditRole) or "")
            by_row.setdefault(index.row(), {})[index.column()] = text
        columns = sorted({column for cells in by_row.values() for column in cells})
        if len(by_row) == len(columns) == 1:
            return next(iter(next(iter(by_row.values())).values()))
        lines = [[_inert(cells.get(column, "")) for column in columns] for _, cells in sorted(by_row.items())]
        return "\n".join("\t".join(line) for line in lines)


def in_table_order(sources: Iterable[Source]) -> list[Source]:
    """The circuits in their order, each with its cords behind it; cords of no known circuit at the end."""
    every = list(sources)
    circuits = [source for source in every if source.kind == "circuit"]
    ids = {circuit.id for circuit in circuits}
    cords = [source for source in every if source.kind == "cord"]
    rows: list[Source] = []
    for circuit in circuits:
        rows += [circuit, *(cord for cord in cords if cord.circuit_id == circuit.id)]
    return [*rows, *(cord for cord in cords if cord.circuit_id not in ids)]


def _inert(text: str) -> str:
    return str(inert_cell(" ".join(text.split())))
