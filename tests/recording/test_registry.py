"""The list of recorders at work, and how one is asked to end, without a process."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path

import pytest

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.recording.recorder_lock import is_recording, lock_path, sole_recorder
from logger.recording.registry import RunningRecorder, format_running, journal_to_be_kept, running, stop
from logger.visit import VisitLog
from logger.visit.storage.visit_folder import visit_of_tonight


@pytest.fixture
def visit(tmp_path):
    path = tmp_path / "house.visit"
    VisitLog.create(path).close()
    return path


def listed(visit):
    return [one for one in running() if one.visit == visit]


def test_a_recorder_is_listed_as_long_as_it_holds_its_lock(visit):
    with sole_recorder(visit) as lock:
        assert listed(visit) == [], "it has not begun to record yet"
        lock.note_running(visit, "sim://house", 5)
        (one,) = listed(visit)
        assert (one.port, one.since_utc_ns, one.lines) == ("sim://house", 5, 0)
    assert listed(visit) == [] and not is_recording(visit)


def test_what_a_killed_recorder_left_is_neither_listed_nor_taken_for_the_next_one(visit):
    with sole_recorder(visit) as lock:
        lock.note_running(visit, "sim://house", 5)
        left = lock_path(visit).read_bytes()
        entry = next(Path(os.environ["XDG_CACHE_HOME"]).glob("stillvolt/recorders/*.path"))
        kept = entry.read_bytes()
    lock_path(visit).write_bytes(left)
    entry.write_bytes(kept)
    assert listed(visit) == []
    with sole_recorder(visit):
        assert listed(visit) == [], "the process number in it is another's"


def test_a_log_that_was_moved_away_is_still_listed(visit):
    with sole_recorder(visit) as lock:
        lock.note_running(visit, "sim://house", 5)
        visit.unlink()
        assert [(one.lines, one.state) for one in listed(visit)] == [(None, None)]


def test_a_recorder_whose_folder_was_moved_is_listed_there(tmp_path):
    old, new = tmp_path / "old" / "house.visit", tmp_path / "new" / "house.visit"
    old.parent.mkdir()
    VisitLog.create(old).close()
    with sole_recorder(old) as lock:
        lock.note_running(old, "sim://house", 5)
        old.parent.rename(new.parent)
        assert lock.follow(new) and lock.follow(new)
        assert [one.visit for one in running()] == [new]
    assert not listed(new) and not lock_path(new).exists()


def test_a_line_of_the_list():
    one = RunningRecorder(Path("/home/night.visit"), "/dev/ttyUSB0", 0, 42, 12_345, "settled")
    assert format_running(one, 9_000 * NS_PER_S) == (
        "/home/night.visit\t/dev/ttyUSB0\tfor 2 h 30 min\t12,345 lines\tsettled\tprocess 42"
    )


def test_nothing_is_stopped_where_nothing_records(visit):
    with pytest.raises(StillvoltError, match="No recorder"):
        stop(visit)


def test_a_recorder_that_does_not_end_is_told_and_what_is_recorded_is_kept(visit):
    waited: list[float] = []
    with sole_recorder(visit), pytest.raises(StillvoltError, match=r"(?s)has not ended within 3 s.*kept"):
        stop(visit, timeout_s=3.0, wait=waited.append)
    assert sum(waited) == pytest.approx(3.0, abs=0.1)


@pytest.mark.parametrize(
    ("now", "name"),
    [
        (datetime(2026, 3, 14, 22, 30), "2026-03-14 night.visit"),
        (datetime(2026, 3, 15, 3, 0), "2026-03-14 night.visit"),
        (datetime(2026, 3, 15, 11, 59), "2026-03-14 night.visit"),
        (datetime(2026, 3, 15, 12, 0), "2026-03-15 night.visit"),
    ],
)
def test_a_recorder_started_anew_after_midnight_goes_on_in_the_same_visit(tmp_path, now, name):
    assert visit_of_tonight(tmp_path, now) == tmp_path / name


def test_a_journal_that_holds_lines_is_named(tmp_path: Path):
    visit = tmp_path / "house.visit"
    VisitLog.create(visit).close()
    assert journal_to_be_kept(visit) == ""
    (tmp_path / "house.visit-wal").write_bytes(b"lines")
    assert "Copy it together with house.visit-wal beside it" in journal_to_be_kept(visit)
