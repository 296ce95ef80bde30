"""The action line: a big button with what Space does now, and beside it the message, with room for two lines."""

from __future__ import annotations

from collections.abc import Callable
from string import Template

from PySide6.QtCore import QSize, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QSizePolicy

from gui.actions.spoken_text import set_spoken_description, set_spoken_name
from gui.actions.tips import in_lines
from gui.model.status import Offer
from gui.model.visit_controller import VisitController
from gui.shell.message_bar import MessageBar
from gui.widgets.appearance import Appearance, VisitWidget, fitting_font_pixels
from gui.widgets.page import PrimaryAction
from gui.widgets.theme import Sizes, font
from logger.clock import NS_PER_S
from logger.translation import marked, tr, within

FLASH_MS = 1500
"""How long the line stays lit after a refusal."""

BUTTON_SHARE, MAX_BUTTON_SHARE = 0.5, 0.6
"""Of the line's width, at most, for the button with its text in one line, and in two."""

MIN_BUTTON_SHARE = 0.36
"""Of the line's width, at most, for a button whose text is short: the rest is the message's."""

MIN_BUTTON_LETTERS = 34
"""Width of the button in letters: as long as its text is shorter, nothing moves when it changes."""

CHANGED_S = 1.0
"""After the button came to do something else by itself, seconds: a key that comes was pressed for what it did before,
and one that stays so long is announced. No source, ours."""

NOTHING_HERE = marked("There is nothing to take on this page.")

_SIZE_STYLE = Template("font-size: ${pixels}px;")


class ActionBar(VisitWidget):
    """The primary action and the message.

    Args:
        controller: what the window does with the visit.
        appearance: theme and sizes.
    """

    pressed = Signal()
    """The big button was pressed."""

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self.primary_action: Callable[[], PrimaryAction | None] = lambda: None
        """What the page in sight offers."""
        self.blocked: Callable[[], str] = lambda: ""
        """Why nothing is offered whatever the page, such as an open question."""
        self.is_unasked = False
        """What is shown anew is no answer to a key or a click."""
        self._deed: str | None = None
        """What the button was shown to do last."""
        self._changed_ns: int | None = None
        """When it came to do something else by itself, steady; None where the user made it do so."""
        self._told_deed: str | None = None
        """What it did when the user last acted, or was told of it."""
        self.offer = Offer.NO_VALUE
        """Whether it takes the value of now, as it was shown last: what the readout says of the value follows it."""
        self.button = QPushButton()
        self.button.setProperty("role", "primary")
        self.button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.button.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        self.button.clicked.connect(self.pressed)
        self.message_bar = MessageBar(controller, appearance)
        self.why = self.message_bar.why
        self._lit = QTimer(self, singleShot=True, interval=FLASH_MS)
        self._lit.timeout.connect(self.update)
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 5, 10, 5)
        row.setSpacing(12)
        row.addWidget(self.button)
        row.addWidget(self.message_bar, 1)
        self.refresh()

    def why_not(self) -> str:
        """Why the primary action may not run now, in a whole sentence; empty where it may."""
        return self._offer(self.primary_action())[1]

    def name(self) -> str:
        """What the primary action is called now."""
        return self._offer(self.primary_action())[0]

    def text(self) -> str:
        """The whole line in words: what Space does, or why it does nothing."""
        return self._line(*self._offer(self.primary_action())[:2])

    def _line(self, name: str, why_not: str) -> str:
        """The whole line in words.

        Args:
            name: of the primary action.
            why_not: why it may not run; empty where it may.
        """
        if not why_not:
            return name
        if why_not == self.blocked():
            return why_not  # whatever the button would do: the question is not about it
        return tr("Can't {action}: {why}").format(action=within(name), why=why_not)

    def _offer(self, primary: PrimaryAction | None) -> tuple[str, str, bool]:
        """What the primary action is called now, why it may not run, and whether it takes the value of now."""
        if primary is None:
            return tr("Take the reading"), self.blocked() or tr(NOTHING_HERE), False
        blocked = self.blocked()
        # A question may be about the value of another moment: the one of now does not stand beside it.
        name = tr("Take the reading") if blocked and primary.takes_value else primary.text
        return name, blocked or primary.why_not, primary.takes_value

    def why_too_early(self) -> str:
        """Why a press does not count now: the button has only just come to do something else by itself."""
        just_now = self._changed_ns is not None and self._is_within(self._changed_ns)
        if not just_now or self.blocked():
            return ""
        return tr(
            "The button has just changed to “{action}”, so that key did not count. Press it again."
        ).format(action=self.name())

    def take_news(self) -> bool:
        """Whether it does another thing by itself for a while, which is told once."""
        changed_ns = self._changed_ns
        if changed_ns is None or self._is_within(changed_ns) or self.blocked():
            return False
        self._changed_ns = None
        is_new, self._told_deed = self._deed != self._told_deed, self._deed
        return is_new

    def news_text(self) -> str:
        """What it does now, for who cannot see that; empty while it does nothing."""
        return "" if self.blocked() else tr("The button now: {action}").format(action=self.name())

    def _is_within(self, changed_ns: int) -> bool:
        return self.controller.clock.steady_ns() - changed_ns < CHANGED_S * NS_PER_S

    def _note_deed(self, deed: str) -> None:
        """Note what the button does now, and whether it came to do so by itself."""
        if deed != self._deed:
            is_unasked = self.is_unasked and bool(self._deed) and bool(deed)
            self._deed = deed
            self._changed_ns = self.controller.clock.steady_ns() if is_unasked else None
            self._told_deed = self._told_deed if is_unasked else deed

    def refresh(self) -> None:
        """See `VisitWidget`."""
        # The page is asked once: what it offers takes it some time to say, and this is done with each line.
        primary = self.primary_action()
        name, why_not, takes_value = self._offer(primary)
        self._note_deed(primary.does if primary is not None else "")
        self.offer = Offer.NO_VALUE
        if takes_value and self.blocked():
            self.offer = Offer.ANSWER_FIRST
        elif takes_value:
            self.offer = Offer.NOT_YET if why_not else Offer.MAY_TAKE
        self.message_bar.offer = self.offer
        line = self._line(name, why_not)
        self.button.setEnabled(not why_not)
        self._show_name(name)
        self.button.setToolTip(in_lines(line if why_not else tr("{action} (Space)").format(action=name)))
        set_spoken_name(self.button, name)
        # The name says what it does. Without a description Qt gives the tip, and tells a reader of no change of that.
        set_spoken_description(self.button, line if why_not else tr("Space"))
        if self.why.text() != why_not:
            self.why.setText(why_not)
        # The button in its grey has the reason in its tip as well: the outcome of what was done needs the room more.
        gives_way = self.controller.message.text and self.blocked() and not self.is_lit
        self.why.setVisible(bool(why_not) and not gives_way and not self.message_bar.says(why_not))
        self.message_bar.refresh()
        set_spoken_name(self, line)

    def flash(self) -> None:
        """Light up for a moment: the primary action was asked for and refused."""
        self._lit.start()
        self.update()

    @property
    def is_lit(self) -> bool:
        """Whether a refusal is still shown by the lit line."""
        return self._lit.isActive()

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`."""
        self.message_bar.set_appearance(appearance)
        super().set_appearance(appearance)

    @staticmethod
    def line_height(sizes: Sizes) -> int:
        """The height of the line, in pixels: two lines of the message, with its margins.

        Args:
            sizes: of the fonts that it is about to have.
        """
        return round(QFontMetricsF(font(sizes.normal)).lineSpacing() * 2 + 22)

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(600, self.line_height(self.appearance.sizes))

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        theme = self.appearance.theme
        QPainter(self).fillRect(self.rect(), QColor(theme.ask if self.is_lit else theme.panel))

    def _show_name(self, name: str) -> None:
        """Put the name on the button, over two lines where one is too short for it."""
        sizes = self.appearance.sizes
        metrics = QFontMetricsF(font(sizes.normal, True))
        key = "   " + tr("Space")
        letters = metrics.horizontalAdvance("n")
        least = min(MIN_BUTTON_LETTERS * letters, self.width() * MIN_BUTTON_SHARE)
        most = max(self.width() * BUTTON_SHARE, least)
        wanted = metrics.horizontalAdvance(name + key) + 3 * letters
        shown = name + key
        pixels = sizes.normal
        if wanted > most:
            shown = _in_two_lines(name) + key
            longest = max(shown.split("\n"), key=metrics.horizontalAdvance)
            room = max(self.width() * MAX_BUTTON_SHARE, least) - 3 * letters
            pixels = fitting_font_pixels(longest, room, sizes.normal, Sizes.for_height(0).small, True)
            wanted = QFontMetricsF(font(pixels, True)).horizontalAdvance(longest) + 3 * letters
        self.button.setFixedWidth(round(min(max(wanted, least), max(self.width() - 40.0, least))))
        sheet = "" if pixels == sizes.normal else _SIZE_STYLE.substitute(pixels=pixels)
        if sheet != self.button.styleSheet():
            self.button.setStyleSheet(sheet)
        shown = shown.replace("&", "&&")
        if self.button.text() != shown:
            self.button.setText(shown)


def _in_two_lines(text: str) -> str:
    """Break a text at the space nearest to its middle."""
    spaces = [at for at, letter in enumerate(text) if letter == " "]
    if not spaces:
        return text
    at = min(spaces, key=lambda at: abs(at - len(text) / 2))
    return f"{text[:at]}\n{text[at + 1 :]}"
