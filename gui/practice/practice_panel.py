"""The practice house: every switch of a simulated house, for mouse and keyboard.

State by word, shape and colour; it follows the house, whoever switched. The panel writes commands for the house and
nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import QDockWidget, QFrame, QScrollArea, QVBoxLayout, QWidget

from gui.actions.spoken_text import set_spoken_name
from gui.model.practice_controller import PracticeController
from gui.model.visit_access import Message
from gui.practice.switch_board import SwitchBoard, spoken_position
from gui.widgets.appearance import Appearance, VisitWidget, label, set_role
from logger.errors import StillvoltError
from logger.simulation.practice_switches import GroupKind, Switch, find_switch
from logger.translation import marked, tr

KEYS_TEXT = marked(
    "Type a name, or use the arrows. Enter switches; Shift+Enter turns a cord's own switch. Esc or F6 goes back."
)
"""What the keys do while the switches have the keyboard."""

MARGIN = 8
"""At the left and the right, in pixels."""

GAP = 4
"""Above and below the switches, in pixels."""


class _SwitchArea(QScrollArea):
    """The room of the switches: Tab, which leaves them, scrolls nothing."""

    resized = Signal()
    """It has another size now."""

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self.resized.emit()

    def focusNextPrevChild(self, forward: bool) -> bool:
        """See Qt, which would scroll to the middle of the board that the keyboard has just left."""
        return QWidget.focusNextPrevChild(self, forward)


class PracticePanel(VisitWidget):
    """The switches. Letters, digits and arrows choose one while the board has the keyboard.

    Args:
        practice_controller: the house.
        appearance: theme and sizes.
    """

    left = Signal()
    """Esc gave the keyboard back."""

    def __init__(self, practice_controller: PracticeController, appearance: Appearance) -> None:
        super().__init__(practice_controller.controller, appearance)
        self.practice_controller = practice_controller
        self.typed = ""
        self.used_now: Callable[[], tuple[GroupKind, ...]] = lambda: ()
        """Gives the groups that the step in hand switches, the first one being needed most; the window gives it."""
        self.question_waits: Callable[[], bool] = lambda: False
        """Whether a question came by itself while the keyboard was here: Enter may be meant for that."""
        self._brought: object = None
        """What was last scrolled into sight by itself, and in which room."""
        self._is_users = False
        """The user has scrolled or switched here: where the switches stand now, somebody has learned."""
        self.dock: QDockWidget | None = None
        """What it is shown in, and with which it is closed; None where it is opened alone."""
        self.board = SwitchBoard(practice_controller, appearance, self.take_key, lambda: bool(self.typed))
        self.board.setAccessibleDescription(tr(KEYS_TEXT))
        self.board.pressed.connect(self._pressed)
        self.board.focus_changed.connect(self._focus_changed)
        self.title = label("", "heading", wrap=False)
        """For the title bar: its name, what is typed, or how far the night is."""
        self.area = _SwitchArea()
        """Switches for which there is no room scroll."""
        self.area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.area.setFrameShape(QFrame.Shape.NoFrame)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.area.setWidgetResizable(True)
        self.area.setWidget(self.board)
        self.area.resized.connect(self._keep_chosen_in_sight)
        self.area.verticalScrollBar().actionTriggered.connect(lambda _: self._leave_place_to_user())
        column = QVBoxLayout(self)
        column.setContentsMargins(MARGIN, GAP, MARGIN, GAP)
        column.addWidget(self.area, 1)

    @property
    def is_shown(self) -> bool:
        """Whether it is in sight."""
        return not self.isHidden() and (self.dock is None or not self.dock.isHidden())

    @property
    def has_keyboard(self) -> bool:
        """Whether letters and arrows go to its switches."""
        return self.is_shown and self.board.has_keyboard

    def take_key(self, key: Qt.Key, text: str, shift: bool) -> bool:
        """Take a key while the board has the keyboard; False leaves it to the window.

        Args:
            key: which.
            text: what it types.
            shift: Shift is held down.
        """
        self._leave_place_to_user()
        switches = self.practice_controller.switches()
        moves = {
            Qt.Key.Key_Up: (0, -1),
            Qt.Key.Key_Down: (0, 1),
            Qt.Key.Key_Left: (-1, 0),
            Qt.Key.Key_Right: (1, 0),
        }
        page = max(int(self.area.viewport().height() / self.board.row_height) - 1, 1)
        ends = {
            Qt.Key.Key_Home: 0,
            Qt.Key.Key_End: len(switches) - 1,
            Qt.Key.Key_PageUp: self.board.chosen - page,
            Qt.Key.Key_PageDown: self.board.chosen + page,
        }
        if key in moves:
            self.typed = ""
            self.board.move(*moves[key])
        elif key in ends:
            self.typed = ""
            self.board.chosen = min(max(ends[key], 0), len(switches) - 1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self.typed and find_switch(switches, self.typed) is None:
                self.practice_controller.controller.message = Message(
                    tr("No switch begins with “{typed}”: nothing was switched.").format(
                        typed=self.typed.lower()
                    ),
                    refused=True,
                )
                self.typed = ""
            elif self.question_waits() and not self.typed:
                self._say_question_waits()
            else:
                self.press(self.board.chosen, second=shift)
        elif key == Qt.Key.Key_Backspace and self.typed:
            self.typed = self.typed[:-1]
            self._choose_typed(switches)
        elif key == Qt.Key.Key_Escape:
            self.left.emit()
        elif self.typed and len(text) == 1 and text.isprintable() and not text.isalnum():
            self.typed += text  # blanks and commas of a name
            self._choose_typed(switches)
        elif len(text) == 1 and text.isalnum():
            # What no longer fits begins anew, so that nobody has to erase; what fits nowhere is kept, so that Enter
            # does not switch what it did not find.
            longer = self.typed + text.upper()
            self.typed = next(
                (t for t in (longer, text.upper()) if find_switch(switches, t) is not None), longer
            )
            self._choose_typed(switches)
        else:
            return False
        self.refresh()
        self.show_chosen()
        return True

    def _say_question_waits(self) -> None:
        self.practice_controller.controller.message = Message(
            tr("A question has come: Esc goes to it. Nothing was switched. To switch, type a name first."),
            refused=True,
        )

    def show_chosen(self) -> None:
        """Scroll until the chosen switch is in sight. A switch that was clicked is: nothing moves under the mouse."""
        box = self.board.box_of_chosen()
        self.area.ensureVisible(round(box.center().x()), round(box.center().y()), 0, round(box.height()))

    def _keep_chosen_in_sight(self) -> None:
        if self.has_keyboard:
            self.show_chosen()

    def _bring_into_sight(self) -> None:
        """Scroll until the switches of the step in hand are in sight, once for each step and room.

        Only until the user scrolls or switches here: a list that moved then would bring another switch under the mouse.
        """
        bar, room = self.area.verticalScrollBar(), self.area.viewport().height()
        wanted = self.used_now(), room, bar.maximum()
        if wanted == self._brought or self._is_users or self.has_keyboard:
            return
        self._brought = wanted
        for kind in reversed(wanted[0]):
            reach = self.board.reach_of_group(kind)
            if reach is not None:
                bar.setValue(min(max(bar.value(), math.ceil(reach[1]) - room), math.floor(reach[0])))

    def _leave_place_to_user(self) -> None:
        self._is_users = True

    def _focus_changed(self) -> None:
        self.typed = ""
        controller = self.practice_controller.controller
        if not self.has_keyboard and controller.message.text == tr(KEYS_TEXT):
            controller.message = Message("")  # it names keys that go elsewhere now
        self.refresh()

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
            text = tr("{switch}: {position}; it stays so.").format(switch=switch.name, position=position.word)
            self.controller.message = Message(text)
            return
        try:
            self.practice_controller.switch(position)
        except StillvoltError as error:
            self.controller.message = Message(str(error), refused=True)
            return
        now = self.practice_controller.switches()[index]
        word = spoken_position(now, second=second and now.second is not None)
        text = (
            tr("In the practice house: {switch}: {position}").format(switch=now.name, position=word)
            if word
            else tr("In the practice house: {switch}").format(switch=now.name)
        )
        self.controller.message = Message(text)

    def refresh(self) -> None:
        """See `VisitWidget`."""
        if not self.is_shown:
            return
        self.practice_controller.refresh()
        night = self.practice_controller.night_progress()
        if night:
            text = night
        elif self.typed:
            text = tr("Practice house: {typed}").format(typed=self.typed.lower())
        else:
            text = tr("Practice house")
        self.title.setText(text)
        set_role(self.title, "title" if self.typed or night else "heading")
        set_spoken_name(self.board, tr("Switches of the practice house"))
        self.board.refresh()
        self._bring_into_sight()
        self.update()

    def wanted_height(self) -> int:
        """What all switches need, in pixels."""
        return self.board.wanted_height() + 2 * GAP

    def set_appearance(self, appearance: Appearance) -> None:
        """See `VisitWidget`."""
        self.board.set_appearance(appearance)
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
        self._leave_place_to_user()
        self.press(index, second)
        self.refresh()

    def _choose_typed(self, switches: list[Switch]) -> None:
        found = find_switch(switches, self.typed)
        if found is not None:
            self.board.chosen = found
