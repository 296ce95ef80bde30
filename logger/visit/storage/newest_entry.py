"""Which entry that a report prints was made last: a report of an earlier one is out of date."""

from __future__ import annotations

import sqlite3

from logger.visit.records.fact_names import (
    CIRCUMSTANCES,
    CONTINUES_VISIT,
    NIGHT_CONDITION,
    NIGHT_EDGES,
    NIGHT_SPOT,
    PRACTITIONER,
    REST_OF,
    SALVAGED_FROM,
    SAME_METER,
    SCHEDULE,
    SETUP,
)
from logger.visit.storage.entry_checksum import WINDOW_TABLES, has_entry_checksums

PRINTED_FACTS = (
    SETUP, PRACTITIONER, SCHEDULE, NIGHT_EDGES, NIGHT_CONDITION, NIGHT_SPOT, SAME_METER, SALVAGED_FROM, REST_OF,
    CIRCUMSTANCES, CONTINUES_VISIT,
)  # fmt: skip
"""Facts that a report shows; what is on at the moment, for one, stands in it only with a reading."""


def newest_entry(db: sqlite3.Connection) -> int:
    """The id of the newest checksum of an entry that a report prints; 0 before the first one.

    A change of a list, as another name of a spot, brings a checksum too.

    Args:
        db: connection to the log.
    """
    if not has_entry_checksums(db):
        return 0
    tables = [table for table in WINDOW_TABLES if table != "fact"]
    row = db.execute(
        f"SELECT max(id) FROM entry_checksum WHERE entry_table IN ({', '.join('?' * len(tables))}) "
        "OR (entry_table = 'fact' AND entry_id IN "
        f"(SELECT id FROM fact WHERE name IN ({', '.join('?' * len(PRINTED_FACTS))})))",
        (*tables, *PRINTED_FACTS),
    ).fetchone()
    return int(row[0] or 0)
