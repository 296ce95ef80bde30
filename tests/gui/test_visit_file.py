"""The file of the open visit is renamed, deleted or cannot be read: no value is shown without a source."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from gui.dev.demo import DemoRecorder
from gui.model.status import status
from gui.window.other_visit_actions import VisitRequest
from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.settling.events import State
from logger.visit import VisitLog
from logger.visit.records.fact_names import CONTINUED_IN
from logger.visit.storage.entry_checksum import insert_fact
from tests.support.window_driver import Driver

pytestmark = pytest.mark.skipif(
    "sys.platform == 'win32'", reason="Windows does not let an open file be renamed"
)


def pass_a_second(driver: Driver, clock: ManualClock, seconds: int = 1) -> None:
    for _ in range(seconds):
        clock.advance_ns(NS_PER_S + 1)
        driver.window.refresh()


def test_a_renamed_visit_is_shown_under_its_new_name(
    open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock
) -> None:
    driver = open_window()
    new = log.path.with_name("renamed.visit")
    log.path.rename(new)
    pass_a_second(driver, clock)
    assert driver.message == f"The visit log house.visit is now {new}."
    assert driver.window.windowTitle().startswith("renamed")
    driver.window.controller.log.marks.add("after it")
    with closing(VisitLog.open(new)) as other:
        assert [mark.text for mark in other.marks.all()] == ["after it"]


def test_a_deleted_visit_goes_on_in_a_copy_with_everything(
    open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock
) -> None:
    driver = open_window()
    log.marks.add("before it")
    asked: list[VisitRequest] = []
    driver.window.visit_requested.connect(asked.append)
    log.path.unlink()
    pass_a_second(driver, clock, 3)
    (request,) = asked
    assert request.path.name == "house (kept).visit"
    assert "was deleted" in request.message
    with closing(VisitLog.open(request.path)) as kept:
        assert [mark.text for mark in kept.marks.all()] == ["before it"]


def test_while_a_recorder_is_at_work_the_window_follows_it(
    open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock, record: Callable[[], DemoRecorder]
) -> None:
    record().still(0.3, 20)
    driver = open_window()
    asked: list[VisitRequest] = []
    driver.window.visit_requested.connect(asked.append)
    with closing(sqlite3.connect(log.path)) as recorder:
        recorder.execute("SELECT * FROM fact").fetchall()  # only now it holds the file
        log.path.unlink()
        pass_a_second(driver, clock)
        assert asked == []
        with recorder:
            insert_fact(recorder, 0, CONTINUED_IN, str(log.path.with_name("by the recorder.visit")))
    pass_a_second(driver, clock)
    assert [request.path.name for request in asked] == ["by the recorder.visit"]


def test_nothing_is_entered_into_a_file_that_is_gone(
    open_window: Callable[[], Driver], log: VisitLog, record: Callable[[], DemoRecorder], tmp_path: Path
) -> None:
    """The recorder may have copied it already: a reading would be shown as taken, and be nowhere."""
    log.spots.add("Bed")
    record().still(0.3, 20)
    driver = open_window()
    driver.do("stage.spots")
    VisitLog.create(tmp_path / "another.visit").close()
    (tmp_path / "another.visit").replace(log.path)
    driver.press("Space")
    assert log.readings.all() == []
    assert "was deleted or replaced by another program" in driver.message
    with pytest.raises(StillvoltError, match=r"Nothing was written\."):
        log.marks.add("too late")


def test_a_copy_of_the_file_alone_has_what_was_entered_without_a_recorder(
    open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock, tmp_path: Path
) -> None:
    driver = open_window()
    driver.window.controller.log.marks.add("entered by hand")
    pass_a_second(driver, clock)
    copy = shutil.copy(log.path, tmp_path / "copy.visit")
    with closing(VisitLog.open(copy)) as other:
        assert [mark.text for mark in other.marks.all()] == ["entered by hand"]


def test_a_file_that_takes_the_place_is_not_read_with_the_journal_that_was_there(
    open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock, tmp_path: Path
) -> None:
    driver = open_window()
    log.marks.add("in the journal")
    VisitLog.create(tmp_path / "another.visit").close()
    (tmp_path / "another.visit").replace(log.path)
    assert log.path.with_name("house.visit-wal").exists()
    pass_a_second(driver, clock, 2)
    assert not log.path.with_name("house.visit-wal").exists()
    with closing(VisitLog.open(tmp_path / "house.visit")) as other:
        assert other.marks.all() == [] and other.integrity().sound


def test_no_value_stays_on_the_screen_when_the_log_cannot_be_read(
    open_window: Callable[[], Driver],
    clock: ManualClock,
    record: Callable[[], DemoRecorder],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    record().still(0.3, 20)
    driver = open_window()
    driver.window.refresh()
    snapshot = driver.window.controller.snapshot
    assert status(snapshot).state is State.SETTLED
    failures: list[int] = []

    def fail(_: bool = False) -> bool:
        failures.append(1)
        raise sqlite3.DatabaseError("database disk image is malformed")

    with monkeypatch.context() as patch:
        patch.setattr(snapshot, "refresh", fail)
        for _ in range(5):
            driver.window.refresh()
        assert len(failures) == 5, "it is tried again each time"
        shown = status(snapshot)
        assert (shown.word, shown.volts) == ("LOG NOT READABLE", None)
        assert snapshot.budget is None
        assert "malformed" in driver.message
        assert not snapshot.recording
    driver.window.refresh()
    assert status(snapshot).state is State.SETTLED
    assert snapshot.refusal == ""
