"""A journal whose index (`-shm`) another program cuts costs no line, no recorder and no window."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from subprocess import PIPE

import pytest

from logger.visit import VisitLog
from logger.visit.storage import wal_index
from logger.visit.storage.verification import verify
from tests.recording.test_file_watch import OPEN, Recording, seconds_in

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="Windows lets nobody cut a file that is mapped"
)

READS = OPEN.replace("db.execute", "db.execute('BEGIN'); db.execute")
"""Another program in the middle of reading, until its input ends."""


@pytest.mark.parametrize("size", [0, 3, 4096])
def test_recorder_and_window_go_on_with_every_line(tmp_path: Path, size: int) -> None:
    visit = tmp_path / "home.visit"
    recording = Recording(visit)
    index = tmp_path / "home.visit-shm"
    with closing(VisitLog.open(visit)) as window:
        for cut in range(1, 4):
            recording.write(5)
            os.truncate(index, size)
            if cut % 2:  # one reads first, or the other writes first
                assert len(window.samples.after().volts) == 5 * cut
        recording.write(5)
        assert len(window.samples.after().volts) == 20
        window.spots.add("Bed")
    os.truncate(index, size)
    recording.writer.end(21, 21, "stopped")
    recording.writer.close()
    assert seconds_in(visit) == list(range(1, 21))
    assert verify(visit).sound


def test_it_is_not_emptied_while_another_program_reads(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(wal_index, "WAIT_S", 0.05)
    visit = tmp_path / "home.visit"
    recording = Recording(visit)
    recording.write(5)
    with subprocess.Popen([sys.executable, "-c", READS, str(visit)], stdin=PIPE, stdout=PIPE) as other:
        assert other.stdout is not None
        other.stdout.readline()
        os.truncate(tmp_path / "home.visit-shm", 0)
        with pytest.raises(sqlite3.OperationalError):
            recording.write(1)
        other.kill()
    recording.write(1)
    recording.writer.close()
    assert len(seconds_in(visit)) == 6
