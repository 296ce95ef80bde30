"""Peak memory and time of each command that opens a visit, on each visit that was made to exhaust or end it.

    python scripts/bench/hostile_visits.py [--name "many spots"]

Prints, for each command, the largest of both over all hostile visits, and each visit that ended in a traceback or in
more than the bounds. A command runs in a process of its own that was forked from this one, whose own memory counts.
Unix only.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import tempfile
import time
import traceback
from importlib import import_module
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.cli.main import main
from tests.support.hostile_visits import make_hostile, statements

SOUND = Path(__file__).parents[2] / "fixtures" / "demo" / "garden_flat_later.visit"

MAX_MEGABYTES = 500
"""Bound of the peak memory of a command."""

COMMANDS = (
    "report",
    "export",
    "form",
    "night",
    "compare",
    "archive",
    "verify",
    "salvage",
    "import_",
    "record",
)


def words_of(command: str, visit: Path, folder: Path) -> list[str]:
    """The words of a command line."""
    out = folder / "out"
    shutil.rmtree(out, ignore_errors=True)
    out.mkdir()
    (folder / "trace.csv").write_text("time_s,volts\n0,0.2\n1,0.2\n", encoding="utf-8")
    return {
        "report": ["report", str(visit), "--out", str(out / "r.html")],
        "export": ["export", str(visit), "--out", str(out / "data"), "--format", "csv"],
        "form": ["form", str(visit), "--out", str(out / "f.html")],
        "night": ["night", str(visit), "--json"],
        "compare": ["compare", str(SOUND), str(visit)],
        "archive": ["archive", str(visit.parent)],
        "verify": ["verify", str(visit)],
        "salvage": ["salvage", str(visit), "--out", str(out / "new.visit")],
        "import_": [
            "import", str(folder / "trace.csv"), "--visit", str(visit), "--began", "2030-01-01T00:00:00Z"
        ],
        "record": ["record", "--port", "socket://127.0.0.1:9", "--visit", str(visit)],
    }[command]  # fmt: skip


def run(words: list[str], output: Path) -> tuple[int, float, float]:
    """Exit status, peak memory in megabytes, and time in seconds of a command."""
    began = time.monotonic()
    child = os.fork()
    if child == 0:
        status = 99
        try:
            descriptor = os.open(output, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
            os.dup2(descriptor, 1)
            os.dup2(descriptor, 2)
            status = main(words)
            sys.stdout.flush()
        except Exception:
            traceback.print_exc()
        finally:
            os._exit(status)
    _, ended, usage = os.wait4(child, 0)
    # Kilobytes on Linux, bytes on macOS.
    unit = 1e6 if sys.platform == "darwin" else 1e3
    return os.waitstatus_to_exitcode(ended), usage.ru_maxrss / unit, time.monotonic() - began


def measure(name: str | None) -> int:
    """Measure, and return how many visits were out of bounds."""
    for command in COMMANDS:
        import_module(f"logger.cli.commands.{command}")
    worst = dict.fromkeys(COMMANDS, (0.0, 0.0))
    failures = 0
    hostile = {key: sql for key, sql in statements().items() if name in (None, key)}
    with tempfile.TemporaryDirectory(prefix="stillvolt-") as made:
        folder = Path(made)
        (folder / "sent").mkdir()
        for key, sql in hostile.items():
            original = make_hostile(SOUND, folder / "original.visit", sql)
            for command in COMMANDS:
                visit = Path(shutil.copy(original, folder / "sent" / "sent.visit"))
                status, megabytes, seconds = run(words_of(command, visit, folder), folder / "output.txt")
                worst[command] = (max(worst[command][0], megabytes), max(worst[command][1], seconds))
                if status not in (0, 1) or megabytes > MAX_MEGABYTES:
                    failures += 1
                    print(f"{key}: {command} ended with {status}, {megabytes:.0f} MB")
    for command, (megabytes, seconds) in worst.items():
        print(f"{command.rstrip('_'):8} {megabytes:5.0f} MB {seconds:5.1f} s")
    print(f"{len(hostile)} hostile visits, {len(COMMANDS)} commands, {failures} out of bounds")
    return failures


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--name", help="only this visit")
    sys.exit(1 if measure(parser.parse_args().name) else 0)
