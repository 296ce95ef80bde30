"""A visit log that is renamed, moved, deleted or replaced while it is recorded loses nothing."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from subprocess import PIPE

import pytest

from logger.clock import NS_PER_S
from logger.settling.events import Now, State
from logger.visit import VisitLog
from logger.visit.storage import run_writer
from logger.visit.storage.run_writer import CHECKPOINT_EVERY_NS, Batch, Counts, Heartbeat, RunWriter
from logger.visit.storage.verification import verify

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="Windows does not let an open file be renamed"
)


OPEN = """
import sqlite3, sys
db = sqlite3.connect(sys.argv[1])
db.execute("SELECT count(*) FROM line").fetchone()
print("open", flush=True)
sys.stdin.read()
"""
"""Another program that has a log open until its input ends."""


class Recording:
    """A run of one line a second, on a clock that is set by hand."""

    def __init__(self, path: Path) -> None:
        if not path.exists():
            VisitLog.create(path).close()
        self.writer = RunWriter(
            path, utc_ns=0, zone="UTC", utc_offset_s=0, port="test", settings="{}", software="test", pid=1
        )
        self.second = 0

    def write(self, lines: int) -> None:
        for _ in range(lines):
            self.second += 1
            at_ns = self.second * NS_PER_S
            batch = Batch(lines=[(at_ns, at_ns, "volts", self.second / 1000, b"%.3f" % (self.second / 1000))])
            now = Now(State.SETTLING, 0.0, None, None, 0)
            self.writer.write(batch, Heartbeat(at_ns, at_ns, "open", "", now, [], Counts(), ""))


@pytest.fixture
def recording(tmp_path: Path) -> Iterator[Recording]:
    recording = Recording(tmp_path / "home.visit")
    recording.write(5)
    yield recording
    recording.writer.close()


def seconds_in(path: Path) -> list[int]:
    """The lines that anybody finds who opens the file now."""
    with closing(VisitLog.open(path)) as log:
        return [round(volts * 1000) for volts in log.samples.after().volts]


def seconds_in_file_alone(path: Path, folder: Path) -> list[int]:
    folder.mkdir()
    return seconds_in(Path(shutil.copy(path, folder / "alone.visit")))


def test_a_file_in_its_place_needs_nothing(recording: Recording) -> None:
    assert recording.writer.follow_file() is None


@pytest.mark.parametrize("new_name", ["renamed.visit", "folder/moved.visit"])
def test_a_renamed_log_is_followed_with_its_journal(
    recording: Recording, tmp_path: Path, new_name: str
) -> None:
    new = tmp_path / new_name
    new.parent.mkdir(exist_ok=True)
    (tmp_path / "home.visit").rename(new)
    recording.write(3)
    move = recording.writer.follow_file()
    assert move is not None
    assert (move.kind, move.path) == ("visit renamed", new)
    assert new.name in move.message
    assert ("another folder" in move.message) == (new.parent != tmp_path)
    assert str(tmp_path) not in move.message, "a notice is read by others too: no folders"
    recording.write(2)
    assert seconds_in(new) == list(range(1, 11))
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith("home")) == []
    recording.writer.end(1, 1, "stopped")
    recording.writer.close()
    assert verify(new).sound
    assert verify(new).runs[0].unchanged
    assert [path.name for path in new.parent.iterdir() if path.name.startswith(new.stem)] == [new.name]


def test_a_window_that_has_the_renamed_log_open_writes_into_the_same_file(
    recording: Recording, tmp_path: Path
) -> None:
    new = tmp_path / "renamed.visit"
    with closing(VisitLog.open(tmp_path / "home.visit")) as window:
        (tmp_path / "home.visit").rename(new)
        recording.writer.follow_file()
        window.marks.add("from the window")
        recording.write(1)
        with closing(VisitLog.open(new)) as other:
            other.marks.add("from another window")
            assert [mark.text for mark in other.marks.all()] == ["from the window", "from another window"]
        assert len(window.marks.all()) == 2
    recording.writer.close()
    assert verify(new).sound
    assert seconds_in(new) == list(range(1, 7))


def test_a_deleted_log_goes_on_beside_with_everything(recording: Recording, tmp_path: Path) -> None:
    (tmp_path / "home.visit").unlink()
    recording.write(3)
    move = recording.writer.follow_file()
    assert move is not None
    assert (move.kind, move.path.name) == ("visit gone", "home (kept).visit")
    recording.write(2)
    assert seconds_in(move.path) == list(range(1, 11))
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith("home.visit")] == []
    recording.writer.end(1, 1, "stopped")
    assert verify(move.path).runs[0].unchanged


def test_a_log_that_takes_the_place_is_never_written(recording: Recording, tmp_path: Path) -> None:
    other = tmp_path / "other.visit"
    with closing(VisitLog.create(other)) as log:
        log.marks.add("other home")
    content = other.read_bytes()
    other.replace(tmp_path / "home.visit")
    recording.write(3)
    move = recording.writer.follow_file()
    assert move is not None
    assert move.kind == "visit gone"
    recording.write(2)
    assert (tmp_path / "home.visit").read_bytes() == content
    with closing(VisitLog.open(tmp_path / "home.visit")) as log:
        assert [mark.text for mark in log.marks.all()] == ["other home"]
        assert len(log.samples.after().volts) == 0
    assert seconds_in(move.path) == list(range(1, 11))


def test_a_log_that_is_opened_under_its_new_name_before_it_was_followed_is_left_to_that_program(
    recording: Recording, tmp_path: Path
) -> None:
    new = tmp_path / "renamed.visit"
    (tmp_path / "home.visit").rename(new)
    other = subprocess.Popen([sys.executable, "-c", OPEN, str(new)], stdin=PIPE, stdout=PIPE)
    assert other.stdin is not None
    assert other.stdout is not None
    assert other.stdout.readline() == b"open\n"
    recording.write(1)
    move = recording.writer.follow_file()
    other.communicate()
    assert move is not None
    assert move.kind == "visit gone"
    recording.write(1)
    assert seconds_in(move.path) == list(range(1, 8))


def test_without_a_place_beside_it_says_so_once_and_keeps_everything(
    recording: Recording, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "home.visit").unlink()
    with monkeypatch.context() as patch:
        patch.setattr(os, "open", _full)
        move = recording.writer.follow_file()
        assert move is not None
        assert "no new one could be made" in move.message
        recording.write(2)
        assert recording.writer.follow_file() is None
    move = recording.writer.follow_file()
    assert move is not None
    assert seconds_in(move.path) == list(range(1, 8))


def _full(*_: object) -> int:
    raise OSError(28, "No space left on device")


def test_a_copy_of_the_file_alone_lacks_at_most_a_minute(recording: Recording, tmp_path: Path) -> None:
    recording.write(CHECKPOINT_EVERY_NS // NS_PER_S + 1)
    found = seconds_in_file_alone(tmp_path / "home.visit", tmp_path / "copy")
    assert recording.second - found[-1] <= CHECKPOINT_EVERY_NS // NS_PER_S


def test_a_copy_of_the_file_alone_has_the_run_and_its_first_lines(
    recording: Recording, tmp_path: Path
) -> None:
    found = seconds_in_file_alone(tmp_path / "home.visit", tmp_path / "copy")
    assert found[:1] == [1], "else the copy would be taken for a visit in which nothing was recorded"


def test_a_reading_is_in_the_file_alone_with_the_next_second(recording: Recording, tmp_path: Path) -> None:
    with closing(VisitLog.open(tmp_path / "home.visit")) as window:
        window.marks.add("lamp off")
        recording.write(2)
        (tmp_path / "copy").mkdir()
        copy = Path(shutil.copy(tmp_path / "home.visit", tmp_path / "copy" / "alone.visit"))
    with closing(VisitLog.open(copy)) as log:
        assert [mark.text for mark in log.marks.all()] == ["lamp off"]


def test_a_log_named_without_its_folder_is_not_called_moved_when_it_is_renamed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    text = run_writer._moved_text(Path("a.visit"), tmp_path / "b.visit")
    assert text == "The visit log a.visit is now b.visit. Recording goes on in it."
