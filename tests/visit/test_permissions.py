"""'No permission' is not 'damaged': each command as a user who may not read, or may only read, a visit."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from logger.visit.storage.verification import verify

pytestmark = [
    pytest.mark.skipif(sys.platform == "win32", reason="the rights of a file are others there"),
    pytest.mark.skipif(
        sys.platform != "win32" and os.geteuid() == 0 and shutil.which("setpriv") is None,
        reason="root may read every file, and setpriv, which takes that from a process, is not installed",
    ),
]

LATER = Path(__file__).parents[2] / "fixtures" / "demo" / "garden_flat_later.visit"


@pytest.fixture
def folder() -> Iterator[Path]:
    """A folder that all may enter; in it `out`, where all may write, and `visits`, where only the owner may."""
    made = Path(tempfile.mkdtemp(prefix="stillvolt-rights-"))
    made.chmod(0o755)
    for name, mode in (("out", 0o777), ("visits", 0o755)):
        (made / name).mkdir()
        (made / name).chmod(mode)
    yield made
    (made / "visits").chmod(0o755)
    shutil.rmtree(made)


def run_unprivileged(words: list[str], folder: Path) -> tuple[int, str]:
    """Exit status and output of a command, run by a user who is bound by the rights of a file."""
    command = [sys.executable, "-m", "logger", *words]
    if os.geteuid() == 0:
        command = [
            *("setpriv", "--bounding-set", "-dac_override,-dac_read_search", "--inh-caps", "-all"),
            *command,
        ]
    environment = {
        name: str(folder / "out" / "home")
        for name in ("HOME", "XDG_CACHE_HOME", "XDG_STATE_HOME", "XDG_CONFIG_HOME")
    }
    done = subprocess.run(
        command,
        cwd=folder,
        env={**os.environ, **environment, "PYTHONPATH": str(Path(__file__).parents[2])},
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, done.stdout + done.stderr


def commands(visit: Path, out: Path) -> dict[str, list[str]]:
    trace = out / "trace.csv"
    trace.write_text("time_s,volts\n0,0.2\n1,0.2\n", encoding="utf-8")
    trace.chmod(0o644)
    sound = Path(shutil.copy(LATER.with_name("garden_flat.visit"), out / "before.visit"))
    sound.chmod(0o644)
    return {
        "report": ["report", str(visit), "--out", str(out / "r.html")],
        "export": ["export", str(visit), "--out", str(out / "data"), "--format", "csv"],
        "form": ["form", str(visit), "--out", str(out / "f.html")],
        "night": ["night", str(visit)],
        "compare": ["compare", str(sound), str(visit)],
        "archive": ["archive", str(visit.parent)],
        "verify": ["verify", str(visit)],
        "salvage": ["salvage", str(visit), "--out", str(out / "new.visit")],
        "import": [
            "import",
            str(trace),
            "--visit",
            str(visit),
            "--began",
            "2030-01-01T00:00:00Z",
            "--future",
        ],
        "record": ["record", "--port", "sim://", "--visit", str(visit), "--for", "0.1"],
    }


READING = ("report", "export", "form", "compare", "archive", "verify", "salvage")


@pytest.mark.parametrize("command", [*READING, "night", "import", "record"])
def test_a_visit_that_may_not_be_read_is_not_called_damaged(folder: Path, command: str) -> None:
    visit = Path(shutil.copy(LATER, folder / "visits" / "private.visit"))
    visit.chmod(0o000)
    status, text = run_unprivileged(commands(visit, folder / "out")[command], folder)
    assert status == 1, text
    assert "Permission denied" in text
    assert "damaged" not in text
    assert "Traceback" not in text
    assert not (folder / "out" / "new.visit").exists()


@pytest.mark.parametrize("command", READING)
def test_a_visit_that_may_only_be_read_is_read_and_stays(folder: Path, command: str) -> None:
    visit = Path(shutil.copy(LATER, folder / "visits" / "shared.visit"))
    visit.chmod(0o444)
    (folder / "visits").chmod(0o555)
    before = visit.read_bytes()
    status, text = run_unprivileged(commands(visit, folder / "out")[command], folder)
    assert status == 0, text
    assert visit.read_bytes() == before
    assert [path.name for path in visit.parent.iterdir()] == ["shared.visit"]


@pytest.mark.parametrize("command", ["import", "record"])
def test_a_visit_that_may_only_be_read_takes_nothing_and_the_reason_is_given(
    folder: Path, command: str
) -> None:
    visit = Path(shutil.copy(LATER, folder / "visits" / "shared.visit"))
    visit.chmod(0o444)
    (folder / "visits").chmod(0o555)
    status, text = run_unprivileged(commands(visit, folder / "out")[command], folder)
    assert status == 1
    assert "read-only" in text or "cannot be written" in text
    assert "damaged" not in text


def test_the_owner_reads_what_nobody_else_may(folder: Path) -> None:
    visit = Path(shutil.copy(LATER, folder / "visits" / "private.visit"))
    visit.chmod(0o600)
    assert verify(visit).sound
