"""Asks what becomes of work under way (report, export, practice night) that would end with the window."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QProgressBar, QVBoxLayout, QWidget

from logger.translation import tr

POLL_MS = 100
"""How often the dialog looks how far the work is."""


class Work(Protocol):
    """Something that works beside the window."""

    def unfinished(self) -> str:
        """What would be lost if the window went now, with its progress, in a sentence; empty where nothing would."""
        ...

    def give_up(self) -> None:
        """End it before it is done."""
        ...


class UnfinishedDialog(QDialog):
    """Waits until the work is done, showing how far it is; it can be given up, and so can leaving.

    Args:
        parent: the window.
        works: all that may be at work.
        then: what follows once it is done, in a sentence: 'Then the window closes.'.
    """

    def __init__(self, parent: QWidget | None, works: Sequence[Work], then: str) -> None:
        super().__init__(parent)
        self._works, self._then = works, then
        self.is_given_up = False
        self.setWindowTitle(tr("Wait until it is done?"))
        self.text = QLabel()
        self.text.setWordWrap(True)
        self.text.setMinimumWidth(self.fontMetrics().averageCharWidth() * 50)
        self.bar = QProgressBar()
        self.bar.setRange(0, 0)  # it moves, and claims no share
        self.bar.setAccessibleName(tr("At work"))
        self.buttons = QDialogButtonBox()
        role = QDialogButtonBox.ButtonRole
        self.give_up = self.buttons.addButton(tr("Do not wait: give it up"), role.DestructiveRole)
        self.stay = self.buttons.addButton(tr("Stay here"), role.RejectRole)
        self.give_up.setAutoDefault(False)
        self.stay.setDefault(True)
        self.give_up.clicked.connect(self._give_up)
        self.stay.clicked.connect(self.reject)
        column = QVBoxLayout(self)
        for part in (self.text, self.bar, self.buttons):
            column.addWidget(part)
        self._timer = QTimer(self, interval=POLL_MS)
        self._timer.timeout.connect(self.refresh)
        self._timer.start()
        self.refresh()
        self.stay.setFocus()

    def refresh(self) -> None:
        """Show how far the work is; where it is done, the dialog is."""
        unfinished = what_is_unfinished(self._works)
        if unfinished:
            self.text.setText(f"{unfinished} {self._then}")
            layout = self.layout()
            needed = layout.totalHeightForWidth(self.width()) if layout is not None else 0
            self.resize(self.width(), max(self.height(), needed))  # what is said grows as the work goes on
        else:
            self._timer.stop()
            self.accept()

    def _give_up(self) -> None:
        self.is_given_up = True
        self.give_up.setEnabled(False)
        for work in self._works:
            work.give_up()
        self.refresh()


def what_is_unfinished(works: Sequence[Work]) -> str:
    """All that is under way, in whole sentences; empty where nothing is."""
    return " ".join(filter(None, (work.unfinished() for work in works)))


def may_leave(parent: QWidget, works: Sequence[Work], then: str, failed: Callable[[], bool]) -> bool:
    """Whether what was asked for may follow: nothing is under way any more, or it was given up.

    Args:
        parent: the window.
        works: all that may be at work.
        then: what follows, in a sentence.
        failed: whether the work has ended with a refusal or a question, which the user has to see first.
    """
    if not what_is_unfinished(works):
        return True
    dialog = UnfinishedDialog(parent, works, then)
    done = dialog.exec() == QDialog.DialogCode.Accepted
    return done and (dialog.is_given_up or not failed())
