"""A question in place of the page: a title, a text, and real buttons, a field, a list or tick boxes to answer it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace

from PySide6.QtCore import QEvent, QObject, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QAccessible, QAccessibleEvent, QFontMetrics, QKeyEvent, QMouseEvent, QResizeEvent
from PySide6.QtWidgets import (
    QApplication,
    QCheckBox,
    QFrame,
    QGridLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from gui.actions.action_buttons import FlowLayout
from gui.actions.spoken_text import set_spoken_description, set_spoken_name
from gui.shell.answer_guard import ENTER_KEYS, UNASKED_GUARD_S, AnswerGuard
from gui.widgets.appearance import label
from gui.widgets.keyboard_return import release_keyboard
from gui.widgets.text_list import TextList
from logger.clock import NS_PER_S, Clock
from logger.translation import at_start, marked, tr

MAX_FURTHER = 3
"""So many further suggestions are shown behind the first."""

HEAD_LINES, HEAD_SHARE = 6, 0.33
"""So many lines the title and text of a question take at least, or that share of a low panel: the answers stand at the
same height, whichever question it is."""

_END_TEXT = frozenset({Qt.Key.Key_Space, Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Tab, Qt.Key.Key_Backtab})
"""Keys after which the next letter is the first of another answer's text, where Space is none of it."""

UNCHOSEN = marked("Choose an answer with the arrows first.")

MAX_BUTTONS = 6
"""More answers than these are a list, of which one row is chosen."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer: its text, what it does, whether Enter gives it at once, and whether it is a name.

    A default harms nothing, or repeats what the log or the laptop already says. An answer that states a fact of the
    visit, voids, removes or replaces is none: a stray Enter would give it.

    A name that somebody typed, or of a file, stands as it is: `d2` and `D2` are two.
    """

    text: str
    do: Callable[[], object]
    default: bool = False
    is_name: bool = False

    @property
    def shown_text(self) -> str:
        """The text as a button or a row begins with it."""
        return self.text if self.is_name else at_start(self.text)


@dataclass(frozen=True, slots=True)
class Tick:
    """One of several things that can be chosen together."""

    text: str
    is_on: bool = True


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked: `answers` to choose from, a line of text that goes to `on_text`, `ticks`, or several of these.

    Cancel, which Esc does too, always leaves everything as it is.
    """

    title: str
    text: str = ""
    answers: tuple[Choice, ...] = ()
    on_text: Callable[[str], str | None] | None = None
    """Takes what was typed. A sentence that it returns is shown beside the field, and the question stays open."""
    prefilled: str = ""
    enter_text: str = field(default_factory=lambda: tr("OK"))
    escape_text: str = field(default_factory=lambda: tr("Cancel"))
    suggest: Callable[[str], Sequence[str]] | None = None
    """Known texts that go with what is typed so far, the best first: that one is taken instead of what was typed."""
    why_invalid: Callable[[str], str] | None = None
    """Why a typed text cannot be taken, in a whole sentence; empty where it can."""
    ticks: tuple[Tick, ...] = ()
    on_ticks: Callable[[tuple[int, ...]], object] | None = None
    """Takes the places of the boxes that are ticked, from 0."""


class AnswerButton(QPushButton):
    """A button of a question, which Enter presses too.

    A text that is too long for the width goes on in the next line: no answer is cut.

    Args:
        text: the answer, in one line.
    """

    def __init__(self, text: str) -> None:
        super().__init__(_escaped(text))
        self.setAutoDefault(True)
        self.setAccessibleName(text)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self._text = text

    def text(self) -> str:
        """The whole answer, however many lines it takes on the screen."""
        return self._text

    def sizeHint(self) -> QSize:
        """See Qt: room for the whole answer in one line, as high as the lines that it takes now."""
        width = self.fontMetrics().horizontalAdvance(self._text) + self._frame_width()
        return QSize(width, super().sizeHint().height())

    def minimumSizeHint(self) -> QSize:
        """See Qt: room for the longest word."""
        widest = max(map(self.fontMetrics().horizontalAdvance, self._text.split()), default=0)
        return QSize(widest + self._frame_width(), super().sizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        lines = _escaped(_lines_within(self._text, self.fontMetrics(), self.width() - self._frame_width()))
        if lines != super().text():
            self.setText(lines)

    def _frame_width(self) -> int:
        """What frame and margins take from the width, in pixels."""
        shown = self.fontMetrics().size(Qt.TextFlag.TextShowMnemonic, super().text())
        return super().sizeHint().width() - shown.width()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """See Qt."""
        if event.key() in ENTER_KEYS:
            self.click()
        else:
            super().keyPressEvent(event)


class _AnswerList(TextList):
    """The answers as rows. Enter and Space take the chosen one, and go no further: another question may be open then.

    Args:
        name: what is asked.
        take_row: takes the chosen row, or says that none is.
        clock: injected time.
    """

    def __init__(self, name: str, take_row: Callable[[], None], clock: Clock) -> None:
        super().__init__(name)
        self._take, self._clock = take_row, clock
        self._letter_ns: int | None = None
        """When a letter was typed that goes to a row, steady; None before."""
        self.itemDoubleClicked.connect(lambda _: take_row())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """See Qt."""
        now_ns, letter_ns = self._clock.steady_ns(), self._letter_ns
        is_typing = letter_ns is not None and now_ns - letter_ns < UNASKED_GUARD_S * NS_PER_S
        if event.key() in ENTER_KEYS or (event.key() == Qt.Key.Key_Space and not is_typing):
            self._take()
            return
        if event.text().isprintable() and event.text():
            self._letter_ns = now_ns  # a blank may come, that belongs to the letters that go to a row
        super().keyPressEvent(event)


def _reserve_room(part: QLabel) -> None:
    """Hide a line of text that may appear while somebody aims at a button below it: the room for it stays."""
    policy = part.sizePolicy()
    policy.setRetainSizeWhenHidden(True)
    part.setSizePolicy(policy)
    part.setMinimumHeight(part.fontMetrics().lineSpacing())
    part.hide()


# long: one small method for each kind of answer.
class QuestionPanel(QFrame):
    """Shows one question; hidden while there is none.

    Args:
        changed: is called when a question was opened or closed.
        clock: injected time.
    """

    answered = Signal()
    """An answer was given, and what it does is done."""
    said = Signal(str)
    """A sentence for a screen reader: what is asked, why nothing was answered, or that it was cancelled."""

    def __init__(self, changed: Callable[[], None], clock: Clock) -> None:
        super().__init__()
        self.setProperty("role", "question")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.question: Question | None = None
        self.line: QLineEdit | None = None
        self.list: TextList | None = None
        self.boxes: list[QCheckBox] = []
        self.buttons: list[AnswerButton] = []
        """Every button in sight, Cancel last."""
        self.why = label("", "why")
        self.guard = AnswerGuard(clock)
        self._changed = changed
        self.works_elsewhere: Callable[[], bool] = lambda: False
        """Whether the keyboard is where the user works and where it can stay; the window gives it."""
        self.over_list: Callable[[], bool] = lambda: False
        """Whether the keyboard is in a list that the question takes the place of; the window gives it."""
        self.waits = False
        """It came by itself, and the keyboard stayed where the user works: it waits until the user goes to it."""
        self.is_answering = False
        """An answer was given, and what it does is not done yet: another question may follow."""
        self.keyboard_is_elsewhere = False
        """The question that was closed last never had the keyboard."""
        self._opens_by_itself = self._was_typed = self._came_over_list = False
        self._letters, self._letter_ns = "", 0
        """The letters of an answer's text so far, and when the last of them was typed."""
        self._first_focus: QWidget | None = None
        """What has the keyboard since the question opened; None once the user has moved on from there."""
        self._body: QScrollArea | None = None
        self._default: AnswerButton | None = None
        self._suggested: QLabel | None = None
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 10, 12, 10)
        self.hide()

    # --- opening and closing -------------------------------------------------------------------------------

    def ask(self, question: Question) -> None:
        """Show a question in place of the one before."""
        self.waits = self._opens_by_itself and self.works_elsewhere()
        self._came_over_list = self._opens_by_itself and not self.waits and self.over_list()
        self._clear()
        self.question = question
        set_spoken_name(self, question.title)
        set_spoken_description(self, question.text)
        self.guard.begin(is_unasked=self._opens_by_itself)
        self._was_typed = False
        body = QWidget()
        column = QVBoxLayout(body)
        column.setContentsMargins(0, 0, 4, 0)
        column.addWidget(self._head(question))
        self.why = label("", "why")
        self.why.hide()
        self._add_field(column, question)
        self._add_boxes(column, question)
        self._add_answers(column, question)
        rows = (self.list, self.list.viewport()) if self.list is not None else ()
        for part in filter(None, (self.line, *rows, *self.boxes, *self.buttons)):
            part.installEventFilter(self)
        if self.line is None:
            column.addWidget(self.why)  # below the answers, so that none of them moves
        column.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(body)
        layout = self.layout()
        assert layout is not None
        layout.addWidget(area)
        self._body = area
        self.show()
        # The panel is the one of the question before: a reader that keeps what it has read learns that it says another.
        for changed in (QAccessible.Event.NameChanged, QAccessible.Event.DescriptionChanged):
            QAccessible.updateAccessibility(QAccessibleEvent(self, changed))
        how_to_answer = tr("Esc goes to the question.") if self.waits else ""
        if not self.waits:
            self.take_focus()
        # A reader says the names around what has the keyboard only where these are new: not of a second question.
        self.said.emit(" ".join(filter(None, (question.title, question.text, how_to_answer))))
        self._changed()

    @contextmanager
    def opening_by_itself(self) -> Iterator[None]:
        """What is asked meanwhile was not asked for by a key or a click of the user."""
        before, self._opens_by_itself = self._opens_by_itself, True
        try:
            yield
        finally:
            self._opens_by_itself = before

    @contextmanager
    def _answering(self) -> Iterator[None]:
        """What an answer does goes on meanwhile: the keyboard goes once, to what is there afterwards."""
        self.is_answering = True
        try:
            yield
        finally:
            self.is_answering = False

    def close_question(self) -> None:
        """Take the question away, unanswered."""
        if self.question is None:
            return
        self.keyboard_is_elsewhere, self.waits = self.waits, False
        self._clear()
        self.hide()
        self._changed()

    def cancel(self) -> None:
        """Take the question away because the user does not want to answer it, which is said."""
        if self.question is not None:
            self.close_question()
            self.said.emit(tr("Nothing was changed by this question."))

    def take_focus(self) -> None:
        """Give the keyboard to the field, the list, or the button that Enter presses; to no answer without default."""
        first = self.boxes[0] if self.boxes else self._default
        self._first_focus = self if self._came_over_list else self.line or self.list or first or self
        if self.waits:
            self.guard.begin(is_unasked=False)  # the key that went to it answers nothing
        self.waits = False
        self._first_focus.setFocus(Qt.FocusReason.OtherFocusReason)

    # --- answering -----------------------------------------------------------------------------------------

    def answer(self, choice: Choice) -> None:
        """Give an answer."""
        if self.question is not None:
            with self._answering():
                self.close_question()
                choice.do()
            self.answered.emit()

    def take_text(self) -> None:
        """Take what was typed; where it cannot be taken, say why beside it and keep it."""
        question, line = self.question, self.line
        if question is None or line is None or question.on_text is None:
            return
        text = next(iter(self._suggestions()), line.text().strip())
        if not text:
            further = next(iter(question.answers), None)
            self._say_why(
                tr("Type something first, or cancel.")
                if further is None
                else tr("Type something first, or go to “{answer}” with the arrow down.").format(
                    answer=further.shown_text
                )
            )
            return
        why_invalid = question.why_invalid(text) if question.why_invalid is not None else ""
        if why_invalid:
            self._say_why(why_invalid)
            return
        typed = line.text()
        with self._answering():
            self.close_question()
            refusal = question.on_text(text)
        if refusal:
            self.ask(replace(question, prefilled=typed))
            self._say_why(refusal)
        self.answered.emit()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Keep from the parts what was pressed for something else, before the question was there; see Qt."""
        if event.type() == QEvent.Type.FocusIn:
            self.waits = False
            if self.why.text() == tr(UNCHOSEN):
                self.why.clear()
                self.why.hide()
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            if watched is self.line and event.key() in (Qt.Key.Key_Down, Qt.Key.Key_Up):
                self._leave_field(
                    event.key() == Qt.Key.Key_Down
                )  # the area around it would scroll by the key
                return True
            is_text = watched is self.line and event.key() not in ENTER_KEYS and not event.isAutoRepeat()
            is_blank = isinstance(watched, QCheckBox | AnswerButton) and self._takes_blank(event)
            if not is_blank and event.key() in _END_TEXT:
                self._letters = ""
            return is_blank or (not is_text and self._refuses_key(event))
        presses = (QEvent.Type.MouseButtonPress, QEvent.Type.MouseButtonDblClick)
        if isinstance(event, QMouseEvent) and event.type() in presses:
            is_stray = self.guard.is_unasked and self.guard.is_on()
            if is_stray:
                self._say_stray(tr("The question came by itself, so that click did not count. Click again."))
            return is_stray
        return super().eventFilter(watched, event)

    def _leave_field(self, forward: bool) -> None:
        """Go from the field to the first answer below it, or around to the last."""
        self._first_focus = None
        self._answer_parts()[0 if forward else -1].setFocus(Qt.FocusReason.TabFocusReason)

    def _answer_parts(self) -> list[QWidget]:
        """What has answers, from the top, without the field."""
        return [*([self.list] if self.list is not None else []), *self.boxes, *self.buttons]

    def _refuses_key(self, event: QKeyEvent) -> bool:
        """Whether a key does not count, which is then said."""
        has_typed_here = self._was_typed and not event.isAutoRepeat()
        if has_typed_here or not self.guard.refuses(event):
            return False
        if not event.isAutoRepeat():
            self._say_stray(
                tr("The question came by itself, so that key did not count. Press it again.")
                if self.guard.is_unasked
                else tr("The question had just opened, so that key did not count. Press it again.")
            )
        return True

    def _say_unchosen(self) -> None:
        self._say_stray(tr(UNCHOSEN))

    def _say_stray(self, why: str) -> None:
        """Say beside the answers why a key or click gave none; the keyboard stays where it is."""
        self.why.setText(why)
        self.why.show()
        self._show_suggested()
        if self._body is not None:
            self._body.ensureWidgetVisible(self.why)
        self.said.emit(why)

    def event(self, event: QEvent) -> bool:
        """Keep Space for what is asked, from the shortcut of the big button; see Qt."""
        is_override = event.type() == QEvent.Type.ShortcutOverride
        if is_override and isinstance(event, QKeyEvent) and event.key() == Qt.Key.Key_Space:
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter gives the default answer, Esc none; arrows and letters go to an answer; see Qt."""
        if self.question is None or event.isAutoRepeat():
            super().keyPressEvent(event)
        elif self._refuses_key(event):
            event.accept()
        elif self.waits:
            self.take_focus()  # the key was meant for what had the keyboard, or to come here
            if self.buttons and event.key() in (
                Qt.Key.Key_Down,
                Qt.Key.Key_Up,
            ):  # no answer was framed till now
                self.buttons[0 if event.key() == Qt.Key.Key_Down else -1].setFocus(
                    Qt.FocusReason.TabFocusReason
                )
        elif event.key() == Qt.Key.Key_Escape:
            self.cancel()
        elif self._is_of_field(event):
            self._give_to_field(event)
        elif event.key() in ENTER_KEYS or (event.key() == Qt.Key.Key_Space and self.hasFocus()):
            self.press_default()
        elif event.key() in (Qt.Key.Key_Down, Qt.Key.Key_Up):
            self._first_focus = None
            self.focusNextPrevChild(event.key() == Qt.Key.Key_Down)
        elif event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            event.ignore()  # a command: the window does it, or says why it waits for the answer
        else:
            if event.text().isprintable() and event.text().strip():
                self._go_to_letter(event.text())
            event.accept()  # no key of a question goes on to the window

    def _is_of_field(self, event: QKeyEvent) -> bool:
        """Whether a key is a letter of the field, though a click beside it took the keyboard away from there."""
        is_at_answer = isinstance(self.focusWidget(), QCheckBox | AnswerButton)
        return (
            self.line is not None and event.text().isprintable() and event.text() != "" and not is_at_answer
        )

    def _give_to_field(self, event: QKeyEvent) -> None:
        if self.line is not None:
            self.line.setFocus(Qt.FocusReason.OtherFocusReason)  # the cursor stays where it was
            QApplication.sendEvent(self.line, event)

    def _go_to_letter(self, letter: str) -> None:
        """Go to the next answer or box whose text begins with what was typed; Enter or Space then takes it.

        Letters that come soon after each other are of one text. One letter again and again goes from one to the next.
        """
        now_ns = self.guard.clock.steady_ns()
        is_first = now_ns - self._letter_ns >= UNASKED_GUARD_S * NS_PER_S
        typed = letter if is_first else self._letters + letter
        self._letters, self._letter_ns = typed, now_ns
        parts: list[QCheckBox | AnswerButton] = [*self.boxes, *self.buttons]
        at = next((at for at, part in enumerate(parts) if part.hasFocus()), -1)
        # The one that has the focus because the question has just come is among those that are meant.
        is_among = len(typed) > 1 or (at >= 0 and parts[at] is self._first_focus)
        self._first_focus = None
        found = self._beginning_with(typed, at if is_among else at + 1)
        if found is None and set(typed.casefold()) == {letter.casefold()}:
            found = self._beginning_with(letter, at + 1)
        if found is not None:
            found.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _beginning_with(self, text: str, first: int) -> QCheckBox | AnswerButton | None:
        """The answer or box whose text is so, else the one whose text begins so; None where there is none.

        Args:
            text: its beginning.
            first: the place of the one that is looked at first; those before it come last.
        """
        parts: list[QCheckBox | AnswerButton] = [*self.boxes, *self.buttons]
        around = [*parts[max(first, 0) :], *parts[: max(first, 0)]]
        texts = [part.text().replace("&", "").casefold() for part in around]
        wanted = text.casefold()
        fitting = [part for part, shown in zip(around, texts, strict=True) if shown.startswith(wanted)]
        if len(wanted) > 1 and wanted in texts:
            return around[texts.index(wanted)]
        return next(iter(fitting), None)

    def _takes_blank(self, event: QKeyEvent) -> bool:
        """Whether Space is within the text of an answer that is being typed, to which it then goes."""
        soon = self.guard.clock.steady_ns() - self._letter_ns < UNASKED_GUARD_S * NS_PER_S
        if event.key() != Qt.Key.Key_Space or not (soon and self._letters):
            return False
        if self._beginning_with(f"{self._letters} ", 0) is None:
            return False
        if not event.isAutoRepeat():
            self._go_to_letter(" ")
        return True

    def focusNextPrevChild(self, forward: bool) -> bool:
        """Go to the first answer, or back to the last one, where none had the keyboard yet; see Qt."""
        if not self.hasFocus() or not self.buttons:
            return super().focusNextPrevChild(forward)
        field = [self.line] if self.line is not None else []
        [*field, *self._answer_parts()][0 if forward else -1].setFocus(Qt.FocusReason.TabFocusReason)
        return True

    def press_default(self) -> None:
        """Do what Enter does: give the default answer, or say that one has to be chosen."""
        is_meant = not (self._came_over_list and self.hasFocus())
        if self._default is not None and is_meant:
            self._default.click()
        else:
            self._say_unchosen()

    # --- the parts -----------------------------------------------------------------------------------------

    def _head(self, question: Question) -> QWidget:
        """Title and text, with room below them up to where the answers of most questions begin."""
        head = QWidget()
        column = QVBoxLayout(head)
        column.setContentsMargins(0, 0, 0, 0)
        for text, role in ((question.title, "title"), (question.text, "")):
            if text:
                column.addWidget(label(text, role))
        column.addStretch(1)
        around = self.parentWidget()
        room = around.height() if around is not None else self.height()
        head.setMinimumHeight(min(HEAD_LINES * self.fontMetrics().lineSpacing(), round(HEAD_SHARE * room)))
        return head

    def _add_field(self, column: QVBoxLayout, question: Question) -> None:
        if question.on_text is None:
            return
        self.line = QLineEdit(question.prefilled)
        self.line.setAccessibleName(question.title)
        self.line.setAccessibleDescription(question.text)
        self.line.selectAll()
        self.line.textEdited.connect(self._edited)
        column.addWidget(self.line)
        _reserve_room(self.why)
        below = QGridLayout()  # one line's room for both: only one of them is shown
        below.addWidget(self.why, 0, 0)
        if question.suggest is not None:
            self._suggested = label("", "small")
            _reserve_room(self._suggested)
            below.addWidget(self._suggested, 0, 0)
        column.addLayout(below)

    def _add_boxes(self, column: QVBoxLayout, question: Question) -> None:
        for tick in question.ticks:
            box = QCheckBox(tick.text)
            box.setChecked(tick.is_on)
            self.boxes.append(box)
            column.addWidget(box)

    def _add_answers(self, column: QVBoxLayout, question: Question) -> None:
        if len(question.answers) > MAX_BUTTONS:
            self._add_list(column, question)
        else:
            for choice in question.answers:
                button = self._button(choice.shown_text, lambda choice=choice: self.answer(choice))  # type: ignore[misc]
                column.addWidget(button)
                if choice.default:
                    self._make_default(button)
        row = QWidget()
        flow = FlowLayout(row)
        if question.on_text is not None:
            flow.addWidget(
                self._make_default(self._button(at_start(question.enter_text), self._take_text_or_row))
            )
        if question.on_ticks is not None:
            flow.addWidget(self._make_default(self._button(at_start(question.enter_text), self._take_ticks)))
        if self.list is not None and question.on_text is None:
            flow.addWidget(self._make_default(self._button(at_start(question.enter_text), self._take_row)))
        flow.addWidget(self._button(at_start(question.escape_text), self.cancel))
        column.addWidget(row)

    def _add_list(self, column: QVBoxLayout, question: Question) -> None:
        self.list = _AnswerList(question.title, self._take_row, self.guard.clock)
        self.list.setHorizontalScrollBarPolicy(
            Qt.ScrollBarPolicy.ScrollBarAlwaysOff
        )  # long answers are wrapped
        self.list.addItems([choice.shown_text for choice in question.answers])
        self.list.choose(next((at for at, choice in enumerate(question.answers) if choice.default), -1))
        self.list.currentRowChanged.connect(self._row_chosen)
        rows = min(len(question.answers), 9)
        self.list.setMinimumHeight(rows * (self.list.sizeHintForRow(0) + 2) + 4)
        column.addWidget(self.list)

    def _button(self, text: str, do: Callable[[], object]) -> AnswerButton:
        button = AnswerButton(text)
        button.clicked.connect(lambda: do())
        self.buttons.append(button)
        return button

    def _make_default(self, button: AnswerButton) -> AnswerButton:
        if self._default is None:
            self._default = button
            button.setDefault(True)
        return button

    def _row_chosen(self, row: int) -> None:
        """One answer is meant at a time: a row that is chosen takes the place of what was typed."""
        if row >= 0 and self.line is not None and self.line.text():
            self.line.clear()
            self._show_why("")

    def _take_text_or_row(self) -> None:
        """Take what was typed, or the chosen row where nothing was."""
        is_typed = self.line is not None and bool(self.line.text().strip())
        if not is_typed and self.list is not None and self.list.chosen_row() >= 0:
            self._take_row()
        else:
            self.take_text()

    def _take_row(self) -> None:
        if self.question is None or self.list is None:
            return
        if (row := self.list.chosen_row()) >= 0:
            self.answer(self.question.answers[row])
        else:
            self._say_unchosen()

    def _take_ticks(self) -> None:
        question = self.question
        if question is not None and question.on_ticks is not None:
            ticked = tuple(at for at, box in enumerate(self.boxes) if box.isChecked())
            with self._answering():
                self.close_question()
                question.on_ticks(ticked)
            self.answered.emit()

    def _edited(self) -> None:
        question, line = self.question, self.line
        if question is None or line is None:
            return
        self._was_typed = True
        if self.list is not None and line.text():
            self.list.choose(-1)
        if not self.why.isHidden():
            text = line.text().strip()
            self._show_why(question.why_invalid(text) if question.why_invalid is not None and text else "")
        self._show_suggested()

    def _show_why(self, why: str) -> None:
        """Show beside the field why what is typed there cannot be taken; empty where it can."""
        self.why.setText(why)
        self.why.setVisible(bool(why))
        self._show_suggested()
        if self.line is not None:
            text = self.question.text if self.question is not None else ""
            self.line.setAccessibleDescription(" ".join(filter(None, (why, text))))
            self.line.setFocus()

    def _say_why(self, why: str) -> None:
        """Say why nothing was answered: beside the answers, and to a screen reader."""
        self._show_why(why)
        self.said.emit(why)

    def _suggestions(self) -> Sequence[str]:
        if self.question is None or self.line is None or self.question.suggest is None:
            return ()
        typed = self.line.text().strip()
        return self.question.suggest(typed) if typed else ()

    def _show_suggested(self) -> None:
        if self._suggested is None or self.line is None:
            return
        first, *others = self._suggestions() or ("",)
        typed = self.line.text().strip()
        text = (
            tr("Enter takes “{name}”.").format(name=first)
            if first
            else tr("“{name}” is new.").format(name=typed)
        )
        if others:
            further = tr("Also: {names} and more.") if others[MAX_FURTHER:] else tr("Also: {names}.")
            text += f" {further.format(names=', '.join(others[:MAX_FURTHER]))}"
        self._suggested.setText(text)
        self._suggested.setVisible(bool(typed) and self.why.isHidden())

    def _clear(self) -> None:
        self.question = None
        self._letters = ""
        self._suggested = self._default = None
        self.buttons, self.boxes = [], []
        self.list = self.line = None
        if self._body is not None:
            body, self._body = self._body, None
            release_keyboard(self)
            body.hide()
            body.setParent(None)
            # Not at once: it may be the button in it that was clicked.
            QTimer.singleShot(0, body.deleteLater)


def _escaped(text: str) -> str:
    """A text as a button shows it letter by letter: "&" marks no letter for the keyboard."""
    return text.replace("&", "&&")


def _lines_within(text: str, metrics: QFontMetrics, width: int) -> str:
    """A text broken between words so that each line fits a width.

    Args:
        text: in one line.
        metrics: of the font.
        width: in pixels; a single word may be wider.
    """
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".lstrip()
        if lines[-1] and metrics.horizontalAdvance(longer) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return "\n".join(lines)
