"""A form of native controls: each has a name, a hint, and beside it room for what is wrong with its content."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import (
    QComboBox,
    QDialogButtonBox,
    QFormLayout,
    QFrame,
    QLabel,
    QLineEdit,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from gui.widgets.appearance import label, set_role
from gui.widgets.choice_box import ChoiceBox
from logger.translation import tr

MAX_TYPED_LETTERS = 20_000
"""What a text field takes at all: whatever is longer than its own limit is kept and explained, not cut."""


class EntryField(QWidget):
    """A control with a hint and, below it, what is wrong with its content.

    Args:
        name: what the control is for, as its label has it.
        control: takes the content.
        hint: what to enter; empty for none.
    """

    def __init__(self, name: str, control: QWidget, hint: str = "") -> None:
        super().__init__()
        self.control = control
        self.why = ""
        """What is wrong with the content, in a sentence; empty where nothing is known to be."""
        self._hint = label(hint, "quiet")
        self._error = label("", "error")
        self._error.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._description = hint
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 6)
        column.setSpacing(2)
        for part in (control, self._error, self._hint):
            column.addWidget(part)
        self._hint.setVisible(bool(hint))
        control.setAccessibleName(name)
        self.setFocusProxy(control)
        self.show_mistake("")

    def show_mistake(self, why: str) -> None:
        """Show what is wrong with the content; what was typed stays.

        Args:
            why: a sentence; empty takes the one before away.
        """
        self.why = why
        self._error.setText(why)
        self._error.setVisible(bool(why))
        self.control.setAccessibleDescription(why or self._description)
        if isinstance(self.control, QLineEdit):
            self.control.setProperty("invalid", bool(why))
            self.control.style().unpolish(self.control)
            self.control.style().polish(self.control)

    def show_hint(self, hint: str) -> None:
        """Show another hint."""
        self._description = hint
        self._hint.setText(hint)
        self._hint.setVisible(bool(hint))
        self.show_mistake(self.why)


class Caption(QLabel):
    """The name beside a control, one letter of it underlined.

    Args:
        name: with "&" before that letter.
        control: what it names.
    """

    def __init__(self, name: str, control: QWidget) -> None:
        super().__init__(name)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setBuddy(control)

    def sizeHint(self) -> QSize:
        """Qt measures letters that are set close, such as T and e, but draws an underlined one apart; see Qt."""
        size = super().sizeHint()
        return QSize(size.width() + self.fontMetrics().averageCharWidth() // 2, size.height())


class FormPage(QScrollArea):
    """A page of fields that is scrolled where the screen is too low."""

    def __init__(self) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        # Only its controls are stations of Tab.
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.fields: list[EntryField] = []
        inner = QWidget()
        self.form = QFormLayout(inner)
        self.form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        self.form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        self.form.setContentsMargins(14, 14, 14, 10)
        self.form.setHorizontalSpacing(16)
        self.setWidget(inner)

    def add_field(self, name: str, control: QWidget, hint: str = "") -> EntryField:
        """Add a control with its name to the left.

        Args:
            name: what it is for, with "&" before the letter that Alt reaches it by.
            control: takes the content.
            hint: what to enter; empty for none.
        """
        field = EntryField(name.replace("&", ""), control, hint)
        self.form.addRow(Caption(name, control), field)
        self.fields.append(field)
        return field

    def add_line(self, widget: QWidget) -> None:
        """Add something over the whole width."""
        self.form.addRow(widget)

    def show_first_mistake(self) -> bool:
        """Bring the first field with a mistake into sight and give it the keyboard; False where there is none."""
        wrong = next((field for field in self.fields if field.why), None)
        if wrong is None:
            return False
        self.ensureWidgetVisible(wrong)
        wrong.control.setFocus(Qt.FocusReason.OtherFocusReason)
        return True


def text_field(text: str = "", placeholder: str = "") -> QLineEdit:
    """A line to type in.

    Args:
        text: what it holds first.
        placeholder: what is shown while it is empty.
    """
    line = QLineEdit(text)
    line.setMaxLength(MAX_TYPED_LETTERS)
    line.setPlaceholderText(placeholder)
    line.setMinimumWidth(60)
    return line


def choice_field(choices: Sequence[tuple[str, object]], chosen: object) -> QComboBox:
    """A box to choose one of a few in.

    Args:
        choices: each in words, with its value.
        chosen: the value that is chosen first.
    """
    box = ChoiceBox()
    for words, value in choices:
        box.addItem(words, value)
    box.setCurrentIndex(next((i for i, (_, value) in enumerate(choices) if value == chosen), 0))
    return box


def dialog_buttons(*kinds: tuple[QDialogButtonBox.StandardButton, str]) -> QDialogButtonBox:
    """The buttons of a dialog, in the order of the system.

    Args:
        kinds: each with its words.
    """
    box = QDialogButtonBox()
    for kind, words in kinds:
        button = box.addButton(kind)
        button.setText(tr(words))
        button.setIcon(QIcon())  # the system's pictures are black on the dark theme too
        if kind is QDialogButtonBox.StandardButton.Close:  # Enter is for what the dialog is about
            button.setAutoDefault(False)
    return box


def show_note(line: QLabel, text: str, is_mistake: bool) -> None:
    """Put a sentence into a label of a form.

    Args:
        line: the label, as `gui.widgets.appearance.label` makes it.
        text: the sentence; an empty one hides the label.
        is_mistake: whether it tells of a mistake.
    """
    set_role(line, "error" if is_mistake else "quiet")
    line.setText(text)
    line.setVisible(bool(text))
