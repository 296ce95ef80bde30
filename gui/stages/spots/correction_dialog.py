"""The dialogs that ask for a correction of a reading: what it is to be, and why. Each makes it when it is accepted.

In: a reading and the corrections of the visit. Out: an edit that can be undone, or the sentence on why it was refused
there. An entry that is no reason stays in its field, with why beside it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QGroupBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QRadioButton,
    QVBoxLayout,
    QWidget,
)

from gui.model.undo_history import UndoableEdit
from gui.settings.form import dialog_buttons
from gui.shell.announcer import announce_at
from gui.widgets.appearance import label
from gui.widgets.text_list import TextList
from logger.translation import tr, tr_kept
from logger.visit.records.reading_corrections import why_not_reason

MARGIN_LETTERS, PART_LETTERS = 20, 45
"""Width of a dialog, in letters: what is around its parts, and each part."""

_ARROWS = {Qt.Key.Key_Up: -1, Qt.Key.Key_Left: -1, Qt.Key.Key_Down: 1, Qt.Key.Key_Right: 1}
"""How many reasons further each of these keys goes."""

LIST_ROWS = 5
"""Rows of the list of choices that are in sight at least."""


@dataclass(frozen=True, slots=True)
class Question:
    """What a dialog asks.

    Args:
        title: of the dialog.
        text: the reading and what happens, in sentences.
        ok: the text of the button that makes the correction.
        reasons: why, as it is offered and kept, in English.
        choices_title: above the list; empty where nothing is chosen.
        choices: the rows of the list.
        other_title: beside the field for something else than the choices; empty where only those can be chosen.
        why_not_other: why what was typed there is refused, in a sentence; empty where it is not.
    """

    title: str
    text: str
    ok: str
    reasons: Sequence[str]
    choices_title: str = ""
    choices: Sequence[str] = ()
    other_title: str = ""
    why_not_other: Callable[[str], str] = lambda _: ""


class _Reason(QRadioButton):
    """One reason: arrows choose it, also where none is chosen yet, for which Qt only goes there."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """See Qt."""
        places, group = _ARROWS.get(Qt.Key(event.key()), 0), self.parentWidget()
        if places == 0 or group is None:
            super().keyPressEvent(event)
            return
        reasons = group.findChildren(_Reason)
        reached = reasons[min(max(reasons.index(self) + places, 0), len(reasons) - 1)]
        reached.setFocus(Qt.FocusReason.TabFocusReason)
        reached.setChecked(True)


class CorrectionDialog(QDialog):
    """Asks what a reading is to be and why, and makes the correction when it is accepted.

    Args:
        question: what is asked.
        make: makes the correction from the row of the choice (None: what was typed), what was typed, and the reason;
            returns the edit, or None where it was refused.
        refusal: gives the sentence on why the last correction was refused.
        parent: the window that it belongs to.
    """

    made = Signal(object)
    """The edit of the correction that was made."""

    def __init__(
        self,
        question: Question,
        make: Callable[[int | None, str, str], UndoableEdit | None],
        refusal: Callable[[], str],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._question, self._make, self._refusal = question, make, refusal
        self.setWindowTitle(question.title)
        self.setAccessibleName(question.title)
        self.setModal(True)
        # Side by side, so that it fits on a low screen.
        parts = 2 if question.choices_title else 1
        self.setMinimumWidth((MARGIN_LETTERS + PART_LETTERS * parts) * self.fontMetrics().averageCharWidth())
        column = QVBoxLayout(self)
        self.text = label(question.text)
        column.addWidget(self.text)
        self.choices = TextList()
        self.other = QLineEdit()
        self.choice_error = _error_label()
        both = QHBoxLayout()
        if question.choices_title:
            left = QVBoxLayout()
            self._add_choices(left)
            both.addLayout(left, 1)
        self.reasons: list[QRadioButton] = []
        self.own_reason = _Reason(tr("Another &reason:"))
        self.reason = QLineEdit()
        self.reason_error = _error_label()
        right = QVBoxLayout()
        self._add_reasons(right)
        right.addStretch(1)
        both.addLayout(right, 1)
        column.addLayout(both, 1)
        self.error = _error_label()
        column.addWidget(self.error)
        self.buttons = dialog_buttons((QDialogButtonBox.StandardButton.Cancel, tr("Cancel")))
        self.ok = self.buttons.addButton(question.ok, QDialogButtonBox.ButtonRole.AcceptRole)
        self.ok.setDefault(True)
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        for button in (*self.reasons, self.own_reason):
            button.toggled.connect(self._check_reason_again)
        self.reason.textEdited.connect(self._check_reason_again)
        self.choices.itemSelectionChanged.connect(self._check_choice_again)
        self.other.textEdited.connect(self._check_choice_again)
        column.addWidget(self.buttons)
        (self.choices if question.choices else self.reasons[0]).setFocus()

    def _add_choices(self, column: QVBoxLayout) -> None:
        """The list, and the field for something else where there is one."""
        question = self._question
        heading = QLabel(question.choices_title)
        heading.setBuddy(self.choices)
        self.choices.setAccessibleName(question.choices_title.replace("&", ""))
        self.choices.addItems(list(question.choices))
        if len(question.choices) == 1 and not question.other_title:
            self.choices.choose(0)  # of several, Enter at once would take the first one unread
        self.choices.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.choices.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        rows = min(max(len(question.choices), 2), LIST_ROWS)
        self.choices.setMinimumHeight(rows * (self.choices.sizeHintForRow(0) + 2))
        self.choices.itemDoubleClicked.connect(self.accept)
        column.addWidget(heading)
        column.addWidget(self.choices, 1)
        if question.other_title:
            heading = QLabel(question.other_title)
            heading.setBuddy(self.other)
            self.other.setAccessibleName(question.other_title.replace("&", ""))
            # One of both: what is typed takes the choice back, and a choice what was typed.
            self.other.textEdited.connect(lambda text: self.choices.clearSelection() if text else None)
            self.choices.itemSelectionChanged.connect(
                lambda: self.other.clear() if self.choices.selectedItems() else None
            )
            column.addWidget(heading)
            column.addWidget(self.other)
        column.addWidget(self.choice_error)

    def _add_reasons(self, column: QVBoxLayout) -> None:
        group = QGroupBox(tr("Why?"))
        rows = QVBoxLayout(group)
        for text in self._question.reasons:
            button = _Reason(tr_kept(text))
            self.reasons.append(button)
            rows.addWidget(button)
        self.reason.setAccessibleName(tr("Another reason"))
        self.reason.setPlaceholderText(tr("in your own words"))
        self.reason.textEdited.connect(lambda _: self.own_reason.setChecked(True))
        rows.addWidget(self.own_reason)
        rows.addWidget(self.reason)
        rows.addWidget(self.reason_error)
        column.addWidget(group)

    def chosen_reason(self) -> str:
        """The reason that is chosen or typed; empty while there is none."""
        if self.own_reason.isChecked():
            return self.reason.text()
        chosen = zip(self._question.reasons, self.reasons, strict=True)
        return next((reason for reason, button in chosen if button.isChecked()), "")

    def accept(self) -> None:
        """Make the correction; where it is refused, the dialog stays open with the reason beside the field."""
        row = self.choices.chosen_row()
        why_choice, why_reason = self._why_not_choice(row), self._why_no_reason()
        reason = self.chosen_reason()
        for part, text in (
            (self.choice_error, why_choice),
            (self.reason_error, why_reason),
            (self.error, ""),
        ):
            _show_error(part, text)
        self._grow()
        announce_at(self, " ".join(filter(None, (why_choice, why_reason))))
        if why_choice:
            (self.other if self.other.text() else self.choices).setFocus()
            return
        if why_reason:
            self._go_to_reasons()
            return
        edit = self._make(row if row >= 0 else None, self.other.text(), reason)
        if edit is None:
            _show_error(self.error, self._refusal())
            self._grow()
            announce_at(self, self.error.text())
            return
        super().accept()
        self.made.emit(edit)

    def _why_no_reason(self) -> str:
        reason = self.chosen_reason()
        if self.own_reason.isChecked() or reason:
            return why_not_reason(reason)
        return tr("Choose why, or type a reason.")

    def _check_reason_again(self) -> None:
        """Take back what was said against the reason as soon as it is mended."""
        if self.reason_error.text():
            _show_error(self.reason_error, self._why_no_reason())

    def _check_choice_again(self) -> None:
        """Take back what was said against the choice as soon as it is mended."""
        if self.choice_error.text():
            _show_error(self.choice_error, self._why_not_choice(self.choices.chosen_row()))

    def _go_to_reasons(self) -> None:
        """Give the keyboard to what is to be mended; a reason that has it already keeps it."""
        if self.own_reason.isChecked():
            self.reason.setFocus()
        elif self.focusWidget() not in self.reasons:
            self.reasons[0].setFocus()

    def _grow(self) -> None:
        """Make room for what is shown beside the fields; nothing else gets smaller for it."""
        layout = self.layout()
        needed = layout.totalHeightForWidth(self.width()) if layout is not None else 0
        self.resize(self.width(), max(self.height(), needed))

    def _why_not_choice(self, row: int) -> str:
        question = self._question
        if not question.choices_title or row >= 0:
            return ""
        if not question.other_title:
            return tr("Choose one of the list.")
        return question.why_not_other(self.other.text())


def _error_label() -> QLabel:
    part = label("", "error")
    part.setVisible(False)
    return part


def _show_error(part: QLabel, text: str) -> None:
    part.setText(text)
    part.setVisible(bool(text))
