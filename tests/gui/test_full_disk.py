"""A disk that takes nothing any more, as the window shows it: what waits, what to do, and that it goes on by itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from gui.dev.demo import DemoRecorder
from gui.model.status import status
from logger.clock import NS_PER_S, ManualClock
from logger.meter.notice_draft import NoticeDraft
from logger.recording.recorder_lock import RecorderLock, WaitingLines, sole_recorder
from logger.recording.watch.disk_space import warning
from logger.settling.events import State
from logger.visit import VisitLog
from logger.visit.records.heartbeat import STALE_AFTER_S
from tests.support.window_driver import Driver, FakeStart


@pytest.fixture
def lock(log: VisitLog) -> Iterator[RecorderLock]:
    with sole_recorder(log.path) as lock:
        lock.note_running(log.path, "sim://house", 0)
        yield lock


class FullDisk:
    """A recorder whose disk is full, and its note beside the visit."""

    def __init__(self, demo: DemoRecorder, lock: RecorderLock) -> None:
        self._demo, self._lock = demo, lock
        self._set_pages(1)

    def _set_pages(self, pages: int) -> None:
        self._demo._writer._db.execute(f"PRAGMA max_page_count = {pages:d}")

    def record(self, seconds: float) -> None:
        """Record lines of which the disk takes no more than the last page has room for."""
        self._demo.lines(*(b"0.300 V AC" + b" " * 400 for _ in range(round(seconds * 5))))
        self._lock.note_waiting(self._demo.recorder.waiting)

    def make_room(self) -> None:
        self._set_pages(1_000_000)
        self._demo.still(0.3, 2)
        self._demo.still(0.3, 2)  # the notice that there is room comes after what waited
        self._lock.note_waiting(self._demo.recorder.waiting)


def test_a_full_disk_is_shown_with_what_waits_and_goes_on_by_itself(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], lock: RecorderLock, log: VisitLog
) -> None:
    log.spots.add("Bed, left")
    demo = record()
    demo.still(0.3, 20)
    driver = open_window()
    assert status(driver.window.controller.snapshot).state is State.SETTLED
    disk = FullDisk(demo, lock)
    disk.record(60)
    driver.window.refresh()
    waiting = demo.recorder.waiting
    assert waiting is not None and waiting.lines > 200
    shown = status(driver.window.controller.snapshot)
    assert (shown.word, shown.detail, shown.volts) == ("DISK FULL", f"{waiting.lines} lines wait", None)
    band = driver.window.action_bar.message_bar.label.text()
    assert band.startswith(
        f"Disk full: nothing is lost, {waiting.lines} lines wait in memory for room. Make room on the disk"
    )
    driver.do("stage.spots")
    assert driver.window.action_bar.text().startswith(
        "Can't take the reading: The disk is full. Make room on it"
    )
    disk.make_room()
    driver.window.refresh()
    assert "nothing is missing" in driver.message and "takes data again" in driver.message
    assert "Disk full" not in driver.window.action_bar.message_bar.label.text()
    assert status(driver.window.controller.snapshot).word != "DISK FULL"


def test_it_is_neither_started_again_nor_stopped_while_lines_wait(
    open_window: Callable[[], Driver],
    record: Callable[[], DemoRecorder],
    lock: RecorderLock,
    log: VisitLog,
    start: FakeStart,
) -> None:
    demo = record()
    demo.still(0.3, 20)
    driver = open_window()
    FullDisk(demo, lock).record(60)
    driver.window.refresh()
    driver.do("measure.stop")
    driver.answer("Stop recording")
    assert driver.message.startswith("Not stopped: ") and "wait in memory" in driver.message
    driver.window.window_actions.recording.start()
    assert driver.message == "This visit is being recorded already." and start.asked == []


def test_a_mark_that_still_finds_room_has_the_time_of_its_key(
    open_window: Callable[[], Driver],
    record: Callable[[], DemoRecorder],
    lock: RecorderLock,
    log: VisitLog,
    clock: ManualClock,
) -> None:
    demo = record()
    demo.still(0.3, 20)
    driver = open_window()
    FullDisk(demo, lock).record(60)
    driver.window.refresh()
    driver.do("measure.mark")
    driver.type("fan")
    driver.press("Return")
    (mark,) = log.marks.all()
    assert (mark.utc_ns, mark.run_id) == (clock.utc_ns(), None), "not that of the last heartbeat"


def test_a_full_memory_says_what_is_lost(
    open_window: Callable[[], Driver],
    record: Callable[[], DemoRecorder],
    lock: RecorderLock,
    clock: ManualClock,
) -> None:
    record().still(0.3, 20)
    driver = open_window()
    lock.note_waiting(WaitingLines(500_000, 12, "database or disk is full", is_full=True))
    clock.advance_ns(round(2 * STALE_AFTER_S * NS_PER_S))
    driver.window.refresh()
    band = driver.window.action_bar.message_bar.label.text()
    assert "memory is full too, and 12 later lines could not be kept, 500,000 lines wait in memory" in band
    assert "nothing is lost" not in band
    assert status(driver.window.controller.snapshot).detail == "12 lines lost"


def test_a_recorder_that_is_at_work_and_silent_is_not_called_stopped(
    open_window: Callable[[], Driver],
    record: Callable[[], DemoRecorder],
    lock: RecorderLock,
    clock: ManualClock,
) -> None:
    record().still(0.3, 20)
    driver = open_window()
    clock.advance_ns(round(2 * STALE_AFTER_S * NS_PER_S))
    driver.window.refresh()
    assert status(driver.window.controller.snapshot).word == "NO ANSWER"
    lock.release()
    clock.advance_ns(NS_PER_S)
    driver.window.refresh()
    assert status(driver.window.controller.snapshot).word == "RECORDER STOPPED"


def test_a_disk_that_runs_short_is_shown_when_the_recorder_notices_it(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder]
) -> None:
    demo = record()
    demo.still(0.3, 20)
    driver = open_window()
    demo.recorder.note(NoticeDraft("disk short", warning(3600.0)))
    demo.still(0.3, 2)
    driver.window.refresh()
    assert driver.message == warning(3600.0) != "" and driver.window.controller.message.refused
