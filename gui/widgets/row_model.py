"""The rows of a list as Qt's model of them: text for type-ahead and for who cannot see it, what can be chosen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QAbstractListModel, QModelIndex, QObject, QPersistentModelIndex, Qt

from gui.widgets.badge import Badge
from logger.translation import tr

ROW_ROLE = Qt.ItemDataRole.UserRole
"""Under which a row of the model is found."""


@dataclass(frozen=True, slots=True)
class ListRow:
    """What one row shows."""

    head: str
    value: str = ""
    small: str = ""
    small_right: str = ""
    struck: bool = False
    """Voided: struck through."""
    quiet: bool = False
    badge: Badge | None = None
    note: str = ""
    """What has to be said beside it: below the small print, over as many lines as it needs."""
    short: tuple[str, str] | None = None
    """What it shows left and right in a single line, in a list that has little room; the tip has all of it."""
    short_cut: str = ""
    """The part of the left of that line that is cut first where there is no room for it; empty: nothing is cut."""
    short_more: str = ""
    """What it shows after the left of that line; in small print below it where there is no room."""
    short_small: str = ""
    """What it shows in small print below that line; empty for nothing."""
    ticked: bool | None = None
    """Whether the box at its head is ticked; None: it has none."""
    tip: str = ""
    """What is only said in its tip, and to who cannot see it."""


@dataclass(frozen=True, slots=True)
class ListHeading:
    """What the rows below have in common; cannot be chosen. Empty: a line that ends the group above."""

    text: str


class RowModel(QAbstractListModel):
    """Rows and headings in their order.

    Args:
        parent: the list that shows them.
    """

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.items: list[ListRow | ListHeading] = []
        self.can_be_dragged = False
        """Whether a row may be dragged to another place."""
        self.key_hint = ""
        """What a key does to a row, for who cannot see the menu that says so."""

    def show(self, items: Sequence[ListRow | ListHeading]) -> None:
        """Replace the rows; a row that stays as it is stays untouched, and so does the chosen place."""
        wanted, root = list(items), QModelIndex()
        if len(wanted) < len(self.items):
            self.beginRemoveRows(root, len(wanted), len(self.items) - 1)
            del self.items[len(wanted) :]
            self.endRemoveRows()
        changed = [place for place, item in enumerate(self.items) if item != wanted[place]]
        self.items = wanted[: len(self.items)]
        for place in changed:
            self.dataChanged.emit(self.index(place), self.index(place))
        if len(wanted) > len(self.items):
            self.beginInsertRows(root, len(self.items), len(wanted) - 1)
            self.items = wanted
            self.endInsertRows()

    def rowCount(self, parent: QModelIndex | QPersistentModelIndex = QModelIndex()) -> int:  # noqa: B008  as Qt has it
        """See Qt."""
        return 0 if parent.isValid() else len(self.items)

    def data(
        self, index: QModelIndex | QPersistentModelIndex, role: int = Qt.ItemDataRole.DisplayRole
    ) -> object:
        """See Qt."""
        if not 0 <= index.row() < len(self.items):
            return None
        item = self.items[index.row()]
        if role == ROW_ROLE:
            return item
        if role == Qt.ItemDataRole.DisplayRole:
            return _type_ahead_text(item)
        if role == Qt.ItemDataRole.ToolTipRole and isinstance(item, ListRow):
            return accessible_text(item) if item.short is not None else item.tip or None
        if role == Qt.ItemDataRole.CheckStateRole and isinstance(item, ListRow) and item.ticked is not None:
            return Qt.CheckState.Checked if item.ticked else Qt.CheckState.Unchecked
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return accessible_text(item)
        if role == Qt.ItemDataRole.AccessibleDescriptionRole and isinstance(item, ListRow):
            return ". ".join(filter(None, (self._place_among_rows(index.row()), self.key_hint)))
        return None

    def _place_among_rows(self, row: int) -> str:
        """Which row it is without the headings, that a screen reader counts as well; empty where there are none."""
        places = [place for place, item in enumerate(self.items) if isinstance(item, ListRow)]
        if len(places) == len(self.items):
            return ""
        return tr("{n} of {count} without headings").format(n=places.index(row) + 1, count=len(places))

    def flags(self, index: QModelIndex | QPersistentModelIndex) -> Qt.ItemFlag:
        """See Qt: a heading cannot be chosen; between rows, and nowhere else, a dragged one can be let go."""
        if not index.isValid():
            return Qt.ItemFlag.ItemIsDropEnabled if self.can_be_dragged else Qt.ItemFlag.NoItemFlags
        if isinstance(self.items[index.row()], ListHeading):
            return Qt.ItemFlag.NoItemFlags
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemNeverHasChildren
        return flags | Qt.ItemFlag.ItemIsDragEnabled if self.can_be_dragged else flags

    def supportedDropActions(self) -> Qt.DropAction:
        """See Qt: after a move Qt would take the row away, which a drop therefore answers as a copy."""
        return Qt.DropAction.MoveAction | Qt.DropAction.CopyAction


def accessible_text(item: ListRow | ListHeading) -> str:
    """All that a row says, in one line."""
    if isinstance(item, ListHeading):
        return tr("{heading}, heading").format(heading=item.text) if item.text else ""
    ticked = "" if item.ticked is None else tr("ticked") if item.ticked else tr("not ticked")
    parts = (ticked, item.head, item.value, item.small, item.small_right, item.note, item.tip)
    return ", ".join(part for part in parts if part)


def _type_ahead_text(item: ListRow | ListHeading) -> str:
    """What the first letters of a row are looked for in: without the number before a name."""
    if isinstance(item, ListHeading):
        return ""
    number, _, name = item.head.partition("  ")
    return name if name and number.isdigit() else item.head
