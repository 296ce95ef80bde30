"""Visits from somebody who means harm: refused in a sentence, within limits of time and memory, and nothing is run."""

from __future__ import annotations

import shutil
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing, suppress
from functools import partial
from pathlib import Path

from scripts.bench.fault_families.forks import Forks, shared_forks
from scripts.bench.fault_families.sample_visit import sample_visit
from scripts.bench.fault_families.trials import Bench, Result, Tally

ENDLESS = "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT i"

FOREIGN: dict[str, str] = {
    "a trigger that deletes": "CREATE TRIGGER more AFTER INSERT ON fact BEGIN DELETE FROM spot; END",
    "a trigger that falsifies": (
        "CREATE TRIGGER more AFTER INSERT ON line BEGIN INSERT INTO mark (utc_ns, text) VALUES (0, 'x'); END"
    ),
    "a view": "CREATE VIEW more AS SELECT 1",
    "an endless view": f"CREATE VIEW more AS {ENDLESS} FROM n",
    "an endless view as a table": (
        f"DROP TABLE mark; CREATE VIEW mark AS {ENDLESS} AS id, 1 AS utc_ns, 'x' AS text FROM n"
    ),
    "a hungry view as a table": (
        f"DROP TABLE spot; CREATE VIEW spot AS {ENDLESS} AS id, hex(zeroblob(10000000)) AS name, 1.0 AS position, "
        "NULL AS removed_utc_ns, '' AS room, '' AS reminder FROM n"
    ),
    "a virtual table": "CREATE VIRTUAL TABLE more USING fts5 (text)",
    "a virtual table as a table": "DROP TABLE mark; CREATE VIRTUAL TABLE mark USING fts5 (id, utc_ns, text)",
    "another column": "ALTER TABLE spot ADD COLUMN more TEXT NOT NULL DEFAULT ''",
    "a generated column": "ALTER TABLE spot ADD COLUMN more TEXT GENERATED ALWAYS AS (hex(zeroblob(1000000))) VIRTUAL",
    "an index over an expression": "CREATE INDEX more ON line (length(hex(raw)))",
    "a partial index": "CREATE INDEX more ON line (id) WHERE hex(raw) LIKE '%0'",
    "a table without its types": (
        "DROP TABLE mark; CREATE TABLE mark (id INTEGER PRIMARY KEY, utc_ns, run_id, t_ns, text); "
        "INSERT INTO mark VALUES (1, 'no time', 'no run', x'ff', 3)"
    ),
    "a check that is hungry": (
        "DROP TABLE mark; CREATE TABLE mark (id INTEGER PRIMARY KEY, text CHECK (length(hex(zeroblob(400000000))) > 0))"
    ),
    "many tables": "".join(f"CREATE TABLE more_{number} (id);" for number in range(3000)),
    "a missing trigger": "DROP TRIGGER line_keeps_delete",
}  # fmt: skip
"""Schemas that no visit log has: every command has to refuse them."""


def _huge_text(db: sqlite3.Connection) -> None:
    db.execute(
        "INSERT INTO fact (utc_ns, name, value) VALUES (1, 'setup', CAST(zeroblob(300000000) AS TEXT))"
    )


def _huge_blob(db: sqlite3.Connection) -> None:
    db.execute(
        "INSERT INTO line (run_id, utc_ns, t_ns, status, raw) SELECT 1, 2e18, 1e17, 'unreadable', zeroblob(400000000)"
    )


def _many_rows(db: sqlite3.Connection) -> None:
    db.execute(
        f"INSERT INTO mark (utc_ns, text) {ENDLESS}, 'x' FROM n LIMIT 2000000".replace(
            "SELECT i,", "SELECT i AS u,"
        )
    )


def _many_spots(db: sqlite3.Connection) -> None:
    db.execute(f"INSERT INTO spot (name, position) {ENDLESS} || 'x', i FROM n LIMIT 200000")


def _deep_json(db: sqlite3.Connection) -> None:
    db.execute("INSERT INTO fact (utc_ns, name, value) VALUES (1, 'setup', ?)", ("[" * 100_000,))


def _json_of_another_kind(db: sqlite3.Connection) -> None:
    db.execute(
        """INSERT INTO fact (utc_ns, name, value) VALUES (1, 'setup', '{"meter": 3, "household": []}')"""
    )


def _huge_number(db: sqlite3.Connection) -> None:
    db.execute(
        "INSERT INTO fact (utc_ns, name, value) VALUES (1, 'setup', ?)",
        ('{"target_volts": 1' + "0" * 5000 + "}",),
    )


def _times_beyond_a_calendar(db: sqlite3.Connection) -> None:
    db.execute(
        "INSERT INTO run (started_utc_ns, zone, utc_offset_s, port, settings, software) "
        "VALUES (9e18, 'x/y', 99999999, 'p', '{', 's')"
    )


def _zone_of_a_file(db: sqlite3.Connection) -> None:
    db.execute(
        "INSERT INTO run (started_utc_ns, zone, utc_offset_s, port, settings, software) "
        "VALUES (18e17, '../../../etc/passwd', 0, 'p', '{}', 's')"
    )


def _infinite_voltage(db: sqlite3.Connection) -> None:
    db.execute("INSERT INTO reading (utc_ns, spot_id, spot_name, condition, volts, u_volts, samples, taken) "
               "VALUES (18e17, 1, 'x', 'everything on', 9e999, -9e999, 1, 'by hand')")  # fmt: skip


def _steering_names(db: sqlite3.Connection) -> None:
    for text in ("\x1b[2J\x1b]0;owned\x07", "\u202egpj.exe", "=cmd|'/c calc'!A0", "a\nb\r\nc", "\x00"):
        db.execute("INSERT INTO spot (name, position) VALUES (?, 3.0)", (text,))
        db.execute("INSERT INTO mark (utc_ns, text) VALUES (18e17, ?)", (text,))


CONTENT: dict[str, Callable[[sqlite3.Connection], None]] = {
    "a text of 300 MB": _huge_text,
    "a line of 400 MB": _huge_blob,
    "2,000,000 marks": _many_rows,
    "200,000 spots": _many_spots,
    "deep JSON": _deep_json,
    "JSON of another kind": _json_of_another_kind,
    "a number of 5,000 digits": _huge_number,
    "times beyond a calendar": _times_beyond_a_calendar,
    "a zone that is a path": _zone_of_a_file,
    "an infinite voltage": _infinite_voltage,
    "names that steer": _steering_names,
}
"""A sound schema with rows that no program of ours wrote: an answer or a refusal, within the limits."""

COMMANDS = ("report", "export", "compare", "archive", "night", "form", "verify")
PORTS = (
    "spy:///dev/null?file={target}",
    "spy://loop://?file={target}",
    "alt://x",
    "loop://",
    "cp2110:0:0",
    "file://{target}",
)


def hostile_visits(bench: Bench, tally: Tally) -> None:
    """Run the family."""
    with bench.place() as place, shared_forks(bench) as forks:
        sound = sample_visit(bench, place / "sound.visit")
        for what, sql in bench.chosen(FOREIGN.items()):
            _trial(bench, forks, tally, sound, what, partial(_run_script, sql), must_refuse=True)
        for what, change in bench.chosen(CONTENT.items()):
            _trial(bench, forks, tally, sound, what, change, must_refuse=False)
    for url in bench.chosen(PORTS):
        with bench.place() as place:
            target = place / "written"
            result = bench.run(
                "record", "--port", url.format(target=target), "--visit", place / "home.visit", "--for", "1"
            )
            kind = "let in" if target.exists() or result.status == 0 else result.refused()
            tally.add(f"record from {url}", kind, result.text)


def _run_script(sql: str, db: sqlite3.Connection) -> None:
    db.executescript(sql)


def _trial(
    bench: Bench,
    forks: Forks,
    tally: Tally,
    sound: Path,
    what: str,
    change: Callable[[sqlite3.Connection], object],
    must_refuse: bool,
) -> None:
    """Put one hostile visit before each command.

    Args:
        bench: with the command.
        forks: of its commands.
        tally: for the verdicts.
        sound: the visit that is changed.
        what: the change in words.
        change: makes it.
        must_refuse: no answer is right.
    """
    with bench.place() as place:
        (place / "visits").mkdir()
        visit = Path(shutil.copy(sound, place / "visits" / "sent.visit"))
        with closing(sqlite3.connect(visit)) as db:
            db.execute("PRAGMA foreign_keys = OFF")
            with suppress(sqlite3.IntegrityError):
                change(db)
            db.commit()
        before = visit.stat().st_size, visit.stat().st_mtime_ns
        for command in bench.chosen(COMMANDS):
            words = {
                "report": ("report", visit, "--out", place / "page.html"),
                "export": ("export", visit, "--out", place / "export", "--format", "csv"),
                "compare": ("compare", visit, sound, "--json"),
                "archive": ("archive", visit.parent, "--json"),
                "night": ("night", visit, "--json"),
                "form": ("form", visit, "--out", place / "form.html"),
                "verify": ("verify", visit),
            }[command]
            started = time.monotonic()
            result = forks.run(words)
            kind = _verdict(command, result, must_refuse)
            if must_refuse and not kind and (visit.stat().st_size, visit.stat().st_mtime_ns) != before:
                kind = "let in"
            if result.status == 2 and command == "verify":
                continue  # not there in version 0.1.0, which the figures before are of
            tally.add(f"{command}, {what}", kind, f"{time.monotonic() - started:.0f} s: {result.text}")


def _verdict(command: str, result: Result, must_refuse: bool) -> str:
    kind = result.failure()
    if "MemoryError" in result.text:
        kind = "hung"
    if not kind and any(ord(c) < 32 and c not in "\n\r\t" for c in result.text):
        kind = "let in"
    if kind or not must_refuse:
        return kind
    if command == "archive":
        return "" if '"refused": [{' in result.out else "let in"
    if result.status == 0:
        return "let in"
    return "" if command == "verify" else result.refused()  # its findings are its output
