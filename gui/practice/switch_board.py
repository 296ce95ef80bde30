"""Every switch of the simulated house in columns, drawn by state: word, shape and colour."""

from __future__ import annotations

import math
from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QAccessible,
    QAccessibleEvent,
    QColor,
    QFocusEvent,
    QFontMetricsF,
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
)
from PySide6.QtWidgets import QAbstractButton, QCheckBox, QPushButton, QRadioButton, QToolTip, QWidget

from gui.actions.spoken_text import set_spoken_description, set_spoken_name
from gui.model.practice_controller import PracticeController
from gui.widgets.appearance import Appearance, VisitWidget
from gui.widgets.theme import BLUISH_GREEN, GREY, IN_LINE, ORANGE, font, line_height
from logger.simulation.practice_switches import GroupKind, Switch, SwitchKind, SwitchPosition
from logger.translation import marked, tr

MAX_COLUMNS = 3
"""So many columns at most: fewer where names and words would not be whole in so many."""


TWO_SWITCHES = marked("{group}: plug, and switch at the right")
"""Above those that have a plug and a switch of their own."""


_SPOKEN_AS: dict[SwitchKind, type[QAbstractButton]] = {
    "switch": QCheckBox,
    "place": QRadioButton,
    "act": QPushButton,
}
"""What a screen reader takes a switch for: a box that is ticked, a choice of one, a button that does something."""


class _NotDrawn(QObject):
    """Keeps Qt from drawing a part: the board draws it."""

    def eventFilter(self, _: QObject, event: QEvent) -> bool:
        """See Qt."""
        return event.type() == QEvent.Type.Paint


def _spoken_part(board: QWidget, kind: SwitchKind, not_drawn: QObject) -> QAbstractButton:
    """What stands for a switch on the board to a screen reader."""
    part = _SPOKEN_AS[kind](board)
    part.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    part.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
    part.installEventFilter(not_drawn)
    part.show()
    return part


def _follow(part: QAbstractButton, switch: Switch) -> None:
    """Have what stands for a switch be named and ticked as that is now."""
    set_spoken_name(part, spoken_switch(switch))
    set_spoken_description(part, switch.does)
    if part.isCheckable() and part.isChecked() is not bool(switch.main.on):
        part.setChecked(bool(switch.main.on))


# long: one picture, with its places, its drawing, and what the mouse, the keys and a screen reader find in it.
class SwitchBoard(VisitWidget):
    """The switches in columns, whole groups one below the other.

    Args:
        practice_controller: the house.
        appearance: theme and sizes.
        take_key: takes a key, what it types, and whether Shift is held; False leaves the key to the window.
        is_typing: whether a name is being typed: Space is then a part of it.
    """

    pressed = Signal(int, bool)
    """A switch was clicked: its index among all, and whether on its second position."""

    focus_changed = Signal()
    """The keyboard came or went."""

    def __init__(
        self,
        practice_controller: PracticeController,
        appearance: Appearance,
        take_key: Callable[[Qt.Key, str, bool], bool],
        is_typing: Callable[[], bool],
    ) -> None:
        super().__init__(practice_controller.controller, appearance)
        self._take_key = take_key
        self._is_typing = is_typing
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.practice_controller = practice_controller
        self.chosen = 0
        self._boxes: list[tuple[QRectF, int, bool]] = []
        self._not_drawn = _NotDrawn(self)
        self._spoken: list[QAbstractButton] = []
        """A part for each switch, with its name and state, that is not drawn; for a screen reader."""
        self._spoken_chosen: int | None = None
        """The switch that a screen reader was told of last; None while the keyboard is elsewhere."""

    @property
    def has_keyboard(self) -> bool:
        """Whether keys go to it."""
        return self.hasFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """See Qt."""
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        others = event.modifiers() & ~(Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.KeypadModifier)
        if others or not self._take_key(Qt.Key(event.key()), event.text(), shift):
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        """See Qt."""
        super().focusInEvent(event)
        self.focus_changed.emit()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """See Qt."""
        super().focusOutEvent(event)
        self.focus_changed.emit()

    # --- where things are --------------------------------------------------------------------------------

    def columns(self) -> list[list[Switch | str]]:
        """The rows of each column: switches, and the names of groups that have no switch for the whole."""
        blocks: list[list[Switch | str]] = []
        for group in self.practice_controller.groups():
            has_two = any(switch.second is not None for switch in group.switches)
            heading = tr(TWO_SWITCHES).format(group=group.name) if has_two else group.name
            head: list[Switch | str] = [] if group.switches[0].heads_group else [heading]
            blocks.append([*head, *group.switches])
        for count in range(MAX_COLUMNS, 1, -1):
            columns = _in_columns(blocks, count)
            if sum(self._needed_widths(columns)) <= self.width() - self._gap * (len(columns) - 1):
                return columns
        return _in_columns(blocks, 1)

    @property
    def _gap(self) -> float:
        """Between two columns, in pixels."""
        return self.appearance.sizes.small * 0.7

    @property
    def row_height(self) -> float:
        """Of one switch, in pixels."""
        return math.ceil(line_height(font(self.appearance.sizes.small)) + 1)

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

    def box_of_chosen(self) -> QRectF:
        """Where the chosen switch is, as it was last drawn, in pixels."""
        return next(
            (box for box, index, second in self._boxes if index == self.chosen and not second), QRectF()
        )

    def reach_of_group(self, kind: GroupKind) -> tuple[float, float] | None:
        """Upper and lower edge of a group with its name, in pixels; None where there is none of that kind."""
        begins, places = 0, self._places()
        for group in self.practice_controller.groups():
            ends = begins + len(group.switches)
            if group.kind is kind:
                heading = 0 if group.switches[0].heads_group else 1
                rows = places[begins][1] - heading, places[ends - 1][1] + 1
                return rows[0] * self.row_height, rows[1] * self.row_height
            begins = ends
        return None

    def refresh(self) -> None:
        """See `VisitWidget`."""
        self.setMinimumHeight(self.wanted_height())
        self._refresh_spoken()
        super().refresh()

    def _refresh_spoken(self) -> None:
        """Let a screen reader find every switch with its state, and hear of the chosen one."""
        switches = self.practice_controller.switches()
        if [type(part) for part in self._spoken] != [_SPOKEN_AS[switch.kind] for switch in switches]:
            for part in self._spoken:
                part.deleteLater()
            self._spoken = [_spoken_part(self, switch.kind, self._not_drawn) for switch in switches]
        for part, switch in zip(self._spoken, switches, strict=True):
            _follow(part, switch)
        for place, index, second in self._boxes:
            if not second and index < len(self._spoken) and self._spoken[index].geometry() != place.toRect():
                self._spoken[index].setGeometry(place.toRect())
        chosen = self.chosen if self.has_keyboard and self.chosen < len(switches) else None
        if chosen != self._spoken_chosen:
            self._spoken_chosen = chosen
            if chosen is not None:
                event = QAccessibleEvent(self._spoken[chosen], QAccessible.Event.Focus)
                QAccessible.updateAccessibility(event)

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
        """Take Space before the window while a name is typed, and show whole names under the mouse; see Qt."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            if event.key() == Qt.Key.Key_Space and not event.modifiers() and self._is_typing():
                event.accept()
                return True
            return super().event(event)
        if isinstance(event, QHelpEvent):
            at = next((index for box, index, _ in self._boxes if box.contains(event.pos())), None)
            # On headings and between the switches: by which keys they are reached and switched.
            text = (
                self.accessibleDescription()
                if at is None
                else tip_of(self.practice_controller.switches()[at])
            )
            QToolTip.showText(event.globalPos(), text, self)
            return True
        return super().event(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt; the other buttons switch nothing."""
        if event.button() is not Qt.MouseButton.LeftButton:
            return
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
        gap = self._gap
        widths = self._widths(columns, self.width() - gap * (len(columns) - 1))
        left = 0.0
        self._boxes = []
        index = 0
        for c, column in enumerate(columns):
            for r, item in enumerate(column):
                box = QRectF(left, r * height, widths[c], height)
                if isinstance(item, Switch):
                    self._draw_switch(painter, item, index, box)
                    index += 1
                else:
                    self._draw_heading(painter, item, box)
            left += widths[c] + gap
        painter.end()

    def _widths(self, columns: list[list[Switch | str]], room: float) -> list[float]:
        """Of each column in that room in pixels: in proportion to what its longest row needs."""
        wanted = self._needed_widths(columns)
        return [width * room / max(sum(wanted), 1.0) for width in wanted]

    def _needed_widths(self, columns: list[list[Switch | str]]) -> list[float]:
        """Of each column: what its longest row needs, in pixels."""
        small = self.appearance.sizes.small
        plain, bold = QFontMetricsF(font(small)), QFontMetricsF(font(small, True))

        def needed(item: Switch | str) -> float:
            if isinstance(item, str):
                return bold.horizontalAdvance(item)
            metrics = bold if item.heads_group else plain
            words = plain.horizontalAdvance(item.main.word + (item.second.word if item.second else ""))
            return metrics.horizontalAdvance(_named(item)) + words + small * (4.9 if item.second else 3.1)

        return [max(map(needed, column), default=0.0) for column in columns]

    def _draw_heading(self, painter: QPainter, text: str, box: QRectF) -> None:
        painter.setFont(font(self.appearance.sizes.small, True))
        painter.setPen(QColor(self.appearance.theme.quiet))
        painter.drawText(box, IN_LINE, text)

    def _draw_switch(self, painter: QPainter, switch: Switch, index: int, box: QRectF) -> None:
        theme, small = self.appearance.theme, self.appearance.sizes.small
        chosen = self.has_keyboard and index == self.chosen
        if chosen:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(theme.chosen))
            painter.drawRoundedRect(box, 4, 4)
        ink = QColor(theme.on_chosen if chosen else theme.text)
        faint = QColor(theme.on_chosen if chosen else theme.quiet)
        face = font(small, switch.heads_group)
        metrics = QFontMetricsF(face)
        side = small * 1.0
        left = box.left() + small * 0.25
        shape = QRectF(left, box.center().y() - side * 0.5, side * 1.4, side)
        if switch.kind == "place":
            draw_choice(painter, shape, ink, chosen=bool(switch.main.on))
        else:
            draw_position(painter, switch.main, shape, ink)
        right = box.right() - small * 0.25
        split = right
        if switch.second is not None:
            right = self._word(painter, switch.second.word, right, box, faint)
            mark = QRectF(right - side * 1.5, shape.top(), side * 1.4, side)
            draw_position(painter, switch.second, mark, ink)
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
        painter.drawText(room, IN_LINE, shown)
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


def _in_columns(blocks: list[list[Switch | str]], count: int) -> list[list[Switch | str]]:
    """Groups one below the other in so many columns at most, as low as can be."""
    for height in range(max(map(len, blocks), default=0), sum(map(len, blocks)) + 1):
        columns: list[list[Switch | str]] = [[]]
        for block in blocks:
            if columns[-1] and len(columns[-1]) + len(block) > height:
                columns.append([])
            columns[-1] += block
        if len(columns) <= count:
            return columns
    return [[]]


def spoken_switch(switch: Switch) -> str:
    """A switch in words: its number, its name and its position, for who cannot see it."""
    words = [_named(switch), spoken_position(switch), spoken_position(switch, second=True)]
    return ", ".join(word for word in words if word)


def spoken_position(switch: Switch, *, second: bool = False) -> str:
    """The word of a switch's position, with what it is of where there are two; empty where it has none.

    Args:
        switch: which.
        second: of a cord's own switch; else of its plug, or of the only switch.
    """
    if switch.second is None:
        return "" if second else switch.main.spoken or switch.main.word
    if second:
        return tr("switch {word}").format(word=switch.second.word)
    return tr("plug {word}").format(word=switch.main.word)


def tip_of(switch: Switch) -> str:
    """What the mouse shows of a switch: its whole name, and what a click does."""
    return f"{_named(switch)}. {switch.does}"


def _named(switch: Switch) -> str:
    return f"{switch.number} {switch.name}" if switch.number else switch.name


def draw_position(painter: QPainter, position: SwitchPosition, box: QRectF, ink: QColor) -> None:
    """Draw a sliding switch.

    It is filled with its knob on the right when on, empty with its knob on the left when off; what is neither is a dot.

    Args:
        painter: draws.
        position: on, off, or neither.
        box: where, in pixels.
        ink: colour of the outline.
    """
    painter.setPen(QPen(ink, 1.4))
    radius = box.height() / 2
    if position.on is None:
        painter.setBrush(QColor(ORANGE))
        painter.drawEllipse(box.center(), radius * 0.75, radius * 0.75)
        return
    painter.setBrush(QColor(BLUISH_GREEN) if position.on else Qt.BrushStyle.NoBrush)
    painter.drawRoundedRect(box.adjusted(0, 1, 0, -1), radius, radius)
    painter.setPen(QPen(ink, 1.2))
    painter.setBrush(QColor("#FFFFFF") if position.on else QColor(GREY))
    x = box.right() - radius if position.on else box.left() + radius
    painter.drawEllipse(QPointF(x, box.center().y()), radius * 0.55, radius * 0.55)


def draw_choice(painter: QPainter, box: QRectF, ink: QColor, *, chosen: bool) -> None:
    """Draw one of several places of which one is chosen: a ring, with a dot in it where it is that one.

    Args:
        painter: draws.
        box: where, in pixels.
        ink: colour of the outline.
        chosen: it is the one.
    """
    radius = box.height() / 2
    painter.setPen(QPen(ink, 1.4))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawEllipse(box.center(), radius * 0.8, radius * 0.8)
    if chosen:
        painter.setBrush(QColor(BLUISH_GREEN))
        painter.drawEllipse(box.center(), radius * 0.45, radius * 0.45)
