"""A question at the top of the sheet, answered by one key or one line of text. Nothing pops up."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QMouseEvent, QResizeEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QLineEdit, QVBoxLayout, QWidget

from gui.look import label
from gui.sheet import KeyCap


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer: its key (as `gui.keys.key_name` names it), what it says, what it does."""

    key: str
    text: str
    do: Callable[[], None]
    also: tuple[str, ...] = ()
    """Further keys with the same meaning, not shown."""


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked.

    Either `answers`, or a line of text that goes to `on_text` (with `answers` on keys that type nothing).
    Escape always leaves everything as it is.
    """

    title: str
    text: str = ""
    answers: tuple[Answer, ...] = ()
    on_text: Callable[[str], None] | None = None
    prefilled: str = ""
    enter_says: str = "keep"
    escape_says: str = "leave it"


class QuestionPanel(QFrame):
    """Shows one question; hidden while there is none. A click on an answer does the same as its key."""

    clicked = Signal(str)

    def __init__(self, changed: Callable[[], None]) -> None:
        super().__init__()
        self.setProperty("role", "question")
        self.question: Question | None = None
        self.line: QLineEdit | None = None
        self._changed = changed
        self._body: QWidget | None = None
        self._shown: list[Answer] = []
        self._places: list[tuple[QWidget, str]] = []
        layout = QVBoxLayout(self)
        layout.setContentsMargins(14, 12, 14, 12)
        self.hide()

    def ask(self, question: Question) -> None:
        """Show a question in place of the one before."""
        self._clear()
        self.question = question
        body = QWidget()
        grid = QGridLayout(body)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setColumnStretch(1, 1)
        title = label(question.title)
        title.setStyleSheet("font-weight: bold;")
        grid.addWidget(title, 0, 0, 1, 2)
        if question.text:
            grid.addWidget(label(question.text), 1, 0, 1, 2)
        shown = list(question.answers)
        self._places = []
        if question.on_text is not None:
            self.line = QLineEdit(question.prefilled)
            self.line.selectAll()
            grid.addWidget(self.line, 2, 0, 1, 2)
            shown.append(Answer("Return", question.enter_says, self._take_text))
        shown.append(Answer("Esc", question.escape_says, self.close_question))
        for row, answer in enumerate(shown, start=3):
            cap = KeyCap("Enter" if answer.key == "Return" else answer.key)
            says = label(answer.text)
            grid.addWidget(cap, row, 0, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
            grid.addWidget(says, row, 1)
            self._places += [(cap, answer.key), (says, answer.key)]
        self._shown = shown
        layout = self.layout()
        assert layout is not None
        layout.addWidget(body)
        self._body = body
        self.show()
        self.fit(self.width())
        if self.line is not None:
            self.line.setFocus()
        self._changed()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        clicked = self.childAt(event.position().toPoint())
        for widget, key in self._places:
            if widget is clicked:
                self.clicked.emit(key)
                return

    def fit(self, width: int) -> None:
        """Take the height that the texts need at that width; wrapped labels do not insist on it themselves."""
        layout = self.layout()
        # There is no height yet while the window is shown or hidden.
        if (
            layout is not None
            and self.question is not None
            and (height := layout.totalHeightForWidth(width)) > 0
        ):
            self.setFixedHeight(height)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self.fit(event.size().width())

    def handle(self, name: str) -> bool:
        """Answer with a key; False when the key is no answer."""
        for answer in self._shown if self.question is not None else ():
            if name == answer.key or name in answer.also:
                if answer.do != self._take_text:  # which leaves an empty line open
                    self.close_question()
                answer.do()
                return True
        return False

    def close_question(self) -> None:
        """Take the question away."""
        if self.question is None:
            return
        self._clear()
        self.hide()
        self._changed()

    def _take_text(self) -> None:
        assert self.question is not None and self.line is not None and self.question.on_text is not None
        text, on_text = self.line.text().strip(), self.question.on_text
        if text:
            self.close_question()
            on_text(text)

    def _clear(self) -> None:
        self.question = None
        if self._body is not None:
            if self.line is not None:
                self.line.clearFocus()
            self._body.hide()
            self._body.setParent(None)
            self._body.deleteLater()
        self._body = None
        self.line = None
