"""A visit log that another program overwrites or cuts in place is never called kept, and its run is kept elsewhere."""

from __future__ import annotations

import shutil
import sqlite3
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from logger.errors import StillvoltError
from logger.visit import VisitLog
from logger.visit.storage.run_backup import NOT_KEPT_BEFORE
from logger.visit.storage.schema_pages import PAGE_BYTES
from logger.visit.storage.verification import verify
from tests.recording.test_file_watch import Recording, seconds_in

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="Windows does not let an open file be overwritten"
)


def _overwrite(path: Path) -> None:
    other = path.with_name("other.visit")
    VisitLog.create(other).close()
    with path.open("r+b") as file:
        file.truncate(0)
        file.write(other.read_bytes())


def _cut(path: Path) -> None:
    with path.open("r+b") as file:
        file.truncate(0)


def _cut_journal(path: Path) -> None:
    _cut(path.with_name(f"{path.name}-wal"))


def test_a_log_that_nobody_touched_is_kept(tmp_path: Path) -> None:
    recording = Recording(tmp_path / "home.visit")
    recording.write(30)
    assert recording.writer.is_kept()
    recording.writer.end(1, 1, "stopped")
    assert recording.writer.is_kept()
    recording.writer.close()


@pytest.mark.parametrize("change", [_overwrite, _cut, _cut_journal, Path.unlink])
def test_what_was_overwritten_is_noticed_and_can_be_written_again(
    tmp_path: Path, change: Callable[[Path], None]
) -> None:
    recording = Recording(tmp_path / "home.visit")
    recording.write(30)
    change(tmp_path / "home.visit")
    assert not recording.writer.is_kept()
    assert [line[4] for line in recording.writer.written().lines] == [
        b"%.3f" % (n / 1000) for n in range(1, 31)
    ]
    recording.writer.close()


def _zero_pages(path: Path) -> None:
    """Every page but the first, so that those of the run are among them."""
    with path.open("r+b") as file:
        size = file.seek(0, 2)
        file.seek(PAGE_BYTES)
        file.write(bytes(size - PAGE_BYTES))


def _zero_one_page(path: Path) -> None:
    with path.open("r+b") as file:
        file.seek(PAGE_BYTES)
        file.write(bytes(PAGE_BYTES))


def _overwrite_with_an_older_state(path: Path) -> None:
    with path.open("r+b") as file:
        file.truncate(0)
        file.write(path.with_name("backup.visit").read_bytes())


@pytest.mark.parametrize(
    "change", [_overwrite, _cut, _zero_pages, _zero_one_page, _overwrite_with_an_older_state]
)
@pytest.mark.parametrize("when", ["right after a checkpoint", "with a journal"])
def test_recording_goes_on_beside_an_overwritten_log_with_everything_that_was_entered(
    tmp_path: Path, change: Callable[[Path], None], when: str
) -> None:
    path = tmp_path / "home.visit"
    earlier = Recording(path)
    shutil.copy(path, tmp_path / "backup.visit")
    earlier.write(20)
    earlier.writer.end(1, 1, "stopped")
    earlier.writer.close()
    recording = Recording(path)
    with closing(VisitLog.open(path)) as window:
        recording.write(10)
        spot = window.spots.add("Bed")
        window.marks.add("lamp off")
        recording.write(2 if when == "right after a checkpoint" else 12)
        change(path)
        content = path.read_bytes()
        move = recording.writer.follow_file()
        assert move is not None
        assert (move.kind, move.path.name) == ("visit gone", "home (kept).visit")
        assert "overwritten, cut or damaged" in move.message
        recording.write(3)
        assert recording.writer.follow_file() is None
        assert not window.follow_file()
        assert window.continued_in() == move.path
        with pytest.raises(StillvoltError, match="overwritten"):
            window.marks.add("too late")
    recording.writer.end(1, 1, "stopped")
    assert recording.writer.is_kept()
    recording.writer.close()
    assert path.read_bytes() == content, "nothing of the old journal comes into the new content"
    assert verify(move.path).runs[-1].unchanged
    with closing(VisitLog.open(move.path)) as kept:
        assert [one.name for one in kept.spots.all()] == ["Bed"]
        assert kept.spots.all()[0] == spot
        assert [mark.text for mark in kept.marks.all()] == ["lamp off"]
        volts = [round(volts * 1000) for volts in kept.samples.after().volts]
    assert volts == [*range(1, 21), *range(1, recording.second + 1)]


def test_a_checkpoint_of_another_program_overwrites_nothing(tmp_path: Path) -> None:
    path = tmp_path / "home.visit"
    recording = Recording(path)
    recording.write(30)
    with closing(sqlite3.connect(path)) as other:
        other.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    assert recording.writer.follow_file() is None
    recording.write(3)
    assert recording.writer.follow_file() is None
    recording.writer.close()


def test_what_found_no_room_in_the_temporary_folder_is_stated(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "home.visit"
    with monkeypatch.context() as patch:
        patch.setattr(sqlite3, "connect", _no_temporary_file(sqlite3.connect))
        recording = Recording(path)
    recording.write(30)
    _cut(path)
    move = recording.writer.follow_file()
    assert move is not None
    assert move.message == NOT_KEPT_BEFORE.format(name=path.name, new=move.path.name)
    recording.writer.close()
    assert seconds_in(move.path) == list(range(1, 31))


def _no_temporary_file(connect: Callable[..., sqlite3.Connection]) -> Callable[..., sqlite3.Connection]:
    def connect_to_named(name: Any, **how: Any) -> sqlite3.Connection:
        if name == "":
            raise sqlite3.OperationalError("unable to open database file")
        return connect(name, **how)

    return connect_to_named


def test_the_journal_leaves_the_last_room_on_a_disk_to_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    recording = Recording(tmp_path / "home.visit")
    recording.write(3)
    journal = tmp_path / "home.visit-wal"
    assert journal.stat().st_size > 0
    monkeypatch.setattr(shutil, "disk_usage", lambda _: SimpleNamespace(free=0))
    recording.write(1)
    assert journal.stat().st_size == 0
    assert recording.writer.follow_file() is None
    monkeypatch.undo()
    recording.write(3)
    write, tries = recording.writer._write_rows, []

    def full_once(*words: Any) -> Any:
        tries.append(journal.stat().st_size)
        if len(tries) == 1:
            error = sqlite3.OperationalError("database or disk is full")
            error.sqlite_errorcode = sqlite3.SQLITE_FULL
            raise error
        return write(*words)

    monkeypatch.setattr(recording.writer, "_write_rows", full_once)
    recording.write(1)
    assert tries[1] == 0
    recording.writer.close()
    assert seconds_in(tmp_path / "home.visit") == list(range(1, 9))
