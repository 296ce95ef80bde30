"""The corrections of readings as the log holds them: the first void of each in one table, everything else in another.

A log that was not upgraded yet has no table of corrections. A void in the list of voids was the first one: a
reading that is valid again was void before, and one that is void is corrected no further.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from typing import Any

from logger.metrology.context import Context
from logger.metrology.reference_answers import ReferenceAnswers
from logger.visit.records.reading_corrections import VALID, VOID, Placement, ReadingCorrection

TABLE = "reading_correction"
ANSWERS_TABLE = "reference_correction"


def corrections_by_reading(db: sqlite3.Connection) -> dict[int, list[ReadingCorrection]]:
    """The corrections of each reading in the order of entering, by the reading's id; readings without are missing.

    Args:
        db: connection to a log of any version.
    """
    found: dict[int, list[ReadingCorrection]] = {}
    for row in _rows_of(db):
        found.setdefault(int(row[1]), []).append(_correction(row))
    nowhere = Placement(0, "", "")
    for reading_id, utc_ns, reason in map(
        tuple, db.execute("SELECT reading_id, utc_ns, reason FROM reading_void ORDER BY reading_id")
    ):
        of_reading = found.setdefault(int(reading_id), [])
        first_valid = next((i for i, c in enumerate(of_reading) if c.kind == VALID), len(of_reading))
        void = ReadingCorrection(0, int(utc_ns), VOID, nowhere, nowhere, str(reason))
        of_reading.insert(first_valid, void)
    return found


def _rows_of(db: sqlite3.Connection) -> Iterable[tuple[Any, ...]]:
    tables = {str(row[0]) for row in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
    if TABLE not in tables:
        return ()
    source, answers = (
        f"FROM {TABLE} LEFT JOIN {ANSWERS_TABLE} ON correction_id = id",
        ("from_answers", "to_answers"),
    )
    if ANSWERS_TABLE not in tables:
        source, answers = f"FROM {TABLE}", ("NULL", "NULL")
    return map(
        tuple,
        db.execute(
            "SELECT id, reading_id, utc_ns, kind, from_spot_id, from_spot_name, from_condition, from_live, "
            f"{answers[0]}, to_spot_id, to_spot_name, to_condition, to_live, {answers[1]}, reason, entered_by "
            f"{source} ORDER BY id"
        ),
    )


def _correction(row: tuple[Any, ...]) -> ReadingCorrection:
    row_id, _, utc_ns, kind, *places, reason, entered_by = row
    return ReadingCorrection(
        int(row_id), int(utc_ns), str(kind), _placement(places[:5]), _placement(places[5:]), str(reason),
        str(entered_by),
    )  # fmt: skip


def _placement(values: list[Any]) -> Placement:
    """From id and name of a spot, condition, and as JSON what was live and read against; what is not kept is empty."""
    spot_id, spot_name, condition, live, answers = values
    return Placement(
        spot_id if isinstance(spot_id, int) else 0, str(spot_name or ""), str(condition or ""),
        *live_and_listed(str(live or "")), ReferenceAnswers.from_json(str(answers)) if answers else None,
    )  # fmt: skip


def live_and_listed(live_json: str) -> tuple[frozenset[int] | None, frozenset[int]]:
    """Ids of what was live, and of what was listed, from the JSON of a row; None and nothing where it is empty."""
    kept = json.loads(live_json) if live_json else None
    if not kept:
        return None, frozenset()
    return frozenset(map(int, kept["live"])), frozenset(map(int, kept["listed"]))


def kept_answers(context: str) -> ReferenceAnswers | None:
    """What a reading was read against, from the JSON of its context; None where that is empty."""
    return ReferenceAnswers.of(Context.from_json(context).setup) if context else None


def live_json(live: frozenset[int] | None, listed: Iterable[int]) -> str:
    """What was live as it is kept; empty where that is not stated one by one.

    Args:
        live: ids of what was live; None where that is not stated.
        listed: ids of what was on the list.
    """
    return "" if live is None else json.dumps({"live": sorted(live), "listed": sorted(listed)})
