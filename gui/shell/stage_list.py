"""The list of stages: the stages in the order of the work, how far each is, and below them the recorder."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QAbstractButton, QSizePolicy, QVBoxLayout

from gui.actions.action_buttons import ActionButton
from gui.actions.registry import ActionRegistry
from gui.actions.tips import in_lines
from gui.model.recorder_presence import waiting_head
from gui.model.stages import CONNECT, STAGES, Stage
from gui.model.visit_controller import VisitController
from gui.model.wording import clock_text, counted, duration_text
from gui.widgets.appearance import Appearance, VisitWidget, fitting_font_pixels
from gui.widgets.theme import BLUISH_GREEN, GREY, VERMILLION, Sizes, font
from logger.metrology.rounding import grouped
from logger.translation import marked, tr, tr_n

CUT_LINES = 1
"""So many lines without a value mean nothing: a recording may begin in the middle of a line."""


@dataclass(frozen=True, slots=True)
class _RecorderText:
    """What is drawn below the stages."""

    dot: str
    """Its colour."""
    head: str
    lines: tuple[str, ...]
    top: float
    """Where it begins, in pixels from the top of the list."""
    button_height: int
    """Room between word and lines for the button that stops recording, in pixels; 0 where it is beside the word."""


class StageButton(QAbstractButton):
    """One stage: its number, its name, how far it is.

    Args:
        stage: which.
        controller: what the window does with the visit.
        appearance: theme and sizes.
    """

    def __init__(self, stage: Stage, controller: VisitController, appearance: Appearance) -> None:
        super().__init__()
        self.stage = stage
        self._controller = controller
        self.appearance = appearance
        self.sizes = appearance.sizes
        """Of its two lines; smaller than those of the window where the list is low."""
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Maximum)
        self.refresh()

    def refresh(self) -> None:
        """Show how far the stage is now."""
        progress = self.stage.progress(self._controller)
        stage = tr(self.stage.name)
        name = f"{self.stage.number} {stage}, {progress}"
        if name != self.accessibleName():
            self.setAccessibleName(name)
            tip = tr("Goes to the stage {name} (Ctrl+{number}). How far it is: {progress}.").format(
                name=stage, number=self.stage.number, progress=progress
            )
            self.setToolTip(in_lines(tip))
            # Qt reports a change of a description, not that of the tip which it else takes for one.
            self.setAccessibleDescription(tip)
            self.update()

    def sizeHint(self) -> QSize:
        """See Qt."""
        sizes = self.sizes
        return QSize(list_width(self.appearance.sizes), round(_two_lines(sizes) + sizes.small * 0.75))

    def minimumSizeHint(self) -> QSize:
        """See Qt: without the room above and below."""
        return QSize(40, round(_line(Sizes.for_height(0).normal, True)))

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        theme, sizes = self.appearance.theme, self.sizes
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        row, chosen = QRectF(self.rect()), self.isChecked()
        if chosen or self.underMouse():
            painter.fillRect(row, QColor(theme.chosen if chosen else theme.note))
        if self.hasFocus():
            # Within the row: at its edge the light frame of the chosen one would not stand out from what is around it.
            painter.setPen(QPen(QColor(theme.on_chosen if chosen else theme.chosen), 2))
            painter.drawRect(row.adjusted(4, 4, -4, -4))
        normal, small = _line(sizes.normal, True), _line(sizes.small)
        ink = QColor(theme.on_chosen if chosen else theme.text)
        pad = sizes.small * 0.8
        mark = QRectF(pad, row.center().y() - sizes.small * 0.75, sizes.small * 1.5, sizes.small * 1.5)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.key))
        painter.drawRoundedRect(mark, 4, 4)
        painter.setPen(QColor(theme.on_key))
        painter.setFont(font(sizes.small, True))
        painter.drawText(mark, Qt.AlignmentFlag.AlignCenter, str(self.stage.number))
        left = mark.right() + sizes.small * 0.3
        has_second = row.height() >= _two_lines(sizes) - 1
        top = row.top() + (row.height() - normal - (small if has_second else 0)) / 2
        middle = Qt.AlignmentFlag.AlignVCenter
        name, room = tr(self.stage.name), row.width() - left
        face = font(fitting_font_pixels(name, room, sizes.normal, Sizes.for_height(0).small, True), True)
        painter.setFont(face)
        painter.setPen(ink)
        shown = QFontMetricsF(face).elidedText(name, Qt.TextElideMode.ElideRight, room)
        painter.drawText(QRectF(left, top, room, normal), middle, shown)
        if has_second:
            progress = self.stage.progress(self._controller)
            face = font(fitting_font_pixels(progress, room, sizes.small, Sizes.for_height(0).small))
            painter.setFont(face)
            painter.setPen(ink if chosen else QColor(theme.quiet))
            shown = QFontMetricsF(face).elidedText(progress, Qt.TextElideMode.ElideRight, room)
            painter.drawText(QRectF(left, top + normal, room, small), middle, shown)
        painter.end()


def _line(pixels: int, bold: bool = False) -> float:
    """Height of a line of text, in pixels."""
    return QFontMetricsF(font(pixels, bold)).lineSpacing()


def _two_lines(sizes: Sizes) -> float:
    """Height of name and progress, in pixels."""
    return _line(sizes.normal, True) + _line(sizes.small)


def list_width(sizes: Sizes) -> int:
    """Width of the list, in pixels: three numbers and the words between fit, at the least size of text too.

    Args:
        sizes: of the window.
    """
    return max(round(sizes.normal * 10.6), round(Sizes.for_height(0).small * 13.7))


RECORDING = marked("Recording")
"""The recorder's word for that values come in."""


class StageList(VisitWidget):
    """A button for each stage, and below them the recorder, with a button that stops it.

    Args:
        controller: what the window does with the visit.
        appearance: theme and sizes.
        actions: the actions of the window; None, where the list is opened alone, leaves that button out.
    """

    stage_requested = Signal(object)
    """The `gui.model.stages.Stage` that was clicked."""

    def __init__(
        self, controller: VisitController, appearance: Appearance, actions: ActionRegistry | None = None
    ) -> None:
        super().__init__(controller, appearance)
        self._current = CONNECT
        self._shown: _RecorderText | None = None
        """What was drawn last below the stages."""
        self.buttons = {stage: StageButton(stage, controller, appearance) for stage in STAGES}
        self._column = QVBoxLayout(self)
        self._column.setSpacing(1)
        for stage, button in self.buttons.items():
            button.setAutoExclusive(True)
            button.clicked.connect(partial(self.stage_requested.emit, stage))
            self._column.addWidget(button)
        self._column.addStretch(1)
        self.stop: ActionButton | None = None
        """Stops recording; beside the word that it is recorded, and in sight only then."""
        if actions is not None:
            self.stop = ActionButton(actions, "measure.stop", tr("Stop..."), follows_visible=False)
            self.stop.setParent(self)
            self.stop.hide()
        self.buttons[CONNECT].setChecked(True)
        self._let_tab_reach_current()

    @property
    def current(self) -> Stage:
        """The stage that the work is at."""
        return self._current

    @current.setter
    def current(self, stage: Stage) -> None:
        self._current = stage
        self.buttons[stage].setChecked(True)
        self._let_tab_reach_current()

    def _let_tab_reach_current(self) -> None:
        """Tab goes to the button of the stage that the work is at; arrows go from there to the others."""
        for stage, button in self.buttons.items():
            reached = stage is self._current
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus if reached else Qt.FocusPolicy.NoFocus)

    def refresh(self) -> None:
        """See `StyledWidget`."""
        for button in self.buttons.values():
            button.refresh()
        self._place_stop()
        text = self._recorder_text()
        if text != self._shown:
            self._shown = text
            self.setToolTip("\n".join((text.head, *text.lines)))  # what has no room is shortened
            # The buttons above are not drawn anew, as they would be with the whole.
            top = self.buttons[STAGES[-1]].geometry().bottom() + 1
            self.update(0, top, self.width(), self.height() - top)

    def _place_stop(self) -> None:
        """Put the button that stops recording at the right of the recorder's word, or below it where that is long."""
        if self.stop is None:
            return
        self.stop.setVisible(self.controller.snapshot.recording)  # this may let the list be laid out anew
        text = self._recorder_text()
        size = self.stop.sizeHint()
        pad, normal, _small = self._measures()
        right = self.width() - round(pad / 2)
        middle = text.top + normal / 2
        if text.button_height:
            middle = text.top + normal * 1.15 + size.height() / 2
        top = min(round(middle - size.height() / 2), self.height() - size.height())
        self.stop.setGeometry(right - size.width(), top, size.width(), size.height())

    def _stop_is_below(self, head: str) -> bool:
        """Whether there is no room for the button that stops recording beside that word of the recorder."""
        if self.stop is None:
            return False
        pad, _, _ = self._measures()
        word = 2.6 * pad + QFontMetricsF(font(self.appearance.sizes.small, True)).horizontalAdvance(head)
        return word + self.stop.sizeHint().width() > self.width() - round(pad / 2)

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`."""
        for button in self.buttons.values():
            button.appearance = appearance
        super().set_appearance(appearance)
        self._fit_buttons()
        self._place_stop()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt."""
        super().resizeEvent(event)
        self._fit_buttons()
        self._place_stop()

    def _fit_buttons(self) -> None:
        """Set names and progress smaller where the list is too low for both, down to the least size of text."""
        small = self.appearance.sizes.small
        # Room for the recorder's dot and word below the stages, and for the button where it has none beside the word.
        recorder = round(_line(self.appearance.sizes.normal, True) * 1.2 + small * 1.6)
        if self.stop is not None and self._stop_is_below(tr(RECORDING)):
            recorder += self.stop.sizeHint().height()
        self._column.setContentsMargins(0, round(small * 0.3), 0, recorder)
        margins = self._column.contentsMargins()
        room = self.height() - margins.top() - margins.bottom() - self._column.spacing() * len(STAGES)
        sizes, least = self.appearance.sizes, Sizes.for_height(0)
        while sizes.small > least.small and _two_lines(sizes) * len(STAGES) > room:
            small = sizes.small - 1
            sizes = replace(sizes, small=small, normal=max(sizes.normal - 1, small + 1))
        for button in self.buttons.values():
            button.sizes = sizes
            button.updateGeometry()
            button.update()

    def sizeHint(self) -> QSize:
        """See Qt."""
        return QSize(list_width(self.appearance.sizes), 200)

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(self.appearance.theme.panel))
        self._draw_recorder(painter)
        painter.end()

    def _measures(self) -> tuple[float, float, float]:
        """Room at the edge, height of a normal line and of a small one, in pixels."""
        sizes = self.appearance.sizes
        return sizes.small * 0.8, _line(sizes.normal, True), _line(sizes.small)

    def _recorder_text(self) -> _RecorderText:
        """Whether it records, since when, and what the meter sent that is no value."""
        snapshot = self.controller.snapshot
        live = snapshot.live
        lines: list[str] = []
        dot, head = GREY, tr("Not recording")
        if live is not None:
            words = (
                tr("last one {duration}")  # beside the trace, which has all of them
                if snapshot.trace.run_count > 1 and not snapshot.recording
                else tr("recorded {duration}")
            )
            recorded = words.format(duration=duration_text(snapshot.run_length_s))
            if snapshot.recording:
                dot, head = (
                    (BLUISH_GREEN, tr(RECORDING))
                    if live.port_state == "open"
                    else (VERMILLION, tr("Port lost"))
                )
                if snapshot.presence.waiting is not None:
                    dot, head = VERMILLION, waiting_head(snapshot.presence.waiting)
                started = clock_text(live.run_started_utc_ns, snapshot.zone, seconds=False)
                # Of a practice night one length: the log is ahead of what its process has told.
                lines = [tr("since {time}").format(time=started), snapshot.practice_night or recorded]
            elif snapshot.stale and snapshot.presence.at_work:
                dot, head = VERMILLION, tr("No answer")
                lines = [tr("recorder still at work")]
            elif snapshot.stale:
                dot, head = VERMILLION, tr("Recorder cut off")
                lines = [tr("kept to {time}").format(time=clock_text(live.beat_utc_ns, snapshot.zone))]
            else:
                lines = [recorded]
            lines.append(counted(live.count_volts, "value"))
            refused = live.count_not_ac_volts + live.count_unreadable
            if refused > CUT_LINES:
                text = tr_n("{n} line not read", "{n} lines not read", refused)
                lines.append(text.format(n=grouped(refused)))
            if live.count_overload:
                lines.append(tr("{n} overload").format(n=grouped(live.count_overload)))
        # Where the window is low, the first lines give way: what the meter sent that is no value stays.
        pad, normal, small = self._measures()
        below_word = self.stop is not None and snapshot.recording and self._stop_is_below(head)
        button = self.stop.sizeHint().height() if self.stop is not None and below_word else 0
        room = self.height() - self.buttons[STAGES[-1]].geometry().bottom() - 2 * pad - normal * 1.2 - button
        lines = lines[max(len(lines) - max(int(room / small), 0), 0) :]
        top = self.height() - pad - small * len(lines) - button - normal * 1.2
        return _RecorderText(dot, head, tuple(lines), top, button)

    def _draw_recorder(self, painter: QPainter) -> None:
        """Draw the recorder's dot, word and lines."""
        theme, sizes = self.appearance.theme, self.appearance.sizes
        pad, normal, small = self._measures()
        text = self._recorder_text()
        dot, head, lines, y = text.dot, text.head, text.lines, text.top
        painter.fillRect(QRectF(pad, y - pad * 0.8, self.width() - 2 * pad, 1), QColor(theme.line))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(dot))
        size = sizes.small * 0.75
        painter.drawEllipse(QRectF(pad, y + (normal - size) / 2, size, size))
        left = pad + size + pad * 0.6
        box = QRectF(left, y, self.width() - left, normal)
        face = font(
            fitting_font_pixels(head, box.width(), sizes.small, Sizes.for_height(0).small, True), True
        )
        painter.setFont(face)
        painter.setPen(QColor(theme.text))
        shown = QFontMetricsF(face).elidedText(head, Qt.TextElideMode.ElideRight, box.width())
        painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, shown)
        painter.setFont(font(sizes.small))
        painter.setPen(QColor(theme.quiet))
        metrics = QFontMetricsF(painter.font())
        for index, line in enumerate(lines):
            line_top = y + normal * 1.15 + text.button_height + index * small
            box = QRectF(pad, line_top, self.width() - 2 * pad, small)
            shown = metrics.elidedText(line, Qt.TextElideMode.ElideRight, box.width())
            painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, shown)
