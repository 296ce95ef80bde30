"""The practice house below the trace: every switch of a simulated house, for mouse and keyboard.

State by word, shape and colour; it follows the house, whoever switched. The panel writes commands for the house and
nothing else.
"""

from __future__ import annotations

import math

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFontMetricsF,
    QHelpEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
)
from PySide6.QtWidgets import QHBoxLayout, QToolTip, QVBoxLayout

from gui.model.practice_controller import PracticeController
from gui.model.visit_access import Message
from gui.widgets.appearance import Appearance, VisitWidget, label, set_role
from gui.widgets.shortcut_buttons import ShortcutButtons
from gui.widgets.theme import BLUISH_GREEN, GREY, ORANGE, font
from logger.errors import StillvoltError
from logger.simulation.practice_house import Switch, SwitchPosition, find_switch

COLUMNS = 3
MARGIN = 8
MOST_SHARE = 0.6
"""Of the height that it shares with the trace."""


class SwitchBoard(VisitWidget):
    """The switches in columns, whole groups one below the other.

    Args:
        work: the house.
        look: theme and sizes.
    """

    pressed = Signal(int, bool)
    """A switch was clicked, by its place among all; True: its second half."""

    def __init__(self, work: PracticeController, appearance: Appearance) -> None:
        super().__init__(work.controller, appearance)
        self.work = work
        self.chosen = 0
        self.has_keyboard = False
        self._first_row = 0
        self._boxes: list[tuple[QRectF, int, bool]] = []

    # --- where things are --------------------------------------------------------------------------------

    def columns(self) -> list[list[Switch | str]]:
        """The rows of each column: switches, and the names of groups that have no switch for the whole."""
        blocks: list[list[Switch | str]] = []
        for group in self.work.groups():
            head: list[Switch | str] = [] if group.switches[0].leads else [group.name]
            blocks.append([*head, *group.switches])
        rows = sum(map(len, blocks))
        for height in range(max(map(len, blocks), default=0), rows + 1):
            columns: list[list[Switch | str]] = [[]]
            for block in blocks:
                if columns[-1] and len(columns[-1]) + len(block) > height:
                    columns.append([])
                columns[-1] += block
            if len(columns) <= COLUMNS:
                return columns
        return []

    @property
    def row_height(self) -> float:
        """Of one switch, in pixels."""
        return math.ceil(QFontMetricsF(font(self.appearance.sizes.small)).lineSpacing() + 2)

    def wanted_height(self) -> int:
        """All rows in sight."""
        return math.ceil(max(map(len, self.columns()), default=0) * self.row_height) + 4

    def move(self, columns: int, rows: int) -> None:  # type: ignore[override]
        """Choose another switch beside or below the chosen one."""
        places = self._places()
        if not places:
            return
        column, row = places[self.chosen]
        if rows:
            self.chosen = min(max(self.chosen + rows, 0), len(places) - 1)
            return
        others = {c for c, _ in places}
        to = min(max(column + columns, 0), max(others))
        in_column = [i for i, (c, _) in enumerate(places) if c == to]
        self.chosen = min(in_column, key=lambda i: abs(places[i][1] - row))

    def _places(self) -> list[tuple[int, int]]:
        """Column and row of each switch."""
        return [
            (c, r)
            for c, column in enumerate(self.columns())
            for r, item in enumerate(column)
            if isinstance(item, Switch)
        ]

    # --- drawing -----------------------------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(500, self.wanted_height())

    def event(self, event: QEvent) -> bool:
        """The whole name under the mouse, where a narrow column shortens it; see Qt."""
        if isinstance(event, QHelpEvent):
            at = next((index for box, index, _ in self._boxes if box.contains(event.pos())), None)
            QToolTip.showText(event.globalPos(), "" if at is None else _named(self.work.switches()[at]), self)
            return True
        return super().event(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        for box, index, second in self._boxes:
            if box.contains(event.position()):
                self.pressed.emit(index, second)
                return

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        columns, height = self.columns(), self.row_height
        places = self._places()
        self.chosen = min(self.chosen, max(len(places) - 1, 0))
        most = max(int(self.height() // height), 1)
        rows = max(map(len, columns), default=0)
        chosen_row = places[self.chosen][1] if places else 0
        first = min(self._first_row, max(rows - most, 0))
        self._first_row = min(max(first, chosen_row - most + 1), chosen_row) if rows > most else 0
        gap = self.appearance.sizes.small * 0.7
        widths = self._widths(columns, self.width() - gap * (COLUMNS - 1))
        left = 0.0
        self._boxes = []
        index = 0
        for c, column in enumerate(columns):
            for r, item in enumerate(column):
                box = QRectF(left, (r - self._first_row) * height, widths[c], height)
                in_sight = 0 <= r - self._first_row < most
                if isinstance(item, Switch):
                    if in_sight:
                        self._draw_switch(painter, item, index, box)
                    index += 1
                elif in_sight:
                    self._draw_heading(painter, item, box)
            left += widths[c] + gap
        if rows > most:
            self._draw_more(painter, rows - most - self._first_row)
        painter.end()

    def _widths(self, columns: list[list[Switch | str]], room: float) -> list[float]:
        """Of each column: in proportion to what its longest row needs."""
        small = self.appearance.sizes.small
        plain, bold = QFontMetricsF(font(small)), QFontMetricsF(font(small, True))

        def needed(item: Switch | str) -> float:
            if isinstance(item, str):
                return bold.horizontalAdvance(item)
            metrics = bold if item.leads else plain
            words = [_named(item), item.main.word, item.second.word if item.second else ""]
            return sum(map(metrics.horizontalAdvance, words)) + small * (4.9 if item.second else 3.1)

        wanted = [max(map(needed, column)) for column in columns]
        return [width * room / sum(wanted) for width in wanted]

    def _draw_heading(self, painter: QPainter, text: str, box: QRectF) -> None:
        painter.setFont(font(self.appearance.sizes.small, True))
        painter.setPen(QColor(self.appearance.theme.quiet))
        painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, text)

    def _draw_switch(self, painter: QPainter, switch: Switch, index: int, box: QRectF) -> None:
        theme, small = self.appearance.theme, self.appearance.sizes.small
        chosen = self.has_keyboard and index == self.chosen
        if chosen:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(theme.chosen))
            painter.drawRoundedRect(box, 4, 4)
        ink = QColor(theme.on_chosen if chosen else theme.text)
        faint = QColor(theme.on_chosen if chosen else theme.quiet)
        face = font(small, switch.leads)
        metrics = QFontMetricsF(face)
        side = small * 1.0
        left = box.left() + small * 0.25
        shape = QRectF(left, box.center().y() - side * 0.5, side * 1.4, side)
        draw_half(painter, switch.main, shape, ink)
        right = box.right() - small * 0.25
        split = right
        if switch.second is not None:
            right = self._word(painter, switch.second.word, right, box, faint)
            mark = QRectF(right - side * 1.5, shape.top(), side * 1.4, side)
            draw_half(painter, switch.second, mark, ink)
            split = mark.left() - small * 0.15
            right = split - small * 0.3
        name = _named(switch)
        begins = shape.right() + small * 0.4
        word_begins = right - QFontMetricsF(font(small)).horizontalAdvance(switch.main.word) - small * 0.7
        # The chosen one has its whole name; its state is then told by the shape and, once switched, below the sheet.
        if not (chosen and metrics.horizontalAdvance(name) > word_begins - begins):
            right = self._word(painter, switch.main.word, right, box, faint)
        room = QRectF(begins, box.top(), right - shape.right() - small * 0.5, box.height())
        painter.setFont(face)
        painter.setPen(ink)
        # In the middle: the ends tell "Living room outlets" from "Living room light".
        shown = metrics.elidedText(name, Qt.TextElideMode.ElideMiddle, room.width() + 1)
        painter.drawText(room, Qt.AlignmentFlag.AlignVCenter, shown)
        if switch.second is not None:
            self._boxes.append((QRectF(split, box.top(), box.right() - split, box.height()), index, True))
        self._boxes.append((box, index, False))

    def _word(self, painter: QPainter, word: str, right: float, box: QRectF, ink: QColor) -> float:
        """A word that ends there; returns where it begins."""
        painter.setFont(font(self.appearance.sizes.small))
        width = QFontMetricsF(painter.font()).horizontalAdvance(word)
        painter.setPen(ink)
        painter.drawText(
            QRectF(right - width, box.top(), width + 1, box.height()), Qt.AlignmentFlag.AlignVCenter, word
        )
        return right - width - self.appearance.sizes.small * 0.2

    def _draw_more(self, painter: QPainter, below: int) -> None:
        """Something is out of sight: an arrow on the side where it is."""
        side = self.appearance.sizes.small * 0.6
        x = self.width() - side
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self.appearance.theme.text))
        if below > 0:
            y = self.height() - side
            painter.drawPolygon(
                QPolygonF([QPointF(x, y), QPointF(x + side, y), QPointF(x + side / 2, y + side)])
            )
        if self._first_row:
            painter.drawPolygon(
                QPolygonF([QPointF(x, side), QPointF(x + side, side), QPointF(x + side / 2, 0.0)])
            )


def _named(switch: Switch) -> str:
    return f"{switch.number} {switch.name}" if switch.number else switch.name


def draw_half(painter: QPainter, half: SwitchPosition, box: QRectF, ink: QColor) -> None:
    """A sliding switch: filled with its knob on the right when on, empty with its knob on the left when off; a dot for
    what is neither."""
    painter.setPen(QPen(ink, 1.4))
    radius = box.height() / 2
    if half.on is None:
        painter.setBrush(QColor(ORANGE))
        painter.drawEllipse(box.center(), radius * 0.75, radius * 0.75)
        return
    painter.setBrush(QColor(BLUISH_GREEN) if half.on else Qt.BrushStyle.NoBrush)
    painter.drawRoundedRect(box.adjusted(0, 1, 0, -1), radius, radius)
    painter.setPen(QPen(ink, 1.2))
    painter.setBrush(QColor("#FFFFFF") if half.on else QColor(GREY))
    x = box.right() - radius if half.on else box.left() + radius
    painter.drawEllipse(QPointF(x, box.center().y()), radius * 0.55, radius * 0.55)


class PracticePanel(VisitWidget):
    """The board with its keys. The window shows and hides it, and gives it the keys while it has the hands.

    Args:
        work: the house.
        look: theme and sizes.
    """

    key_clicked = Signal(str)
    """A key was clicked instead of pressed."""

    def __init__(self, work: PracticeController, appearance: Appearance) -> None:
        super().__init__(work.controller, appearance)
        self.work = work
        self.typed = ""
        self._before_question = False
        self.board = SwitchBoard(work, appearance)
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
    def shown(self) -> bool:
        """Whether it is in sight."""
        return not self.isHidden()

    @property
    def has_keyboard(self) -> bool:
        """Whether keys go to it."""
        return self.shown and self.board.has_keyboard

    def suspend(self) -> None:
        """A question has come up: keys go there until it is answered, or until the hands are given back."""
        self._before_question = self._before_question or self.board.has_keyboard
        self.set_keyboard(False)

    def resume(self) -> None:
        """The question is gone: keys go where they went before it."""
        if self._before_question and self.shown:
            self.set_keyboard(True)
        self._before_question = False

    def set_keyboard(self, to_panel: bool) -> None:
        """Let keys go to the panel, or to the window again."""
        self.board.has_keyboard, self.typed = to_panel, ""
        self.refresh()

    def handle(self, name: str) -> bool:
        """Take a key; False leaves it to the window."""
        switches = self.work.switches()
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
        """Switch one of all switches, counted from 0; `second`: a cord's own switch."""
        switch = self.work.switches()[index]
        self.board.chosen, self.typed = index, ""
        half = (switch.second or switch.main) if second else switch.main
        if not half.commands:
            self.controller.message = Message(f"{switch.name}: {half.word}; it stays so.")
            return
        try:
            self.work.switch(half)
        except StillvoltError as error:
            self.controller.message = Message(str(error), refused=True)
            return
        now = self.work.switches()[index]
        after = (now.second or now.main) if second else now.main
        self.controller.message = Message(
            f"In the practice house: {now.name}{': ' if after.word else ''}{after.word}"
        )

    def refresh(self) -> None:
        """See `VisitWidget`."""
        if not self.shown:
            return
        self.work.follow()
        hands = self.board.has_keyboard
        night = self.work.night_progress()
        if night:
            text = f"{night}, F3 calls it off"
        elif hands:
            text = self.typed.lower() or "Type a name"
        else:
            text = "Practice house"
        self.title.setText(text)
        set_role(self.title, "title" if self.typed or night else "heading")
        self._hints[0].setVisible(not hands)
        self._hints[1].setVisible(hands)
        self.board.setAccessibleName(self._spoken())
        self.board.update()
        self.update()

    def fit(self, shared_height: int) -> None:
        """Take the height that all switches need, up to a share of what there is."""
        hints = max(part.height() for part in self._hints)
        wanted = self.board.wanted_height() + hints + 12 + 4
        self.setFixedHeight(min(wanted, round(shared_height * MOST_SHARE)))

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
        switches = self.work.switches()
        if not switches:
            return ""
        switch = switches[min(self.board.chosen, len(switches) - 1)]
        words = [switch.name, switch.main.word, switch.second.word if switch.second else ""]
        return ", ".join(word for word in words if word)
