"""One visit of the archive: what is read of it, without its samples and without changing it.

Hundreds of visits are read in a moment, each of whatever schema version it is.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence, Set
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from logger.clock import NS_PER_S, SystemClock
from logger.errors import StillvoltError
from logger.metrology.context import Context
from logger.metrology.setup import Setup
from logger.night.night_edges import moved_edges
from logger.night.recorded_nights import RunSpan, night_spans
from logger.night.work_times import LabelTime, work_times
from logger.sweep.sweep_progress import MIN_COMBINATIONS, is_between
from logger.translation import tr, tr_kept
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.continued_home import ContinuedHome
from logger.visit.records.fact_names import CONTINUES_VISIT, NIGHT_EDGES, SALVAGED_FROM, SETUP
from logger.visit.records.heartbeat import STALE_AFTER_S
from logger.visit.records.reading_corrections import Placement
from logger.visit.records.reading_records import Reading
from logger.visit.records.remedy_records import RemedyDecision, RemedyEntry, standing_entries
from logger.visit.records.simulated_run import is_simulated, simulated_part
from logger.visit.records.stop_source import is_on_purpose
from logger.visit.results.contradicting_repeats import contradicting_repeats
from logger.visit.results.correction_history import correction_history
from logger.visit.results.simulated_readings import measured_or_all_simulated
from logger.visit.storage.bare_connection import opened_read_only
from logger.visit.storage.content_limits import limited_in_time, refuse_excess
from logger.visit.storage.correction_rows import corrections_by_reading, live_and_listed
from logger.visit.storage.damage import damage_of
from logger.visit.storage.integrity import check_integrity
from logger.visit.storage.journal_file import copy_again, why_not_whole
from logger.visit.storage.page_check import page_problem
from logger.visit.storage.read_only import UNREADABLE_CONTENT, refuse_other_files, schema_version


@dataclass(frozen=True, slots=True)
class Highest:
    """The highest value of a visit in one condition."""

    volts: float
    spot: str
    contradicted: bool = False
    """Whether readings of that spot in that condition contradict each other, so that none of them is sure."""


@dataclass(frozen=True, slots=True)
class ArchiveEntry:
    """A visit of the archive."""

    path: Path
    version: int
    """Of the log's schema; an older log is not upgraded."""
    household: str
    day: date | None
    """Local date of the first valid reading, else of the first recording; None for a visit that was only planned."""
    rooms: tuple[str, ...]
    spots: tuple[str, ...]
    readings: int
    """Number of valid ones."""
    highest_on: Highest | None
    highest_off: Highest | None
    has_sweep: bool
    has_night: bool
    recording: bool
    """A recorder is at work: a run has no end in it, and its last heartbeat is fresh, as it is in no older copy."""
    texts: tuple[str, ...]
    """Everything else that was typed: reminders, postures and places of spots, circuits and cords, panels and numbers,
    marks, soil, why readings are voided."""
    simulated: str = ""
    """How much of it is simulated: "simulated", "simulated in part", or empty."""
    salvaged: bool = False
    """Whether it was made from a damaged visit log."""
    stretches: tuple[tuple[date, date], ...] = ()
    """First and last local date of each of its recordings and valid readings."""
    damage: str = ""
    """What of its readings, checks and events does not agree, in a sentence; the lines of runs are not looked at."""
    open_remedies: int = 0
    """Number of remedies that are planned, or done and not read again since."""
    continues: str = ""
    """Name of the file of the visit that it was begun from, which takes its open remedies over; empty for none."""


@dataclass(frozen=True, slots=True)
class _ReadingRow:
    """A reading, as it counts."""

    id: int
    utc_ns: int
    utc_offset_s: int | None
    """Of the recording that it was taken in; None for one entered by hand."""
    volts: float
    u_volts: float
    place: Placement
    context: Context | None
    simulated: bool
    void_reason: str | None
    """Why it is voided; None for a valid one."""


def read_entry(path: Path) -> ArchiveEntry:
    """Read one visit; the file stays as it is.

    Raises:
        StillvoltError: it is no visit log, is damaged, from a newer version, or cannot be read.
    """
    try:
        with opened_read_only(path) as db:
            refuse_other_files(db)
            version = schema_version(db)
            with limited_in_time(db, tr("The file")):
                refuse_excess(db, version, tr("The file"))
                if found := page_problem(db):
                    raise ValueError(found)
                damage = check_integrity(db, with_lines=False).summary()
            return _entry(path, version, db, damage)
    except (sqlite3.Error, *UNREADABLE_CONTENT) as error:
        found = damage_of(error) if isinstance(error, sqlite3.Error) else ""
        if found and (short := why_not_whole(path)):
            raise StillvoltError(tr_kept(short), tr("It was not changed."), copy_again(path)) from error
        raise StillvoltError(
            tr("It is damaged ({problem}).").format(problem=found or error), tr("It was not changed.")
        ) from error
    except OSError as error:
        raise StillvoltError(
            tr("It cannot be read ({error}).").format(error=error.strerror), tr("It was not changed.")
        ) from error


def _entry(path: Path, version: int, db: sqlite3.Connection, damage: str) -> ArchiveEntry:
    """Read an open log. Version 1 has no rooms, version 2 no circuits.

    Args:
        path: the file.
        version: of its schema.
        db: connection to it.
        damage: what of it does not agree, in a sentence.
    """
    setup = _setup(db)
    runs = db.execute(
        "SELECT run.id, run.started_utc_ns, run.utc_offset_s, run.port, run.settings, "
        "run_end.run_id IS NULL AS open, coalesce(run_end.t_ns, 0) AS end_t_ns, "
        "coalesce(run_end.reason, '') AS end_reason "
        "FROM run LEFT JOIN run_end ON run_end.run_id = run.id ORDER BY run.id"
    ).fetchall()
    live = "live" if version >= 3 else "'' AS live"
    context = "context" if version >= 2 else "'' AS context"
    every = _readings_as_they_count(
        db,
        db.execute(
            "SELECT reading.id, reading.utc_ns, spot_id, spot_name, condition, volts, u_volts, "
            f"{live}, {context}, port, settings, utc_offset_s "
            "FROM reading LEFT JOIN run ON run.id = reading.run_id ORDER BY reading.id"
        ).fetchall(),
    )
    readings = [reading for reading in every if reading.void_reason is None]
    where = "room, reminder" if version >= 2 else "'' AS room, '' AS reminder"
    spots = db.execute(
        f"SELECT name, {where} FROM spot WHERE removed_utc_ns IS NULL ORDER BY position, id"
    ).fetchall()
    sources = db.execute("SELECT name FROM source").fetchall() if version >= 3 else []
    marks = db.execute("SELECT text FROM mark WHERE id NOT IN (SELECT mark_id FROM mark_void)").fetchall()
    texts = [
        *(s["reminder"] for s in spots),
        *(s["name"] for s in sources),
        *(m["text"] for m in marks),
        *(reading.void_reason or "" for reading in every),
        *(_details(db) if version >= 6 else ()),
    ]
    names = dict.fromkeys((*(s["name"] for s in spots), *(r.place.spot_name for r in readings)))
    spans = _run_spans(db, runs)
    contradicted = _contradicted(db, version, readings)
    return ArchiveEntry(
        path=path,
        version=version,
        household=setup.household,
        day=_day(runs, readings),
        stretches=_stretches(runs, spans, readings),
        rooms=tuple(dict.fromkeys(s["room"] for s in spots if s["room"])),
        spots=tuple(names),
        readings=len(readings),
        highest_on=_highest(readings, EVERYTHING_ON, contradicted),
        highest_off=_highest(readings, EVERYTHING_OFF, contradicted),
        has_sweep=_has_sweep(readings),
        has_night=_has_night(db, version, runs, spans),
        recording=_is_recording(db, runs),
        texts=tuple(text for text in (*texts, setup.soil) if text),
        damage=damage,
        open_remedies=_open_remedies(db, readings) if version >= 8 else 0,
        continues=_continues(db),
        simulated=simulated_part(
            [*(is_simulated(r["port"], r["settings"]) for r in runs), *(r.simulated for r in readings)]
        ),
        salvaged=db.execute("SELECT 1 FROM fact WHERE name = ?", (SALVAGED_FROM,)).fetchone() is not None,
    )


def _open_remedies(db: sqlite3.Connection, readings: Sequence[_ReadingRow]) -> int:
    """How many remedies are planned, or done and not read again since."""
    entries: dict[int, list[RemedyEntry]] = {}
    for r in db.execute("SELECT id, utc_ns, remedy_id, decision, corrects FROM remedy_entry ORDER BY id"):
        entry = RemedyEntry(r["utc_ns"], RemedyDecision(r["decision"]), id=r["id"], corrects=r["corrects"])
        entries.setdefault(r["remedy_id"], []).append(entry)
    last_ns = max((reading.utc_ns for reading in readings), default=0)
    newest = [standing[-1] for of_one in entries.values() if (standing := standing_entries(of_one))]
    return sum(
        entry.decision is RemedyDecision.PLANNED
        or (entry.decision is RemedyDecision.DONE and last_ns <= entry.utc_ns)
        for entry in newest
    )


def _continues(db: sqlite3.Connection) -> str:
    row = db.execute(
        "SELECT value FROM fact WHERE name = ? ORDER BY id DESC LIMIT 1", (CONTINUES_VISIT,)
    ).fetchone()
    found = ContinuedHome.from_fact(row["value"]) if row is not None else None
    return found.visit if found is not None else ""


def _details(db: sqlite3.Connection) -> list[str]:
    """Return posture and place of each spot, and panel and number of each circuit and cord, as they hold now."""
    rows = db.execute(
        "SELECT posture, place FROM spot_detail WHERE id IN (SELECT max(id) FROM spot_detail GROUP BY spot_id) "
        "AND spot_id IN (SELECT id FROM spot WHERE removed_utc_ns IS NULL)"
    ).fetchall()
    rows += db.execute(
        "SELECT panel, number FROM source_detail "
        "WHERE id IN (SELECT max(id) FROM source_detail GROUP BY source_id)"
    ).fetchall()
    return [text for row in rows for text in tuple(row)]


def _is_recording(db: sqlite3.Connection, runs: Sequence[sqlite3.Row]) -> bool:
    if not runs or not runs[-1]["open"]:
        return False
    beat = db.execute("SELECT beat_utc_ns FROM live WHERE run_id = ?", (runs[-1]["id"],)).fetchone()
    now_ns = SystemClock().utc_ns()
    return beat is not None and abs(now_ns - beat["beat_utc_ns"]) <= STALE_AFTER_S * NS_PER_S


def _readings_as_they_count(db: sqlite3.Connection, rows: Sequence[sqlite3.Row]) -> list[_ReadingRow]:
    """Return the readings as they count after their corrections.

    Args:
        db: connection to the log.
        rows: of all readings, as they were taken.
    """
    corrections = corrections_by_reading(db)
    names = {int(row["id"]): str(row["name"]) for row in db.execute("SELECT id, name FROM spot").fetchall()}
    found = []
    for row in rows:
        taken = Placement(row["spot_id"], row["spot_name"], row["condition"], *live_and_listed(row["live"]))
        history = correction_history(taken, corrections.get(row["id"], ()), names.keys())
        context = Context.from_json(row["context"]) if row["context"] else None
        simulated = (context is not None and context.simulated) or (
            row["port"] is not None and is_simulated(row["port"], row["settings"])
        )
        place = history.placement
        place = replace(place, spot_name=names.get(place.spot_id, place.spot_name))
        reason = history.void.reason if history.void else None
        found.append(
            _ReadingRow(
                row["id"], row["utc_ns"], row["utc_offset_s"], row["volts"], row["u_volts"], place, context,
                simulated, reason,
            )
        )  # fmt: skip
    return found


def _setup(db: sqlite3.Connection) -> Setup:
    return Setup.from_json(_fact(db, SETUP))


def _fact(db: sqlite3.Connection, name: str) -> str:
    row = db.execute("SELECT value FROM fact WHERE name = ? ORDER BY id DESC LIMIT 1", (name,)).fetchone()
    return row["value"] if row else ""


def _day(runs: Sequence[sqlite3.Row], readings: Sequence[_ReadingRow]) -> date | None:
    """Return the local date where it was recorded; without a recording the one in UTC."""
    moments_ns = [r.utc_ns for r in readings] or [run["started_utc_ns"] for run in runs]
    if not moments_ns:
        return None
    return _local_day(moments_ns[0], runs[0]["utc_offset_s"] if runs else 0)


def _local_day(utc_ns: int, offset_s: int) -> date:
    return (datetime.fromtimestamp(utc_ns // NS_PER_S, UTC) + timedelta(seconds=offset_s)).date()


def _stretches(
    runs: Sequence[sqlite3.Row], spans: Sequence[RunSpan], readings: Sequence[_ReadingRow]
) -> tuple[tuple[date, date], ...]:
    """Return first and last local date of each recording and of each valid reading, each pair once.

    Args:
        runs: runs of the visit.
        spans: when each of them began and ended.
        readings: its valid readings.
    """
    found = [
        (
            _local_day(span.started_utc_ns, run["utc_offset_s"]),
            _local_day(span.end_utc_ns, run["utc_offset_s"]),
        )
        for run, span in zip(runs, spans, strict=True)
    ]
    offset_s = runs[0]["utc_offset_s"] if runs else 0
    for reading in readings:
        day = _local_day(reading.utc_ns, offset_s if reading.utc_offset_s is None else reading.utc_offset_s)
        found.append((day, day))
    return tuple(dict.fromkeys(found))


def _contradicted(
    db: sqlite3.Connection, version: int, readings: Sequence[_ReadingRow]
) -> frozenset[tuple[int, str]]:
    """The spots whose readings contradict each other, by id, each with the condition of these.

    Readings between which the spot was described anew, or a remedy was done, are of two homes or bodies here; the
    report tells more finely whether they are.

    Args:
        db: connection to the log.
        version: of its schema.
        readings: the valid ones.
    """
    described: list[tuple[int, int]] = []
    done_ns: list[int] = []
    if version >= 6:
        rows = db.execute("SELECT spot_id, utc_ns FROM spot_detail ORDER BY id").fetchall()
        described = [(int(row[0]), int(row[1])) for row in rows]
    if version >= 8:
        rows = db.execute(
            "SELECT utc_ns FROM remedy_entry WHERE decision = ?", (RemedyDecision.DONE,)
        ).fetchall()
        done_ns = [int(row[0]) for row in rows]
    alike: dict[tuple[int, int, int], list[Reading]] = {}
    for spot_id in {reading.place.spot_id for reading in readings}:
        here = [_as_reading(reading) for reading in readings if reading.place.spot_id == spot_id]
        for reading in measured_or_all_simulated(here):
            before = sum(spot == spot_id and utc_ns <= reading.utc_ns for spot, utc_ns in described)
            done = sum(utc_ns <= reading.utc_ns for utc_ns in done_ns)
            alike.setdefault((spot_id, before, done), []).append(reading)
    groups = [group for same in alike.values() for group in contradicting_repeats(same)]
    return frozenset((group[0].spot_id, group[0].condition) for group in groups)


def _as_reading(row: _ReadingRow) -> Reading:
    """A reading with what tells whether others contradict it."""
    place = row.place
    return Reading(
        row.id, row.utc_ns, None, place.spot_id, place.spot_name, place.condition, row.volts, row.u_volts, 1, None,
        None, None, None, "settled", row.context, place.live, place.listed, None, None, row.simulated,
    )  # fmt: skip


def _highest(
    readings: Sequence[_ReadingRow], condition: str, contradicted: Set[tuple[int, str]]
) -> Highest | None:
    """Return the highest of the valid readings in a condition, also of those that a newer one follows.

    Args:
        readings: of the visit.
        condition: in which they were taken.
        contradicted: spots and conditions whose readings contradict each other.
    """
    in_condition = [r for r in readings if r.place.condition == condition]
    if not in_condition:
        return None
    found = max(in_condition, key=lambda r: r.volts)
    place = found.place
    return Highest(found.volts, place.spot_name, (place.spot_id, condition) in contradicted)


def _has_sweep(readings: Sequence[_ReadingRow]) -> bool:
    combinations: dict[int, set[tuple[frozenset[int], frozenset[int]]]] = {}
    between: set[int] = set()
    for reading in readings:
        place = reading.place
        if place.live is not None:
            combinations.setdefault(place.spot_id, set()).add((place.live, place.listed))
            if is_between(place.condition):
                between.add(place.spot_id)
    return any(len(sets) >= MIN_COMBINATIONS and spot in between for spot, sets in combinations.items())


def _has_night(
    db: sqlite3.Connection, version: int, runs: Sequence[sqlite3.Row], spans: Sequence[RunSpan]
) -> bool:
    """Whether a night was recorded. Version 1 has no checks, version 2 no labels of steps.

    Args:
        db: connection to the log.
        version: of its schema.
        runs: its runs.
        spans: when each of them began and ended.
    """
    readings = db.execute(
        "SELECT run.started_utc_ns + reading.start_t_ns AS began_utc_ns, reading.utc_ns "
        "FROM reading LEFT JOIN run ON run.id = reading.run_id"
    ).fetchall()
    checks = db.execute("SELECT utc_ns FROM check_result").fetchall() if version >= 2 else []
    labels = db.execute("SELECT utc_ns, run_id, t_ns FROM step_name").fetchall() if version >= 3 else []
    work = work_times(
        [(row["began_utc_ns"], row["utc_ns"]) for row in readings],
        [row["utc_ns"] for row in checks],
        [LabelTime(row["utc_ns"], row["run_id"], row["t_ns"]) for row in labels],
        {run["id"]: run["started_utc_ns"] for run in runs},
    )
    return bool(night_spans(spans, work, moved_edges(_fact(db, NIGHT_EDGES))))


def _run_spans(db: sqlite3.Connection, runs: Sequence[sqlite3.Row]) -> list[RunSpan]:
    """Return when each run began and ended; of its values and overloads only the last one is read."""
    spans = []
    for run in runs:
        last = db.execute(
            "SELECT t_ns FROM line WHERE id BETWEEN ? AND ? AND status IN ('volts', 'overload') "
            "ORDER BY id DESC LIMIT 1",
            (_first_line_id(db, run["id"]), _first_line_id(db, run["id"] + 1) - 1),
        ).fetchone()
        simulated = is_simulated(run["port"], run["settings"])
        ended = is_on_purpose(run["end_reason"])
        length_ns = max(last["t_ns"], run["end_t_ns"]) if last else 0
        spans.append(RunSpan(run["id"], run["started_utc_ns"], length_ns, simulated, ended))
    return spans


def _first_line_id(db: sqlite3.Connection, run_id: int) -> int:
    """Return the id of the first line of a run or of a later one; one past the last id if there is none.

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
