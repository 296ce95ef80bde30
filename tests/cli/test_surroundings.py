"""What the surroundings of a command break, its output or its time zone, ends it with a sentence and no traceback."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

FULL = Path("/dev/full")
"""A device that is always full."""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no device that is always full")
@pytest.mark.parametrize("unbuffered", ["", "1"])
@pytest.mark.parametrize("words", [["--help"], ["--version"], ["ports"]])
def test_a_full_disk_behind_the_output_is_one_sentence(words: list[str], unbuffered: str) -> None:
    with FULL.open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "logger", *words], stdout=full, stderr=subprocess.PIPE, text=True, check=False,
            env={"PYTHONUNBUFFERED": unbuffered},
        )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr == "stillvolt: The output cannot be written (No space left on device).\n"


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no device that is always full")
def test_a_closed_output_is_one_sentence() -> None:
    done = subprocess.run(
        ["sh", "-c", 'exec "$0" -m logger ports >&-', sys.executable], stderr=subprocess.PIPE, text=True, check=False,
        env={},
    )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr == "stillvolt: The output cannot be written (Bad file descriptor).\n"


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no TZ variable")
def test_a_zone_a_day_from_utc_is_refused_in_a_sentence() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "logger", "ports"],
        capture_output=True,
        text=True,
        check=False,
        env={"TZ": "XYZ-99"},
    )
    assert done.returncode == 1
    assert done.stderr.startswith(
        "stillvolt: The time zone of this computer, TZ=XYZ-99, is a day or more away"
    )


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pipes without a reader")
def test_a_reader_who_has_gone_needs_no_sentence(tmp_path: Path) -> None:
    stream = tmp_path / "stream.txt"
    stream.write_bytes(b"0.273 V AC\r\n" * 5000)
    with subprocess.Popen(
        [sys.executable, "-m", "logger", "lines", str(stream)], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        assert process.stdout
        assert process.stderr
        process.stdout.close()
        assert process.stderr.read() == b""
    assert process.returncode == 1
