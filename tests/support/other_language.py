"""A made-up language: every sentence in brackets and longer, to see what is not translated and what is cut."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator

from PySide6.QtCore import QAbstractListModel, Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QComboBox,
    QLabel,
    QLineEdit,
    QMenu,
    QTabBar,
    QWidget,
)

from logger.catalogue import NoTranslations

OPENING, CLOSING = "⟦", "⟧"

UNITS = frozenset(
    {"min", "CSV", "JSON", "PDF", "HTML", "Ctrl", "Shift", "Enter", "Esc", "Del", "Alt", "Tab", "Ins"}
)
"""Units, formats and keys: words of three letters and more that no sentence is needed for."""

LONGER = 0.4
"""Share by which a sentence is longer."""


class OtherLanguage(NoTranslations):
    """Brackets around every sentence; its places stay."""

    def gettext(self, message: str) -> str:
        """The sentence in brackets, and longer.

        Args:
            message: in English.
        """
        letters = len(re.sub(r"\{[^}]*\}", "", message))
        more = ("~~~~~~ " * letters)[: round(LONGER * letters)]
        return f"{OPENING}{message}{more}{CLOSING}"

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        """The sentence about some things, as `gettext`.

        Args:
            msgid1: for one.
            msgid2: for several.
            n: how many there are.
        """
        return self.gettext(msgid1 if n == 1 else msgid2)


def shown_texts(window: QWidget) -> Iterator[str]:
    """Every text of a window's parts: labels, buttons, rows, menus, tips; of those in sight."""
    for part in window.findChildren(QWidget):
        if isinstance(part, QMenu):
            yield from (text for action in part.actions() for text in (action.text(), action.toolTip()))
        if not part.isVisible():
            continue
        yield part.toolTip()
        yield part.accessibleName()
        yield part.accessibleDescription()
        if isinstance(part, QLabel | QAbstractButton):
            yield part.text()
        elif isinstance(part, QLineEdit):
            yield part.placeholderText()
        elif isinstance(part, QComboBox):
            yield from (part.itemText(at) for at in range(part.count()))
        elif isinstance(part, QTabBar):
            yield from (part.tabText(at) for at in range(part.count()))
        elif isinstance(part, QAbstractItemView):
            yield from _of_rows(part)


def untranslated_words(text: str, typed: Collection[str]) -> list[str]:
    """The words of a text outside of all brackets.

    Args:
        text: as it is shown.
        typed: what the user has typed.
    """
    text = re.sub(r"<[^>]*>|&", "", text)
    while (shorter := re.sub(f"{OPENING}[^{OPENING}{CLOSING}]*{CLOSING}", "", text)) != text:
        text = shorter
    for name in sorted(typed, key=len, reverse=True):
        text = text.replace(name, "")
    return [word for word in re.findall(r"[^\W\d_]{3,}", text) if word not in UNITS]


def _of_rows(view: QAbstractItemView) -> Iterator[str]:
    model = view.model()
    if model is None:
        return
    roles = (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.AccessibleTextRole)
    for row in range(model.rowCount()):
        for column in range(1 if isinstance(model, QAbstractListModel) else model.columnCount()):
            for role in roles:
                value = model.data(model.index(row, column), role)
                yield value if isinstance(value, str) else ""
