"""Everything that a command makes is readable by its owner only, whatever the user's umask."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from logger.visit import VisitLog

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no rights of this kind")

REPOSITORY = Path(__file__).parents[1]
DEMO_FOLDER = REPOSITORY / "fixtures" / "demo"
PATIENCE_S = 180.0

COMMANDS = (
    "record --port sim://house --for 1 --visit own/new.visit",
    "record --port sim://house --for 1 --nightly own/nights",
    "import trace.csv --visit own/imported.visit --began 2026-03-01T22:00:00Z",
    "report own/demo.visit --out own/report.html",
    "report own/demo.visit --out own/report.pdf",
    "form own/demo.visit --out own/form.html",
    "export own/demo.visit --out own/export",
    "compare own/demo.visit own/other.visit --json",
    "replay trace.csv --events own/events.jsonl",
    "salvage own/demo.visit --out own/salvaged.visit",
    "verify own/demo.visit",
    "night own/demo.visit --json",
)


def others_may(folder: Path) -> list[str]:
    """What somebody else may read, list or write below a folder."""
    found = []
    for path in sorted(folder.rglob("*")):
        mode = path.lstat().st_mode
        if not path.is_symlink() and stat.S_IMODE(mode) & 0o077:
            found.append(f"{path.relative_to(folder)} {stat.filemode(mode)}")
    return found


@pytest.mark.parametrize("umask", [0])
@pytest.mark.parametrize("command", COMMANDS)
def test_nothing_that_is_made_is_open_to_others(tmp_path: Path, command: str, umask: int) -> None:
    own, home = tmp_path / "own", tmp_path / "home"
    for folder in (own, home, home / "tmp", own / "nights"):
        folder.mkdir(mode=0o700)
    for name, source in (("demo", "garden_flat_later"), ("other", "garden_flat")):
        visit = own / f"{name}.visit"
        visit.write_bytes((DEMO_FOLDER / f"{source}.visit").read_bytes())
        visit.chmod(0o600)
    (tmp_path / "trace.csv").write_text(
        "time_s,volts\n" + "".join(f"{i / 5},{0.3 + i % 3 / 1000}\n" for i in range(300))
    )
    names = (
        "HOME",
        "XDG_CACHE_HOME",
        "XDG_CONFIG_HOME",
        "XDG_STATE_HOME",
        "XDG_DATA_HOME",
        "XDG_RUNTIME_DIR",
    )
    environment = os.environ | dict.fromkeys(names, str(home)) | {"TMPDIR": str(home / "tmp")}
    done = subprocess.run(
        [sys.executable, "-m", "logger", *command.split()], cwd=tmp_path, env=environment, umask=umask,
        capture_output=True, text=True, timeout=PATIENCE_S, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    for word in command.split():
        assert not word.startswith("own/") or (tmp_path / word).exists(), "it was made"
    assert others_may(own) == others_may(home) == []


def test_a_recorder_at_work_and_one_that_was_killed_leave_nothing_open(tmp_path: Path) -> None:
    own = tmp_path / "own"
    own.mkdir(mode=0o700)
    visit = own / "house.visit"
    recorder = subprocess.Popen(
        [sys.executable, "-m", "logger", "record", "--port", "sim://house", "--visit", str(visit)],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, umask=0,
    )  # fmt: skip
    try:
        assert recorder.stdout is not None
        assert (
            b"Recording" in (line := recorder.stdout.readline()) or b"Recording" in recorder.stdout.readline()
        ), line
        log = VisitLog.open(visit)
        assert len(list(own.iterdir())) == 4, "visit, its journal and index, its lock"
        assert others_may(own) == []
        log.close()
    finally:
        recorder.kill()
        recorder.communicate()
    assert others_may(own) == []
