"""A window on a visit log that is filled by functions: no recorder process, no sleeping, no display."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

# On a screen on which the window has its usual size; the one that Qt makes up itself is 800 pixels wide.
os.environ["QT_QPA_PLATFORM"] = (
    f"offscreen:configfile={Path(__file__).parents[1] / 'support' / 'screen.json'}"
)

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from gui.app import make_application
from gui.dev.demo import DemoRecorder
from gui.model.visit_controller import VisitController
from gui.shell.announcer import Announcer
from gui.window import Window
from logger.clock import ManualClock
from logger.meter.port import PortInfo
from logger.metrology.setup import Setup
from logger.simulation.fast_forward import FastForward
from logger.simulation.house.scene import read_scene
from logger.visit import VisitLog
from tests.support.made_once import made_once
from tests.support.swept_home import METER_PORT, prove_rod
from tests.support.swept_window import OWN_VOLTS, House
from tests.support.window_driver import (
    Charger,
    Driver,
    FakeStart,
    Heard,
    open_since_before,
    show_with_keyboard,
)

NIGHT = """
title = "a night"
start = "Bed, left"
script = '''
every 8 min from 3 min: aquarium heater on
every 8 min from 6 min: aquarium heater off
at 50 min: breaker 1 off
'''
[meter]
rate_hz = 1.0
[body]
motions_per_hour = 6
shift = 0.03
strength = 0.8
breaths_per_minute = 13
"""


@pytest.fixture(scope="session", autouse=True)
def qapp() -> QApplication:
    """The application of pytest-qt, made as the program makes its own."""
    return make_application()


@pytest.fixture(autouse=True)
def _closed_windows_go_at_once(qapp: QApplication) -> Iterator[None]:
    """Have Qt delete the windows that pytest-qt has closed, as an event loop does.

    Else Python's garbage collector finds them, whenever that is: within a `disconnect` of another window, which holds
    one of Qt's locks, it waits for that lock for ever.
    """
    yield
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock()


@pytest.fixture
def log(tmp_path: Path, clock: ManualClock) -> Iterator[VisitLog]:
    log = VisitLog.create(tmp_path / "house.visit", clock)
    yield log
    log.close()


@pytest.fixture
def start() -> FakeStart:
    return FakeStart()


@pytest.fixture
def charger() -> Charger:
    return Charger()


@pytest.fixture
def heard() -> Heard:
    return Heard()


@pytest.fixture
def record(log: VisitLog, clock: ManualClock) -> Iterator[Callable[..., DemoRecorder]]:
    """Makes recorders on the log, of a meter where nothing else is given; all are closed at the end."""
    made: list[DemoRecorder] = []

    def make(url: str = METER_PORT) -> DemoRecorder:
        made.append(DemoRecorder(log, clock, url=url))
        return made[-1]

    yield make
    for recorder in made:
        recorder.close()


@pytest.fixture
def announced(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What a screen reader is told by itself, from now on."""
    texts: list[str] = []
    monkeypatch.setattr(Announcer, "_emit", lambda _, text: texts.append(text))
    return texts


@pytest.fixture(scope="session")
def night_visit(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """80 min of an invented night at one line a second, from midnight UTC.

    A heater switches by itself, a breaker is switched off. To be copied by who changes it.
    """
    scene = read_scene(NIGHT, "the night of the tests", None)

    def make(path: Path) -> None:
        VisitLog.create(path).close()
        run = FastForward(path, scene, ManualClock().utc_ns(), "UTC", 1)
        run.run(80 * 60.0)
        run.end()

    return made_once(tmp_path_factory, "night.visit", make)


@pytest.fixture
def show_window(qtbot: QtBot) -> Iterator[Callable[[Window], Driver]]:
    """Shows windows with the keyboard in them; pytest-qt closes them when the test ends."""
    shown: list[Window] = []  # pytest-qt keeps no window alive

    def let_close(window: Window) -> None:
        window.may_close = True

    def show(window: Window) -> Driver:
        shown.append(window)
        qtbot.addWidget(window, before_close_func=let_close)
        return show_with_keyboard(window, qtbot)

    yield show
    shown.clear()


@pytest.fixture
def open_window(
    log: VisitLog,
    clock: ManualClock,
    start: FakeStart,
    heard: Heard,
    charger: Charger,
    show_window: Callable[[Window], Driver],
    monkeypatch: pytest.MonkeyPatch,
) -> Callable[..., Driver]:
    """Opens windows on the log; the computer has one cable plugged in.

    Each stands as if it had been opened before anything was recorded, but for one that `is_late`.
    """
    ports = [
        PortInfo(METER_PORT, "Serial cable (Maker)"),
        PortInfo("sim://house", "Simulated house (practice)"),
    ]
    monkeypatch.setattr("gui.stages.connect.connect_page.list_ports", lambda: ports)

    def make(*, is_late: bool = False) -> Driver:
        controller = VisitController(log, clock, start, charger)  # type: ignore[arg-type]
        if not is_late:
            open_since_before(controller)
        return show_window(Window(controller, sounds=heard, polls=False))

    return make


@pytest.fixture
def house(
    open_window: Callable[[], Driver],
    record: Callable[[], DemoRecorder],
    log: VisitLog,
    clock: ManualClock,
) -> House:
    log.setup.set(Setup(supply="split phase", reference="earth rod", on_battery=True, link_isolated=True))
    log.spots.add("Bed, left")
    prove_rod(log, clock)
    demo = record()
    demo.still(0.3, 10)
    driver = open_window()
    driver.do("stage.sources", "page.next")
    return House(driver, demo, log, OWN_VOLTS)
