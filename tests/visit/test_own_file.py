"""A visit log that another program overwrites in place under a window that does not record: nothing lost or mixed."""

from __future__ import annotations

import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from gui.model.visit_controller import VisitController
from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.recording.recorder_lock import RecorderLock
from logger.visit import VisitLog
from logger.visit.records.home_details import SpotDetails
from logger.visit.storage import log_connection
from logger.visit.storage.schema_pages import PAGE_BYTES
from logger.visit.storage.verification import verify
from tests.recording.test_file_watch import Recording, seconds_in
from tests.visit.test_photos import jpeg

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="Windows does not let an open file be overwritten"
)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    path = tmp_path / "home.visit"
    with closing(VisitLog.create(path)) as log:
        log.spots.add("Bed")
    return path


@pytest.fixture
def window(home: Path) -> Iterator[VisitController]:
    with closing(VisitLog.open(home, ManualClock())) as log:
        yield VisitController(log, log._clock, read_charger=lambda: None)


def _pass_a_second(window: VisitController) -> None:
    assert isinstance(window.clock, ManualClock)
    window.clock.advance_ns(NS_PER_S + 1)
    window.refresh()


def _overwrite(path: Path, content: bytes) -> None:
    with path.open("r+b") as file:
        file.truncate(0)
        file.write(content)


def _another_home(path: Path) -> None:
    other = path.with_name("other.visit")
    with closing(VisitLog.create(other)) as log:
        log.spots.add("Cot")
        for number in range(50):
            log.marks.add(f"of another home {number} {'.' * 60}")
    _overwrite(path, other.read_bytes())


def _another_home_of_the_same_size(path: Path) -> None:
    size = path.stat().st_size
    _another_home(path)
    with path.open("r+b") as file:
        file.truncate(size)


def _emptied(path: Path) -> None:
    _overwrite(path, b"")


def _cut_to_two_pages(path: Path) -> None:
    with path.open("r+b") as file:
        file.truncate(2 * PAGE_BYTES)


def _no_visit(path: Path) -> None:
    _overwrite(path, b"no visit" * 5000)


def _older_copy_of_itself(path: Path) -> None:
    _overwrite(path, path.with_name("backup").read_bytes())


@pytest.mark.parametrize(
    "change",
    [
        _another_home, _another_home_of_the_same_size, _emptied, _cut_to_two_pages, _no_visit,
        _older_copy_of_itself,
    ],
)  # fmt: skip
@pytest.mark.parametrize("when", ["at rest", "with a journal"])
def test_what_was_entered_goes_on_beside_an_overwritten_file(
    home: Path, window: VisitController, change: Callable[[Path], None], when: str
) -> None:
    home.with_name("backup").write_bytes(home.read_bytes())
    window.log.marks.add("lamp off")
    window.log.spot_details.set(1, SpotDetails("lying"))
    window.log.photos.add(1, jpeg())
    _pass_a_second(window)
    if when == "with a journal":
        window.log.spots.add("Sofa")
    change(home)
    content = home.read_bytes()
    with pytest.raises(StillvoltError, match="overwritten"):
        window.log.marks.add("too late")
    window.refresh()
    assert window.file_watch.continued_in is not None
    assert window.file_watch.continued_in.name == "home (kept).visit"
    assert "Everything kept before that is in it" in window.file_watch.reason
    assert "overwritten" in window.snapshot.unreadable
    window.log.close()
    assert home.read_bytes() == content
    assert sorted(home.parent.glob("home.visit-*")) == []
    assert not verify(window.file_watch.continued_in).problems
    with closing(VisitLog.open(window.file_watch.continued_in)) as kept:
        assert [spot.name for spot in kept.spots.all()] == ["Bed", "Sofa"][: 1 + (when != "at rest")]
        assert [mark.text for mark in kept.marks.all()] == ["lamp off"]
        assert kept.spot_details.all() == {1: SpotDetails("lying")}
        assert [kept.photos.picture(photo.id) for photo in kept.photos.of_spot(1)] == [jpeg()]


def test_an_entry_in_the_moment_of_overwriting_is_refused(
    home: Path, window: VisitController, monkeypatch: pytest.MonkeyPatch
) -> None:
    def overwritten_first(connection: log_connection.LogConnection, *, with_journal: bool) -> None:
        monkeypatch.undo()
        _another_home(home)
        connection.keep_up(with_journal=with_journal)

    monkeypatch.setattr(log_connection.LogConnection, "keep_up", overwritten_first)
    with pytest.raises(StillvoltError, match="may be missing there"):
        window.log.marks.add("in that moment")
    window.refresh()
    assert window.file_watch.continued_in is not None


def test_closing_right_after_overwriting_keeps_everything(home: Path, window: VisitController) -> None:
    window.log.marks.add("last word")
    _another_home(home)
    content = home.read_bytes()
    window.log.close()
    assert home.read_bytes() == content
    with closing(VisitLog.open(home.with_name("home (kept).visit"))) as kept:
        assert [mark.text for mark in kept.marks.all()] == ["last word"]


def test_the_entries_of_two_windows_are_kept(home: Path, window: VisitController) -> None:
    with closing(VisitLog.open(home, ManualClock())) as log:
        other = VisitController(log, log._clock, read_charger=lambda: None)
        window.log.marks.add("of the first")
        _pass_a_second(other)
        _pass_a_second(window)
        assert not window.file_watch.is_overwritten and not other.file_watch.is_overwritten
        other.log.marks.add("of the second")
        _another_home(home)
        window.refresh()
        other.refresh()
    kept = home.with_name("home (kept).visit")
    assert [window.file_watch.continued_in, other.file_watch.continued_in] == [kept, kept]
    assert sorted(home.parent.glob("home (kept*.visit")) == [kept], (
        "what the first one lacked was entered there"
    )
    assert not verify(kept).problems
    with closing(VisitLog.open(kept)) as log:
        assert [mark.text for mark in log.marks.all()] == ["of the first", "of the second"]


@pytest.mark.parametrize("entry", ["of the window", "", "taken by another"])
def test_the_window_follows_the_recorder_and_brings_over_what_its_file_lacks(
    home: Path, window: VisitController, entry: str
) -> None:
    recording = Recording(home)
    lock = RecorderLock(home)
    lock.note_running(home, "test", 0)
    recording.write(5)
    _pass_a_second(window)
    if entry:
        window.log.marks.add("of the window")
        window.log.facts.set("household", "Lindgren")
    _another_home(home)
    for _ in range(8):
        _pass_a_second(window)
    assert window.file_watch.continued_in is None
    assert "has not begun a new file yet" in window.message.text
    assert recording.writer.follow_file() is not None
    lock.follow(recording.writer.path)
    if entry == "taken by another":
        with closing(VisitLog.open(recording.writer.path)) as log:
            log.marks.add(entry)
    recording.write(5)
    _pass_a_second(window)
    assert window.file_watch.continued_in == recording.writer.path
    rest = home.with_name("home (kept 2).visit")
    assert (rest.name in window.file_watch.reason) == rest.exists() == (entry == "taken by another")
    window.log.close()
    recording.writer.close()
    lock.release()
    assert not verify(recording.writer.path).problems
    with closing(VisitLog.open(recording.writer.path)) as log:
        assert [mark.text for mark in log.marks.all()] == [entry] * bool(entry)
        assert (log.facts.get("household") == "Lindgren") == (entry == "of the window")
    assert seconds_in(recording.writer.path) == list(range(1, 11))


def test_a_page_that_only_the_journal_has_is_no_overwriting_and_is_mended(
    home: Path, window: VisitController
) -> None:
    recording = Recording(home)
    recording.write(5)
    _pass_a_second(window)
    window.log.keep_up(with_journal=True)
    window.log.marks.add("lamp off")
    with closing(sqlite3.connect(home)) as db:
        (page,) = db.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'mark'").fetchone()
    with home.open("r+b") as file:
        file.seek((page - 1) * PAGE_BYTES)
        file.write(bytes(PAGE_BYTES))
    for _ in range(3):
        recording.write(1)
        _pass_a_second(window)
        assert recording.writer.follow_file() is None and not window.file_watch.is_overwritten
    recording.writer.close()
    (home.with_name("alone.visit")).write_bytes(home.read_bytes())
    assert not verify(home).problems and not verify(home.with_name("alone.visit")).problems


def test_a_run_that_ended_while_the_window_was_open_is_kept(home: Path, window: VisitController) -> None:
    recording = Recording(home)
    recording.write(30)
    recording.writer.end(1, 1, "stopped")
    recording.writer.close()
    _pass_a_second(window)
    assert not window.file_watch.is_overwritten
    _another_home(home)
    window.refresh()
    assert window.file_watch.continued_in is not None
    window.log.close()
    assert seconds_in(window.file_watch.continued_in) == list(range(1, 31))
    assert verify(window.file_watch.continued_in).runs[0].unchanged


def test_a_checkpoint_that_meets_a_reader_is_no_overwriting(home: Path, window: VisitController) -> None:
    """It leaves a file of which some pages are new and others old, which only its journal makes right."""
    log = window.log
    for number in range(40):
        log.marks.add(f"before the reader {number} {'.' * 300}")
    with closing(sqlite3.connect(home)) as reader, closing(sqlite3.connect(home)) as recorder:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM mark").fetchone()
        log.marks.add("after the reader began")
        _, frames, written = recorder.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
        assert 0 < written < frames
        _pass_a_second(window)
        assert not log.is_overwritten()
        reader.execute("ROLLBACK")
        _pass_a_second(window)
        assert not log.is_overwritten()
    _another_home(home)
    _pass_a_second(window)
    assert log.is_overwritten()
