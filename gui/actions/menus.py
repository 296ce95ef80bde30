"""The menu bar and context menus, made from the table of actions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from PySide6.QtCore import QEvent, QPoint, Qt, QTimer
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QAbstractItemView, QApplication, QMenu, QMenuBar, QWidget

from gui.actions.registry import ActionRegistry
from gui.actions.table import ACTIONS, MENUS
from logger.translation import tr

NOTE = "menu.note"
"""The name of the entry that says why none of a menu may run."""


def fill_menu_bar(menu_bar: QMenuBar, actions: ActionRegistry) -> dict[str, QMenu]:
    """Make a menu for each name of `MENUS`, with a line between groups of actions; returns them by name.

    A group that `SUBMENUS` names is behind one entry.
    """
    menus: dict[str, QMenu] = {}
    for name, text in MENUS.items():
        menu = _named(menu_bar.addMenu(tr(text)))
        inner: dict[str, QMenu] = {}
        group = ""
        for spec in ACTIONS:
            if name not in (spec.menu, spec.also_menu):
                continue
            if spec.submenu and spec.submenu not in inner:
                if group and group not in inner:
                    menu.addSeparator()
                inner[spec.submenu] = _named(menu.addMenu(tr(spec.submenu)))
            this_group = spec.submenu or spec.group
            into = inner.get(spec.submenu, menu)
            if into is menu and group and this_group != group:
                menu.addSeparator()
            group = this_group
            into.addAction(actions[spec.id])
        menu.aboutToShow.connect(actions.refresh)
        _explain_grey(menu, actions)
        # Once it is hidden, and its neighbour shown where the user goes along the menu bar.
        menu.aboutToHide.connect(lambda: QTimer.singleShot(0, menu_bar, lambda: _leave(menu_bar)))
        menus[name] = menu
    return menus


def _explain_grey(menu: QMenu, actions: ActionRegistry) -> None:
    """Have an entry above the others say why, while none of a menu's entries may run for one and the same reason."""
    first = menu.actions()[0]
    note = QAction(menu)
    note.setObjectName(NOTE)
    note.setEnabled(False)
    note.setVisible(False)
    menu.insertAction(first, note)

    def show_or_hide() -> None:
        reason = _why_all_grey(menu, actions)
        note.setText(reason.replace("&", "&&"))
        note.setVisible(bool(reason))

    menu.aboutToShow.connect(show_or_hide)


def _why_all_grey(menu: QMenu, actions: ActionRegistry) -> str:
    """The one reason why no entry of a menu may run; empty where one may, or where the reasons differ."""
    entries = [
        entry for entry in _entries(menu) if entry.isVisible() and actions.is_bound(entry.objectName())
    ]
    reasons = {actions.why_not(entry.objectName()) for entry in entries}
    return reasons.pop() if len(reasons) == 1 else ""


def _entries(menu: QMenu) -> Iterator[QAction]:
    """The entries of a menu, with those behind an entry."""
    for entry in menu.actions():
        inner = entry.menu()
        if isinstance(inner, QMenu):
            yield from _entries(inner)
        else:
            yield entry


def _named(menu: QMenu) -> QMenu:
    """A menu that a screen reader calls by its title: Qt gives it the name of the program."""
    menu.setToolTipsVisible(True)
    menu.setAccessibleName(menu.title().replace("&", ""))
    return menu


def forget_alt(menu_bar: QMenuBar) -> None:
    """Keep the keyboard where it is after Alt with another key: Qt takes the release of Alt for that of Alt alone."""
    no_modifier = Qt.KeyboardModifier.NoModifier
    QApplication.sendEvent(menu_bar, QKeyEvent(QEvent.Type.KeyRelease, Qt.Key.Key_unknown, no_modifier))


def _leave(menu_bar: QMenuBar) -> None:
    """Give the keyboard back from a menu bar without an open menu: Qt leaves its title marked after Esc."""
    if menu_bar.activeAction() is None or QApplication.activePopupWidget() is not None:
        return
    no_modifier = Qt.KeyboardModifier.NoModifier
    QApplication.sendEvent(menu_bar, QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_Escape, no_modifier))


def context_menu(actions: ActionRegistry, action_ids: Sequence[str], parent: QWidget) -> QMenu:
    """Make a menu of these actions.

    Args:
        actions: the actions of the window.
        action_ids: as in the table; an empty one is a line between two groups.
        parent: the part that the menu belongs to.
    """
    actions.refresh()
    return menu_of(actions, action_ids, parent)


def menu_of(actions: ActionRegistry, action_ids: Sequence[str], parent: QWidget) -> QMenu:
    """Make a menu of these actions, without asking what may run now.

    Args:
        actions: the actions of the window.
        action_ids: as in the table; an empty one is a line between two groups.
        parent: the part that the menu belongs to.
    """
    menu = QMenu(parent)
    menu.setToolTipsVisible(True)
    menu.setAccessibleName(parent.accessibleName())
    for action_id in action_ids:
        if action_id:
            menu.addAction(actions[action_id])
        else:
            menu.addSeparator()
    return menu


def add_context_menu(
    part: QWidget, actions: ActionRegistry, *action_ids: str, beside_rows: Sequence[str] = ()
) -> None:
    """Have a right click on a part show these actions; on a list it chooses the row under the pointer first.

    Args:
        part: the list or picture.
        actions: the actions of the window.
        *action_ids: as in the table; an empty one is a line between two groups.
        beside_rows: those that a right click on no row of a list shows, which none of its rows is meant by.
    """

    def show(at: QPoint, ids: Sequence[str] = action_ids) -> None:
        menu = context_menu(actions, ids, part)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        view = part.viewport() if isinstance(part, QAbstractItemView) else part
        menu.popup(view.mapToGlobal(at))

    def show_clicked(at: QPoint) -> None:
        is_row = True
        if isinstance(part, QAbstractItemView):
            is_row = bool(part.indexAt(at).flags() & Qt.ItemFlag.ItemIsEnabled)
        if is_row or beside_rows:
            show(at, action_ids if is_row else beside_rows)

    part.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
    part.customContextMenuRequested.connect(show_clicked)

    def show_at_chosen() -> None:
        box = part.rect()
        if isinstance(part, QAbstractItemView) and part.currentIndex().isValid():
            box = part.visualRect(part.currentIndex())
        show(box.center())

    # Qt asks for it by the menu key alone, which many laptops lack.
    keys = QShortcut(QKeySequence("Shift+F10"), part)
    keys.setContext(Qt.ShortcutContext.WidgetShortcut)
    keys.activated.connect(show_at_chosen)
