"""A visit that is renamed, moved, deleted, replaced, cut off or copied while it is recorded."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from itertools import count
from pathlib import Path

from scripts.bench.fault_families.trials import LIMIT_S, Bench, Tally, ended, numbers, rows
from scripts.pty_meter import PtyMeter

RATE_HZ = 20.0
RECORDED_S = 20.0
FAULT_S = 5.0
"""As in the report of the fault: renamed at 5 s of 20 s."""
REPEATS = 3
FIRST_LINES = 5
"""Lines that may pass before the port is open."""
FOLLOWED_S = 2.0
"""The file is looked at each second."""
SQLITE = b"SQLite format 3\x00"


def numbered_lines() -> Iterator[bytes]:
    """Lines whose value is their number in hundredths of a millivolt."""
    return (b"%.5f VAC" % (number / 1e5) for number in count(1))


def moved_files(bench: Bench, tally: Tally) -> None:
    """Run the family."""
    for what in bench.chosen(FAULTS):
        for _ in range(bench.repeats(REPEATS)):
            with bench.place() as place:
                kind, detail = _trial(bench, place, FAULTS[what], what)
                tally.add(what, kind, detail)


def _trial(bench: Bench, place: Path, fault: Callable[[Path], None], what: str) -> tuple[str, str]:
    folder = place / "visits"
    folder.mkdir()
    visit = folder / "home.visit"
    short = bench.scale < 0.1
    recorded_s, fault_s = (4.0, 1.5) if short else (RECORDED_S, FAULT_S)
    meter = PtyMeter(place / "meter", numbered_lines(), RATE_HZ)
    try:
        with bench.started(
            "record", "--port", place / "meter", "--visit", visit, "--for", f"{recorded_s}"
        ) as process:
            _until_lines(visit)
            time.sleep(fault_s * bench.random.uniform(0.8, 1.2))
            fault(visit)
            at = len(meter.all_written_ns)
            result = ended(process, recorded_s + LIMIT_S)
    finally:
        meter.stop()
    if kind := result.failure():
        return kind, result.text
    return _found(what, place, at, round((recorded_s - FOLLOWED_S) * RATE_HZ), result.text)


def _until_lines(visit: Path) -> None:
    limit = time.monotonic() + LIMIT_S
    while not numbers(visit) and time.monotonic() < limit:
        time.sleep(0.05)


def _found(what: str, place: Path, at: int, least: int, text: str) -> tuple[str, str]:
    """Whether the lines are all in the one file where somebody looks for them.

    Args:
        what: in `FAULTS`.
        place: where everything is.
        at: number of the last line before the fault.
        least: lines that a recording of this length has.
        text: what the recorder printed.
    """
    replacement, there = place / "replacement", place / "visits" / "home.visit"
    if replacement.exists() and there.read_bytes() != replacement.read_bytes():
        return "lost", f"the replacement was changed: {text}"
    # Whoever copies the folder away later has the files alone.
    found = {path.name: numbers(path) for path in place.rglob("*.visit") if path.read_bytes()[:16] == SQLITE}
    first = min((kept[0] for kept in found.values() if kept), default=1)
    start = at + round(FOLLOWED_S * RATE_HZ) if what == "cut off" else first
    wanted = set(range(start, first + least))
    best = max(found.values(), key=lambda kept: len(wanted & set(kept)), default=[])
    if missing := wanted - set(best):
        return (
            "lost",
            f"{len(missing)} of {len(wanted)} lines are missing in the best of {sorted(found)}: {text}",
        )
    if len(best) != len(set(best)) or best != sorted(best):
        return "falsified", f"lines twice or in disorder: {text}"
    new_name = next((name for name, kept in found.items() if kept is best), "")
    if what not in ("left alone", "cut off") and new_name not in text:
        return "not told", f"{new_name} is not named in: {text}"
    return "", ""


def _renamed(visit: Path) -> None:
    visit.rename(visit.with_name("renamed.visit"))


def _moved(visit: Path) -> None:
    folder = visit.parent / "kept"
    folder.mkdir()
    visit.rename(folder / visit.name)


def _moved_with_folder(visit: Path) -> None:
    visit.parent.rename(visit.parent.with_name("visits of the week"))
    visit.parent.mkdir()


def _deleted(visit: Path) -> None:
    visit.unlink()


def _deleted_with_journal(visit: Path) -> None:
    for path in list(visit.parent.iterdir()):
        path.unlink()


def _replaced(visit: Path) -> None:
    _replace(visit, 1)


def _replaced_by_a_bigger_one(visit: Path) -> None:
    _replace(visit, 20_000)


def _replace(visit: Path, marks: int) -> None:
    other = visit.parent.parent / "replacement"
    with closing(sqlite3.connect(other)) as db:
        db.executescript((Path(__file__).resolve().parents[3] / "fixtures/visits/version_3.sql").read_text())
        db.executemany(
            "INSERT INTO mark (utc_ns, text) VALUES (?, ?)",
            [(index, f"mark {index} " * 10) for index in range(marks)],
        )
        db.commit()
    with tempfile.NamedTemporaryFile(dir=visit.parent, delete=False) as copy:
        copy.write(other.read_bytes())
    Path(copy.name).replace(visit)


def _cut_off(visit: Path) -> None:
    os.truncate(visit, visit.stat().st_size // 2)


def _left_alone(visit: Path) -> None:
    pass


FAULTS: dict[str, Callable[[Path], None]] = {
    "left alone": _left_alone,
    "renamed": _renamed,
    "moved to another folder": _moved,
    "its folder renamed": _moved_with_folder,
    "deleted": _deleted,
    "deleted with its journal": _deleted_with_journal,
    "replaced by another visit": _replaced,
    "replaced by a bigger visit": _replaced_by_a_bigger_one,
    "cut off": _cut_off,
}


COPIED_AFTER_S = (1.0, 4.0, 8.0)
MAX_LACKING_S = 65.0
"""A copy may lack the last minute: a checkpoint each minute."""


def copies(bench: Bench, tally: Tally) -> None:
    """A copy without its journal, made while it is recorded: never reported as an empty visit."""
    for after_s in COPIED_AFTER_S[: bench.repeats(len(COPIED_AFTER_S))]:
        with bench.place() as place:
            visit, copy = place / "home.visit", place / "copy" / "home.visit"
            copy.parent.mkdir()
            meter = PtyMeter(place / "meter", numbered_lines(), RATE_HZ)
            with bench.started("record", "--port", place / "meter", "--visit", visit):
                _until_lines(visit)
                time.sleep(after_s)
                shutil.copy(visit, copy)
            meter.stop()
            kept = numbers(copy)
            for words in (
                ("report", copy, "--out", place / "page.html"),
                ("export", copy, "--out", place / "export"),
            ):
                result = bench.run(*words)
                kind = result.failure()
                if not kind and result.status == 0 and not kept:
                    kind = "not told"
                tally.add(f"{words[0]} of a copy without its journal after {after_s} s", kind, result.text)
            # What a kill leaves: with the journal nothing is missing.
            result = bench.run("verify", visit)
            whole = rows(visit, "SELECT count(*) FROM line")
            tally.add("killed, then verified", result.failure() or ("" if whole else "lost"), result.text)
