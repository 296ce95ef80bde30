"""A folder of visits, searched by household, date, room, spot and text.

Hundreds of visits are looked through without reading their samples, and without changing any of them: each is opened
read-only, older ones as they are. What is no visit log, is damaged or comes from a newer version is listed with the
reason and left alone.
"""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.metrology.rounding import form_volts
from logger.metrology.setup import FACT as SETUP_FACT
from logger.metrology.setup import Setup
from logger.night.recorded_nights import RunSpan, counts_as_night, longest_recording_s
from logger.sweep.switch_off_plan import LEAST_COMBINATIONS
from logger.visit.results.on_off_result import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.storage.ordered_list import name_key
from logger.visit.storage.schema import APPLICATION_ID, USER_VERSION
from logger.visit.storage.visit_folder import SUFFIX


@dataclass(frozen=True, slots=True)
class Highest:
    """The highest value of a visit in one condition."""

    volts: float
    spot: str


@dataclass(frozen=True, slots=True)
class ArchiveEntry:
    """A visit of the archive."""

    path: Path
    version: int
    """Of the log's schema; an older one is not upgraded by looking at it."""
    household: str
    day: date | None
    """Local date of the first standing reading, else of the first recording; None for a visit that was only planned."""
    rooms: tuple[str, ...]
    spots: tuple[str, ...]
    readings: int
    """That stand."""
    highest_on: Highest | None
    highest_off: Highest | None
    has_sweep: bool
    has_night: bool
    recording: bool
    """A recording has no end in it: it goes on, or the recorder was cut off."""
    texts: tuple[str, ...]
    """Everything else that was typed: reminders, circuits and cords, marks, soil."""


@dataclass(frozen=True, slots=True)
class UnreadableVisit:
    """A file that cannot be read, and why."""

    path: Path
    reason: str


@dataclass(frozen=True, slots=True)
class Archive:
    """What was found; the newest visit first."""

    visits: tuple[ArchiveEntry, ...]
    refused: tuple[UnreadableVisit, ...]
    looked_at: int
    """Number of visits that the search went through."""


@dataclass(frozen=True, slots=True)
class Search:
    """What is looked for: every word of it must hold; empty holds for all. Case and accents' form do not matter, and a
    part of a name is enough.

    Args:
        household, room, spot: a part of its name.
        text: words of which each is a part of anything that was typed in the visit.
        first_day, last_day: local dates, both included.
    """

    household: str = ""
    room: str = ""
    spot: str = ""
    text: str = ""
    first_day: date | None = None
    last_day: date | None = None

    def finds(self, entry: ArchiveEntry) -> bool:
        """Whether a visit is one of those."""
        anything = (entry.household, entry.path.stem, *entry.rooms, *entry.spots, *entry.texts)
        return (
            _within(self.household, (entry.household,))
            and _within(self.room, entry.rooms)
            and _within(self.spot, entry.spots)
            and all(_within(word, anything) for word in self.text.split())
            and (self.first_day is None or (entry.day is not None and entry.day >= self.first_day))
            and (self.last_day is None or (entry.day is not None and entry.day <= self.last_day))
        )


def search(folder: Path, wanted: Search = Search()) -> Archive:
    """Look through a folder and the folders in it.

    Raises:
        StillvoltError: there is no such folder, or it cannot be read.
    """
    if not folder.is_dir():
        raise StillvoltError(f"There is no folder {folder}.", next_step="See whether the name is right.")
    found: list[ArchiveEntry] = []
    refused: list[UnreadableVisit] = []
    looked_at = 0
    try:
        paths = sorted(path for path in folder.rglob(f"*{SUFFIX}") if path.is_file())
    except OSError as error:
        raise StillvoltError(
            f"{folder} cannot be read ({error.strerror}).", "Nothing was changed."
        ) from error
    for path in paths:
        try:
            entry = look_at(path)
        except StillvoltError as error:
            refused.append(UnreadableVisit(path, error.what))
            continue
        looked_at += 1
        if wanted.finds(entry):
            found.append(entry)
    found.sort(key=lambda entry: (entry.day or date.min, entry.path.name), reverse=True)
    return Archive(tuple(found), tuple(refused), looked_at)


def look_at(path: Path) -> ArchiveEntry:
    """What the archive says of one visit; the file stays as it is.

    Raises:
        StillvoltError: it is no visit log, is damaged, from a newer version, or cannot be read.
    """
    try:
        with _read_only(path) as db:
            _refuse(db)
            return _entry(path, _version_of(db), db)
    except (sqlite3.Error, ValueError, KeyError, TypeError) as error:
        raise StillvoltError(f"It is damaged ({error}).", "It was not changed.") from error
    except OSError as error:
        raise StillvoltError(f"It cannot be read ({error.strerror}).", "It was not changed.") from error


def _refuse(db: sqlite3.Connection) -> None:
    """What is no visit log. (Of one that was cut off SQLite says so itself.)

    All of it is asked through SQLite: another handle on a log that this process has open would, once closed, drop the
    locks on it (see `logger.visit.storage.connection`).
    """
    not_one = StillvoltError("It is not a visit log.", "It was not changed.")
    try:
        application_id = db.execute("PRAGMA application_id").fetchone()[0]
    except sqlite3.DatabaseError as error:
        if error.sqlite_errorcode == sqlite3.SQLITE_NOTADB:
            raise not_one from error
        raise
    if application_id != APPLICATION_ID:
        raise not_one


def _version_of(db: sqlite3.Connection) -> int:
    """Of the schema; it may stand in the journal only."""
    version = int(db.execute("PRAGMA user_version").fetchone()[0])
    if version > USER_VERSION:
        raise StillvoltError(
            f"It was written by a newer Stillvolt (version {version} of the log; this one reads up to "
            f"{USER_VERSION}).",
            "It was not changed.",
        )
    if version == 0:
        raise ValueError("its tables are missing")
    return version


def _journal(path: Path, kind: str) -> Path:
    return path.with_name(f"{path.name}-{kind}")


@contextmanager
def _read_only(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection that leaves file and folder as they are.

    A log without a journal is at rest: it is read as one that cannot change, since a plain read-only connection would
    leave journal files beside it. With both journal files somebody is at work, or was: they are used as they are. With
    only the one that holds data, SQLite would have to make the other: a copy is read instead.
    """
    wal, shm = _journal(path, "wal"), _journal(path, "shm")
    at_rest = not wal.exists() or wal.stat().st_size == 0
    if at_rest or shm.exists():
        with closing(_connect(path, "mode=ro&immutable=1" if at_rest else "mode=ro")) as db:
            yield db
        return
    with tempfile.TemporaryDirectory(prefix="stillvolt-archive-") as folder:
        for file in (path, wal):
            shutil.copy(file, Path(folder) / file.name)
        with closing(_connect(Path(folder) / path.name, "mode=rw")) as db:
            yield db


def _connect(path: Path, how: str) -> sqlite3.Connection:
    db = sqlite3.connect(f"{path.resolve().as_uri()}?{how}", uri=True, timeout=1.0)
    db.row_factory = sqlite3.Row
    return db


def _entry(path: Path, version: int, db: sqlite3.Connection) -> ArchiveEntry:
    """Of an open log. Version 1 knows no rooms, version 2 no circuits."""
    setup = _setup(db)
    runs = db.execute(
        "SELECT run.id, run.started_utc_ns, run.utc_offset_s, run_end.run_id IS NULL AS open "
        "FROM run LEFT JOIN run_end ON run_end.run_id = run.id ORDER BY run.id"
    ).fetchall()
    live = "live" if version >= 3 else "'' AS live"
    readings = db.execute(
        f"SELECT utc_ns, spot_id, spot_name, condition, volts, {live} FROM reading "
        "WHERE id NOT IN (SELECT reading_id FROM reading_void) ORDER BY id"
    ).fetchall()
    where = "room, reminder" if version >= 2 else "'' AS room, '' AS reminder"
    spots = db.execute(
        f"SELECT name, {where} FROM spot WHERE removed_utc_ns IS NULL ORDER BY position, id"
    ).fetchall()
    sources = db.execute("SELECT name FROM source").fetchall() if version >= 3 else []
    marks = db.execute("SELECT text FROM mark WHERE id NOT IN (SELECT mark_id FROM mark_void)").fetchall()
    texts = [*(s["reminder"] for s in spots), *(s["name"] for s in sources), *(m["text"] for m in marks)]
    names = dict.fromkeys((*(s["name"] for s in spots), *(r["spot_name"] for r in readings)))
    return ArchiveEntry(
        path=path,
        version=version,
        household=setup.household,
        day=_day(runs, readings),
        rooms=tuple(dict.fromkeys(s["room"] for s in spots if s["room"])),
        spots=tuple(names),
        readings=len(readings),
        highest_on=_highest(readings, EVERYTHING_ON),
        highest_off=_highest(readings, EVERYTHING_OFF),
        has_sweep=_has_sweep(readings),
        has_night=counts_as_night(longest_recording_s(_run_spans(db, runs))),
        recording=any(run["open"] for run in runs),
        texts=tuple(text for text in (*texts, setup.soil) if text),
    )


def _setup(db: sqlite3.Connection) -> Setup:
    row = db.execute(
        "SELECT value FROM fact WHERE name = ? ORDER BY id DESC LIMIT 1", (SETUP_FACT,)
    ).fetchone()
    return Setup.from_json(row["value"] if row else "")


def _day(runs: Sequence[sqlite3.Row], readings: Sequence[sqlite3.Row]) -> date | None:
    """The local date where it was recorded; without a recording that of UTC."""
    moments_ns = [r["utc_ns"] for r in readings] or [run["started_utc_ns"] for run in runs]
    if not moments_ns:
        return None
    offset_s = runs[0]["utc_offset_s"] if runs else 0
    return (datetime.fromtimestamp(moments_ns[0] // NS_PER_S, UTC) + timedelta(seconds=offset_s)).date()


def _highest(readings: Sequence[sqlite3.Row], condition: str) -> Highest | None:
    """Of the newest standing readings of each spot."""
    newest = {r["spot_id"]: r for r in readings if r["condition"] == condition}
    if not newest:
        return None
    row = max(newest.values(), key=lambda r: float(r["volts"]))
    return Highest(row["volts"], row["spot_name"])


def _has_sweep(readings: Sequence[sqlite3.Row]) -> bool:
    combinations: dict[int, set[str]] = {}
    for reading in readings:
        if reading["live"]:
            combinations.setdefault(reading["spot_id"], set()).add(reading["live"])
    return any(len(sets) >= LEAST_COMBINATIONS for sets in combinations.values())


def _run_spans(db: sqlite3.Connection, runs: Sequence[sqlite3.Row]) -> list[RunSpan]:
    """When the values of each run came; only the last one is read."""
    spans = []
    for run in runs:
        last = db.execute(
            "SELECT t_ns FROM line WHERE id BETWEEN ? AND ? AND status = 'volts' ORDER BY id DESC LIMIT 1",
            (_first_line_id(db, run["id"]), _first_line_id(db, run["id"] + 1) - 1),
        ).fetchone()
        spans.append(RunSpan(run["id"], run["started_utc_ns"], last["t_ns"] if last else 0))
    return spans


def _first_line_id(db: sqlite3.Connection, run_id: int) -> int:
    """The id of the first line of a run or of a later one; one past the last id if there is none.

    Lines are stored in the order of runs, so a binary search over the ids needs no index.
    """
    low, high = 1, db.execute("SELECT coalesce(max(id), 0) + 1 FROM line").fetchone()[0]
    while low < high:
        middle = (low + high) // 2
        line = db.execute(
            "SELECT id, run_id FROM line WHERE id >= ? ORDER BY id LIMIT 1", (middle,)
        ).fetchone()
        if line["run_id"] < run_id:
            low = line["id"] + 1
        else:
            high = middle
    return int(low)


def _within(wanted: str, texts: Sequence[str]) -> bool:
    return not wanted or any(name_key(wanted) in name_key(text) for text in texts)


# ---- for reading


def in_words(found: Archive) -> str:
    """For the terminal: a line for each visit, then what cannot be read."""
    lines = []
    for entry in found.visits:
        what = [f"{entry.readings} readings"]
        what += [
            f"{word} up to {form_volts(highest.volts)} V ({highest.spot})"
            for word, highest in (("on", entry.highest_on), ("off", entry.highest_off))
            if highest
        ]
        what += [word for word, holds in (("sweep", entry.has_sweep), ("night", entry.has_night)) if holds]
        day = entry.day.isoformat() if entry.day else "no date   "
        rooms = ", ".join(entry.rooms) or "no rooms"
        lines.append(
            f"{day}  {entry.household or '(no household)'}: {rooms}; {', '.join(what)}  [{entry.path}]"
        )
    lines.append(f"{len(found.visits)} of {found.looked_at} visits")
    lines += [f"left alone: {refused.path}: {refused.reason}" for refused in found.refused]
    return "\n".join(lines)


def as_json(found: Archive) -> dict[str, Any]:
    """For other programs."""

    def highest(value: Highest | None) -> dict[str, Any] | None:
        return {"volts": value.volts, "spot": value.spot} if value else None

    return {
        "visits": [
            {
                "path": str(entry.path),
                "version": entry.version,
                "household": entry.household,
                "date": entry.day.isoformat() if entry.day else None,
                "rooms": list(entry.rooms),
                "spots": list(entry.spots),
                "readings": entry.readings,
                "highest_on": highest(entry.highest_on),
                "highest_off": highest(entry.highest_off),
                "has_sweep": entry.has_sweep,
                "has_night": entry.has_night,
                "recording": entry.recording,
            }
            for entry in found.visits
        ],
        "refused": [{"path": str(refused.path), "reason": refused.reason} for refused in found.refused],
        "looked_at": found.looked_at,
    }


def day_of(text: str) -> date:
    """A date as typed, 2026-05-16; raises StillvoltError where it is none."""
    try:
        return date.fromisoformat(text.strip())
    except ValueError as error:
        raise StillvoltError(f"{text!r} is not a date.", next_step="Type it like 2026-05-16.") from error
