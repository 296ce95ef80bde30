"""A visit that holds an imported trace, in the window."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from gui.dev.demo import DemoRecorder
from logger.clock import NS_PER_S, ManualClock
from logger.recording.trace_file import read_trace_file
from logger.recording.trace_import import import_trace
from logger.settling.events import Step
from logger.visit import VisitLog
from tests.gui.conftest import METER_PORT
from tests.support.window_driver import Driver, FakeStart

EVENING = Path(__file__).parents[2] / "fixtures" / "traces" / "evening.csv"


def test_the_window_draws_an_imported_trace_and_offers_no_file_as_a_port(
    open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock, start: FakeStart
) -> None:
    began = datetime.fromtimestamp(clock.utc_ns() / NS_PER_S, UTC) - timedelta(hours=1)
    done = import_trace(EVENING, log.path, began, clock=clock)
    driver = open_window()
    snapshot = driver.window.controller.snapshot
    rows = read_trace_file(EVENING).rows
    assert len(snapshot.trace) == len(rows) and not snapshot.recording
    assert snapshot.trace.end_s == rows[-1].t_ns / NS_PER_S, "second 0 is the stated beginning"
    assert snapshot.events.count(Step, 0.0, snapshot.trace.end_s) == done.events["step"] > 0
    assert driver.window.pages.connect.settings().url == "/dev/ttyUSB0"
    driver.press("Return")
    assert [settings.url for settings in start.asked] == ["/dev/ttyUSB0"]


def test_a_recording_goes_on_after_an_imported_trace(
    open_window: Callable[[], Driver],
    log: VisitLog,
    clock: ManualClock,
    record: Callable[[], DemoRecorder],
) -> None:
    began = datetime.fromtimestamp(clock.utc_ns() / NS_PER_S, UTC) - timedelta(hours=1)
    import_trace(EVENING, log.path, began, clock=clock)
    record().still(0.3, 10)
    driver = open_window()
    snapshot = driver.window.controller.snapshot
    assert snapshot.recording and snapshot.trace.end_s > 3600.0
    assert [run.port.split(":")[0] for run in log.runs.all()] == ["file", METER_PORT]
