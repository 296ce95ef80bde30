"""Identifying a meter by keys: found, silent and asked, taught by the display, kept under a name."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtWidgets import QApplication

from gui.stages.connect.identify_page import IdentifyPage, IdentifyPhase
from logger.errors import StillvoltError
from logger.meter import description_folder
from logger.meter.identification import (
    KNOWN_QUERIES,
    Certainty,
    FailureReason,
    IdentifiedMeter,
    IdentifyProgress,
    NotIdentified,
)
from logger.meter.port import PortSettings
from logger.meter.received_line import ReceivedLine, receive_line
from tests.support.window_driver import Driver, FakeStart

WAIT_S = 5.0
PORT = "/dev/ttyUSB0"


class Meter:
    """Stands for `identify` and for the live lines: a meter at the port of the window."""

    def __init__(self, *lines: bytes) -> None:
        self.raw = lines
        self.needs_teaching = False
        self.outcome: NotIdentified | StillvoltError | None = None
        self.queries: list[Sequence[str]] = []
        self.is_open = False
        self.waits_for_stop = False

    def identify(
        self, first: PortSettings, clock: object, *, queries: Any, stop: Any, on_progress: Any
    ) -> IdentifiedMeter | NotIdentified:
        self.queries.append(queries)
        on_progress(IdentifyProgress(1.2, "Listening", first, tuple(map(receive_line, self.raw[:1]))))
        if self.waits_for_stop:
            assert stop.wait(WAIT_S), "the search was not stopped"
        if isinstance(self.outcome, StillvoltError):
            raise self.outcome
        if self.outcome is not None and not queries:
            return self.outcome
        settings = PortSettings(first.url, 2400, 7, "E", query=queries[0] if queries else None)
        lines = tuple(map(receive_line, self.raw))
        return IdentifiedMeter(
            settings, lines, 2.5, "V", "AC", "", "", Certainty.SURE, "They say AC volts.", self.needs_teaching
        )

    def watch(self, settings: PortSettings, clock: object) -> Meter:
        self.settings = settings
        self.trouble = ""
        self.lines: list[ReceivedLine] = []
        self._read: Any = None
        return self

    def start(self) -> None:
        assert not self.is_open, "the port was not given back"
        self.is_open = True

    def poll(self) -> bool:
        self.lines = [receive_line(raw, self._read) if self._read else receive_line(raw) for raw in self.raw]
        return True

    def set_reader(self, read: Any) -> None:
        self._read = read
        self.poll()

    def stop(self) -> None:
        self.is_open = False


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "meters"
    monkeypatch.setattr(description_folder, "folder", lambda: folder)
    return folder


@pytest.fixture
def meter(monkeypatch: pytest.MonkeyPatch, folder: Path) -> Meter:
    meter = Meter(b"0.271 V AC", b"0.272 V AC", b"0.273 V AC")
    monkeypatch.setattr("gui.stages.connect.meter_search.identify", meter.identify)
    monkeypatch.setattr("gui.stages.connect.identify_page.LiveLines", meter.watch)
    return meter


@pytest.fixture
def driver(open_window: Callable[[], Driver], meter: Meter) -> Driver:
    driver = open_window()
    driver.press("Up")
    return driver


def sheet_of(driver: Driver) -> IdentifyPage:
    return driver.window.pages.identify


def identify(driver: Driver, stage: IdentifyPhase) -> IdentifyPage:
    driver.do("connect.identify")
    return reaches(driver, stage)


def reaches(driver: Driver, stage: IdentifyPhase) -> IdentifyPage:
    page = sheet_of(driver)
    until = time.monotonic() + WAIT_S
    while page.phase is not stage:
        assert time.monotonic() < until, page.phase
        QApplication.processEvents()
    return page


def test_found_compared_with_the_display_and_recorded(driver: Driver, meter: Meter, start: FakeStart) -> None:
    page = identify(driver, IdentifyPhase.FOUND)
    assert driver.window.page is page
    assert page.message.text() == "Found: 2400 baud, 7E1 · 2.5 lines/s"
    assert page.value.text() == "0.273 V" and page.value.isVisible()
    meter.raw += (b"0.301 V AC",)
    page.show_new_lines()
    assert page.value.text() == "0.301 V"
    driver.window.redraw()
    driver.press("Space")
    (settings,) = start.asked
    assert (settings.url, settings.baud, settings.parity) == (PORT, 2400, "E")
    assert not meter.is_open, "the recorder finds the port free"
    assert driver.window.page is driver.window.pages.connect


def test_a_silent_meter_is_asked_only_when_the_user_says_so(driver: Driver, meter: Meter) -> None:
    meter.outcome = NotIdentified(FailureReason.SILENT, "Nothing comes from the port.")
    page = identify(driver, IdentifyPhase.SILENT)
    assert meter.queries == [()]
    assert page.why.text() == "Nothing comes from the port."
    driver.do("identify.ask_known")
    reaches(driver, IdentifyPhase.FOUND)
    assert meter.queries[-1] == KNOWN_QUERIES
    assert "asked MEAS:VOLT:AC?" in page.message.text()


def test_a_question_of_the_users_own(driver: Driver, meter: Meter, start: FakeStart) -> None:
    meter.outcome = NotIdentified(FailureReason.SILENT, "Nothing comes from the port.")
    identify(driver, IdentifyPhase.SILENT)
    driver.do("identify.ask_typed")
    driver.type("D?")  # its letters are text, not keys
    driver.press("Return")
    reaches(driver, IdentifyPhase.FOUND)
    driver.do("identify.use")
    assert start.asked[0].query == "D?"


def test_taught_by_the_display_kept_and_recorded(
    driver: Driver, meter: Meter, start: FakeStart, folder: Path
) -> None:
    meter.raw = (b"1;0.271;0.402", b"2;0.272;0.401", b"3;0.273;0.405")
    meter.needs_teaching = True
    page = identify(driver, IdentifyPhase.ASKING_SHOWN)
    assert page.value.isHidden(), "no value before it is known which"
    driver.type("7.7")
    driver.press("Return")
    assert "No number of the newest lines is 7.7" in page.why.text()
    driver.type("0.405")
    driver.press("Return")
    assert page.phase is IdentifyPhase.FOUND
    page.show_new_lines()
    assert page.value.text() == "0.405 V"
    driver.press("Return")
    assert page.phase is IdentifyPhase.ASKING_NAME
    driver.type("Bench meter")
    driver.press("Return")
    kept = description_folder.load("Bench meter")
    assert kept.line is not None and kept.line.field == 3
    assert start.asked[0].meter == "Bench meter"


def test_two_numbers_that_fit_are_asked_about_again(driver: Driver, meter: Meter) -> None:
    meter.raw = (b"1;0.271;0.271",)
    meter.needs_teaching = True
    page = identify(driver, IdentifyPhase.ASKING_SHOWN)
    driver.type("0.271")
    driver.press("Return")
    assert page.phase is IdentifyPhase.ASKING_SHOWN
    assert "More than one number fits." in page.why.text()
    meter.raw = (b"2;0.302;0.271",)
    page.show_new_lines()
    driver.type("302 mV")
    driver.press("Return")
    assert page.phase is IdentifyPhase.FOUND
    assert page.form is not None and page.form.field == 2


def test_what_is_no_number_is_told(driver: Driver, meter: Meter) -> None:
    page = identify(driver, IdentifyPhase.FOUND)
    driver.do("identify.teach")
    driver.type("abc")
    driver.press("Return")
    assert "is no voltage" in page.why.text()
    driver.press("Esc")
    assert page.phase is IdentifyPhase.FOUND and driver.window.page is page


def test_kept_without_recording_and_chosen_later(
    driver: Driver, meter: Meter, start: FakeStart, folder: Path
) -> None:
    identify(driver, IdentifyPhase.FOUND)
    driver.do("identify.keep")
    driver.type("Bench meter")
    driver.press("Return")
    assert driver.message.startswith("Kept as “Bench meter”")
    driver.press("Esc")
    connect = driver.window.pages.connect
    assert driver.window.page is connect
    assert connect.settings().meter == "Bench meter"
    driver.do("connect.meters")
    assert driver.asked == "Which meter?"
    driver.answer("None of them")
    assert connect.settings() == PortSettings(PORT)
    driver.do("connect.meters")
    driver.answer("Bench meter")
    driver.press("Return")
    (settings,) = start.asked
    assert (settings.url, settings.meter, settings.baud) == (PORT, "Bench meter", 2400)


def test_without_a_kept_meter_the_key_says_how_to_get_one(driver: Driver, folder: Path) -> None:
    driver.do("connect.meters")
    assert driver.asked == ""
    assert "No meter is kept yet" in driver.message


def test_escape_stops_at_once_and_gives_the_port_back(driver: Driver, meter: Meter) -> None:
    meter.waits_for_stop = True
    page = identify(driver, IdentifyPhase.LOOKING)
    QApplication.processEvents()
    driver.press("Esc")
    assert driver.window.page is driver.window.pages.connect
    assert page.phase is IdentifyPhase.IDLE
    meter.waits_for_stop = False
    identify(driver, IdentifyPhase.FOUND)
    driver.do("stage.spots")
    assert not meter.is_open
    driver.do("stage.connect")
    assert driver.window.page is driver.window.pages.connect


def test_a_port_that_does_not_open_is_told(driver: Driver, meter: Meter) -> None:
    meter.outcome = StillvoltError("Another program is using the port.")
    page = identify(driver, IdentifyPhase.NOT_FOUND)
    assert page.why.text() == "Another program is using the port."


def test_lines_say_how_they_are_read(driver: Driver, meter: Meter) -> None:
    meter.raw = (b"0.273 V AC", b"OL V AC", b"1.2 V DC", b"0.2?3 V AC", b'{"x":' + b"1" * 90 + b"}")
    page = identify(driver, IdentifyPhase.FOUND)
    message = [line.describe_value() for line in page.lines.lines]
    assert message == ["0.273 V", "overload", "not AC volts", "cannot be read", "cannot be read"]
    driver.window.grab()  # every kind of line is drawn
