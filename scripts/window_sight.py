"""Runs a program of the window, and tells a script beside it what stands on the screen and where.

    python scripts/window_sight.py SOCKET logger|SCRIPT [ARGUMENTS]

For scripts that work in the real window as a user does: whoever aims with a mouse looks first. Only what is in sight is
told, and nothing is done to the window; each key and click goes through the X server. SOCKET is the number of an open
socket: each line that comes is answered by one line of JSON, a list of `Seen` as dictionaries.
"""

from __future__ import annotations

import json
import runpy
import socket
import sys
import threading
import time
from dataclasses import asdict, dataclass
from pathlib import Path

from PySide6.QtCore import QCoreApplication, QMetaObject, QObject, Qt, Slot
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QCheckBox,
    QLabel,
    QLineEdit,
    QMenu,
    QMenuBar,
    QPushButton,
    QTabBar,
    QWidget,
)

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # so that the tree itself can be imported

from gui.practice.switch_board import SwitchBoard
from gui.shell.question import QuestionPanel

TICK_PIXELS = 8
"""From the left of a box that can be ticked to its middle."""


@dataclass(frozen=True, slots=True)
class Seen:
    """Something on the screen: what it is, what is written on it, and where, in pixels of the screen."""

    kind: str
    """The class of the widget, or "row", "entry" and "tab" of a list, a menu and the pages of a stage."""
    text: str
    x: int
    y: int
    """Its middle, where it is clicked."""
    is_enabled: bool = True
    is_on: bool = False
    """Ticked, pressed or chosen."""
    has_keyboard: bool = False
    is_default: bool = False
    """Enter presses it."""
    within: str = ""
    """What it is in: of a row the name of its list, else the class of the part of the window."""


def everything_in_sight() -> list[Seen]:
    """What is in sight of every window of the program, from the top of each."""
    return [
        seen
        for top in QApplication.topLevelWidgets()
        if top.isVisible()
        for widget in (top, *top.findChildren(QWidget))
        if widget.isVisible() and not widget.visibleRegion().isEmpty()
        for seen in _seen(widget)
    ]


def _seen(widget: QWidget) -> list[Seen]:
    """What a widget shows by itself, without its children."""
    if isinstance(widget, QMenu | QMenuBar):
        return _entries(widget)
    if isinstance(widget, QAbstractItemView):
        return _rows(widget)
    if isinstance(widget, QTabBar):
        return _tabs(widget)
    if isinstance(widget, QuestionPanel | SwitchBoard):
        text = widget.accessibleName()
    elif isinstance(widget, QAbstractButton):
        text = widget.text() or widget.accessibleName()
    elif isinstance(widget, QLineEdit | QLabel):
        text = widget.text()
    else:
        return []
    box = widget.visibleRegion().boundingRect()
    if isinstance(widget, QCheckBox):
        box.setWidth(2 * TICK_PIXELS)  # beside its text a box is not clicked
    middle = widget.mapToGlobal(box.center())
    return [
        Seen(
            type(widget).__name__,
            text,
            middle.x(),
            middle.y(),
            widget.isEnabled(),
            isinstance(widget, QAbstractButton) and widget.isChecked(),
            widget.hasFocus(),
            isinstance(widget, QPushButton) and widget.isDefault(),
            type(widget.parentWidget()).__name__,
        )
    ]


def _entries(menu: QMenu | QMenuBar) -> list[Seen]:
    """The entries of an open menu, or of the menu bar."""
    found = [Seen(type(menu).__name__, "", menu.x(), menu.y())]
    for action in menu.actions():
        if action.isVisible() and not action.isSeparator():
            at = menu.mapToGlobal(menu.actionGeometry(action).center())
            text = action.text().replace("&", "")
            found.append(Seen("entry", text, at.x(), at.y(), action.isEnabled(), within=type(menu).__name__))
    return found


def _rows(view: QAbstractItemView) -> list[Seen]:
    """The rows of a list of which at least half is in sight."""
    model, found = view.model(), []
    for number in range(model.rowCount()):
        index = model.index(number, 0)
        whole = view.visualRect(index)
        shown = whole & view.viewport().rect()
        if shown.isEmpty() or 2 * shown.height() < whole.height():
            continue
        at = view.viewport().mapToGlobal(shown.center())
        text = index.data(Qt.ItemDataRole.AccessibleTextRole) or index.data() or ""
        is_enabled = bool(index.flags() & Qt.ItemFlag.ItemIsEnabled)
        is_on = view.currentIndex() == index
        keyboard = is_on and view.hasFocus()
        found.append(
            Seen("row", str(text), at.x(), at.y(), is_enabled, is_on, keyboard, within=view.accessibleName())
        )
    return found


def _tabs(bar: QTabBar) -> list[Seen]:
    """The pages of a stage; that one is on which is shown."""
    found = []
    for number in range(bar.count()):
        at = bar.mapToGlobal(bar.tabRect(number).center())
        found.append(Seen("tab", bar.tabText(number), at.x(), at.y(), is_on=number == bar.currentIndex()))
    return found


class _Looker(QObject):
    """Looks, in the thread of the window."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: list[Seen] = []

    @Slot()
    def look(self) -> None:
        """Look at what is there now."""
        self.seen = everything_in_sight()


def answer_on(channel: socket.socket) -> None:
    """Answer each line that comes until the other side closes; the program has to be running."""
    while (application := QCoreApplication.instance()) is None:
        time.sleep(0.05)
    looker = _Looker()
    looker.moveToThread(application.thread())
    with channel, channel.makefile("rw", encoding="utf-8") as lines:
        for _ in lines:
            QMetaObject.invokeMethod(looker, "look", Qt.ConnectionType.BlockingQueuedConnection)
            lines.write(json.dumps([asdict(seen) for seen in looker.seen]) + "\n")
            lines.flush()


def main() -> None:
    """Run the program, which stays the one that it is without this."""
    channel = socket.socket(fileno=int(sys.argv[1]))
    threading.Thread(target=answer_on, args=(channel,), daemon=True).start()
    sys.argv = sys.argv[2:]
    if sys.argv[0].endswith(".py"):
        runpy.run_path(sys.argv[0], run_name="__main__")
    else:
        runpy.run_module(sys.argv[0], run_name="__main__", alter_sys=True)


if __name__ == "__main__":
    main()
