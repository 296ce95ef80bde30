"""The readout: state as shape, word and colour; the value, readable across a room; the chosen spot."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFontMetricsF,
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import QAbstractButton, QLabel, QToolTip, QWidget

from gui.actions.action_buttons import ENTER_KEYS
from gui.actions.spoken_text import set_spoken_description, set_spoken_name
from gui.model.hands_free import Countdown
from gui.model.status import Offer, Status, no_value_text, status
from gui.model.status_tips import state_tip, uncertainty_tip
from gui.model.visit_controller import VisitController
from gui.model.wording import uncertainty_text, volts_text
from gui.widgets.appearance import Appearance, VisitWidget, fitting_font_pixels, wrapped
from gui.widgets.state_glyphs import draw_shape
from gui.widgets.theme import BLUISH_GREEN, ON_STATE, STATE_COLOURS, Sizes, font
from logger.settling.events import State
from logger.translation import marked, tr, tr_kept

SIMULATED_MARK = marked("SIMULATED: no meter, nothing is measured")
SHORT_SIMULATED_MARK = marked("SIMULATED")
"""Where there is no room for the whole of it."""

CONFIDENCE = "95 %"
"""What the expanded uncertainty beside the value means: a factor of two."""

HELD_FRAME = 6.0
"""A green field reads as "go": while a settled value may not be taken, only a frame of so many pixels is green."""

HEIGHT_SHARE = 0.21
"""Of the window's height."""


class _SpokenValue(QLabel):
    """The readout as a text for a screen reader, which Tab can reach; its name is the value, and nothing is drawn.

    Args:
        readout: what it covers.
    """

    def __init__(self, readout: QWidget) -> None:
        super().__init__(readout)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)

    def paintEvent(self, _: QPaintEvent) -> None:
        """Draw the frame of the keyboard alone; see Qt."""
        _draw_focus(self)


class _SpokenButton(QAbstractButton):
    """What can be clicked in the readout, as a button for Tab and a screen reader; the mouse goes through it.

    Args:
        readout: what it is a part of.
    """

    def __init__(self, readout: QWidget) -> None:
        super().__init__(readout)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter presses it, as Space does; see Qt."""
        if event.key() in ENTER_KEYS:
            self.click()
        else:
            super().keyPressEvent(event)

    def paintEvent(self, _: QPaintEvent) -> None:
        """Draw the frame of the keyboard alone; see Qt."""
        _draw_focus(self)


def _draw_focus(part: QWidget) -> None:
    """Draw the frame of the keyboard round a part that has it."""
    if part.hasFocus():
        painter = QPainter(part)
        painter.setPen(QPen(part.palette().highlight().color(), 3))
        painter.drawRect(part.rect().adjusted(1, 1, -2, -2))
        painter.end()


LEFT = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft

SPOT_TIP = marked("The chosen spot. Click to choose another one.")
CONDITION_TIP = marked("What is on. Click to enter what is on now.")

NAME_SHARE = 0.66
"""So much of the field's height, from above, belongs to the name of the spot; what is on is below it."""


# long: it paints every part of it, names them for a screen reader, and tells which of them was clicked.
class Readout(VisitWidget):
    """Shows value and state all the time; nothing is ever drawn over it."""

    spot_clicked = Signal()
    """The name of the spot was clicked."""
    condition_clicked = Signal()
    """What is on, below that name, was clicked."""

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        self.offer: Callable[[], Offer] = lambda: Offer.NO_VALUE
        """Tells whether the big button takes the value of now; the window gives it."""
        self._status = status(controller.snapshot)
        self._spot = ("", "", "")
        """The chosen spot's name, what is on, and what has to be on when it is read."""
        self._why_missing = ""
        """Why what is on has to be entered, where it is not known."""
        self._countdown: Countdown | None = None
        self._spoken = _SpokenValue(self)
        self.spot_button, self.condition_button = _SpokenButton(self), _SpokenButton(self)
        """The chosen spot, and what is on, each with what a click on it does."""
        self.spot_button.clicked.connect(self.spot_clicked)
        self.condition_button.clicked.connect(self.condition_clicked)
        set_spoken_description(self.spot_button, tr(SPOT_TIP))
        set_spoken_description(self.condition_button, tr(CONDITION_TIP))
        self._say()
        self.refresh()

    def event(self, event: QEvent) -> bool:
        """Show under the mouse what the state and the ± mean; see Qt."""
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            QToolTip.showText(event.globalPos(), self.tip_at(QPointF(event.pos())), self)
            return True
        return super().event(event)

    def tip_at(self, point: QPointF) -> str:
        """What the mouse shows at a point: of the state, of the value, or that what is on can be entered."""
        tile, value, _ = self._areas()
        if tile.contains(point):
            return "\n".join(filter(None, (state_tip(self.controller.snapshot), self._status.detail)))
        if value.contains(point):
            mark = f"{tr(SIMULATED_MARK)}\n" if self._status.simulated else ""
            return mark + uncertainty_tip(self.controller.snapshot)
        if point.y() < self.height() * NAME_SHARE:
            return tr(SPOT_TIP)
        return tr(CONDITION_TIP)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A click on the value gives it the keyboard, so that it is what is copied next, one on the spot reports it."""
        _, value, spot = self._areas()
        if event.button() == Qt.MouseButton.LeftButton and value.contains(event.position()):
            self._spoken.setFocus(Qt.FocusReason.MouseFocusReason)
        elif event.button() == Qt.MouseButton.LeftButton and spot.contains(event.position()):
            is_name = event.position().y() < self.height() * NAME_SHARE
            (self.spot_clicked if is_name else self.condition_clicked).emit()
        else:
            super().mousePressEvent(event)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """The first click has asked already: the second is none of its own; see Qt."""
        event.accept()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._spoken.setGeometry(self.rect())
        spot = self._areas()[2].toRect()
        name_height = round(self.height() * NAME_SHARE)
        self.spot_button.setGeometry(spot.adjusted(0, 0, 0, name_height - spot.height()))
        self.condition_button.setGeometry(spot.adjusted(0, name_height, 0, 0))

    def refresh(self) -> None:
        """See `VisitWidget`."""
        snapshot = self.controller.snapshot
        chosen = self.controller.route.chosen
        condition = self.controller.condition.at(chosen) if chosen else snapshot.condition
        condition = tr_kept(condition)
        # A practice night is recorded in the house as it stood, and nothing is read in it.
        if condition and not snapshot.practice_night and self.controller.readings.condition_doubt():
            condition = tr("What is on? “{stated}” is in doubt").format(stated=condition)
        wanted = self.controller.condition.reminder_at(chosen) if chosen else ""
        spot = (chosen.name if chosen else "", condition, wanted)
        now, countdown = status(snapshot, self.offer()), self.controller.hands_free.countdown()
        missing = "" if condition else self.controller.condition.why_missing()
        shown = self._status, self._spot, self._why_missing, self._countdown
        if (now, spot, missing, countdown) != shown:
            self._status, self._spot, self._why_missing, self._countdown = now, spot, missing, countdown
            self._say()
            set_spoken_description(self._spoken, state_tip(snapshot))
            self.update()

    def accessible_text(self) -> str:
        """The readout in words, for a screen reader: nothing in it is new every second."""
        shown = self._status
        if shown.volts is None:
            value = no_value_text(self.controller.snapshot)
        elif shown.u_volts is None:
            value = tr("no value yet")
        else:
            uncertainty = uncertainty_text(shown.volts, shown.u_volts).replace("±", "").strip()
            number = volts_text(shown.volts, shown.u_volts)
            value = tr("{volts} volts, plus or minus {uncertainty} volts").format(
                volts=number, uncertainty=uncertainty
            )
        value = f"{value}, {shown.note}" if shown.note else value
        text = tr("simulated, {state}, {value}") if shown.simulated else tr("{state}, {value}")
        return text.format(state=shown.word, value=value)

    def spot_text(self) -> str:
        """The chosen spot in words."""
        name = self._spot[0]
        return tr("Spot: {spot}").format(spot=name) if name else tr("Spot: none is chosen")

    def condition_text(self) -> str:
        """What is on in words."""
        _, condition, wanted = self._spot
        if condition and wanted:
            text = tr("What is on: {condition}. Reminder for this spot: {wanted}")
            return text.format(condition=condition, wanted=wanted)
        if condition:
            return tr("What is on: {condition}").format(condition=condition)
        return self._shown_condition()

    def whole_text(self) -> str:
        """All of it in one line: the spot, what is on, the state and the value."""
        return f"{self.spot_text()}. {self.condition_text().removesuffix('.')}. {self.accessible_text()}."

    def _say(self) -> None:
        """Name the parts for a screen reader."""
        set_spoken_name(self._spoken, self.accessible_text())
        set_spoken_name(self.spot_button, self.spot_text())
        set_spoken_name(self.condition_button, self.condition_text())

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(600, 120)

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(self.appearance.theme.panel))
        tile, value, spot = self._areas()
        self._draw_tile(painter, tile, self._status)
        self._draw_value(painter, value, self._status)
        self._draw_spot(painter, spot)
        painter.end()

    def _areas(self) -> tuple[QRectF, QRectF, QRectF]:
        """Where the state, the value and the spot stand, in pixels."""
        width, height = float(self.width()), float(self.height())
        tile = QRectF(0, 0, max(width * 0.235, 250), height)
        right_width = min(max(width * 0.29, 220), 640)
        value_left = tile.right() + height * 0.2
        value = QRectF(value_left, 0, width - right_width - value_left - height * 0.12, height)
        return tile, value, QRectF(width - right_width, 0, right_width, height)

    def _draw_tile(self, painter: QPainter, tile: QRectF, shown: Status) -> None:
        painter.fillRect(tile, QColor(STATE_COLOURS[shown.state]))
        ink = QColor(ON_STATE)
        if shown.is_held:
            inner = tile.adjusted(HELD_FRAME, HELD_FRAME, -HELD_FRAME, -HELD_FRAME)
            painter.fillRect(inner, QColor(self.appearance.theme.panel))
            ink = QColor(self.appearance.theme.text)
        if shown.state in (State.LOST, State.WAITING):
            pen = QPen(ink, 3, Qt.PenStyle.DashLine)
            painter.setPen(pen)
            painter.drawRect(tile.adjusted(3, 3, -3, -3))
        height = tile.height()
        pad = height * 0.15
        draw_shape(painter, shown.state, QRectF(pad, height * 0.1, height * 0.62, height * 0.32), ink)
        painter.setPen(ink)
        room = tile.width() - 2 * pad
        small = Sizes.for_height(0).small  # a word that is cut is worse than one in the least size
        painter.setFont(font(fitting_font_pixels(shown.word, room, round(height * 0.265), small, True), True))
        word_box = QRectF(pad, height * 0.42, room, height * 0.31)
        painter.drawText(word_box, LEFT | Qt.TextFlag.TextWordWrap, shown.word)
        face = font(fitting_font_pixels(shown.detail, room, round(height * 0.15), small))
        painter.setFont(face)
        detail = QFontMetricsF(face).elidedText(shown.detail, Qt.TextElideMode.ElideRight, room)
        painter.drawText(QRectF(pad, height * 0.72, room, height * 0.2), LEFT, detail)

    def _draw_value(self, painter: QPainter, box: QRectF, shown: Status) -> None:
        theme, sizes = self.appearance.theme, self.appearance.sizes
        if shown.simulated:
            box = box.adjusted(0, self._draw_simulated(painter, box), 0, 0)
        is_value = shown.u_volts is not None
        if shown.volts is None:
            painter.setPen(QColor(theme.pale))
            painter.setFont(font(round(sizes.large * 1.3)))
            painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, no_value_text(self.controller.snapshot))
            return
        number = volts_text(shown.volts, shown.u_volts)
        uncertainty = "" if shown.u_volts is None else uncertainty_text(shown.volts, shown.u_volts)

        def width_at(pixels: int) -> float:
            wide = QFontMetricsF(font(pixels, True)).horizontalAdvance(number)
            narrow = QFontMetricsF(font(round(pixels * 0.42))).horizontalAdvance(
                f" V  {uncertainty} V" if uncertainty else " V"
            )
            return wide + narrow

        pixels = sizes.value
        if width_at(pixels) > box.width():
            pixels = round(pixels * box.width() / width_at(pixels))
        big = font(pixels, True)
        cap = QFontMetricsF(big).capHeight()
        baseline = box.top() + (box.height() + cap) / 2
        painter.setPen(QColor(theme.text if is_value else theme.pale))
        painter.setFont(big)
        at = box.left()
        painter.drawText(round(at), round(baseline), number)
        at += QFontMetricsF(big).horizontalAdvance(number)
        beside = font(round(pixels * 0.42))
        metrics = QFontMetricsF(beside)
        painter.setFont(beside)
        at += metrics.horizontalAdvance(" ")
        painter.drawText(round(at), round(baseline), "V")
        if not is_value:
            return
        at += metrics.horizontalAdvance("V  ")
        painter.setPen(QColor(theme.quiet))
        painter.drawText(round(at), round(baseline), f"{uncertainty} V")
        note = f"{tr(CONFIDENCE)}, {shown.note}" if shown.note else tr(CONFIDENCE)
        room, least = box.right() - at, Sizes.for_height(0).small
        painter.setFont(font(fitting_font_pixels(note, room, sizes.small, least)))
        painter.drawText(round(at), round(baseline - cap + metrics.capHeight() * 0.55), note)

    def _draw_simulated(self, painter: QPainter, box: QRectF) -> float:
        """Mark the value as simulated, above it; returns the height that the mark takes."""
        theme, small = self.appearance.theme, self.appearance.sizes.small
        room = box.width() - QFontMetricsF(font(small, True)).height()
        mark_text, least = tr(SIMULATED_MARK), Sizes.for_height(0).small
        if QFontMetricsF(font(least, True)).horizontalAdvance(mark_text) > room:
            mark_text = tr(SHORT_SIMULATED_MARK)  # the rest of it is the tip
        pixels = fitting_font_pixels(mark_text, room, small, least, True)
        face = font(pixels, True)
        metrics = QFontMetricsF(face)
        width = min(metrics.horizontalAdvance(mark_text) + metrics.height(), box.width())
        mark = QRectF(box.left(), box.top() + 2, width, metrics.height() * 1.15)
        painter.fillRect(mark, QColor(theme.ask))
        painter.setFont(face)
        painter.setPen(QColor(theme.on_ask))
        painter.drawText(mark, Qt.AlignmentFlag.AlignCenter, mark_text)
        return mark.height()

    def _shown_condition(self) -> str:
        """What is on, and what has to be on at the chosen spot, as it is drawn."""
        _, condition, wanted = self._spot
        if condition:
            return f"{condition} · {wanted}" if wanted else condition
        if wanted:
            text = tr("What is on? {why}. Reminder for this spot: {wanted}")
            return text.format(why=self._why_missing, wanted=wanted)
        return tr("What is on? {why}").format(why=self._why_missing)

    def _draw_spot(self, painter: QPainter, box: QRectF) -> None:
        theme, sizes = self.appearance.theme, self.appearance.sizes
        name, condition, _ = self._spot
        pad = box.height() * 0.13
        painter.setPen(QPen(QColor(theme.line), 1))
        painter.drawLine(box.topLeft(), box.bottomLeft())
        inner = box.adjusted(pad, pad * 0.9, -pad, -pad * 0.9)
        small = QFontMetricsF(font(sizes.small)).lineSpacing()
        painter.setFont(font(sizes.small))
        painter.setPen(QColor(theme.quiet))
        if self._countdown is None:
            painter.drawText(inner, Qt.AlignmentFlag.AlignTop, tr("Spot"))
        else:
            strip = QRectF(box.left() + 1, box.top(), box.width() - 1, pad * 0.9 + small + 2)
            painter.fillRect(strip, QColor(theme.ask))
            done = QRectF(strip.left(), strip.bottom() - 4, strip.width() * self._countdown.share, 4)
            painter.fillRect(done, QColor(BLUISH_GREEN))
            told = self._countdown.text
            least = Sizes.for_height(0).small
            if QFontMetricsF(font(least, True)).horizontalAdvance(told) > strip.width() - pad:
                told = self._countdown.short_text
            pixels = fitting_font_pixels(told, strip.width() - pad, sizes.small, least, True)
            painter.setFont(font(pixels, True))
            painter.setPen(QColor(theme.on_ask))
            painter.drawText(
                strip.adjusted(pad / 2, 0, -pad / 2, -3),
                Qt.AlignmentFlag.AlignVCenter,
                told,
            )
        lines = wrapped(self._shown_condition(), font(sizes.small), inner.width())
        if len(lines) > 2:
            metrics = QFontMetricsF(font(sizes.small))
            lines = [
                lines[0],
                metrics.elidedText(" ".join(lines[1:]), Qt.TextElideMode.ElideRight, inner.width()),
            ]
        face = font(sizes.small)
        face.setUnderline(not condition)  # it is missing, and a click enters it
        painter.setFont(face)
        painter.setPen(QColor(theme.text if condition else theme.quiet))
        below = inner.bottom() - small * len(lines)
        for index, line in enumerate(lines):
            place = QRectF(inner.left(), below + small * index, inner.width(), small)
            painter.drawText(place, Qt.AlignmentFlag.AlignVCenter, line)
        middle = QRectF(inner.left(), inner.top() + small, inner.width(), below - inner.top() - small * 1.1)
        self._draw_name(painter, middle, name)

    def _draw_name(self, painter: QPainter, box: QRectF, name: str) -> None:
        """The spot's name, over as many lines as there is room for; smaller before any of it is left out."""
        theme, sizes = self.appearance.theme, self.appearance.sizes
        shown = name or (tr("none chosen") if self.controller.snapshot.spots else tr("no spot yet"))
        painter.setPen(QColor(theme.text if name else theme.quiet))
        for size in (sizes.large, sizes.normal, sizes.small):
            face = font(size, True)
            metrics = QFontMetricsF(face)
            lines = wrapped(shown, face, box.width())
            room = max(int(box.height() // metrics.lineSpacing()), 1)
            if len(lines) <= room:
                break
        else:
            rest = metrics.elidedText(" ".join(lines[room - 1 :]), Qt.TextElideMode.ElideRight, box.width())
            lines = [*lines[: room - 1], rest]
        painter.setFont(face)
        top = box.center().y() - metrics.lineSpacing() * len(lines) / 2
        for index, line in enumerate(lines):
            place = QRectF(
                box.left(), top + index * metrics.lineSpacing(), box.width(), metrics.lineSpacing()
            )
            painter.drawText(place, Qt.AlignmentFlag.AlignVCenter, line)
