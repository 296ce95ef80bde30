"""When something that a report prints was last entered in a visit log."""

from __future__ import annotations

import sqlite3

from logger.visit.records.fact_names import CHECK_STEP, CONDITION, CONDITION_BEGUN, CONDITION_ENDED

NOT_PRINTED = (CONDITION, CONDITION_BEGUN, CONDITION_ENDED, CHECK_STEP)
"""Facts of the work that goes on; what came of them is in readings and checks."""

_TIMES = {
    "reading": "utc_ns", "reading_void": "utc_ns", "reading_correction": "utc_ns", "mark": "utc_ns",
    "mark_void": "utc_ns", "check_result": "utc_ns", "step_name": "utc_ns", "run": "started_utc_ns",
    "run_end": "utc_ns", "spot": "removed_utc_ns", "source": "removed_utc_ns",
}  # fmt: skip
"""The column with the time of each table."""


def newest_entry_utc_ns(db: sqlite3.Connection) -> int:
    """When something that a report prints was last entered, UTC ns; 0 where nothing was.

    Spots, circuits and cords have no time of their own: a new name alone does not show here.

    Args:
        db: connection to the log.
    """
    places = ", ".join("?" * len(NOT_PRINTED))
    newest = [
        db.execute(f"SELECT max(utc_ns) FROM fact WHERE name NOT IN ({places})", NOT_PRINTED).fetchone()[0],
        *(db.execute(f"SELECT max({column}) FROM {table}").fetchone()[0] for table, column in _TIMES.items()),
    ]
    return max((int(utc_ns) for utc_ns in newest if utc_ns is not None), default=0)
