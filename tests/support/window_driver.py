"""Somebody at the keys and the mouse of a window, and what stands for sound and recorder in tests."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from gui.dev.demo import DemoRecorder
from gui.model.visit_controller import VisitController
from gui.sound.sounds import Sounds, Tone
from gui.window import Window
from logger.clock import NS_PER_S, ManualClock
from logger.meter.port import PortSettings
from logger.visit import VisitLog

READING_TIME = ManualClock()
"""By which an open question counts what was pressed too soon: apart from the visit's, which counts its lines."""


class Heard(Sounds):
    """Notes the tones instead of playing them."""

    def __init__(self) -> None:
        super().__init__()
        self.tones: list[Tone] = []
        self.spoken: list[str] = []

    def play(self, tone: Tone) -> None:
        if self.on:
            self.tones.append(tone)

    def speak(self, text: str) -> None:
        if self.on:
            self.spoken.append(text)


class Charger:
    """Stands for the system's knowledge of the charger."""

    def __init__(self) -> None:
        self.plugged_in: bool | None = None

    def __call__(self) -> bool | None:
        return self.plugged_in


class FakeStart:
    """Stands for a recorder process that was started: tells what it was asked, answers what it is told to."""

    def __init__(self) -> None:
        self.asked: list[PortSettings] = []
        self.answer: str | None = None

    def __call__(self, visit: Path, settings: PortSettings) -> FakeStart:
        self.asked.append(settings)
        return self

    def refusal(self) -> str | None:
        return self.answer


def raise_arm(demo: DemoRecorder, log: VisitLog, take: Callable[[], object], up_volts: float = 0.7) -> None:
    """From still at 0.4 V, an arm is raised slowly and lowered again.

    `take` is called in the pause between, as soon as that is called settled. What follows shows that it was none.
    """
    demo.approach(0.4, up_volts, 5)
    for _ in range(40):
        demo.still(up_volts, 0.2)
        live = log.recorder.live()
        assert live is not None
        if not log.current_value.why_not_settled() and live.volts is not None and live.volts > up_volts - 0.1:
            take()
            demo.approach(up_volts, 0.4, 1)
            demo.still(0.4, 30)
            return
    raise AssertionError("the pause was never called settled")


def open_since_before(controller: VisitController) -> None:
    """Have a window's choice of a spot stand as if it had been made before anything was recorded."""
    route = controller.route
    route.choices[:] = [replace(choice, since_utc_ns=0, run_id=0) for choice in route.choices]


def show_with_keyboard(window: Window, qtbot: QtBot) -> Driver:
    """Show a window and wait until keys go to it."""
    with qtbot.waitActive(window):
        window.show()
        window.activateWindow()
    return Driver(window)


class Driver:
    """A window with somebody at its keys and its mouse."""

    def __init__(self, window: Window) -> None:
        self.window = window
        window.question.guard.clock = READING_TIME

    def read_question(self) -> None:
        """Take the time that somebody needs who reads the open question before an answer."""
        READING_TIME.advance_ns(2 * NS_PER_S)

    def do(self, *action_ids: str) -> None:
        """Run actions as menu entries, buttons and shortcuts do; each has to be offered."""
        for action_id in action_ids:
            self.window.refresh_actions()
            why_not = self.window.registry.why_not(action_id)
            assert not why_not, f"{action_id} is not offered: {why_not}"
            action = self.window.registry[action_id]
            assert action.isEnabled() and action.isVisible(), action_id
            action.trigger()

    def refused(self, action_id: str) -> str:
        """Ask for an action that is not offered; returns why it is not."""
        why_not = self.window.registry.why_not(action_id)
        assert why_not, f"{action_id} is offered"
        assert not self.window.registry.trigger(action_id)
        return why_not

    def answer(self, *texts: str) -> None:
        """Click the button of the open question, or its row, whose text begins so; one question after the other."""
        for text in texts:
            panel = self.window.question
            self.read_question()
            assert panel.question is not None, f"no question is open for “{text}”"
            button = next((b for b in panel.buttons if _begins(b.text(), text)), None)
            if button is not None:
                QTest.mouseClick(button, Qt.MouseButton.LeftButton)
                continue
            rows = panel.list
            shown = [b.text() for b in panel.buttons]
            assert rows is not None, f"no answer “{text}” among {shown}"
            items = [rows.item(at) for at in range(rows.count())]
            at = next((at for at, item in enumerate(items) if _begins(item.text(), text)), None)
            assert at is not None, f"no answer “{text}” among {[i.text() for i in items]} and {shown}"
            rows.setCurrentRow(at)
            QTest.keyClick(rows, Qt.Key.Key_Return)

    def tick(self, text: str, on: bool) -> None:
        """Tick the box of the open question whose text begins so, or clear it."""
        box = next(b for b in self.window.question.boxes if _begins(b.text(), text))
        if box.isChecked() is not on:
            QTest.mouseClick(box, Qt.MouseButton.LeftButton, pos=QPoint(8, box.height() // 2))
        assert box.isChecked() is on

    def press(self, *names: str) -> None:
        """Press keys, each after a look at the screen, as a keyboard sends them to what has the keyboard.

        Args:
            *names: 'Space', 'Down', 'Ctrl+Z', 'm'.
        """
        for name in names:
            self.read_question()
            self.press_at_once(name)

    def press_at_once(self, *names: str) -> None:
        """Press keys as `press`, one right after the other, whatever has come up meanwhile."""
        special = {
            "Space": Qt.Key.Key_Space, "Return": Qt.Key.Key_Return, "Esc": Qt.Key.Key_Escape, "Up": Qt.Key.Key_Up,
            "Down": Qt.Key.Key_Down, "Left": Qt.Key.Key_Left, "Right": Qt.Key.Key_Right,
            "PgUp": Qt.Key.Key_PageUp, "PgDown": Qt.Key.Key_PageDown, "Del": Qt.Key.Key_Delete,
            "Home": Qt.Key.Key_Home, "End": Qt.Key.Key_End, "Tab": Qt.Key.Key_Tab, "Backtab": Qt.Key.Key_Backtab,
            **{f"F{n}": Qt.Key(Qt.Key.Key_F1 + n - 1) for n in range(1, 13)},
        }  # fmt: skip
        prefixes = {
            "Shift+": Qt.KeyboardModifier.ShiftModifier,
            "Ctrl+": Qt.KeyboardModifier.ControlModifier,
            "Alt+": Qt.KeyboardModifier.AltModifier,
        }
        for name in names:
            target = QApplication.focusWidget() or self.window
            modifier = Qt.KeyboardModifier.NoModifier
            for prefix, value in prefixes.items():
                if name.startswith(prefix) and len(name) > len(prefix):
                    name, modifier = name.removeprefix(prefix), modifier | value
            if name in special:
                QTest.keyClick(target, special[name], modifier)
            elif modifier & Qt.KeyboardModifier.ControlModifier:
                QTest.keyClick(target, Qt.Key(ord(name.upper())), modifier)
            else:
                # A key by its character; the types of Qt know only keys by number.
                QTest.keyClick(target, name.lower() if name.isalpha() else name, modifier)  # type: ignore[call-overload]

    def type(self, text: str) -> None:
        """Type into the field that has the keyboard."""
        field = QApplication.focusWidget()
        assert field is not None, "nothing has the keyboard"
        QTest.keyClicks(field, text)

    def hold(self, key: Qt.Key) -> None:
        """What a keyboard sends while a key is held down."""
        QApplication.sendEvent(
            self.window,
            QKeyEvent(QEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier, " ", autorep=True),
        )

    @property
    def message(self) -> str:
        """The outcome of the last action."""
        return self.window.controller.message.text

    @property
    def asked(self) -> str:
        """The question that is open, or ''."""
        question = self.window.question.question
        return question.title if question else ""


def _begins(shown: str, text: str) -> bool:
    return shown.replace("&", "").casefold().startswith(text.casefold())
