"""Whether the program can read each field of a row, by the code that reads it later from the log.

In: a row of a damaged log, in the columns of this version. Out: the row with each field that cannot be read emptied,
where an older version left that field empty as well, so that nothing is made up; None where such a row cannot be kept.
The row's checksum then differs, and every output says that the entry is not as it was entered.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import astuple
from datetime import date

from logger.metrology.checks import CheckKind, CheckVerdict
from logger.metrology.context import Context
from logger.metrology.reference_answers import ReferenceAnswers
from logger.metrology.setup import Setup
from logger.settling.events import State, from_fields
from logger.translation import tr
from logger.visit.records.fact_names import MATCHED_SPOTS, NIGHT_EDGES, SAME_HOME, SETUP
from logger.visit.records.photo import photo_problem
from logger.visit.records.remedy_records import RemedyDecision, RemedyKind
from logger.visit.storage.check_store import stored_steps
from logger.visit.storage.content_limits import expected_columns
from logger.visit.storage.correction_rows import live_and_listed
from logger.visit.storage.entry_checksum import ENTRY_TABLES
from logger.visit.storage.placeholder_rows import is_possible_id
from logger.visit.storage.read_only import UNREADABLE_CONTENT
from logger.visit.storage.recording_stores import stored_event
from logger.visit.storage.remedy_store import stored_day, stored_source_ids
from logger.visit.storage.schema import USER_VERSION
from logger.visit.storage.table_pages import Row, Value

MAX_CITED = 20
"""So many bytes of a text that is none are cited."""

_KEYS = {**ENTRY_TABLES, "live": "run_id"}
"""The tables whose entries are looked at, and the column that numbers them; lines have a check of their own."""


def readable_row(table: str, row: Row) -> tuple[Row, bool] | None:
    """A row as the program can read it, and whether a field was emptied for that; None where it cannot be kept.

    Args:
        table: that the row is of.
        row: its values, in the columns of this version.
    """
    if table not in _ROWS and table not in _MAY_BE_EMPTY:  # such as the lines, of which there are millions
        return row, False
    names = [name for name, _, _ in expected_columns(USER_VERSION)[table]]
    values = dict(zip(names, row, strict=True))
    if not _is_readable(_ROWS.get(table), values):
        return None
    emptied = False
    for column, decode in _MAY_BE_EMPTY.get(table, {}).items():
        if values[column] and not _is_readable(decode, values[column]):
            values[column], emptied = "", True
    return tuple(values[name] for name in names), emptied


def unreadable_entries(db: sqlite3.Connection) -> Iterator[tuple[str, int, str]]:
    """Each entry with a text that is none, or with a field that the program cannot read: table, id and reason.

    Args:
        db: connection to a log of any version.

    Raises:
        sqlite3.DatabaseError: a page is damaged.
    """
    kept, db.text_factory = db.text_factory, bytes
    try:
        tables = {
            str(row[0], "utf-8", "replace") for row in db.execute("SELECT name FROM sqlite_schema").fetchall()
        }
        for table, key in ((table, key) for table, key in _KEYS.items() if table in tables):
            there = [str(row[1], "utf-8") for row in db.execute(f"PRAGMA table_info({table})").fetchall()]
            kinds = {name: kind for name, kind, _ in expected_columns(USER_VERSION)[table]}
            for row in db.execute(f"SELECT {', '.join(there)} FROM {table}"):
                values = dict(zip(there, row, strict=True))
                row_id = int(values[key])
                try:
                    texts = {
                        name: value.decode()
                        if isinstance(value, bytes) and kinds.get(name) == "TEXT"
                        else value
                        for name, value in values.items()
                    }
                except UnicodeDecodeError as error:
                    yield (
                        table,
                        row_id,
                        tr("the text {text} is none").format(text=repr(error.object[:MAX_CITED])),
                    )
                    continue
                found = readable_row(table, tuple(texts.get(name, "") for name in kinds))
                if found is None or found[1]:
                    yield table, row_id, tr("a field of it has lost its form")
    finally:
        db.text_factory = kept


def _is_readable(decode: Callable[..., object] | None, content: object) -> bool:
    if decode is None:
        return True
    try:
        decode(content)
    except UNREADABLE_CONTENT:
        return False
    return True


def _event(values: Mapping[str, Value]) -> None:
    # What an event of its kind has is never empty.
    if None in astuple(stored_event(values)):
        raise ValueError("the event lacks a value")


def _check(values: Mapping[str, Value]) -> None:
    CheckKind(str(values["kind"]))
    CheckVerdict(str(values["verdict"]))
    for step in stored_steps(json.loads(str(values["steps"]))):
        if not is_possible_id("run", step.span.run_id):
            raise ValueError("a step rests on no run that there can be")
    # A check without its set-up would count for every meter and reference, as those of older versions do.
    Setup.from_json(str(values["setup"]))


def _photo(values: Mapping[str, Value]) -> None:
    jpeg, width, height = values["jpeg"], values["width"], values["height"]
    if not (isinstance(jpeg, bytes) and isinstance(width, int) and isinstance(height, int)):
        raise ValueError("a photo is none")
    if problem := photo_problem(jpeg, width, height):
        raise ValueError(problem)


def _heartbeat(values: Mapping[str, Value]) -> None:
    State(str(values["state"]))
    for fields in json.loads(str(values["open_events"])):
        from_fields(**fields)


def _fact(values: Mapping[str, Value]) -> None:
    decode = _FACTS.get(str(values["name"]))
    if decode and values["value"]:
        decode(str(values["value"]))


def _context(text: str) -> None:
    # Its dates, ranges and lengths are read later, where the uncertainty is worked out.
    context = Context.from_json(text)
    context.budget(1.0, 0.01)
    for day in (context.read_on, context.setup.meter.calibrated_on):
        if day:
            date.fromisoformat(day)


def _matched_spots(text: str) -> None:
    for pairs in json.loads(text).values():
        for old_id, new_id in pairs.items():
            _ints([old_id, 0 if new_id is None else new_id])


def _edges(text: str) -> None:
    for run_id, edges in json.loads(text).items():
        start, end = edges
        _ints([run_id, *(edge for edge in (start, end) if edge is not None)])


def _same_home(text: str) -> None:
    _ints(json.loads(text))


def _ints(values: Sequence[object]) -> None:
    for value in values:
        int(str(value))


def _reference_correction(values: Mapping[str, Value]) -> None:
    for column in ("from_answers", "to_answers"):
        ReferenceAnswers.from_json(str(values[column]))


def _remedy(values: Mapping[str, Value]) -> None:
    RemedyKind(str(values["kind"]))
    for source_id in stored_source_ids(str(values["sources"])):
        if not is_possible_id("source", source_id):
            raise ValueError("a remedy is about no circuit that there can be")


def _remedy_entry(values: Mapping[str, Value]) -> None:
    RemedyDecision(str(values["decision"]))
    for column in ("due", "done_on"):
        stored_day(str(values[column]))


_ROWS: Mapping[str, Callable[..., object]] = {
    "fact": _fact, "event": _event, "check_result": _check, "live": _heartbeat, "photo": _photo,
    "reference_correction": _reference_correction, "remedy": _remedy, "remedy_entry": _remedy_entry,
}  # fmt: skip
"""Of each table, what reads the fields without which a row means nothing, or something else."""

_FACTS: Mapping[str, Callable[[str], object]] = {
    SETUP: Setup.from_json, MATCHED_SPOTS: _matched_spots, NIGHT_EDGES: _edges, SAME_HOME: _same_home,
}  # fmt: skip
"""Of the facts that are read as JSON. Whatever reads the others takes a damaged one for none."""

_MAY_BE_EMPTY: Mapping[str, Mapping[str, Callable[[str], object]]] = {
    "reading": {"context": _context, "live": live_and_listed},
    "reading_correction": {"from_live": live_and_listed, "to_live": live_and_listed},
    "remedy_baseline": {"context": _context, "live": live_and_listed},
}
"""Fields that older versions left empty, which then are not known, and what reads them."""
