"""The visit log as a file: what is refused, what is upgraded, what a killed recorder leaves."""

from __future__ import annotations

import os
import re
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from logger.errors import StillvoltError
from logger.settling.detector import Detector
from logger.settling.events import Now, Settled, State, span_s
from logger.settling.replay import replay
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_ON
from logger.visit.storage import connection
from logger.visit.storage.run_checksum import LineRow
from logger.visit.storage.run_writer import Batch, Counts, Heartbeat, RunWriter
from logger.visit.storage.schema import APPLICATION_ID, USER_VERSION
from logger.visit.storage.unfinished_run import heartbeat_problems

NOBODY = 65534
"""A user that owns nothing."""


def contents(path: Path) -> bytes:
    return path.read_bytes()


def test_a_visit_log_says_what_it_is(log):
    with sqlite3.connect(log.path) as db:
        assert db.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
        assert db.execute("PRAGMA user_version").fetchone()[0] == USER_VERSION
        assert db.execute("PRAGMA journal_mode").fetchone()[0] == "wal"


def test_an_existing_file_is_never_overwritten(tmp_path):
    path = tmp_path / "notes.visit"
    path.write_text("shopping list")
    with pytest.raises(StillvoltError, match="exists already"):
        VisitLog.create(path)
    assert path.read_text() == "shopping list"


@pytest.mark.parametrize("what", ["text", "empty", "another program's database"])
def test_a_file_that_is_no_visit_log_is_refused_and_left_alone(tmp_path, what):
    path = tmp_path / "other.visit"
    if what == "text":
        path.write_text("time_s,volts\n0,0.3\n" * 20)
    elif what == "empty":
        path.touch()
    else:
        with sqlite3.connect(path) as db:
            db.execute("CREATE TABLE recipe (name TEXT)")
    before = contents(path)
    with pytest.raises(StillvoltError, match="not a visit log"):
        VisitLog.open(path)
    assert contents(path) == before
    assert [p.name for p in tmp_path.iterdir()] == ["other.visit"]


def test_a_log_of_a_newer_version_is_refused_and_left_alone(log):
    log.close()
    with sqlite3.connect(log.path) as db:
        db.execute(f"PRAGMA user_version = {USER_VERSION + 1}")
    with pytest.raises(StillvoltError, match="newer Stillvolt"):
        VisitLog.open(log.path)


def test_a_missing_file_and_a_missing_folder_are_told(tmp_path):
    with pytest.raises(StillvoltError, match="no visit log"):
        VisitLog.open(tmp_path / "nothing.visit")
    with pytest.raises(StillvoltError, match="does not exist"):
        VisitLog.create(tmp_path / "no folder" / "a.visit")


@contextmanager
def _not_root() -> Iterator[None]:
    """Root may write anywhere: the user nobody for as long as it takes."""
    if os.geteuid() != 0:
        yield
        return
    os.setresuid(NOBODY, NOBODY, 0)
    try:
        yield
    finally:
        os.setresuid(0, 0, 0)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no permissions of this kind")
def test_a_read_only_folder_is_refused(log):
    log.close()  # it has been made so that nothing is imported as nobody, who may not read every library
    # Not tmp_path: the folders above that are for one user only.
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o555)
        with _not_root(), pytest.raises(StillvoltError, match="cannot be written"):
            VisitLog.create(Path(folder) / "a.visit")
        Path(folder).chmod(0o755)


def test_a_log_that_may_not_be_written_is_refused(log, monkeypatch):
    # Root may write anywhere, so the answer of the system is replaced.
    monkeypatch.setattr(os, "access", lambda path, mode: mode != os.W_OK)
    with pytest.raises(StillvoltError, match="read-only"):
        VisitLog.open(log.path)


@pytest.mark.parametrize("disk", [("nfs4", "rw"), ("cifs", "rw"), ("ntfs", "rw,remote"), ("fuse.sshfs", "")])
def test_a_network_drive_is_refused(tmp_path, log, disk):
    with pytest.raises(StillvoltError, match="network drive"):
        connection.create(tmp_path / "b.visit", lambda folder: disk)
    assert not (tmp_path / "b.visit").exists()
    with pytest.raises(StillvoltError, match="network drive"):
        connection.open_existing(log.path, lambda folder: disk)


def test_a_disk_that_is_full_leaves_no_half_made_log(tmp_path):
    small = tmp_path / "full"
    small.mkdir()
    path = small / "a.visit"

    connect = sqlite3.connect

    def connect_to_a_full_disk(*arguments, **options):
        db = connect(*arguments, **options)
        db.execute("PRAGMA max_page_count = 3")  # SQLite's own stand-in: SQLITE_FULL past three pages
        return db

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sqlite3, "connect", connect_to_a_full_disk)
        with pytest.raises(StillvoltError, match="full"):
            VisitLog.create(path)
    assert not path.exists()


def test_a_batch_is_written_whole_or_not_at_all(log, recording):
    recording.samples([0.3])
    recording.writer._db.execute("PRAGMA max_page_count = 1")  # cannot go below what is used: no page more
    lines: list[LineRow] = [(0, 10**9 + i, "volts", 0.1, b"0.1" * 300) for i in range(500)]
    with pytest.raises(sqlite3.OperationalError, match="full"):
        recording.beat(Batch(lines=lines), Now(State.SETTLED, 0.0, 0.1, 0.1, 1))
    assert log.samples.after().volts.tolist() == [0.3]
    recording.writer._db.execute("PRAGMA max_page_count = 100000")
    recording.beat(Batch(lines=lines), Now(State.SETTLED, 0.0, 0.1, 0.1, 1))
    assert len(log.samples.after().volts) == 501
    assert log.recorder.live().last_line_id == 501


def test_a_window_that_writes_on_a_full_disk_is_told_and_nothing_is_half_written(log):
    spot = log.spots.add("Bed")
    log._connection.db.execute("PRAGMA max_page_count = 1")
    with pytest.raises(StillvoltError, match="full"):
        for i in range(5000):
            log.marks.add(f"{i}" * 50)
    log._connection.db.execute("PRAGMA max_page_count = 100000")
    log.spots.rename(spot.id, "Guest bed")
    assert [s.name for s in log.spots.all()] == ["Guest bed"]


def test_a_log_that_cannot_be_read_now_is_told_in_words(log):
    log.marks.add("kettle on")
    with sqlite3.connect(log.path, isolation_level=None) as other:
        other.execute("DROP TABLE mark_void")  # stands for whatever SQLite may refuse to read
    with pytest.raises(StillvoltError, match="cannot be read"):
        log.marks.all()


def test_what_was_going_on_when_a_recorder_was_killed_is_worked_out_from_its_lines(log, recording):
    volts = [0.4 + 0.001 * (i % 3) for i in range(60)]
    recording.samples(volts)
    stated = Settled(1.5, 9.0, 7.0, 0.01, 4.0, 19)
    recording.beat(Batch(), Now(State.SETTLED, 1.5, 7.0, 0.01, 19), [stated])
    recording.writer.close()  # without an end: as after SIGKILL
    (sentence,) = heartbeat_problems(log._connection.db)
    assert "a settled value that the recorded lines do not show" in sentence
    (still_open,) = log.events.with_open()
    span = still_open.event
    assert isinstance(span, Settled)
    # The mean of the samples: 0.400, 0.401 and 0.402 V in turn, each 0.4 s.
    assert span.volts == pytest.approx(0.401, abs=1e-6)
    assert (span.start_s, span.end_s) == pytest.approx((0.4, 24.0)) and span.samples == 60
    recording.start()
    assert log.events.after() == [still_open], "also before another recorder closes the run"
    first, second = log.runs.all()
    assert "cut off" in first.end_reason and second.ended_utc_ns is None
    recording.writer.close()
    recording.start()
    assert len(log.events.after()) == 1, "a run is closed once"


def test_what_was_going_on_ends_where_the_port_was_lost(log, recording):
    for level, notice in ((0.4, "port lost"), (0.4, "port back")):
        recording.samples([level, level + 0.001] * 15, moved=False)
        lost = (recording.clock.utc_ns(), round(recording.t_s() * 1e9), notice, "")
        recording.beat(Batch(notices=[lost]), Now(State.CHANGING, 0.0, level, None, 0))
    recording.writer.close()
    spans = [e.event for e in log.events.with_open() if isinstance(e.event, Settled)]
    assert [span.samples for span in spans] == [30, 30]


@pytest.mark.parametrize("cut", [20, 75, 110])
def test_what_a_killed_recorder_had_written_is_not_entered_twice(log, recording, cut):
    volts = [0.4, 0.401] * 25 + [1.0, 1.001] * 25 + [0.2, 0.201] * 10
    detector = Detector()
    for value in volts[:cut]:
        recording.samples([value], State.CHANGING, moved=False)
        recording.beat(
            Batch(events=detector.feed(recording.t_s(), value)), Now(State.CHANGING, 0.0, value, None, 0)
        )
    recording.writer.close()
    recording.start()
    whole = replay([0.4 * (i + 1) for i in range(cut)], volts[:cut])
    assert sorted((e.event.kind, *span_s(e.event)) for e in log.events.after()) == [
        (kind, pytest.approx(start_s), pytest.approx(end_s))
        for kind, start_s, end_s in sorted((event.kind, *span_s(event)) for event in whole)
    ]


def test_what_finds_no_room_on_a_full_disk_is_named_in_whole_sentences(log):
    spot = log.spots.add("Bed")
    log.marks.add("before")
    log._connection.db.execute("PRAGMA max_page_count = 1")  # cannot go below what is used: no page more
    full = re.escape(
        f"The disk of {log.path.name} is full: what was just entered could not be written, and is not in"
    )
    with pytest.raises(StillvoltError, match=full) as mark:
        for number in range(1000):
            log.marks.add(f"{number} " + "kettle " * 20)
    with pytest.raises(StillvoltError, match=full):
        for _ in range(1000):
            log.readings.enter(spot.id, EVERYTHING_ON, 0.3, 0.01)
    assert mark.value.kept == "Everything entered before is kept."
    assert mark.value.next_step == "Make room on the disk, then enter it again."
    log._connection.db.execute("PRAGMA max_page_count = 100000")
    kept = [mark.text.split()[0] for mark in log.marks.all()]
    assert kept == ["before", *map(str, range(len(kept) - 1))]
    log.marks.add("after")
    assert log.marks.all()[-1].text == "after"


def test_a_stop_is_asked_of_the_newest_run_only(log, recording):
    log.recorder.request_stop()
    recording.samples([0.3])
    assert recording.writer.stop_requested_by
    recording.writer.close()
    recording.start()
    recording.samples([0.3])
    assert not recording.writer.stop_requested_by


def test_a_stop_without_any_run_asks_nothing(log):
    log.recorder.request_stop()
    with sqlite3.connect(log.path) as db:
        assert db.execute("SELECT count(*) FROM request").fetchone()[0] == 0


def test_the_steady_time_line_does_not_jump_when_the_clock_is_set_back(log, recording, clock):
    recording.samples([0.1, 0.2])
    clock.set_utc_ns(clock.utc_ns() - 3600 * 10**9)
    recording.samples([0.3])
    samples = log.samples.after()
    assert (samples.steady_utc_ns[1:] - samples.steady_utc_ns[:-1]).tolist() == [400_000_000] * 2
    assert samples.utc_ns[2] < samples.utc_ns[1]


def test_line_at_finds_the_first_line_of_a_run_from_a_time_on(log, recording):
    recording.samples([0.1] * 4)
    recording.writer.close()
    recording.start()
    recording.samples([0.2] * 3)
    second = recording.writer.run_id
    assert log.samples.line_at(1, 0) == 1
    assert log.samples.line_at(1, 800_000_000) == 2
    assert log.samples.line_at(1, 10**12) == 5
    assert log.samples.line_at(second, 0) == 5
    assert log.samples.line_at(second, 10**12) == 8


def test_a_second_writer_waits_for_the_first(log):
    """A window's reading and the recorder's batch may meet: both are written."""
    writer = RunWriter(
        log.path, utc_ns=1, zone="UTC", utc_offset_s=0, port="p", settings="{}", software="s", pid=1
    )
    other = VisitLog.open(log.path)
    for i in range(20):
        other.marks.add(f"{i}")
        writer.write(Batch(notices=[(1, i, "k", "m")]), _beat(i))
    assert len(log.marks.all()) == len(log.notices.after()) == 20
    other.close()
    writer.close()


def _beat(t_ns):
    return Heartbeat(1, t_ns, "open", "", Now(State.WAITING, 0.0, None, None, 0), [], Counts(), "")


def test_opening_a_log_twice_leaves_its_journal_alone_when_another_program_closes_it(log):
    """Without the locks of this process, the last other program to close the log removes its journal."""
    log.marks.add("before")
    VisitLog.open(log.path).close()
    program = f"from logger.visit import VisitLog; VisitLog.open({str(log.path)!r}).close()"
    subprocess.run([sys.executable, "-c", program], check=True)
    log.marks.add("after")
    assert log.path.with_name(f"{log.path.name}-wal").exists()
    reads = program.replace(".close()", ".marks.all()").replace("; ", "; print(len(", 1) + "))"
    told = subprocess.run([sys.executable, "-c", reads], check=True, capture_output=True, text=True)
    assert told.stdout.strip() == "2"
