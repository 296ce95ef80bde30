"""The recorder as a process on a real terminal device: killed, unplugged, started twice."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from logger.meter.port import PortSettings
from logger.meter.reader import MID_LINE_NS
from logger.recording.detached import start_detached
from logger.recording.recorder_lock import is_recording
from logger.recording.registry import recorder_of, stop
from logger.visit import VisitLog

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="Windows has no pseudo-terminals of this kind"
)

PATIENCE_S = 20.0
"""How long a test waits for another process before it fails."""


class Meter:
    """A meter on one end of a pseudo-terminal; the other end has a name that outlives the cable."""

    def __init__(self, folder: Path) -> None:
        self.url = str(folder / "ttyMeter")
        self.plug()

    def plug(self) -> None:
        self.end, self._far = os.openpty()
        import tty  # noqa: PLC0415  Windows has none

        tty.setraw(self._far)
        Path(self.url).symlink_to(os.ttyname(self._far))

    def pull(self) -> None:
        Path(self.url).unlink()
        os.close(self.end)
        os.close(self._far)

    def send(self, text: str) -> None:
        os.write(self.end, text.encode())


def until(condition, what: str):
    """Wait for another process, within PATIENCE_S."""
    limit = time.monotonic() + PATIENCE_S
    while time.monotonic() < limit:
        result = condition()
        if result:
            return result
        time.sleep(0.01)
    raise AssertionError(f"waited in vain for: {what}")


@pytest.fixture
def meter(tmp_path):
    meter = Meter(tmp_path)
    yield meter
    if Path(meter.url).exists():
        meter.pull()


@pytest.fixture
def visit(tmp_path):
    path = tmp_path / "house.visit"
    VisitLog.create(path).close()
    return path


@pytest.fixture
def recorder(meter, visit):
    process = subprocess.Popen(
        [sys.executable, "-m", "logger", "record", "--port", meter.url, "--visit", str(visit)],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    log = VisitLog.open(visit)
    # What comes sooner after the opening may be the rest of a line, and is kept as that.
    until(
        lambda: (
            (live := log.recorder.live()) and live.beat_steady_utc_ns - live.run_started_utc_ns > MID_LINE_NS
        ),
        "a heartbeat after the time in which a line may be torn",
    )
    log.close()
    yield process
    process.kill()
    process.communicate()


def kill_recording_process(visit: Path) -> None:
    """The process that waits for it (`logger.recording.restart`) ends as it does."""
    os.kill(recorder_of(visit).pid, signal.SIGKILL)


def volts(visit: Path) -> list[float]:
    log = VisitLog.open(visit)
    try:
        return log.samples.after().volts.tolist()
    finally:
        log.close()


def test_killed_at_any_moment_it_loses_at_most_the_last_quarter_second(meter, visit, recorder):
    sent = []
    for i in range(60):
        meter.send(f"{i / 1000:.3f} VAC\r\n")
        sent.append((time.monotonic(), i / 1000))
        time.sleep(0.005)
    kill_recording_process(visit)
    killed = time.monotonic()
    recorder.wait()
    kept = volts(visit)
    assert kept == [value for _, value in sent][: len(kept)]
    lost = [at for at, value in sent if value not in kept]
    assert all(killed - at <= 0.25 for at in lost)
    with sqlite3.connect(visit) as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


def test_a_pulled_cable_put_back_within_two_seconds_goes_on_by_itself(meter, visit, recorder):
    log = VisitLog.open(visit)
    meter.send("0.101\r\n")
    until(lambda: 0.101 in volts(visit), "the first sample")
    meter.pull()
    until(lambda: log.recorder.live().port_state == "lost", "the loss to be noticed")
    meter.plug()
    back = time.monotonic()
    until(lambda: log.recorder.live().port_state == "open", "the port to be back")
    assert time.monotonic() - back <= 2.0
    # The first line after the opening may have lost its beginning and is kept, but not read; the next one is.
    until(lambda: meter.send("0.202\r\n") or 0.202 in volts(visit), "the next sample")
    assert set(volts(visit)) == {0.101, 0.202}
    log.close()


def test_a_second_recorder_on_the_same_log_is_refused(meter, visit, recorder):
    assert is_recording(visit)
    second = subprocess.run(
        [sys.executable, "-m", "logger", "record", "--port", "sim://", "--visit", str(visit)],
        capture_output=True, text=True, timeout=PATIENCE_S,
    )  # fmt: skip
    assert second.returncode == 1
    assert "Another recorder is at work" in second.stderr
    meter.send("0.3\r\n")
    until(lambda: volts(visit) == [0.3], "the first recorder to go on")


def test_a_second_recorder_on_the_same_port_is_refused(meter, visit, recorder, tmp_path):
    second = subprocess.run(
        [sys.executable, "-m", "logger", "record", "--port", meter.url, "--visit", str(tmp_path / "b.visit")],
        capture_output=True, text=True, timeout=PATIENCE_S,
    )  # fmt: skip
    assert second.returncode == 1
    assert second.stderr.startswith("stillvolt: ") and "Traceback" not in second.stderr
    meter.send("0.3\r\n")
    until(lambda: volts(visit) == [0.3], "the first recorder to go on")


def test_a_port_that_does_not_open_leaves_no_empty_log(tmp_path):
    refused = subprocess.run(
        [sys.executable, "-m", "logger", "record", "--port", str(tmp_path / "nothing"), "--visit", "a.visit"],
        capture_output=True, text=True, timeout=PATIENCE_S, cwd=tmp_path,
    )  # fmt: skip
    assert refused.returncode == 1 and "There is no port" in refused.stderr
    assert list(tmp_path.iterdir()) == []


def test_it_stops_in_order_when_the_window_asks(meter, visit, recorder):
    log = VisitLog.open(visit)
    meter.send("0.3\r\n")
    log.recorder.request_stop()
    assert recorder.wait(PATIENCE_S) == 0
    assert log.runs.all()[0].end_reason == "stopped from the window"
    assert not is_recording(visit)
    log.close()


@pytest.mark.parametrize(
    ("number", "reason"),
    [
        (signal.SIGTERM, "stopped by a signal of the system (SIGTERM)"),
        (signal.SIGINT, "stopped with Ctrl+C"),
    ],
)
def test_it_stops_in_order_on_the_systems_request(meter, visit, recorder, number, reason):
    recorder.send_signal(number)
    assert recorder.wait(PATIENCE_S) == 0
    log = VisitLog.open(visit)
    assert log.runs.all()[0].end_reason == reason
    log.close()


def test_detached_it_outlives_its_starter_and_tells_why_it_refused(meter, visit, tmp_path):
    first = start_detached(visit, PortSettings(url=meter.url))
    log = VisitLog.open(visit)
    until(log.recorder.live, "the first heartbeat")
    assert first.refusal() is None
    second = start_detached(tmp_path / "other.visit", PortSettings(url=str(tmp_path / "no such port")))
    refusal = until(second.refusal, "the refusal")
    assert refusal.startswith("stillvolt: ") and "no such port" in refusal
    log.recorder.request_stop()
    until(lambda: first.refusal() is not None, "the end")
    log.close()


def stillvolt(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "logger", *words], capture_output=True, text=True, timeout=PATIENCE_S
    )


def test_started_detached_it_is_listed_and_stopped_by_the_command_line(meter, tmp_path):
    visit = tmp_path / "night.visit"
    started = stillvolt("record", "--detach", "--port", meter.url, "--visit", str(visit))
    assert started.returncode == 0, started.stderr
    meter.send("0.3\r\n0.4\r\n")
    until(lambda: volts(visit) == [0.3, 0.4], "two samples")
    (one,) = [one for one in json.loads(stillvolt("running", "--json").stdout) if one["visit"] == str(visit)]
    assert f"process {one['pid']}" in started.stdout and str(visit) in started.stdout
    assert (one["port"], one["lines"]) == (meter.url, 2)
    assert abs(one["since_utc_ns"] - time.time_ns()) < 2 * PATIENCE_S * 1e9
    stopped = stillvolt("stop", str(visit))
    assert stopped.returncode == 0 and stopped.stdout == f"Stopped: {visit}.\n"
    assert not is_recording(visit) and str(visit) not in stillvolt("running").stdout
    log = VisitLog.open(visit)
    assert log.runs.all()[0].end_reason == "stopped from the command line"
    log.close()


def test_a_killed_recorder_is_not_listed_and_its_successor_goes_on_in_the_same_visit(meter, visit, recorder):
    meter.send("0.3\r\n")
    until(lambda: volts(visit) == [0.3], "the first sample")
    kill_recording_process(visit)
    assert recorder.wait() == -signal.SIGKILL
    assert recorder_of(visit) is None
    started = stillvolt("record", "--detach", "--port", meter.url, "--visit", str(visit))
    assert started.returncode == 0, started.stderr
    meter.send("0.5\r\n")
    until(lambda: volts(visit) == [0.3, 0.5], "a sample of the second run")
    assert stop(visit) == f"Stopped: {visit}."
    log = VisitLog.open(visit)
    assert ["cut off" in run.end_reason for run in log.runs.all()] == [True, False]
    log.close()


def test_started_detached_without_a_port_it_says_why_at_once(tmp_path):
    refused = stillvolt("record", "--detach", "--port", "/no/port", "--nightly", str(tmp_path))
    assert refused.returncode == 1 and refused.stderr.startswith("stillvolt: There is no port /no/port.")
    assert list(tmp_path.iterdir()) == []


def test_the_computer_is_kept_awake_or_it_is_said_once_that_it_cannot_be(meter, visit, recorder):
    log = VisitLog.open(visit)
    until(lambda: [n for n in log.notices.after() if n.kind == "sleep not prevented"], "the notice")
    log.close()
