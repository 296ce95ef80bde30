"""Recording depends on no message channel: a closed pipe, a code page without the letter, a full disk of the output."""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from logger.meter.port import PortSettings
from logger.recording.detached import UNTIL_BEGUN, start_detached
from logger.recording.recorder_lock import is_recording, recorder_note
from logger.recording.registry import stop
from logger.visit import VisitLog
from tests.recording.test_recorder_lock import live, until

PATIENCE_S = 20.0


def command(visit: Path, *words: str) -> list[str]:
    return [sys.executable, "-m", "logger", "record", "--port", "sim://house", "--visit", str(visit), *words]


def ends(visit: Path) -> list[str]:
    with closing(VisitLog.open(visit)) as log:
        return [run.end_reason for run in log.runs.all()]


def test_a_reader_that_closes_the_pipe_after_the_first_line_ends_nothing(tmp_path: Path) -> None:
    visit = tmp_path / "house.visit"
    recorder = subprocess.Popen(
        command(visit, "--for", "1.5"), stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert recorder.stdout is not None
    assert recorder.stdout.readline()
    recorder.stdout.close()
    recorder.stdout = None
    errors = recorder.communicate(timeout=PATIENCE_S)[1]
    assert (recorder.returncode, errors) == (0, b"")
    assert ends(visit) == ["the time was up"]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="Windows has no device that is always full")
def test_an_output_on_a_full_disk_ends_nothing(tmp_path: Path) -> None:
    visit = tmp_path / "house.visit"
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            command(visit, "--for", "0.5"),
            stdout=full,
            stderr=subprocess.PIPE,
            timeout=PATIENCE_S,
            check=False,
        )
    assert (done.returncode, done.stderr) == (0, b"")
    assert ends(visit) == ["the time was up"]


@pytest.mark.parametrize("code_page", ["ascii", "cp1252"])
def test_a_code_page_without_the_letter_shows_it_as_an_escape(tmp_path: Path, code_page: str) -> None:
    visit = tmp_path / "Küche 台所.visit"
    environment = os.environ | {"PYTHONIOENCODING": code_page, "PYTHONUTF8": "0"}
    done = subprocess.run(
        command(visit, "--for", "0.5"), env=environment, capture_output=True, timeout=PATIENCE_S, check=False
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"\\u53f0\\u6240.visit" in done.stdout
    assert ends(visit) == ["the time was up"]


def test_a_detached_recorder_needs_no_temporary_folder_and_leaves_nothing_in_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    visit, gone = tmp_path / "house.visit", tmp_path / "gone"
    for name in ("TMPDIR", "TEMP", "TMP"):
        monkeypatch.setenv(name, str(gone))
    recorder = start_detached(visit, PortSettings("sim://house"))
    until(lambda: recorder_note(visit) and live(visit), "the first heartbeat")
    assert recorder.refusal() is None
    stop(visit)
    assert until(lambda: recorder.refusal() is not None, "the end") and not is_recording(visit)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["house.visit"]


def test_a_detached_recorder_writes_nothing_to_its_starter_once_it_has_begun(tmp_path: Path) -> None:
    recorder = subprocess.Popen(
        command(tmp_path / "house.visit", "--for", "1.5"), stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        env=os.environ | {UNTIL_BEGUN: "1"},
    )  # fmt: skip
    output = recorder.communicate(timeout=PATIENCE_S)[0].decode().splitlines()
    assert not any(line.startswith("Recording") for line in output), "a pipe that nobody reads fills up"
    assert recorder.returncode == 0
