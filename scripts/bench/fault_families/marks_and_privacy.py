"""What is simulated says so everywhere; what was measured is its owner's alone; two cannot record into one visit."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

from messages import RATE_HZ, steady_lines
from sample_visit import BEGAN, sample_visit, trace
from scripts.pty_meter import PtyMeter
from trials import Bench, Tally, ended, numbers, rows

RECORDED_S = 3
NOBODY = 65534


def simulated(bench: Bench, tally: Tally) -> None:
    """A run from the simulated house cannot be taken for a measurement."""
    with bench.place() as place:
        visit, measured = place / "practice.visit", sample_visit(bench, place / "measured.visit")
        visits = place / "visits"
        visits.mkdir()
        done = bench.run("record", "--port", "sim://house?rate_hz=20", "--visit", visit, "--for", f"{RECORDED_S}")
        tally.add("record sim://", done.done(), done.text)
        shutil.copy(visit, visits / "practice.visit")
        for name, words, read in (
            ("report", ("report", visit, "--out", place / "page.html"), lambda: _text(place / "page.html")[:4000]),
            ("form", ("form", visit, "--out", place / "form.html"), None),
            ("export", ("export", visit, "--out", place / "export", "--format", "csv"),
             lambda: _text(place / "export" / "runs.csv")),
            ("export, about", ("export", visit, "--out", place / "export", "--format", "csv"),
             lambda: _text(place / "export" / "about.csv")),
            ("compare", ("compare", visit, measured, "--same-home"), None),
            ("compare swapped", ("compare", measured, visit, "--same-home"), None),
            ("compare --json", ("compare", measured, visit, "--json"), None),
            ("archive", ("archive", visits), None),
            ("archive --json", ("archive", visits, "--json"), None),
            ("verify", ("verify", visit), None),
        ):  # fmt: skip
            if name == "form":
                continue  # an empty form holds no measurement
            result = bench.run(*words)
            text = (read() if read else "") + result.text
            kind = result.failure() or ("" if "simulat" in text.lower() else "falsified")
            if name == "verify":
                continue
            tally.add(f"{name} of a simulated run", kind, text)
        # It stays marked after it was copied, exported under another name and salvaged.
        result = bench.run("salvage", visit, "--out", place / "new.visit")
        if result.status == 0:
            again = bench.run("report", place / "new.visit", "--out", place / "new.html")
            kind = again.failure() or ("" if "simulat" in _text(place / "new.html")[:4000].lower() else "falsified")
            tally.add("report of a salvaged simulated run", kind, again.text)


def _text(path: Path) -> str:
    """The words of a file; of a page its beginning is its first page."""
    import re

    if not path.exists():
        return ""
    text = path.read_text(encoding="utf-8-sig", errors="replace")
    return re.sub(r"<style.*?</style>|<svg.*?</svg>|<[^>]*>", " ", text, flags=re.DOTALL)


def private(bench: Bench, tally: Tally) -> None:
    """Files that are made are readable by their owner only, whatever the umask is."""
    with bench.place() as place:
        place.chmod(0o755)
        visit = place / "home.visit"
        meter = PtyMeter(place / "meter", steady_lines(), RATE_HZ)
        old_mask = os.umask(0)
        try:
            with bench.started("record", "--port", place / "meter", "--visit", visit, "--for", "5") as process:
                limit = time.monotonic() + 30
                while not rows(visit, "SELECT 1 FROM line") and time.monotonic() < limit:
                    time.sleep(0.1)
                for suffix in ("", "-wal", "-shm"):
                    _judge(tally, visit.with_name(visit.name + suffix), f"record makes {suffix or 'the visit'}")
                ended(process)
            meter.stop()
            trace(place / "logged.csv", 600.0)
            bench.run("import", place / "logged.csv", "--visit", place / "imported.visit", "--began", BEGAN)
            bench.run("report", visit, "--out", place / "page.html", "--pdf", place / "page.pdf")
            bench.run("form", visit, "--out", place / "form.html")
            bench.run("export", visit, "--out", place / "export")
            bench.run("replay", place / "logged.csv", "--events", place / "events.jsonl")
            made = ["imported.visit", "page.html", "page.pdf", "form.html", "events.jsonl"]
            if bench.run("salvage", visit, "--out", place / "new.visit").status == 0:
                made.append("new.visit")
            for name in made:
                _judge(tally, place / name, f"{name} is made")
            for path in (place / "export").glob("*"):
                _judge(tally, path, f"export makes {path.name}")
            for path in bench.home.rglob("*"):
                if path.is_file() and path.suffix not in (".lock",):
                    _judge(tally, path, f"home gets {path.name}")
        finally:
            os.umask(old_mask)


def _judge(tally: Tally, path: Path, what: str) -> None:
    if not path.exists():
        tally.add(what, "lost", f"there is no {path.name}")
        return
    mode = path.stat().st_mode & 0o777
    tally.add(what, "let in" if mode & 0o077 else "", f"{path.name}: {mode:o}")


def two_recorders(bench: Bench, tally: Tally) -> None:
    """Two homes, two users, two names of one visit: the second is refused, the first goes on."""
    for what in ("one home", "two homes", "two homes and a link", "two homes and a hard link", "two users", "import"):
        if what == "two users" and os.geteuid() != 0:
            continue
        with bench.place() as place:
            for folder in (bench.folder, place):
                folder.chmod(0o777)
            first, second = place / "a", place / "b"
            first.mkdir(), second.mkdir()
            second.chmod(0o777)
            visit, name = place / "home.visit", place / "home.visit"
            meters = [PtyMeter(place / f"meter{number}", _level(volts), RATE_HZ) for number, volts in ((1, 1), (2, 2))]
            for path in Path("/dev/pts").glob("[0-9]*"):
                if what == "two users":
                    path.chmod(0o666)
            with bench.started(
                "record", "--port", meters[0].path, "--visit", visit, "--for", "6", env=bench.environment(first)
            ) as process:
                limit = time.monotonic() + 30
                while not rows(visit, "SELECT 1 FROM line") and time.monotonic() < limit:
                    time.sleep(0.1)
                if "hard" in what:
                    name = place / "hard.visit"
                    name.hardlink_to(visit)
                elif "link" in what:
                    name = place / "link.visit"
                    name.symlink_to(visit)
                how = {}
                if what == "two users":
                    for path in place.glob("home.visit*"):
                        path.chmod(0o666)
                    how = {"user": NOBODY, "group": NOBODY}
                environment = bench.environment(first if what == "one home" else second)
                words: tuple[object, ...] = ("record", "--port", meters[1].path, "--visit", name, "--for", "2")
                if what == "import":
                    words = ("import", trace(place / "t.csv", 60), "--visit", name, "--began", "2030-01-01T00:00:00Z")
                try:
                    result = bench.run(*words, env=environment, **how)  # type: ignore[arg-type]
                except PermissionError:  # the other user may not read the installation: nothing was tried
                    result = None
                one = ended(process)
            for meter in meters:
                meter.stop()
            if result is None:
                continue
            volts = {round(value) for (value,) in rows(visit, "SELECT volts FROM line WHERE volts IS NOT NULL")}
            runs = rows(visit, "SELECT reason FROM run_end")
            kind = "let in" if volts != {1} or result.status == 0 else result.refused() or one.done()
            if not kind and runs != [("the time was up",)]:
                kind = "falsified"
            tally.add(what, kind, f"{volts} {runs} {result.text} {one.text}")


def _level(volts: float):  # noqa: ANN202
    return (b"%.3f V AC" % volts for _ in iter(int, 1))
