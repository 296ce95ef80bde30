"""The keyboard goes back to its window when a dialog closes.

In: a dialog, and the keys that still come to it while the system gives the keyboard to the window. Out: those keys,
given to the window: to its part with the keyboard, or to the action that has the key as its shortcut.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, QTimer
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence, QWindow
from PySide6.QtWidgets import QApplication, QDialog, QWidget

LATE_KEYS_MS = 500
"""So long a closed dialog is there for keys that were pressed before the window had the keyboard. No source, ours."""


class KeyboardReturn(QObject):
    """Gives the keyboard back when a dialog closes, and deletes the dialog once no key can come to it.

    Args:
        dialog: belongs to the window, or to the dialog, that gets the keyboard.
    """

    def __init__(self, dialog: QDialog) -> None:
        # Not of the dialog: it would go first while Qt still sends events to what is left of the dialog.
        super().__init__(QApplication.instance())
        self._dialog = dialog
        self._handle: QWindow | None = None
        self._timer = QTimer(self, singleShot=True, interval=LATE_KEYS_MS)
        self._timer.timeout.connect(self._end)
        dialog.finished.connect(self._closed)
        dialog.destroyed.connect(self._forget)

    def _closed(self) -> None:
        self._handle = self._dialog.windowHandle()
        if self._handle is not None:
            self._handle.installEventFilter(
                self
            )  # the dialog as the system knows it: every key comes by it first
        if (parent := self._dialog.parentWidget()) is not None:
            parent.window().activateWindow()
        self._timer.start()

    def _end(self) -> None:
        if self._handle is not None:
            self._handle.removeEventFilter(self)
        self._dialog.deleteLater()

    def _forget(self) -> None:
        self._timer.stop()
        self.deleteLater()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Give the window the keys that were pressed for it; see Qt."""
        if not isinstance(
            event, QKeyEvent
        ):  # asked first: other events come while the dialog is being destroyed
            return False
        parent = self._dialog.parentWidget()
        if self._dialog.isVisible() or parent is None:
            return False
        if event.type() == QEvent.Type.KeyPress and not event.isAutoRepeat():
            _give(event, QApplication.activeWindow() or parent.window())
        event.accept()  # no shortcut of Qt: it goes by the window that is active
        return True


def _give(event: QKeyEvent, window: QWidget) -> None:
    """Have a window do what it does at a key.

    Args:
        event: a key that was pressed.
        window: to which it was pressed, whether the system has made it the active one yet or not.
    """
    part = window.focusWidget() or window
    override = QKeyEvent(QEvent.Type.ShortcutOverride, event.key(), event.modifiers(), event.text())
    override.ignore()
    QApplication.sendEvent(part, override)
    action = None if override.isAccepted() else _action_of(QKeySequence(event.keyCombination()), window)
    if action is not None:
        action.trigger()
    elif override.isAccepted() or event.key() != Qt.Key.Key_Space:
        QApplication.sendEvent(part, QKeyEvent(event.type(), event.key(), event.modifiers(), event.text()))


def _action_of(keys: QKeySequence, window: QWidget) -> QAction | None:
    """The action of a window's shortcut; none for Space: nobody has yet seen what the big button would do now."""
    if keys == QKeySequence(Qt.Key.Key_Space):
        return None
    return next(
        (
            action
            for action in window.findChildren(QAction)
            if keys in action.shortcuts()
            and action.isEnabled()
            and action.shortcutContext() != Qt.ShortcutContext.WidgetShortcut
        ),
        None,
    )


def release_keyboard(part: QWidget) -> None:
    """Take the keyboard from a part that is about to be hidden.

    Else Qt gives it to one part after the other that comes next, and a screen reader says each.

    Args:
        part: with what is in it.
    """
    holder = QApplication.focusWidget()
    if holder is not None and (holder is part or part.isAncestorOf(holder)):
        holder.clearFocus()
