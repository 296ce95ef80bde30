"""The practice house below the trace: every switch of a simulated house, for mouse and keyboard.

State by word, shape and colour; it follows the house, whoever switched. The panel writes commands for the house and
nothing else.
"""

from __future__ import annotations

from PySide6.QtCore import QRectF, Signal
from PySide6.QtGui import (
    QColor,
    QPainter,
    QPaintEvent,
    QPen,
)
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout

from gui.model.practice_controller import PracticeController
from gui.model.visit_access import Message
from gui.practice.switch_board import SwitchBoard
from gui.widgets.appearance import Appearance, VisitWidget, label, set_role
from gui.widgets.shortcut_buttons import ShortcutButtons
from logger.errors import StillvoltError
from logger.simulation.practice_switches import Switch, find_switch

MARGIN = 8
MAX_SHARE = 0.6
"""Of the height that it shares with the trace."""


class PracticePanel(VisitWidget):
    """The switches with their keys. The window shows and hides it, and gives it the keys while it has the keyboard.

    Args:
        practice_controller: the house.
        appearance: theme and sizes.
    """

    key_clicked = Signal(str)
    """A key was clicked instead of pressed."""

    def __init__(self, practice_controller: PracticeController, appearance: Appearance) -> None:
        super().__init__(practice_controller.controller, appearance)
        self.practice_controller = practice_controller
        self.typed = ""
        self._had_keyboard = False
        self.board = SwitchBoard(practice_controller, appearance)
        self.board.pressed.connect(self._pressed)
        self.title = label("", "heading", wrap=False)
        self._hints = (
            ShortcutButtons(appearance, ("F2", "switch by keys"), ("F3", "a night in a minute")),
            ShortcutButtons(
                appearance,
                ("Enter", "switch"),
                ("Shift+Enter", "at cord"),
                ("Esc", "done"),
                ("F2", "hide"),
            ),
        )
        head = QHBoxLayout()
        head.addWidget(self.title)
        for hints in self._hints:
            hints.clicked.connect(self.key_clicked)
            head.addWidget(hints, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(MARGIN, 6, MARGIN, 6)
        column.setSpacing(4)
        column.addLayout(head)
        column.addWidget(self.board, 1)
        self.hide()

    @property
    def is_shown(self) -> bool:
        """Whether it is in sight."""
        return not self.isHidden()

    @property
    def has_keyboard(self) -> bool:
        """Whether keys go to it."""
        return self.is_shown and self.board.has_keyboard

    def suspend(self) -> None:
        """Give the keyboard up while a question is open."""
        self._had_keyboard = self._had_keyboard or self.board.has_keyboard
        self.set_keyboard(False)

    def resume(self) -> None:
        """Take the keyboard back that a question took."""
        if self._had_keyboard and self.is_shown:
            self.set_keyboard(True)
        self._had_keyboard = False

    def set_keyboard(self, to_panel: bool) -> None:
        """Let keys go to the panel, or to the window again."""
        self.board.has_keyboard, self.typed = to_panel, ""
        self.refresh()

    def handle(self, name: str) -> bool:
        """Take a key; False leaves it to the window."""
        switches = self.practice_controller.switches()
        moves = {"Up": (0, -1), "Down": (0, 1), "Left": (-1, 0), "Right": (1, 0)}
        if name in moves:
            self.typed = ""
            self.board.move(*moves[name])
        elif name in ("Return", "Shift+Return"):
            self.press(self.board.chosen, second=name != "Return")
        elif name == "Backspace" and self.typed:
            self.typed = self.typed[:-1]
            self._choose_typed(switches)
        elif name == "Esc":
            if self.typed:
                self.typed = ""
            else:
                self.set_keyboard(False)
        elif len(name) == 1 and name.isalnum():
            # What no longer fits begins anew, so that nobody has to erase.
            self.typed = next(
                (t for t in (self.typed + name, name) if find_switch(switches, t) is not None), ""
            )
            self._choose_typed(switches)
        else:
            return False
        self.refresh()
        return True

    def press(self, index: int, second: bool = False) -> None:
        """Put a switch into its other position.

        Args:
            index: of the switch among all, from 0.
            second: a cord's own switch, or what else a second position is for.
        """
        switch = self.practice_controller.switches()[index]
        self.board.chosen, self.typed = index, ""
        position = (switch.second or switch.main) if second else switch.main
        if not position.commands:
            self.controller.message = Message(f"{switch.name}: {position.word}; it stays so.")
            return
        try:
            self.practice_controller.switch(position)
        except StillvoltError as error:
            self.controller.message = Message(str(error), refused=True)
            return
        now = self.practice_controller.switches()[index]
        after = (now.second or now.main) if second else now.main
        self.controller.message = Message(
            f"In the practice house: {now.name}{': ' if after.word else ''}{after.word}"
        )

    def refresh(self) -> None:
        """See `VisitWidget`."""
        if not self.is_shown:
            return
        self.practice_controller.refresh()
        has_keyboard = self.board.has_keyboard
        night = self.practice_controller.night_progress()
        if night:
            text = f"{night}, F3 calls it off"
        elif has_keyboard:
            text = self.typed.lower() or "Type a name"
        else:
            text = "Practice house"
        self.title.setText(text)
        set_role(self.title, "title" if self.typed or night else "heading")
        self._hints[0].setVisible(not has_keyboard)
        self._hints[1].setVisible(has_keyboard)
        self.board.setAccessibleName(self._spoken())
        self.board.update()
        self.update()

    def fit(self, shared_height: int) -> None:
        """Take the height that all switches need, up to a share of what there is."""
        hints = max(part.height() for part in self._hints)
        wanted = self.board.wanted_height() + hints + 12 + 4
        self.setFixedHeight(min(wanted, round(shared_height * MAX_SHARE)))

    def set_appearance(self, appearance: Appearance) -> None:
        """See `VisitWidget`."""
        for part in (self.board, *self._hints):
            part.set_appearance(appearance)
        super().set_appearance(appearance)

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        painter = QPainter(self)
        theme = self.appearance.theme
        painter.fillRect(self.rect(), QColor(theme.panel))
        if self.board.has_keyboard:
            painter.setPen(QPen(QColor(theme.chosen), 3))
            painter.drawRect(QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5))
        painter.end()

    def _pressed(self, index: int, second: bool) -> None:
        self.press(index, second)
        self.refresh()

    def _choose_typed(self, switches: list[Switch]) -> None:
        found = find_switch(switches, self.typed)
        if found is not None:
            self.board.chosen = found

    def _spoken(self) -> str:
        """The chosen switch in words, for who cannot see it."""
        switches = self.practice_controller.switches()
        if not switches:
            return ""
        switch = switches[min(self.board.chosen, len(switches) - 1)]
        words = [switch.name, switch.main.word, switch.second.word if switch.second else ""]
        return ", ".join(word for word in words if word)
