"""What is simulated says so everywhere; what was measured is its owner's alone; two cannot record into one visit."""

from __future__ import annotations

import os
import re
import shutil
import time
from collections.abc import Iterator
from pathlib import Path

from scripts.bench.fault_families.messages import RATE_HZ, steady_lines
from scripts.bench.fault_families.sample_visit import BEGAN, sample_visit, trace
from scripts.bench.fault_families.trials import LIMIT_S, Bench, Tally, ended, rows
from scripts.pty_meter import PtyMeter

RECORDED_S = 3
NOBODY = 65534
FIRST_PAGE_CHARACTERS = 4000
SECOND_RECORDERS = (
    "one home", "two homes", "two homes and a link", "two homes and a hard link", "two users", "import",
)  # fmt: skip


def simulated(bench: Bench, tally: Tally) -> None:
    """A run from the simulated house cannot be taken for a measurement."""
    with bench.place() as place:
        visit, measured = place / "practice.visit", sample_visit(bench, place / "measured.visit")
        visits = place / "visits"
        visits.mkdir()
        done = bench.run(
            "record", "--port", "sim://house?rate_hz=20", "--visit", visit, "--for", f"{RECORDED_S}"
        )
        tally.add("record sim://", done.done(), done.text)
        shutil.copy(visit, visits / "practice.visit")
        export = ("export", visit, "--out", place / "export", "--format", "csv")
        trials: tuple[tuple[tuple[str | Path, ...], Path | None], ...] = (
            (("report", visit, "--out", place / "page.html"), place / "page.html"),
            (export, place / "export" / "runs.csv"),
            (export, place / "export" / "about.csv"),
            (("compare", visit, measured, "--same-home"), None),
            (("compare", measured, visit, "--same-home"), None),
            (("compare", measured, visit, "--same-home", "--json"), None),
            (("archive", visits), None),
            (("archive", visits, "--json"), None),
        )
        for words, made in bench.chosen(trials):
            result = bench.run(*words)
            text = _first_page(made) if made else result.out
            kind = result.failure() or ("" if "simulat" in text.lower() else "falsified")
            tally.add(f"{words[0]} of a simulated run, {made.name if made else words[-1]}", kind, result.text)
        # It stays marked after it was copied, exported under another name and salvaged.
        result = bench.run("salvage", visit, "--out", place / "new.visit")
        if result.status == 0:
            again = bench.run("report", place / "new.visit", "--out", place / "new.html")
            kind = again.failure() or (
                "" if "simulat" in _first_page(place / "new.html").lower() else "falsified"
            )
            tally.add("report of a salvaged simulated run", kind, again.text)


def _first_page(path: Path) -> str:
    """The first words of a file, as many as the first page of a report has."""
    if not path.exists():
        return ""
    text = path.read_text(encoding="utf-8-sig", errors="replace")
    return re.sub(r"<style.*?</style>|<svg.*?</svg>|<[^>]*>", " ", text, flags=re.DOTALL)[
        :FIRST_PAGE_CHARACTERS
    ]


def private(bench: Bench, tally: Tally) -> None:
    """Files that are made are readable by their owner only, whatever the umask is."""
    with bench.place() as place:
        place.chmod(0o755)
        visit = place / "home.visit"
        meter = PtyMeter(place / "meter", steady_lines(), RATE_HZ)
        old_mask = os.umask(0)
        try:
            with bench.started(
                "record", "--port", place / "meter", "--visit", visit, "--for", "5"
            ) as process:
                limit = time.monotonic() + 30
                while not rows(visit, "SELECT 1 FROM line") and time.monotonic() < limit:
                    time.sleep(0.1)
                for suffix in ("", "-wal", "-shm"):
                    _judge(
                        tally, visit.with_name(visit.name + suffix), f"record makes {suffix or 'the visit'}"
                    )
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
    for what in bench.chosen(SECOND_RECORDERS):
        if what == "two users" and os.geteuid() != 0:
            continue
        with bench.place() as place:
            for folder in (bench.folder, place):
                folder.chmod(0o777)
            meters = [PtyMeter(place / f"meter{volts}", _level(volts), RATE_HZ) for volts in (1, 2)]
            try:
                _second_recorder(bench, tally, place, what)
            except PermissionError:
                pass  # the other user may not read the installation: nothing was tried
            finally:
                for meter in meters:
                    meter.stop()


def _second_recorder(bench: Bench, tally: Tally, place: Path, what: str) -> None:
    """One recorder at work, and another program that wants to write into its visit.

    Args:
        bench: with the command.
        tally: for the verdict.
        place: with two meters.
        what: in `SECOND_RECORDERS`.
    """
    visit, homes = place / "home.visit", (place / "a", place / "b")
    for home in homes:
        home.mkdir()
        home.chmod(0o777)
    with bench.started(
        "record", "--port", place / "meter1", "--visit", visit, env=bench.environment(homes[0])
    ) as process:
        limit = time.monotonic() + LIMIT_S
        while not rows(visit, "SELECT 1 FROM line") and time.monotonic() < limit:
            time.sleep(0.1)
        name, how = _other_name(place, visit, what), {}
        if what == "two users":
            for path in (*place.glob("home.visit*"), (place / "meter2").resolve()):
                path.chmod(0o666)
            how = {"user": NOBODY, "group": NOBODY}
        words: tuple[str | Path, ...] = ("record", "--port", place / "meter2", "--visit", name, "--for", "2")
        if what == "import":
            words = (
                "import",
                trace(place / "t.csv", 60),
                "--visit",
                name,
                "--began",
                "2030-01-01T00:00:00Z",
                "--future",
            )
        environment = bench.environment(homes[0 if what == "one home" else 1])
        result = bench.run(*words, env=environment, **how)
        process.terminate()
        one = ended(process)
    volts = {round(value) for (value,) in rows(visit, "SELECT volts FROM line WHERE volts IS NOT NULL")}
    runs = rows(visit, "SELECT reason FROM run_end")
    kind = "let in" if volts != {1} or result.status == 0 else result.refused() or one.done()
    if not kind and [reason.startswith("stopped") for (reason,) in runs] != [True]:
        kind = "falsified"
    tally.add(what, kind, f"{volts} {runs} {result.text} {one.text}")


def _other_name(place: Path, visit: Path, what: str) -> Path:
    """The name by which the second program knows the visit."""
    if "hard" in what:
        (place / "hard.visit").hardlink_to(visit)
        return place / "hard.visit"
    if "link" in what:
        (place / "link.visit").symlink_to(visit)
        return place / "link.visit"
    return visit


def _level(volts: float) -> Iterator[bytes]:
    return (b"%.3f V AC" % volts for _ in iter(int, 1))
