"""Who may record into a visit: one process on the computer, whatever its user, home, or name of the file."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.recording.recorder_lock import (
    RecorderNote,
    WaitingLines,
    is_recording,
    lock_path,
    recorder_note,
    sole_recorder,
)
from logger.settling.events import Now, State
from logger.visit import VisitLog
from logger.visit.records.heartbeat import STALE_AFTER_S
from logger.visit.records.recording_records import Live
from logger.visit.storage.run_writer import Batch, Counts, Heartbeat, RunClosedError, RunWriter
from logger.visit.storage.verification import verify

TERMINATED = "stopped by a signal of the system (SIGTERM)"

PATIENCE_S = 20.0
"""How long a test waits for another process before it fails."""

NOBODY = 65534
"""A user without rights of its own."""


@pytest.fixture
def visit(tmp_path: Path) -> Path:
    path = tmp_path / "house.visit"
    VisitLog.create(path).close()
    return path


def stillvolt(*words: str, home: Path | None = None) -> list[str]:
    names = ("HOME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_RUNTIME_DIR")
    homes = ["env", *(f"{name}={home}" for name in names)] if home else []
    return [*homes, sys.executable, "-m", "logger", *words]


@contextmanager
def recorder_at_work(visit: Path, home: Path | None = None) -> Iterator[subprocess.Popen[bytes]]:
    process = subprocess.Popen(
        stillvolt("record", "--port", "sim://house", "--visit", str(visit), home=home),
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        until(lambda: recorder_note(visit) and live(visit), "the recorder to begin")
        yield process
    finally:
        process.send_signal(signal.SIGCONT)
        process.terminate()
        process.wait(PATIENCE_S)


def recording_pid(visit: Path) -> int:
    note = recorder_note(visit)
    assert note is not None
    return note.pid


def live(visit: Path) -> Live | None:
    with closing(VisitLog.open(visit)) as log:
        return log.recorder.live()


def until(condition: Callable[[], object], what: str) -> object:
    limit = time.monotonic() + PATIENCE_S
    while time.monotonic() < limit:
        if result := condition():
            return result
        time.sleep(0.01)
    raise AssertionError(f"waited in vain for: {what}")


def try_to_record(visit: Path, home: Path | None = None) -> subprocess.CompletedProcess[str]:
    words = stillvolt("record", "--port", "sim://house", "--for", "0.2", "--visit", str(visit), home=home)
    return subprocess.run(words, capture_output=True, text=True, timeout=PATIENCE_S, check=False)


AS_ANOTHER_USER = f"""
import os, sys
from pathlib import Path
from logger.errors import StillvoltError
from logger.meter.port import PortSettings
from logger.recording.session import record
from logger.simulation import register_simulated_port

register_simulated_port()
record(Path(sys.argv[2]), PortSettings("sim://house"), for_s=0.2)  # imports what is imported late
os.setgroups([])
os.setresgid(*3 * [{NOBODY}])
os.setresuid(*3 * [{NOBODY}])
try:
    record(Path(sys.argv[1]), PortSettings("sim://house"), for_s=0.2)
except StillvoltError as error:
    sys.exit(str(error))
"""
"""Drops its rights only then: another user may not reach the Python that root installed."""


def try_to_record_as_another_user(visit: Path, own: Path) -> subprocess.CompletedProcess[str]:
    words = [sys.executable, "-c", AS_ANOTHER_USER, str(visit), str(own)]
    return subprocess.run(words, capture_output=True, text=True, timeout=PATIENCE_S, check=False)


def run_ends(visit: Path) -> list[str]:
    with closing(VisitLog.open(visit)) as log:
        return [run.end_reason for run in log.runs.all()]


def test_a_recorder_of_another_home_is_refused_and_the_first_ends_in_order(
    visit: Path, tmp_path: Path
) -> None:
    with recorder_at_work(visit, home=tmp_path / "home1"):
        second = try_to_record(visit, home=tmp_path / "home2")
        assert second.returncode == 1 and "Another recorder is at work" in second.stderr
    assert run_ends(visit) == [TERMINATED]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no links without rights of their own")
def test_every_other_name_of_the_file_is_refused(visit: Path, tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    symlink, hard_link = tmp_path / "link.visit", tmp_path / "other" / "hard.visit"
    symlink.symlink_to(visit)
    hard_link.hardlink_to(visit)
    with recorder_at_work(visit):
        assert "Another recorder is at work" in try_to_record(symlink).stderr
        by_hard_link = try_to_record(hard_link)
        assert by_hard_link.returncode == 1 and "under another name of the same file" in by_hard_link.stderr
    assert run_ends(visit) == [TERMINATED]
    assert verify(visit).sound
    assert sorted(path.name for path in tmp_path.iterdir()) == ["house.visit", "link.visit", "other"]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no links without rights of their own")
def test_a_link_leads_to_the_visit_that_is_recorded_into(visit: Path, tmp_path: Path) -> None:
    assert try_to_record(visit).returncode == 0
    link = tmp_path / "link.visit"
    link.symlink_to(visit)
    by_link = try_to_record(link)
    assert by_link.returncode == 0, by_link.stderr
    assert len(run_ends(visit)) == 2 and link.is_symlink() and verify(visit).sound


def test_a_copy_of_a_visit_at_work_is_another_file(visit: Path, tmp_path: Path) -> None:
    with recorder_at_work(visit):
        copy = Path(shutil.copy(visit, tmp_path / "copy.visit"))
        assert try_to_record(copy).returncode == 0
        assert is_recording(visit) and not is_recording(copy)
    assert run_ends(visit) == [TERMINATED]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no renaming of open files")
def test_a_renamed_visit_takes_its_lock_along(visit: Path, tmp_path: Path) -> None:
    new = tmp_path / "renamed.visit"
    with recorder_at_work(visit):
        visit.rename(new)
        at_once = try_to_record(new)
        assert at_once.returncode == 1, "before and after the recorder has noticed it"
        until(lambda: recorder_note(new), "the lock to follow")
        assert not lock_path(visit).exists()
        assert "Another recorder is at work" in try_to_record(new).stderr
    assert run_ends(new) == [TERMINATED]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["renamed.visit"]


def test_a_killed_recorder_leaves_no_lock_that_holds(visit: Path) -> None:
    with recorder_at_work(visit) as first:
        os.kill(recording_pid(visit), signal.SIGKILL)
        assert first.wait() == -signal.SIGKILL
        assert not is_recording(visit)
        assert try_to_record(visit).returncode == 0
    assert run_ends(visit) == ["the recorder was cut off; closed afterwards", "the time was up"]
    assert not lock_path(visit).exists()


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no signal that makes a process stand still")
def test_a_recorder_that_stands_still_is_not_taken_for_gone(visit: Path) -> None:
    with recorder_at_work(visit):
        os.kill(recording_pid(visit), signal.SIGSTOP)
        with closing(VisitLog.open(visit)) as log:
            last = log.recorder.live()
            assert last is not None
            until(lambda: log.recorder.is_stale(last), "its heartbeat to be old")
        second = try_to_record(visit)
        assert second.returncode == 1 and "Another recorder is at work" in second.stderr
        os.kill(recording_pid(visit), signal.SIGCONT)
    assert run_ends(visit) == [TERMINATED]
    assert verify(visit).sound


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root may become another user"
)
def test_another_user_who_may_write_the_visit_is_refused_while_it_is_recorded(
    visit: Path, tmp_path: Path
) -> None:
    own = tmp_path / "own.visit"
    for path in (tmp_path, *tmp_path.parents):
        if path == Path(tempfile.gettempdir()).resolve():
            break
        path.chmod(0o777)
    visit.chmod(0o666)
    with recorder_at_work(visit):
        second = try_to_record_as_another_user(visit, own)
        assert f"Another recorder is at work on {visit} (process {recording_pid(visit)})" in second.stderr
        assert second.returncode == 1
    third = try_to_record_as_another_user(visit, own)
    assert third.returncode == 0, third.stderr
    visit.chmod(0o600)
    fourth = try_to_record_as_another_user(visit, own)
    assert fourth.returncode == 1 and "Permission denied" in fourth.stderr
    assert run_ends(visit) == [TERMINATED, "the time was up"]


class Run:
    """A run on a clock that is set by hand, without any lock, as an older Stillvolt or another system writes it."""

    def __init__(self, visit: Path, clock: ManualClock) -> None:
        self.clock = clock
        self.writer = RunWriter(
            visit, utc_ns=clock.utc_ns(), zone="UTC", utc_offset_s=0, port="test", settings="{}", software="test", pid=7
        )  # fmt: skip
        self._start_ns = clock.steady_ns()
        self.began_utc_ns = clock.utc_ns()
        self.beat()

    def beat(self) -> None:
        t_ns = self.clock.steady_ns() - self._start_ns
        now = Now(State.SETTLING, 0.0, None, None, 0)
        line = (self.clock.utc_ns(), t_ns, "volts", 0.3, b"0.3")
        self.writer.write(
            Batch(lines=[line]), Heartbeat(self.clock.utc_ns(), t_ns, "open", "", now, [], Counts(), "")
        )


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock()


def test_a_heartbeat_that_goes_on_is_a_recorder_at_work_even_without_its_lock(
    visit: Path, clock: ManualClock
) -> None:
    run = Run(visit, clock)

    def wait(seconds: float) -> None:
        clock.advance_ns(round(seconds * NS_PER_S))
        run.beat()

    with (
        pytest.raises(StillvoltError, match="Another recorder is at work"),
        sole_recorder(visit, clock, wait),
    ):
        pass
    run.writer.close()
    assert run_ends(visit) == [""] and not lock_path(visit).exists()


def test_a_heartbeat_that_has_ended_is_waited_out_and_the_visit_admitted(
    visit: Path, clock: ManualClock
) -> None:
    Run(visit, clock).writer.close()
    waited: list[float] = []

    def wait(seconds: float) -> None:
        waited.append(seconds)
        clock.advance_ns(round(seconds * NS_PER_S))

    with sole_recorder(visit, clock, wait):
        assert 0 < sum(waited) <= STALE_AFTER_S + 0.1
    clock.advance_ns(round(2 * STALE_AFTER_S * NS_PER_S))
    waited.clear()
    with sole_recorder(visit, clock, wait):
        assert waited == [], "an old heartbeat needs no wait"


def test_a_killed_recorder_that_held_this_lock_needs_no_wait(visit: Path, clock: ManualClock) -> None:
    run = Run(visit, clock)
    run.writer.close()
    with sole_recorder(visit, clock, clock_only(clock)) as lock:
        lock._write(RecorderNote(str(visit), "test", run.began_utc_ns, 7))
        left = lock_path(visit).read_bytes()
    lock_path(visit).write_bytes(left)
    with sole_recorder(visit, clock, no_wait):
        pass


def clock_only(clock: ManualClock) -> Callable[[float], None]:
    return lambda seconds: clock.advance_ns(round(seconds * NS_PER_S))


def no_wait(_: float) -> None:
    raise AssertionError("waited")


def test_a_run_that_another_recorder_has_closed_takes_nothing_any_more(
    visit: Path, clock: ManualClock
) -> None:
    first = Run(visit, clock)
    second = Run(visit, clock)
    with pytest.raises(RunClosedError, match="Another recorder has taken"):
        first.beat()
    for run in (first, second):
        run.writer.close()
    with closing(VisitLog.open(visit)) as log:
        assert len(log.samples.after().volts) == 2, "one of each run; none after the end of the first"


def test_a_lock_whose_file_was_removed_is_made_again(visit: Path) -> None:
    with sole_recorder(visit) as lock:
        lock.note_running(visit, "test", 5)
        lock_path(visit).unlink()
        assert not is_recording(visit)
        assert lock.follow(visit)
        assert recorder_note(visit) == RecorderNote(str(visit), "test", 5, os.getpid())
    assert not lock_path(visit).exists()


def test_what_waits_for_room_can_be_read_beside_the_visit(visit: Path) -> None:
    with sole_recorder(visit) as lock:
        lock.note_running(visit, "test", 5)
        size = lock_path(visit).stat().st_size
        waiting = WaitingLines(812, 0, "database or disk is full", is_full=True)
        lock.note_waiting(waiting)
        note = recorder_note(visit)
        assert note is not None and note.waiting == waiting
        assert lock_path(visit).stat().st_size == size, "it needs no room"
        lock.note_waiting(None)
        assert recorder_note(visit) == RecorderNote(str(visit), "test", 5, os.getpid())


def test_the_lock_has_the_rights_of_the_visit(visit: Path) -> None:
    for mode in (0o600, 0o660):
        visit.chmod(mode)
        with sole_recorder(visit):
            assert lock_path(visit).stat().st_mode & 0o777 == mode


def test_a_link_in_the_place_of_the_lock_is_not_followed(visit: Path, tmp_path: Path) -> None:
    victim = tmp_path / "victim"
    victim.write_text("mine")
    lock_path(visit).symlink_to(victim)
    with pytest.raises(StillvoltError, match="cannot be written"), sole_recorder(visit):
        pass
    assert victim.read_text() == "mine"
