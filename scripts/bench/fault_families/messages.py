"""Channels of messages that are broken: a recording goes on, a command ends with a sentence."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from contextlib import suppress
from itertools import count
from pathlib import Path
from typing import Any

from scripts.bench.fault_families.trials import LIMIT_S, MIN_SCALE_OF_LISTS, Bench, Result, Tally, ended, rows
from scripts.pty_meter import PtyMeter

RECORDED_S = 5.0
RATE_HZ = 20.0
MIN_SHARE = 0.6
"""Of the lines that were sent while it recorded; the start takes a part of the time."""
MAX_NOTICES = 20
"""In a few seconds of a meter that toggles its range with each line."""


def _closed_pipe() -> int:
    read, write = os.pipe()
    os.close(read)
    return write


def _full_disk() -> int:
    return os.open("/dev/full", os.O_WRONLY)


CHANNELS: dict[str, dict[str, Any]] = {
    "open": {},
    "closed pipe": {"stdout": _closed_pipe, "stderr": _closed_pipe},
    "full disk": {"stdout": _full_disk, "stderr": _full_disk},
    "not open at all": {"preexec_fn": lambda: os.closerange(1, 3)},
    "ASCII": {"env": {"PYTHONIOENCODING": "ascii:strict", "LC_ALL": "C"}},
    "cp1252": {"env": {"PYTHONIOENCODING": "cp1252:strict"}},
    "TMPDIR missing": {"env": {"TMPDIR": "/missing"}},
    "home not writable": {"env": {"HOME": "/proc", "XDG_CACHE_HOME": "/proc/c", "XDG_STATE_HOME": "/proc/s",
                                  "XDG_CONFIG_HOME": "/proc/f", "XDG_DATA_HOME": "/proc/d"}},
    "no home": {"env": dict.fromkeys(("HOME", "XDG_CACHE_HOME", "XDG_STATE_HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME"))},
}  # fmt: skip


def steady_lines() -> Iterator[bytes]:
    """A level that lasts."""
    return (b"%.3f V AC" % (0.27 + number % 3 / 1000) for number in count())


def toggling_lines() -> Iterator[bytes]:
    """A meter that cannot decide for a range."""
    return ((b"0.598 V AC", b"598.1 mV AC", b"OL")[number % 3] for number in count())


def messages(bench: Bench, tally: Tally) -> None:
    """Run the family."""
    for name in bench.chosen(CHANNELS):
        with bench.place() as place:
            result, visit, lines = _recording(
                bench, place, CHANNELS[name], "Küche Žižkov ☕.visit", steady_lines()
            )
            kept = rows(
                visit, "SELECT count(*), (SELECT reason FROM run_end ORDER BY run_id DESC LIMIT 1) FROM line"
            )
            kind = result.done() if name != "not open at all" else result.failure()
            if not kept or kept[0][0] < MIN_SHARE * lines:
                kind = "lost"
            tally.add(f"record, {name}", kind, f"{kept} of {lines}: {result.text}")
    if bench.scale < MIN_SCALE_OF_LISTS:
        return
    with bench.place() as place:
        result, visit, _ = _recording(bench, place, {}, "home.visit", toggling_lines())
        notices = rows(visit, "SELECT count(*) FROM notice")[0][0]
        tally.add(
            "a meter toggles its range",
            result.done() or ("not told" if notices > MAX_NOTICES else ""),
            f"{notices} notices",
        )
    _full_temporary_folder(bench, tally)
    _lines_of_a_file(bench, tally)


def _recording(
    bench: Bench, place: Path, channel: dict[str, Any], name: str, lines: Iterator[bytes]
) -> tuple[Result, Path, int]:
    """Record for some seconds; gives the result, the visit and how many lines were sent."""
    how = {
        key: value() if key in ("stdout", "stderr") else value
        for key, value in channel.items()
        if key != "env"
    }
    visit = place / name
    meter = PtyMeter(place / "meter", lines, RATE_HZ)
    environment = bench.environment(None, **channel.get("env", {}))
    words = ("record", "--port", place / "meter", "--visit", visit, "--for", f"{RECORDED_S}")
    with bench.started(*words, env=environment, **how) as process:
        for key in ("stdout", "stderr"):
            if key in how:
                os.close(how[key])
        result = ended(process, RECORDED_S + LIMIT_S)
    meter.stop()
    return result, visit, round(RECORDED_S * RATE_HZ)


def _full_temporary_folder(bench: Bench, tally: Tally) -> None:
    """A detached recorder whose messages go to a temporary folder that is full; needs root for a disk of its own."""
    with bench.place() as place:
        disk = place / "tmp"
        disk.mkdir()
        mounted = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", disk], capture_output=True
        )
        if mounted.returncode:
            return
        try:
            with suppress(OSError):
                (disk / "ballast").write_bytes(bytes(100_000))
            visit = place / "home.visit"
            meter = PtyMeter(place / "meter", steady_lines(), RATE_HZ)
            environment = bench.environment(TMPDIR=str(disk))
            result = bench.run(
                "record",
                "--detach",
                "--port",
                place / "meter",
                "--visit",
                visit,
                "--for",
                "60",
                env=environment,
            )
            time.sleep(3.0)
            kept = rows(visit, "SELECT count(*) FROM line")
            stopped = bench.run("stop", visit, env=environment)
            meter.stop()
            kind = result.done() or stopped.done() or ("" if kept and kept[0][0] > RATE_HZ else "lost")
            tally.add("record --detach, full temporary folder", kind, f"{kept} {result.text} {stopped.text}")
        finally:
            subprocess.run(["umount", "-l", disk], check=False)


def _lines_of_a_file(bench: Bench, tally: Tally) -> None:
    """Commands whose reader has gone, or has no room, end without a traceback."""
    with bench.place() as place:
        file = place / "lines.txt"
        file.write_bytes(b"0.273 V AC\r\n" * 20_000)
        head = subprocess.run(
            ["bash", "-c", '"$0" lines "$1" | head -0; exit ${PIPESTATUS[0]}', bench.command, file],
            env=bench.environment(), capture_output=True, text=True,
        )  # fmt: skip
        result = Result(head.returncode, head.stdout, head.stderr)
        tally.add("lines | head -0", result.failure(), result.text)
        with Path("/dev/full").open("wb") as full:
            for words in (("lines", file), ("--help",), ("--version",), ("ports",)):
                result = bench.run(*words, stdout=full)
                tally.add(
                    f"{words[0]} > /dev/full",
                    result.failure() or ("" if result.status else "exit status"),
                    result.text,
                )
        shutil.copy(file, place / "žluť.txt")
        result = bench.run(
            "lines", place / "žluť.txt", "x", env=bench.environment(PYTHONIOENCODING="ascii:strict")
        )
        tally.add("a refusal in ASCII", result.refused(), result.text)
