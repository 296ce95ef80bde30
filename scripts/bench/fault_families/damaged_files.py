"""Damaged files: each mutation put before every command that opens a visit.

A command has to refuse with a sentence and a status that is not 0, or to answer as it does for the undamaged file. Of
a file that was edited through SQLite, and holds other values than were measured, it is only asked that a command ends
in order: who can write the file can write anything.
"""

from __future__ import annotations

import csv
import json
import random
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

from scripts.bench.fault_families.forks import Forks, shared_forks
from scripts.bench.fault_families.mutations import mutate
from scripts.bench.fault_families.sample_visit import sample_visit, trace
from scripts.bench.fault_families.trials import Bench, Result, Tally, first_difference, rows

_DEMO = Path(__file__).parents[3] / "fixtures" / "demo"
OTHER_VISIT = _DEMO / "garden_flat.visit"
"""What is compared with each: another visit, since two copies of one are refused."""

OWN_VISIT = _DEMO / "garden_flat_later.visit"
"""A visit that a version wrote which keeps a checksum of each entry; it holds no night."""

MUTATIONS = 2000
ALSO_INSTALLED = 50
"""One of so many mutations goes through the installed command as well, which takes a second each time."""

COMMANDS = ("report", "export", "compare", "archive", "night", "form", "verify", "salvage", "import")
NEW_COMMANDS = ("verify", "salvage")
"""Not there in version 0.1.0, which the figures before are of."""

OPENING_COMMANDS = ("report", "export", "archive", "night", "form")
"""What has to open every visit that `salvage` wrote."""

_VOLATILE = re.compile(
    r"written [\w\s,:]* from the visit|\d{4}-\d\d-\d\dT?[ ]?\d\d:\d\d(:\d\d)?|\d+(\.\d+)? (kB|MB)|[0-9a-f]{64}|\d{10,}"
)
"""What differs from one run to the next or from one file to the next: times of making, sizes, checksums of the file."""

DAMAGE_TOLD = "This visit log is damaged or was changed after it was recorded"
"""How a command says what it found beside what it takes from the log."""

Answer = Any


class Table:
    """A table with everything laid out: what each command reads, where it writes, and what it answered.

    Args:
        folder: for all of it.
        sound: the undamaged visit.
    """

    def __init__(self, folder: Path, sound: Path) -> None:
        folder.mkdir()
        self.folder, self.sound = folder, sound
        self.visits = folder / "visits"
        self.other = folder / "other.visit"
        shutil.copy(OTHER_VISIT, self.other)
        self.trace = trace(folder / "more.csv", seconds=120.0)
        self.visit = self.visits / "home.visit"
        self.sound_tables = _tables(sound)

    def lay(self, damaged: Path) -> None:
        """Put the visit in its place, and take away what was written before."""
        for name in ("visits", "export"):
            shutil.rmtree(self.folder / name, ignore_errors=True)
        for name in ("page.html", "form.html", "new.visit", "new.visit-wal", "new.visit-shm"):
            (self.folder / name).unlink(missing_ok=True)
        self.visits.mkdir()
        shutil.copy(damaged, self.visit)

    def words(self, command: str, swapped: bool = False) -> list[str]:
        """The words of a command; `swapped` gives the visit as the later one."""
        visit, folder = str(self.visit), self.folder
        pair = [str(self.other), visit] if swapped else [visit, str(self.other)]
        return {
            "report": ["report", visit, "--out", str(folder / "page.html")],
            "export": ["export", visit, "--out", str(folder / "export"), "--format", "csv"],
            "compare": ["compare", *pair, "--same-home", "--json"],
            "archive": ["archive", str(self.visits), "--json"],
            "night": ["night", visit, "--json"],
            "form": ["form", visit, "--out", str(folder / "form.html")],
            "verify": ["verify", visit, "--json"],
            "salvage": ["salvage", visit, "--out", str(folder / "new.visit")],
            "import": [
                "import",
                str(self.trace),
                "--visit",
                visit,
                "--began",
                "2027-08-01T12:00:00+02:00",
                "--future",
            ],
        }[command]

    def answer(self, command: str, result: Result) -> Answer:
        """What a command answered, without what differs from run to run."""
        if command in ("report", "form"):
            return _page(self.folder / ("page.html" if command == "report" else "form.html"))
        if command == "export":
            return {path.name: _csv(path) for path in sorted((self.folder / "export").glob("*.csv"))}
        if command in ("verify", "salvage"):
            return None
        if command == "import":
            return _tables(self.visit)
        return _VOLATILE.sub("", result.out) if command == "compare" else result.out


def damaged_files(bench: Bench, tally: Tally) -> None:
    """Run the family: on a visit that an older version began, and on one with a checksum of each entry, in turn."""
    with bench.place() as folder, shared_forks(bench) as forks:
        tables = [Table(folder / "older", sample_visit(bench, folder / "sound.visit"))]
        if bench.run("verify", str(Path(shutil.copy(OWN_VISIT, folder / "own.visit")))).status == 0:
            tables.append(Table(folder / "own", folder / "own.visit"))
        expected = [_expected(table, forks, tally) for table in tables]
        for number in range(bench.repeats(MUTATIONS)):
            which = number % len(tables)
            _damaged_once(bench, tally, tables[which], expected[which], number, forks)


def _damaged_once(
    bench: Bench, tally: Tally, table: Table, expected: dict[str, Answer], number: int, forks: Forks
) -> None:
    """Put one damaged file before every command.

    Args:
        bench: runs the installed command.
        tally: counts what came of it.
        table: with the sound visit.
        expected: the answers for it.
        number: of the mutation.
        forks: run the commands faster.
    """
    source = random.Random(f"{bench.random.random()} {number}")
    damaged = Path(shutil.copy(table.sound, table.folder / "damaged.visit"))
    what, edited = mutate(source, damaged)
    is_swapped = number % 4 >= 2
    run = bench.run if number % ALSO_INSTALLED == ALSO_INSTALLED - 1 else None
    for command in filter(expected.__contains__, COMMANDS):
        kind, detail = _judged(table, damaged, command, expected, forks.run, is_swapped)
        if run and not kind:
            kind, detail = _judged(
                table, damaged, command, expected, lambda words: bench.run(*words, limit_s=60.0), is_swapped
            )
        if edited and kind in ("falsified", "lost"):
            kind = ""
        tally.add(f"{command}, {what} of the {table.folder.name} visit (number {number})", kind, detail)


def _expected(table: Table, forks: Forks, tally: Tally) -> dict[str, Answer]:
    """The answers for the sound visit; a command that refuses it is not there, finds no night, or is broken."""
    expected = {}
    for command in COMMANDS:
        table.lay(table.sound)
        result = forks.run(table.words(command))
        if result.status == 2 and command in NEW_COMMANDS:
            continue
        if result.status == 1 and command == "night" and table.folder.name == "own":
            continue
        assert result.status == 0, f"{command} refuses the sound visit: {result.text}"
        expected[command] = table.answer(command, result)
        if command == "compare":
            table.lay(table.sound)
            expected["swapped"] = table.answer(command, forks.run(table.words(command, swapped=True)))
    return expected


def _judged(
    table: Table,
    damaged: Path,
    command: str,
    expected: dict[str, Answer],
    run: Callable[[list[str]], Result],
    swapped: bool,
) -> tuple[str, str]:
    """The kind of failure and what came of it."""
    table.lay(damaged)
    before = table.visit.read_bytes()
    result = run(table.words(command, swapped))
    if kind := result.failure():
        return kind, result.text
    if command == "salvage":
        return _salvage(table, result, run)
    if command == "verify":
        return _verify(table, result)
    if result.status:
        if command != "import" and table.visit.read_bytes() != before:
            return "lost", f"the file was changed: {result.text}"
        return ("", "") if result.text.strip() else ("not told", "")
    answer = table.answer(command, result)
    wanted = expected["swapped" if command == "compare" and swapped else command]
    if answer == wanted or DAMAGE_TOLD in f"{answer} {result.text}":
        return "", ""
    if command == "archive":
        return _archive(result, wanted)
    return "falsified", f"{_difference(wanted, answer)} {result.err}"


def _archive(result: Result, wanted: Answer) -> tuple[str, str]:
    """A list without the visit has to name it, and to end with a status that is not 0."""
    found = json.loads(result.out)
    if not found["visits"]:
        return ("exit status" if "home.visit" in result.text else "not told"), result.text
    return "falsified", first_difference(str(wanted).split(", "), result.out.split(", "))


def _verify(table: Table, result: Result) -> tuple[str, str]:
    """Sound only what has the rows of the sound visit."""
    if result.status:
        return ("", "") if result.text.strip() else ("not told", "")
    wanted, found = table.sound_tables, _tables(table.visit)
    return ("", "") if found == wanted else ("falsified", f"called sound: {_difference(wanted, found)}")


def _salvage(table: Table, result: Result, run: Callable[[list[str]], Result]) -> tuple[str, str]:
    """What came over is what was there, and opens in every command."""
    new = table.folder / "new.visit"
    if not new.exists():
        return result.refused(), result.text
    wanted, found = table.sound_tables, _tables(new)
    for name in ("line", "reading", "spot"):
        known = set(wanted[name])
        if other := [row for row in found[name] if row not in known]:
            if result.status == 0:
                return "falsified", f"{name}: {other[0]!r}"
        elif result.status == 0 and len(found[name]) < len(wanted[name]):
            return (
                "lost",
                f"{name}: {len(found[name])} of {len(wanted[name])}, and nothing was said: {result.text}",
            )
    if "can't be opened" in result.text:
        return "lost", result.text
    table.lay(new.rename(table.folder / "made.visit"))
    for command in OPENING_COMMANDS:
        opened = run(table.words(command))
        # `night` ends with status 1 where there is none.
        refuses = opened.status and (command != "night" or "is damaged (" in opened.text)
        if kind := opened.failure() or ("lost" if refuses else ""):
            return kind, f"{command} of what was salvaged: {opened.text}"
    return "", ""


def _tables(visit: Path) -> dict[str, list[tuple[Any, ...]]]:
    """The rows that make up a visit; tables that cannot be read are empty."""
    names = (
        "line",
        "reading",
        "spot",
        "event",
        "fact",
        "source",
        "check_result",
        "mark",
        "reading_void",
        "step_name",
    )
    return {
        name: [tuple(map(repr, row)) for row in rows(visit, f"SELECT * FROM {name} ORDER BY rowid")]
        for name in names
    }


def _csv(path: Path) -> list[list[str]]:
    """The rows of a table, without what describes the file itself."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        found = list(csv.reader(file))
    return [row for row in found if path.name != "about.csv" or not _VOLATILE.search(" ".join(row))]


def _page(path: Path) -> list[str]:
    """The words of a page."""
    return _VOLATILE.sub("", re.sub(r"<[^>]*>", "\n", path.read_text(encoding="utf-8"))).split("\n")


def _difference(wanted: Answer, found: Answer) -> str:
    if isinstance(wanted, dict):
        return "; ".join(
            f"{name}: {first_difference(wanted[name], found.get(name, []))}"
            for name in wanted
            if wanted[name] != found.get(name)
        )
    return (
        first_difference(wanted, found)
        if isinstance(wanted, list)
        else first_difference(wanted.split(", "), found.split(", "))
    )
