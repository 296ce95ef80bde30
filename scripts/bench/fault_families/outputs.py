"""Outputs that are aimed at what was measured, at what they are made from, at devices, at one another."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import stat
from collections.abc import Callable
from pathlib import Path

from scripts.bench.fault_families.forks import Forks, shared_forks
from scripts.bench.fault_families.sample_visit import BEGAN, sample_visit, trace
from scripts.bench.fault_families.trials import Bench, Tally

MAX_FILE_BYTES = 4096
"""A disk that takes no more of a file than this."""


def outputs(bench: Bench, tally: Tally) -> None:
    """Run the family."""
    with bench.place() as place, shared_forks(bench) as forks:
        sound = sample_visit(bench, place / "sound.visit")
        for name, target in bench.chosen(TARGETS.items()):
            for command in bench.chosen(COMMANDS):
                with bench.place() as folder:
                    _trial(bench, forks, tally, folder, sound, command, name, target)
        _of_one_name(bench, tally, sound)
        _whole_or_not(bench, tally, sound)
        _table_names(bench, tally, sound)


COMMANDS = ("report", "report --pdf", "form", "replay", "salvage", "export", "import")


def _words(command: str, folder: Path, target: Path) -> list[str | Path]:
    visit, logged = folder / "home.visit", folder / "logged.csv"
    words: dict[str, list[str | Path]] = {
        "report": ["report", visit, "--out", target],
        "report --pdf": ["report", visit, "--out", folder / "page.html", "--pdf", target],
        "form": ["form", visit, "--out", target],
        "replay": ["replay", logged, "--events", target],
        "salvage": ["salvage", visit, "--out", target],
        "export": ["export", visit, "--out", target, "--format", "csv"],
        "import": ["import", logged, "--visit", target, "--began", BEGAN],
    }
    return words[command]


def _visit_itself(folder: Path) -> Path:
    return folder / "home.visit"


def _another_visit(folder: Path) -> Path:
    return Path(shutil.copy(folder / "home.visit", folder / "other.visit"))


def _misnamed_visit(folder: Path) -> Path:
    return Path(shutil.copy(folder / "home.visit", folder / "old.html"))


def _link_to_a_visit(folder: Path) -> Path:
    link = folder / "link.html"
    link.symlink_to(_another_visit(folder))
    return link


def _hard_link_to_the_visit(folder: Path) -> Path:
    (folder / "hard.html").hardlink_to(folder / "home.visit")
    return folder / "hard.html"


def _journal_of_the_visit(folder: Path) -> Path:
    return folder / "home.visit-wal"


def _the_trace(folder: Path) -> Path:
    return folder / "logged.csv"


def _link_to_the_trace(folder: Path) -> Path:
    (folder / "link.csv").symlink_to(folder / "logged.csv")
    return folder / "link.csv"


def _device(folder: Path) -> Path:
    link = folder / "null"
    link.symlink_to(os.devnull)
    return link


def _pipe(folder: Path) -> Path:
    os.mkfifo(folder / "pipe")
    return folder / "pipe"


def _missing_folder(folder: Path) -> Path:
    return folder / "missing" / "page.html"


TARGETS: dict[str, Callable[[Path], Path]] = {
    "the visit itself": _visit_itself,
    "another visit": _another_visit,
    "a visit under another suffix": _misnamed_visit,
    "a link to a visit": _link_to_a_visit,
    "a hard link to the visit": _hard_link_to_the_visit,
    "the journal of the visit": _journal_of_the_visit,
    "the trace": _the_trace,
    "a link to the trace": _link_to_the_trace,
    "a device": _device,
    "a pipe": _pipe,
    "a missing folder": _missing_folder,
}
ADDING_IS_ASKED_FOR = ("the visit itself", "another visit", "a visit under another suffix", "a link to a visit",
                       "a hard link to the visit")  # fmt: skip
"""`import` adds to a visit: there it has to refuse only what is none."""
REPLACED = {"the trace", "a link to the trace"}
"""Of the reading commands another kind of file, which may be replaced whole."""
MAKES_FOLDERS = "export"
ONE_NAME = (("page.html", "page.html"), ("page.html", "./page.html"), ("page.html", "link.html"))


def _trial(
    bench: Bench,
    forks: Forks,
    tally: Tally,
    folder: Path,
    sound: Path,
    command: str,
    name: str,
    target: Callable[[Path], Path],
) -> None:
    """Aim one command at one target.

    Args:
        bench: with the command.
        forks: of its commands.
        tally: for the verdict.
        folder: empty.
        sound: the visit that is read.
        command: in `COMMANDS`.
        name: of the target.
        target: makes it and gives its path.
    """
    if (command == "import" and name in ADDING_IS_ASKED_FOR) or (
        command == MAKES_FOLDERS and name == "a missing folder"
    ):
        return
    if name in REPLACED and command not in ("replay", "import", "salvage"):
        return
    shutil.copy(sound, folder / "home.visit")
    trace(folder / "logged.csv", 60.0)
    path = target(folder)
    before = _contents(folder)
    words = _words(command, folder, path)
    # What prints a page has threads of its own, which a fork does not have.
    result = bench.run(*words) if command == "report --pdf" else forks.run(words)
    kind = result.refused()
    after = _contents(folder)
    if any(after.get(file) != content for file, content in before.items()):
        kind = "lost"
    elif name == "the journal of the visit" and path.exists():
        kind = kind or "let in"
    tally.add(f"{command} to {name}", kind, result.text)


def _contents(folder: Path) -> dict[str, bytes | int]:
    """What is in a folder: the bytes of files, the kind of everything else."""
    found: dict[str, bytes | int] = {}
    for path in folder.rglob("*"):
        mode = path.stat().st_mode
        found[str(path)] = path.read_bytes() if stat.S_ISREG(mode) else stat.S_IFMT(path.lstat().st_mode)
    return found


def _of_one_name(bench: Bench, tally: Tally, sound: Path) -> None:
    with bench.place() as folder:
        visit = shutil.copy(sound, folder / "home.visit")
        (folder / "link.html").symlink_to(folder / "page.html")
        for out, pdf in bench.chosen(ONE_NAME):
            result = bench.run("report", visit, "--out", folder / out, "--pdf", f"{folder}/{pdf}")
            tally.add(f"report to {out} and {pdf}", result.refused(), result.text)


def _whole_or_not(bench: Bench, tally: Tally, sound: Path) -> None:
    """An older file is replaced whole, or not at all where the disk takes no more."""

    def limit() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (MAX_FILE_BYTES, MAX_FILE_BYTES))

    for command in bench.chosen(("report", "form", "replay")):
        with bench.place() as folder:
            shutil.copy(sound, folder / "home.visit")
            trace(folder / "logged.csv", 14_000.0)
            old = folder / "old.html"
            words = _words(command, folder, old)
            made = bench.run(*words)
            before = old.read_bytes() if old.exists() else b""
            result = bench.run(*words, preexec_fn=limit)
            kind = result.failure() or ("lost" if old.read_bytes() != before and result.status else "")
            tally.add(f"{command} over an older one on a full disk", made.done() or kind, result.text)
            result = bench.run(*words)
            tally.add(f"{command} over an older one", result.done(), result.text)
            # Something of somebody else's: replaced whole, or refused and left.
            old.write_text(foreign := "old" * 1000)
            result = bench.run(*words)
            kind = result.failure()
            if not kind and (old.read_text(encoding="utf-8") == foreign) != bool(result.status):
                kind = "lost" if result.status else "exit status"
            tally.add(f"{command} over a text", kind, result.text)
            left = [path.name for path in folder.iterdir() if "part" in path.name]
            tally.add(f"{command} leaves no rest", "not told" if left else "", str(left))


def _table_names(bench: Bench, tally: Tally, sound: Path) -> None:
    """The files of an export, where a visit has the name of a table."""
    with bench.place() as folder:
        (folder / "export").mkdir()
        visit = Path(shutil.copy(sound, folder / "export" / "samples.csv"))
        before = visit.read_bytes()
        result = bench.run("export", visit, "--out", folder / "export", "--format", "csv")
        tally.add(
            "export over its own input",
            "lost" if visit.read_bytes() != before else result.refused(),
            result.text,
        )
