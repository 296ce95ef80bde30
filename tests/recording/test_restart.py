"""A recorder that a fault of its process ends is started again; one that somebody ends is not."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from logger.meter.port import PortSettings
from logger.recording.restart import Fault, RecordingProcess
from logger.recording.session import record
from logger.simulation import register_simulated_port
from logger.visit import VisitLog

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no fork")

PROGRAM = """
import json, os, signal, sys, time
from pathlib import Path
from logger.recording import restart

restart.FIRST_PAUSE_S = 0.0
ends = json.loads(sys.argv[1])

def record(process):
    number = int(Path("starts").read_text()) if Path("starts").exists() else 0
    Path("starts").write_text(str(number + 1))
    kind, value, begins = ends[number]
    if begins:
        process.note_visit(Path(f"{number}.visit"))
    fault = process.fault
    print(json.dumps(fault and [fault.signal_name, str(fault.visit)]), flush=True)
    if kind == "wait":
        signal.signal(signal.SIGTERM, lambda *_: print("ends in order") or sys.exit(7))
        print("waits", flush=True)
        time.sleep(60)
    if kind == "signal":
        os.kill(os.getpid(), value)
    return value

sys.exit(restart.restarted_after_faults(record))
"""
"""A recorder that ends as its words tell: a status or a signal, and whether its run begins before."""


def started(folder: Path, *ends: tuple[str, int, bool]) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", PROGRAM, json.dumps(ends)], stdout=subprocess.PIPE, text=True, cwd=folder,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])},
    )  # fmt: skip


@pytest.mark.parametrize(
    ("ends", "faults", "status"),
    [
        ([("status", 0, True)], [None], 0),
        ([("status", 1, False)], [None], 1),
        (
            [("signal", signal.SIGBUS, True), ("status", 3, True)],
            [None, ["SIGBUS", "0.visit"]],
            3,
        ),
        (
            [("signal", signal.SIGSEGV, True), ("status", 1, False), ("status", 0, True)],
            [None, ["SIGSEGV", "0.visit"], ["SIGSEGV", "0.visit"]],
            0,
        ),
        ([("signal", signal.SIGKILL, True)], [None], -signal.SIGKILL),
        ([("signal", signal.SIGSEGV, False)], [None], -signal.SIGSEGV),
    ],
    ids=["end", "refusal", "fault", "refused after a fault", "killed", "fault before the run"],
)
def test_it_is_started_again_after_a_fault_only(
    tmp_path: Path, ends: list[tuple[str, int, bool]], faults: list[object], status: int
) -> None:
    with started(tmp_path, *ends) as process:
        output, _ = process.communicate()
    assert [json.loads(line) for line in output.splitlines()] == faults
    assert process.returncode == status


@pytest.mark.parametrize("order", [signal.SIGTERM, signal.SIGKILL], ids=["order", "killed"])
def test_what_ends_the_waiting_process_ends_the_recording_one_in_order(
    tmp_path: Path, order: signal.Signals
) -> None:
    with started(tmp_path, ("wait", 0, True)) as process:
        assert process.stdout is not None
        process.stdout.readline()
        process.stdout.readline()
        process.send_signal(order)
        output, _ = process.communicate()  # it is closed when both have gone
    assert output == "ends in order\n"
    assert process.returncode == (7 if order is signal.SIGTERM else -signal.SIGKILL)


def test_the_next_run_notes_what_has_ended_the_one_before(tmp_path: Path) -> None:
    register_simulated_port()
    visit, places = tmp_path / "home.visit", list[Path]()
    process = RecordingProcess(Fault("SIGBUS", visit, 1.0), places.append)
    record(visit, PortSettings(url="sim://house"), for_s=0.01, notify=lambda _: None, process=process)
    with closing(VisitLog.open(visit)) as log:
        (notice,) = [one for one in log.notices.after() if one.kind == "recorder restarted"]
    assert "SIGBUS" in notice.message
    assert places == [visit]
