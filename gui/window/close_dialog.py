"""The dialog before the window closes while the visit is recorded."""

from __future__ import annotations

from enum import Enum, auto

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QPushButton, QVBoxLayout, QWidget

from gui.translation import tr


class CloseAnswer(Enum):
    """What becomes of window and recording."""

    RECORD_ON = auto()
    STOP = auto()
    STAY = auto()


class CloseDialog(QDialog):
    """Asks whether recording goes on without the window; closing the dialog itself stays.

    Args:
        parent: the window.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.answer = CloseAnswer.STAY
        self.setWindowTitle(tr("Close the window?"))
        text = QLabel(
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

    def _add(self, text: str, role: QDialogButtonBox.ButtonRole, answer: CloseAnswer) -> QPushButton:
        button = self.buttons.addButton(text, role)

        def choose() -> None:
            self.answer = answer
            self.accept() if answer is not CloseAnswer.STAY else self.reject()

        button.clicked.connect(choose)
        return button


def ask_close(parent: QWidget) -> CloseAnswer:
    """Show the dialog until it is answered."""
    dialog = CloseDialog(parent)
    dialog.exec()
    return dialog.answer
