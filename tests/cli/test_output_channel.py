"""Standard output that takes nothing more ends a command with a sentence, not with a traceback."""

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
