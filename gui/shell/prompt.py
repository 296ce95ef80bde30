"""A question in place of the page, answered by one key or one line of text. Nothing pops up."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QResizeEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from gui.widgets.appearance import label
from gui.widgets.keys import key_name
from gui.widgets.shortcut_buttons import KeyCap

MAX_FURTHER = 3
"""So many further suggestions are shown behind the first."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer: its key (as `gui.widgets.keys.key_name` names it), its text, what it does."""

    key: str
    text: str
    do: Callable[[], None]
    also: tuple[str, ...] = ()
    """Further keys with the same meaning, not shown."""


@dataclass(frozen=True, slots=True)
class Prompt:
    """What is asked.

    Either `answers`, or a line of text that goes to `on_text`, or both: an answer's key answers as long as the line is
    empty (a space goes before a text that begins with such a key). Escape always leaves everything as it is.
    """

    title: str
    text: str = ""
    answers: tuple[Choice, ...] = ()
    on_text: Callable[[str], None] | None = None
    prefilled: str = ""
    enter_text: str = "keep"
    escape_text: str = "leave it"
    suggest: Callable[[str], Sequence[str]] | None = None
    """Known texts that go with what is typed so far, the best first: that one is taken instead of what was typed."""


class _Line(QLineEdit):
    """A line that leaves keys to others as long as it is empty."""

    def __init__(self, text: str, answers: Callable[[str], bool]) -> None:
        super().__init__(text)
        self._answers = answers

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """See Qt."""
        if self.text() or not self._answers(key_name(event)):
            super().keyPressEvent(event)


class PromptPanel(QFrame):
    """Shows one question; hidden while there is none. A click on an answer does the same as its key."""

    clicked = Signal(str)

    def __init__(self, changed: Callable[[], None]) -> None:
        super().__init__()
        self.setProperty("role", "question")
        self.prompt: Prompt | None = None
        self.line: QLineEdit | None = None
        self._changed = changed
        self._body: QWidget | None = None
        self._shown: list[Choice] = []
        self._key_widgets: list[tuple[QWidget, str]] = []
        self._suggested: QLabel | None = None
        layout = QVBoxLayout(self)
        layout.setContentsMargins(14, 12, 14, 12)
        self.hide()

    def ask(self, prompt: Prompt) -> None:
        """Show a question in place of the one before."""
        self._clear()
        self.prompt = prompt
        body = QWidget()
        grid = QGridLayout(body)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setColumnStretch(1, 1)
        title = label(prompt.title)
        title.setStyleSheet("font-weight: bold;")
        grid.addWidget(title, 0, 0, 1, 2)
        if prompt.text:
            grid.addWidget(label(prompt.text), 1, 0, 1, 2)
        shown = list(prompt.answers)
        self._key_widgets = []
        if prompt.on_text is not None:
            self.line = _Line(prompt.prefilled, self._answer_by_key)
            self.line.selectAll()
            grid.addWidget(self.line, 2, 0, 1, 2)
            if prompt.suggest is not None:
                self._suggested = label("")
                self._suggested.hide()
                grid.addWidget(self._suggested, 3, 0, 1, 2)
                self.line.textEdited.connect(self._show_suggested)
            shown.append(Choice("Return", prompt.enter_text, self._take_text))
        shown.append(Choice("Esc", prompt.escape_text, self.close_prompt))
        for row, answer in enumerate(shown, start=4):
            cap = KeyCap("Enter" if answer.key == "Return" else answer.key)
            text = label(answer.text)
            grid.addWidget(cap, row, 0, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
            grid.addWidget(text, row, 1)
            self._key_widgets += [(cap, answer.key), (text, answer.key)]
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
        for widget, key in self._key_widgets:
            if widget is clicked:
                self.clicked.emit(key)
                return

    def fit(self, width: int) -> None:
        """Take the height that the texts need at that width; wrapped labels do not insist on it themselves."""
        layout = self.layout()
        # There is no height yet while the window is shown or hidden.
        if (
            layout is not None
            and self.prompt is not None
            and (height := layout.totalHeightForWidth(width)) > 0
        ):
            self.setFixedHeight(height)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self.fit(event.size().width())

    def handle(self, name: str) -> bool:
        """Answer with a key; False when the key is no answer."""
        for answer in self._shown if self.prompt is not None else ():
            if name == answer.key or name in answer.also:
                if answer.do != self._take_text:  # which leaves an empty line open
                    self.close_prompt()
                answer.do()
                return True
        return False

    def close_prompt(self) -> None:
        """Take the question away."""
        if self.prompt is None:
            return
        self._clear()
        self.hide()
        self._changed()

    def _take_text(self) -> None:
        assert self.prompt is not None and self.line is not None and self.prompt.on_text is not None
        typed, on_text = self.line.text().strip(), self.prompt.on_text
        text = next(iter(self._suggestions()), typed)
        if text:
            self.close_prompt()
            on_text(text)

    def _suggestions(self) -> Sequence[str]:
        assert self.prompt is not None and self.line is not None
        typed = self.line.text().strip()
        return self.prompt.suggest(typed) if typed and self.prompt.suggest is not None else ()

    def _show_suggested(self) -> None:
        assert self._suggested is not None and self.line is not None
        first, *others = self._suggestions() or ("",)
        text = f"Enter takes “{first}”." if first else f"“{self.line.text().strip()}” is new."
        if others:
            text += f" Also: {', '.join(others[:MAX_FURTHER])}{' and more' if others[MAX_FURTHER:] else ''}."
        self._suggested.setText(text)
        self._suggested.setVisible(bool(self.line.text().strip()))
        self.fit(self.width())

    def _answer_by_key(self, name: str) -> bool:
        """Give an answer from within the empty line; False when the key is none."""
        if self.prompt is None or all(name not in (a.key, *a.also) for a in self.prompt.answers):
            return False
        self.clicked.emit(name)
        return True

    def _clear(self) -> None:
        self.prompt = None
        self._suggested = None
        if self._body is not None:
            if self.line is not None:
                self.line.clearFocus()
            self._body.hide()
            self._body.setParent(None)
            self._body.deleteLater()
        self._body = None
        self.line = None
