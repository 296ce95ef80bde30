"""Starting, losing, stopping, closing and reopening: the window and the recorder are two processes."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from gui import app
from gui.app import choose_visit, open_visit
from gui.dev.demo import DemoRecorder
from gui.model.status import status
from gui.settings.preferences import TEXT_PERCENT
from gui.sound.sounds import Tone
from gui.window.close_dialog import CloseAnswer, CloseDialog
from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.meter import description_folder
from logger.meter.description import MeterDescription
from logger.meter.description_toml import as_toml
from logger.meter.port import PortInfo, PortSettings
from logger.recording.own_runs import note_own_run
from logger.recording.recorder_lock import sole_recorder
from logger.settling.events import State
from logger.simulation.practice_switches import url_of
from logger.visit import VisitLog
from logger.visit.storage.run_writer import RunWriter
from tests.support.drawn_text import drawn_texts
from tests.support.window_driver import Driver, FakeStart, Heard


def stop_asked(log: VisitLog) -> bool:
    return log._connection.one("SELECT count(*) FROM request")[0] > 0


def test_first_opened_a_meters_port_is_chosen_and_practising_is_one_press(
    open_window: Callable[[], Driver], start: FakeStart, record: Callable[[str], DemoRecorder], log: VisitLog
) -> None:
    driver = open_window()
    assert driver.window.page is driver.window.pages.connect
    assert driver.window.pages.connect.settings().url == "/dev/ttyUSB0" and not start.asked
    house = url_of(log.path.with_suffix(".control"))
    driver.do("connect.practise")
    assert [settings.url for settings in start.asked] == [house]
    assert driver.window.panel.is_shown, "its switches are at hand"
    rows = [row.head for row in driver.window.pages.connect.list.rows]
    assert "Practice house" in rows and not any("control" in row for row in rows)
    assert driver.window.controller.recording.starting
    record(house).still(0.3, 2)
    driver.window.refresh()
    assert not driver.window.controller.recording.starting and "the practice house" in driver.message
    assert driver.window.readout.accessible_text().startswith("simulated, ")
    assert driver.window.page is driver.window.pages.prepare, "goes on to the work"


@pytest.mark.parametrize(
    ("width", "height", "percent"), [(1366, 768, 100), (1024, 600, 100), (1024, 600, 150)]
)
def test_recording_is_stopped_beside_the_word_that_it_goes_on(
    open_window: Callable[[], Driver],
    record: Callable[[], DemoRecorder],
    width: int,
    height: int,
    percent: int,
) -> None:
    driver = open_window()
    stop = driver.window.stage_list.stop
    assert stop is not None and not stop.isVisible()
    driver.window.registry["measure.stop"].setToolTip("another tip")
    assert not stop.isVisible(), "a change of its action does not show it"
    record().still(0.3, 2)
    driver.window.preferences.set(TEXT_PERCENT, percent)
    driver.window.resize(width, height)
    driver.window.apply_preferences()
    driver.window.refresh()
    assert stop.isVisible() and driver.window.stage_list.rect().contains(stop.geometry())
    assert not any(
        stop.geometry().intersects(b.geometry()) for b in driver.window.stage_list.buttons.values()
    )
    QTest.mouseClick(stop, Qt.MouseButton.LeftButton)
    assert driver.asked == "Stop recording?"


@pytest.mark.parametrize("own", [True, False])
def test_no_meter_comes_into_a_simulated_visit_by_itself(
    open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock, own: bool
) -> None:
    house = url_of(log.path.with_suffix(".control"))
    settings = json.dumps(PortSettings(house).to_json())
    RunWriter(
        log.path, utc_ns=clock.utc_ns(), zone="UTC", utc_offset_s=0, port=house, settings=settings, software="test",
        pid=1,
    ).close()  # fmt: skip
    if own:
        note_own_run(clock.utc_ns(), settings)
    driver = open_window()
    assert driver.window.pages.connect.settings().url == (house if own else "")
    assert own or "Choose the practice house" in driver.window.pages.connect._state.text()


def test_there_is_one_practice_and_its_row_and_space_open_it(
    open_window: Callable[[], Driver], start: FakeStart, log: VisitLog
) -> None:
    driver = open_window()
    page = driver.window.pages.connect
    assert [row.head for row in page.list.rows] == ["Serial cable", "Practice house"]
    assert not log.path.with_suffix(".control").exists(), "offering it writes nothing"
    driver.press("Down")
    assert driver.window.action_bar.name() == "Open the practice house" and not start.asked
    driver.press("Space")
    assert [settings.url for settings in start.asked] == [url_of(log.path.with_suffix(".control"))]
    assert driver.window.panel.is_shown


def test_the_port_is_chosen_by_keys_and_its_settings_by_name(
    open_window: Callable[[], Driver], start: FakeStart
) -> None:
    driver = open_window()
    driver.press("Down", "Up")
    page = driver.window.pages.connect
    for field, text in zip(page.fields.choices, ("2400", "7", "even", "2", "on", "off"), strict=True):
        field.setCurrentText(text)
    driver.press("Return")
    (settings,) = start.asked
    assert (settings.url, settings.baud, settings.data_bits) == ("/dev/ttyUSB0", 2400, 7)
    assert (settings.parity, settings.stop_bits, settings.dtr, settings.rts) == ("E", 2.0, True, False)


def test_a_log_whose_port_settings_cannot_be_read_opens_all_the_same(
    open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock
) -> None:
    for settings in ("{}", "not JSON", "[]"):
        RunWriter(
            log.path, utc_ns=clock.utc_ns(), zone="UTC", utc_offset_s=0, port="/dev/ttyUSB0", settings=settings,
            software="test", pid=1,
        ).close()  # fmt: skip
        assert open_window().window.pages.connect.settings().url == "/dev/ttyUSB0"


def test_without_a_cable_nothing_is_chosen_and_enter_starts_nothing(
    open_window: Callable[[], Driver], start: FakeStart, monkeypatch: pytest.MonkeyPatch
) -> None:
    driver = open_window()
    ports = [PortInfo("sim://house", "Simulated house (practice)")]
    monkeypatch.setattr("gui.stages.connect.connect_page.list_ports", lambda: ports)
    driver = open_window()
    for action_id in ("measure.record", "measure.primary"):
        assert "choose the practice house" in driver.refused(action_id)
    driver.do("connect.identify")
    assert "choose the practice house" in driver.message
    driver.press("Space", "Return")
    assert not start.asked and driver.window.pages.connect.settings().url == ""


def test_a_port_that_only_the_visit_states_is_offered_and_not_chosen(
    open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock
) -> None:
    kept = json.dumps(PortSettings("socket://stranger.example:4001", baud=1200).to_json())
    RunWriter(
        log.path, utc_ns=clock.utc_ns(), zone="UTC", utc_offset_s=0, port="socket://stranger.example:4001",
        settings=kept, software="test", pid=1,
    ).close()  # fmt: skip
    driver = open_window()
    page = driver.window.pages.connect
    assert page.settings() == PortSettings("/dev/ttyUSB0")
    assert "Used last in this visit" in page._state.text() and "1200 baud" in page._state.text()
    driver.do("connect.take_over")
    assert page.settings() == PortSettings("socket://stranger.example:4001", baud=1200)
    own = log.runs.all()[-1]
    note_own_run(own.started_utc_ns, own.settings)
    assert open_window().window.pages.connect.settings().url == "socket://stranger.example:4001"


def test_any_url_can_be_typed(open_window: Callable[[], Driver], start: FakeStart) -> None:
    driver = open_window()
    driver.do("connect.fields")
    url = driver.window.pages.connect.fields.url
    url.setFocus()
    url.clear()
    driver.type("socket://meter.local:4001")  # its letters are text, not keys
    driver.press("Return")
    assert [settings.url for settings in start.asked] == ["socket://meter.local:4001"]


def test_a_recorder_that_refuses_is_heard(open_window: Callable[[], Driver], start: FakeStart) -> None:
    driver = open_window()
    driver.press("Return")
    start.answer = (
        "stillvolt: The port /dev/ttyUSB0 is in use. Nothing was recorded. Close the other program."
    )
    driver.window.refresh()
    assert driver.message == "The port /dev/ttyUSB0 is in use. Nothing was recorded. Close the other program."
    assert driver.window.controller.message.refused and not driver.window.controller.recording.starting


def test_stop_asks_and_goes_through_the_log(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], log: VisitLog
) -> None:
    record().still(0.3, 2)
    driver = open_window()
    driver.do("measure.stop")
    driver.press("Esc")
    assert not stop_asked(log)
    driver.do("measure.stop")
    driver.answer("Stop recording")
    assert stop_asked(log)


def test_starting_twice_is_refused(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], start: FakeStart
) -> None:
    record().still(0.3, 2)
    driver = open_window()
    driver.window.window_actions.recording.start()
    assert start.asked == [] and driver.message == "This visit is being recorded already."


@pytest.mark.parametrize(
    ("answer", "closes", "stops"),
    [(CloseAnswer.STAY, False, False), (CloseAnswer.RECORD_ON, True, False), (CloseAnswer.STOP, True, True)],
)
def test_closing_asks_what_becomes_of_the_recording(
    open_window: Callable[[], Driver],
    record: Callable[[], DemoRecorder],
    log: VisitLog,
    answer: CloseAnswer,
    closes: bool,
    stops: bool,
) -> None:
    record().still(0.3, 2)
    window = open_window().window
    asked: list[QWidget] = []

    def ask(parent: QWidget, is_recorded: Callable[[], bool]) -> CloseAnswer:
        assert is_recorded()
        asked.append(parent)
        return answer

    window.ask_close = ask
    window.close()
    assert asked == [window]
    assert window.isVisible() is not closes and stop_asked(log) is stops
    if not closes:
        window.close()
        assert asked == [window, window], "a second click does as the first"


@pytest.mark.parametrize(
    ("name", "answer"),
    [("record_on", CloseAnswer.RECORD_ON), ("stop", CloseAnswer.STOP), ("stay", CloseAnswer.STAY)],
)
def test_the_dialog_before_closing(qtbot: QtBot, name: str, answer: CloseAnswer) -> None:
    dialog = CloseDialog()
    qtbot.addWidget(dialog)
    dialog.show()
    assert dialog.record_on.isDefault() and dialog.answer is CloseAnswer.STAY, "Esc stays"
    QTest.mouseClick(getattr(dialog, name), Qt.MouseButton.LeftButton)
    assert dialog.answer is answer and not dialog.isVisible()


def test_the_dialog_before_closing_notices_that_the_recording_has_ended(qtbot: QtBot) -> None:
    recorded = [True]
    dialog = CloseDialog(is_recorded=lambda: recorded[0])
    qtbot.addWidget(dialog)
    dialog.show()
    dialog.notice_end()
    assert "is being recorded" in dialog.text.text() and dialog.stop.isVisible()
    recorded[0] = False
    dialog.notice_end()
    assert "The recording has ended" in dialog.text.text() and not dialog.stop.isVisible()
    assert dialog.record_on.text() == "Close"


def test_nothing_recorded_nothing_asked(open_window: Callable[[], Driver]) -> None:
    driver = open_window()
    driver.window.close()
    assert not driver.window.isVisible()


def test_a_second_window_shows_what_the_first_shows(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder]
) -> None:
    demo = record()
    demo.still(0.3, 30)
    first, second = open_window(), open_window()
    demo.still(0.3, 5)
    for driver in (first, second):
        driver.window.refresh()
        assert status(driver.window.controller.snapshot).state is State.SETTLED
    assert first.window.readout.accessible_text() == second.window.readout.accessible_text()
    assert len(first.window.controller.snapshot.trace) == len(second.window.controller.snapshot.trace) == 175


def test_a_killed_recorder_is_told_and_can_be_started_again(
    open_window: Callable[[], Driver],
    record: Callable[[], DemoRecorder],
    log: VisitLog,
    clock: ManualClock,
    start: FakeStart,
    heard: Heard,
) -> None:
    log.spots.add("Bed, left")
    record().still(0.3, 20)
    driver = open_window()
    clock.advance_ns(4 * NS_PER_S)
    driver.window.refresh()
    assert status(driver.window.controller.snapshot).word == "RECORDER STOPPED"
    assert driver.window.controller.message.text.startswith("The recorder has stopped. Everything up to ")
    driver.do("stage.spots")
    assert driver.window.action_bar.text() == "Can't take the reading: The recorder has stopped writing."
    assert heard.tones == [Tone.LOST]
    driver.window.preferences.set(TEXT_PERCENT, 150)
    driver.window.resize(1024, 560)
    driver.window.apply_preferences()
    for part, word in (
        (driver.window.readout, "RECORDER STOPPED"),
        (driver.window.stage_list, "Recorder cut off"),
    ):
        (drawn,) = [text for text in drawn_texts(part) if text.text == word]
        assert drawn.beyond <= 0, "large text leaves no word cut"
    driver.do("stage.connect")
    driver.press("Return")
    assert len(start.asked) == 1
    record().still(0.4, 20)
    driver.window.refresh()
    assert driver.window.controller.snapshot.recording and len(driver.window.controller.snapshot.trace) == 200


def test_a_pulled_cable_is_told_and_its_return_too(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], heard: Heard
) -> None:
    demo = record()
    demo.still(0.3, 20)
    driver = open_window()
    demo.pull_cable(4)
    driver.window.refresh()
    told = status(driver.window.controller.snapshot)
    assert (told.word, told.volts) == ("PORT LOST", None)
    demo.put_cable_back()
    demo.still(0.3, 10)
    driver.window.refresh()
    assert status(driver.window.controller.snapshot).state is State.SETTLED
    assert heard.tones == [Tone.LOST, Tone.SETTLED]


def test_sounds_can_be_switched_off(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], heard: Heard
) -> None:
    demo = record()
    demo.still(0.3, 20)
    driver = open_window()
    driver.do("view.sound")
    demo.pull_cable(4)
    driver.window.refresh()
    assert heard.tones == []


def test_lines_that_are_no_value_are_counted_and_shown(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder]
) -> None:
    demo = record()
    demo.still(0.3, 2)
    demo.lines(b"0.3 V DC", b"\xff\x00garbage", b"OL")
    driver = open_window()
    driver.do("stage.connect")
    shown = driver.window.pages.connect.lines_label.text()
    assert "1 overload, 1 left out (on HOLD, late or not AC volts), 1 not readable" in shown


def test_a_full_disk_is_told_and_the_window_goes_on(
    open_window: Callable[[], Driver], log: VisitLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    driver = open_window()
    monkeypatch.setattr("logger.visit.storage.connection.transaction", full)
    driver.do("spots.add")
    driver.type("Bed")
    driver.press("Return")
    assert "disk is full" in driver.message and driver.window.controller.message.refused
    assert driver.asked == "New spot" and "disk is full" in driver.window.question.why.text()
    monkeypatch.undo()
    driver.press("Return")
    assert [spot.name for spot in log.spots.all()] == ["Bed"]


def test_no_screen_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    with pytest.raises(StillvoltError, match="no screen"):
        app.open_window()


class TestWhichVisit:
    """Which visit log the window opens when none is named."""

    now = datetime(2026, 11, 25, 19, 30, 5)

    def test_none_yet(self, tmp_path: Path) -> None:
        path = choose_visit(tmp_path / "Stillvolt", self.now)
        open_visit(path).close()
        assert path.name == "2026-11-25 19.30.05.visit" and path.exists()

    def test_an_unused_one_is_used(self, tmp_path: Path) -> None:
        VisitLog.create(tmp_path / "a.visit").close()
        assert choose_visit(tmp_path, self.now) == tmp_path / "a.visit"

    def test_a_used_one_is_left_alone(self, tmp_path: Path) -> None:
        log = VisitLog.create(tmp_path / "a.visit")
        log.spots.add("Bed")
        log.close()
        assert choose_visit(tmp_path, self.now).name == "2026-11-25 19.30.05.visit"

    def test_the_one_being_recorded_is_attached_to(self, tmp_path: Path) -> None:
        for name in ("a", "b", "c"):
            VisitLog.create(tmp_path / f"{name}.visit").close()
        with sole_recorder(tmp_path / "b.visit"):
            assert choose_visit(tmp_path, self.now) == tmp_path / "b.visit"

    def test_something_else_with_that_name_is_left_alone(self, tmp_path: Path) -> None:
        (tmp_path / "a.visit").write_text("no visit log")
        assert choose_visit(tmp_path, self.now).name == "2026-11-25 19.30.05.visit"
        with pytest.raises(StillvoltError, match="not a visit log"):
            open_visit(tmp_path / "a.visit")


def test_a_visit_moved_here_says_its_zone_and_hands_its_meter_over(
    open_window: Callable[[], Driver],
    log: VisitLog,
    clock: ManualClock,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    zone: Callable[[str], None],
    record: Callable[..., DemoRecorder],
) -> None:
    zone("Europe/Vienna")
    monkeypatch.setattr(description_folder, "folder", lambda: tmp_path / "meters")
    meter = MeterDescription("bench meter")
    kept = PortSettings("/dev/ttyUSB0", meter=meter.name).to_json() | {"description": as_toml(meter)}
    RunWriter(
        log.path, utc_ns=clock.utc_ns(), zone="Pacific/Kiritimati", utc_offset_s=50_400, port="/dev/ttyUSB0",
        settings=json.dumps(kept), software="test", pid=1,
    ).close()  # fmt: skip
    driver = open_window()
    page = driver.window.pages.connect
    assert "Recorded in Pacific/Kiritimati (UTC+14:00)" in page._visit.text()
    header = driver.window.trace.header
    assert header.zone_label.text() == "Times in UTC+14:00", "before there is a value, too"
    assert "bench meter. This meter is not kept" in page._state.text()
    driver.do("connect.keep_meter")
    assert (
        description_folder.load("bench meter") == meter
        and driver.message == "Kept on this computer: bench meter"
    )
    assert "not kept" not in page._state.text()
    record().still(0.3, 5)
    driver.window.refresh()
    assert "Recorded in" not in page._visit.text() and not header.zone_label.text(), "it goes on here"


def test_what_was_said_of_a_stopped_recorder_goes_once_another_records(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], clock: ManualClock
) -> None:
    """The next recorder may be started outside this window."""
    record().still(0.3, 20)
    driver = open_window()
    clock.advance_ns(4 * NS_PER_S)
    driver.window.refresh()
    assert driver.message.startswith("The recorder has stopped. Everything up to ")
    record().still(0.4, 5)
    driver.window.refresh()
    assert driver.message == "Recording /dev/ttyUSB0"
