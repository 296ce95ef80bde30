"""Peak memory and time of each command that opens a visit, on each visit that was made to exhaust or end it.

    python scripts/bench/hostile_visits.py                        for about 5 minutes, as many visits as that takes
    python scripts/bench/hostile_visits.py --name "many spots"    one visit
    python scripts/bench/hostile_visits.py --for 3600             all of them, on a slow computer too

Prints each command as it is done, then, for each command, the largest of both over all visits that were tried, and each
visit that ended in a traceback or in more than the bounds. Visits that the time did not suffice for are counted. A
command runs in a process of its own that was forked from this one, whose own memory counts.
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


def measure(name: str | None, for_s: float) -> int:
    """Measure, and return how many visits were out of bounds.

    Args:
        name: of the one visit to try; None for all.
        for_s: no visit is begun after so long, s.
    """
    for command in COMMANDS:
        import_module(f"logger.cli.commands.{command}")
    worst = dict.fromkeys(COMMANDS, (0.0, 0.0))
    failures = tried = 0
    began_s = time.monotonic()
    hostile = {key: sql for key, sql in statements().items() if name in (None, key)}
    with tempfile.TemporaryDirectory(prefix="stillvolt-") as made:
        folder = Path(made)
        (folder / "sent").mkdir()
        for key, sql in hostile.items():
            if time.monotonic() - began_s > for_s:
                break
            tried += 1
            original = make_hostile(SOUND, folder / "original.visit", sql)
            for command in COMMANDS:
                visit = Path(shutil.copy(original, folder / "sent" / "sent.visit"))
                status, megabytes, seconds = run(words_of(command, visit, folder), folder / "output.txt")
                print(
                    f"{tried}/{len(hostile)} {key}: {command} {megabytes:.0f} MB, {seconds:.1f} s", flush=True
                )
                worst[command] = (max(worst[command][0], megabytes), max(worst[command][1], seconds))
                if status not in (0, 1) or megabytes > MAX_MEGABYTES:
                    failures += 1
                    print(f"{key}: {command} ended with {status}, {megabytes:.0f} MB", flush=True)
    for command, (megabytes, seconds) in worst.items():
        print(f"{command.rstrip('_'):8} {megabytes:5.0f} MB {seconds:5.1f} s")
    left = f", {len(hostile) - tried} not tried" if tried < len(hostile) else ""
    print(f"{tried} hostile visits, {len(COMMANDS)} commands, {failures} out of bounds{left}")
    return failures


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--name", help="only this visit")
    parser.add_argument("--for", dest="for_s", type=float, default=270.0, help="seconds (default: 270)")
    arguments = parser.parse_args()
    sys.exit(1 if measure(arguments.name, arguments.for_s) else 0)
