"""The dialog before the window closes while the visit is recorded."""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum, auto

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QPushButton, QVBoxLayout, QWidget

from logger.translation import tr

POLL_MS = 250
"""How often the dialog looks whether the recording goes on still: another window may stop it."""


class CloseAnswer(Enum):
    """What becomes of window and recording."""

    RECORD_ON = auto()
    STOP = auto()
    STAY = auto()


class CloseDialog(QDialog):
    """Asks whether recording goes on without the window; closing the dialog itself stays.

    Args:
        parent: the window.
        is_recorded: whether the recording goes on still; where it has ended, the dialog says so.
    """

    def __init__(self, parent: QWidget | None = None, is_recorded: Callable[[], bool] = lambda: True) -> None:
        super().__init__(parent)
        self._is_recorded = is_recorded
        self.answer = CloseAnswer.STAY
        self.setWindowTitle(tr("Close the window?"))
        self.text = text = QLabel(
            tr(
                "The visit is being recorded. Recording can go on without the window; opening the visit again shows "
                "it from where it is."
            )
        )
        text.setWordWrap(True)
        self.buttons = QDialogButtonBox()
        role = QDialogButtonBox.ButtonRole
        self.record_on = self._add(
            tr("Go on recording in the background"), role.AcceptRole, CloseAnswer.RECORD_ON
        )
        self.stop = self._add(tr("Stop recording and close"), role.DestructiveRole, CloseAnswer.STOP)
        self.stay = self._add(tr("Stay"), role.RejectRole, CloseAnswer.STAY)
        self.record_on.setDefault(True)
        column = QVBoxLayout(self)
        column.addWidget(text)
        column.addWidget(self.buttons)
        self._timer = QTimer(self, interval=POLL_MS)
        self._timer.timeout.connect(self.notice_end)
        self._timer.start()

    def notice_end(self) -> None:
        """Say that the recording has ended, where another window stopped it; closing then is all that is asked."""
        if self._is_recorded():
            return
        self._timer.stop()
        self.text.setText(tr("The recording has ended. Everything recorded is kept."))
        self.record_on.setText(tr("Close"))
        self.stop.hide()

    def _add(self, text: str, role: QDialogButtonBox.ButtonRole, answer: CloseAnswer) -> QPushButton:
        button = self.buttons.addButton(text, role)

        def choose() -> None:
            self.answer = answer
            self.accept() if answer is not CloseAnswer.STAY else self.reject()

        button.clicked.connect(choose)
        return button


def ask_close(parent: QWidget, is_recorded: Callable[[], bool]) -> CloseAnswer:
    """Show the dialog until it is answered.

    Args:
        parent: the window.
        is_recorded: whether the recording goes on still.
    """
    dialog = CloseDialog(parent, is_recorded)
    dialog.exec()
    return dialog.answer
