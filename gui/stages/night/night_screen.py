"""The night screen: covers the window for the night. Black, dim and large, to be read from the bed at a glance.

Text is dim on purpose: just the contrast that large text needs, far from white. It wanders by a little each minute, so
that nothing burns in. The dot follows the recorder's heartbeat: as long as it moves, the night is being recorded.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from gui.model.night_controller import NightController
from gui.model.status import status
from gui.model.wording import FROM_BED, clock_text, volts_text
from gui.sound.sounds import Sounds
from gui.widgets.appearance import fitting_font_pixels, wrapped
from gui.widgets.state_glyphs import draw_shape
from gui.widgets.theme import font
from logger.clock import NS_PER_S, Clock
from logger.settling.events import Settled, State
from logger.translation import marked, tr, tr_kept
from logger.visit.records.simulated_run import SIMULATED, SIMULATED_WORDS

GROUND = "#000000"
INK = "#7A5230"
"""Dim and reddish, which spares eyes that are used to the dark. Contrast about 3.1 to 1 on black: large text needs 3
(WCAG 2.1, 1.4.3)."""
PROBLEM = "#A04800"
"""Dim orange, contrast about 3.4 to 1 on black: a problem has other words and another shape, never a bright light."""

LARGE_SHARE = 0.17
QUIET_SHARE = 0.085
SMALL_SHARE = 0.05
"""Height of the texts, of the window's. At 2 m a capital letter of 12 mm is read with ease (20 minutes of arc, from
memory of ISO 9241-303); the first line has that on the smallest laptop's screen."""
WIDTH_SHARE = 0.9

WANDER = (0.05, 0.06)
"""How far the text wanders to either side, of width and height."""
WANDER_MINUTES = (37, 23)
"""For once there and back; the two have no common divisor, so that it comes by everywhere."""

DOT_S = 60.0
"""For once there and back of the dot."""

FRAME_MS = 250
ANSWER_NS = 5 * NS_PER_S
"""How long an answer to a key stays."""


HINT = marked("Space marks this moment. Any other key, a click or a touch leaves.")
FAR_BACK_S = 12 * 3600.0

_WORDS = {State.SETTLED: marked("STILL"), State.CHANGING_LONG: marked("CHANGING")}
"""By which a state goes at the bedside, where it has another word than by day."""
_MODIFIERS = (
    Qt.Key.Key_Shift, Qt.Key.Key_Control, Qt.Key.Key_Alt, Qt.Key.Key_AltGr, Qt.Key.Key_Meta, Qt.Key.Key_CapsLock,
    Qt.Key.Key_NumLock,
)  # fmt: skip
_BAD = (State.LOST, State.OVERLOAD, State.WAITING)


@dataclass(frozen=True, slots=True)
class NightStatus:
    """What is shown."""

    time: str
    state: State
    word: str
    is_problem: bool
    """The word tells of one."""
    value: str
    """The last settled one; empty where no value comes now, so that an old one does not pass for it."""
    supplies: str
    """Disk and battery."""
    problems: tuple[str, ...]


class NightScreen(QWidget):
    """Covers its parent while it is shown.

    Args:
        parent: the window.
        night_controller: what the window does on the stage Night.
        sounds: silent while this is shown, unless asked for.
        clock: injected time.
    """

    left = Signal()

    def __init__(
        self, parent: QWidget, night_controller: NightController, sounds: Sounds, clock: Clock
    ) -> None:
        super().__init__(parent)
        self.night_controller, self.controller = night_controller, night_controller.controller
        self._sounds, self._clock = sounds, clock
        self._sounds_were = sounds.on
        self._answer = ""
        self._answer_until_ns = 0
        self._timer = QTimer(self, interval=FRAME_MS)
        self._timer.timeout.connect(self.update)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_AcceptTouchEvents)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setCursor(Qt.CursorShape.BlankCursor)
        self.hide()

    # --- coming and going --------------------------------------------------------------------------------

    @property
    def is_shown(self) -> bool:
        """Whether it covers the window."""
        return not self.isHidden()

    def enter(self) -> None:
        """Cover the window; sounds are off from here on."""
        self._sounds_were, self._sounds.on = self._sounds.on, False
        self._show_answer(tr(HINT))
        self.cover()
        self.show()
        self.raise_()
        self.setFocus()
        self._timer.start()

    def leave(self) -> None:
        """Show the window again, with sounds as they were."""
        if not self.is_shown:
            return
        self._sounds.on = self._sounds_were
        self._timer.stop()
        self.hide()
        self.left.emit()

    def cover(self) -> None:
        """Take the parent's size."""
        parent = self.parentWidget()
        if parent is not None:
            self.setGeometry(parent.rect())

    def event(self, event: QEvent) -> bool:
        """No shortcut of the window acts in the dark; a touch leaves; see Qt."""
        if event.type() == QEvent.Type.ShortcutOverride:
            event.accept()
            return True
        if event.type() == QEvent.Type.TouchBegin:
            self.leave()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Space marks, every other key leaves; see Qt."""
        if event.isAutoRepeat() or event.key() in _MODIFIERS:
            return
        if event.key() == Qt.Key.Key_Space:
            self._mark()
        else:
            self.leave()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """See Qt."""
        event.accept()
        self.leave()

    def refresh(self) -> None:
        """Draw what is known now."""
        self.night_controller.supplies.poll()
        self.setAccessibleName(
            " ".join((self.night_status().time, self.night_status().word, self.night_status().value))
        )
        self.update()

    def _mark(self) -> None:
        snapshot = self.controller.snapshot
        if not snapshot.recording or snapshot.live is None:
            self._show_answer(tr("nothing is recorded: not marked"))
            return
        before = {mark.id for mark in snapshot.marks}
        # Where the disk is full, the last heartbeat is long past.
        self.controller.marks.put(FROM_BED, None if snapshot.stale else snapshot.live)
        new = [mark for mark in snapshot.marks if mark.id not in before]
        # By this computer's zone, as the clock on this screen.
        self._show_answer(
            tr("marked at {time}").format(time=clock_text(new[-1].utc_ns, None)) if new else tr("not marked")
        )

    def _show_answer(self, text: str) -> None:
        self._answer, self._answer_until_ns = text, self._clock.steady_ns() + ANSWER_NS
        self.update()

    # --- what is shown -----------------------------------------------------------------------------------

    def night_status(self) -> NightStatus:
        """What is shown now."""
        now = status(self.controller.snapshot)
        return NightStatus(
            datetime.fromtimestamp(self._clock.utc_ns() / NS_PER_S).strftime("%H:%M"),
            now.state,
            tr(_WORDS[now.state]) if now.state in _WORDS else now.word,
            now.state in _BAD,
            "" if now.state in _BAD else self._last_settled(),
            "   ".join(
                filter(
                    None,
                    (
                        tr(SIMULATED_WORDS[SIMULATED]) if now.simulated else "",
                        self.night_controller.supplies.disk_text(),
                        self.night_controller.supplies.battery_text(),
                    ),
                )
            ),
            tuple(self.night_controller.supplies.problems()),
        )

    def _last_settled(self) -> str:
        snapshot = self.controller.snapshot
        spans = [
            placed.event
            for placed in snapshot.events_between(Settled, snapshot.now_s - FAR_BACK_S, snapshot.now_s)
            if isinstance(placed.event, Settled)
        ]
        return f"{volts_text(spans[-1].volts)} V" if spans else ""

    def answer(self) -> str:
        """The answer to the last key, as long as it stays."""
        return self._answer if self._clock.steady_ns() < self._answer_until_ns else ""

    def wander(self) -> QPointF:
        """How far the text is off its place in this minute, in pixels."""
        minute = self._clock.utc_ns() // (60 * NS_PER_S)
        x, y = (math.sin(2 * math.pi * (minute % turn) / turn) for turn in WANDER_MINUTES)
        return QPointF(x * WANDER[0] * self.width(), y * WANDER[1] * self.height())

    def dot(self) -> float:
        """Where the dot is, -1 to 1: it follows the recorder's heartbeat and stands still when that stops."""
        live = self.controller.snapshot.live
        beat_ns = live.beat_steady_utc_ns if live is not None else 0
        return math.sin(2 * math.pi * (beat_ns % round(DOT_S * NS_PER_S)) / (DOT_S * NS_PER_S))

    # --- drawing -----------------------------------------------------------------------------------------

    def paintEvent(self, _: QPaintEvent) -> None:
        """See Qt."""
        shown = self.night_status()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(GROUND))
        painter.translate(self.wander())
        height = float(self.height())
        self._draw_first(painter, shown, height * 0.3)
        self._draw_line(painter, shown.supplies, QUIET_SHARE, height * 0.52, INK)
        problems = ", ".join(shown.problems)
        self._draw_line(painter, problems, QUIET_SHARE, height * 0.64, PROBLEM)
        answer = self.answer()
        warning = (
            tr_kept(self.controller.snapshot.live.warning)
            if self.controller.snapshot.live is not None
            else ""
        )
        self._draw_small(painter, answer or warning, height * 0.76, INK if answer else PROBLEM)
        self._draw_dot(painter, shown.is_problem, height * 0.92)
        painter.end()

    def _draw_first(self, painter: QPainter, shown: NightStatus, middle: float) -> None:
        """Time of day, shape and word, value."""
        room = self.width() * WIDTH_SHARE
        gap = "  "
        pixels = round(self.height() * LARGE_SHARE)
        least = round(self.height() * SMALL_SHARE)
        words = gap.join(filter(None, (shown.time, shown.word, shown.value)))
        # The shape stands before its word and is about as wide as four digits.
        face = font(fitting_font_pixels(f"{words}0000", room, pixels, least))
        metrics = QFontMetricsF(face)
        shape = QRectF(0, 0, metrics.horizontalAdvance("000"), metrics.capHeight())
        x = (self.width() - metrics.horizontalAdvance(f"{words}0") - shape.width()) / 2
        baseline = middle + metrics.capHeight() / 2
        ink = PROBLEM if shown.is_problem else INK
        painter.setFont(face)
        for text, text_ink in ((shown.time, INK), (shown.word, ink), (shown.value, INK)):
            if text is shown.word:
                draw_shape(painter, shown.state, shape.translated(x, baseline - shape.height()), QColor(ink))
                x += shape.width() + metrics.horizontalAdvance("0")
            painter.setPen(QColor(text_ink))
            painter.drawText(QPointF(x, baseline), text)
            x += metrics.horizontalAdvance(f"{text}{gap}")

    def _draw_line(self, painter: QPainter, text: str, share: float, middle: float, ink: str) -> None:
        if not text:
            return
        least = round(self.height() * SMALL_SHARE)
        painter.setFont(
            font(fitting_font_pixels(text, self.width() * WIDTH_SHARE, round(self.height() * share), least))
        )
        painter.setPen(QColor(ink))
        tall = self.height() * share * 1.4
        painter.drawText(QRectF(0, middle - tall / 2, self.width(), tall), Qt.AlignmentFlag.AlignCenter, text)

    def _draw_small(self, painter: QPainter, text: str, top: float, ink: str) -> None:
        """Over as many lines as it needs."""
        if not text:
            return
        face = font(round(self.height() * SMALL_SHARE))
        painter.setFont(face)
        painter.setPen(QColor(ink))
        tall = QFontMetricsF(face).lineSpacing()
        for line in wrapped(text, face, self.width() * WIDTH_SHARE):
            painter.drawText(
                QRectF(0, top - tall / 2, self.width(), tall), Qt.AlignmentFlag.AlignCenter, line
            )
            top += tall

    def _draw_dot(self, painter: QPainter, is_problem: bool, middle: float) -> None:
        """Filled while it records, an open ring otherwise."""
        size = self.height() * 0.022
        place = QPointF(self.width() * (0.5 + 0.06 * self.dot()), middle)
        if is_problem:
            painter.setPen(QPen(QColor(PROBLEM), size * 0.3))
            painter.setBrush(Qt.BrushStyle.NoBrush)
        else:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(INK))
        painter.drawEllipse(place, size, size)
