"""What speaks against a reading where parts of its visit are lost."""

from __future__ import annotations

from logger.translation import marked, tr
from logger.visit.records.reading_records import Reading
from logger.visit.records.salvage_record import SalvageRecord

TRACE_LOST = marked("Its trace is lost.")
"""Doubt about a reading of a meter whose lines or run are missing; translated where it is shown."""


def doubt_by_salvage(reading: Reading, salvage: SalvageRecord | None) -> str:
    """What is not known of a reading, in whole sentences; empty where nothing is.

    Args:
        reading: which was taken.
        salvage: what is not known since the visit was salvaged; None where it never was.
    """
    is_lost = reading.taken != "by hand" and None in (
        reading.run_id, reading.start_utc_ns, reading.first_line_id, reading.last_line_id
    )  # fmt: skip
    return " ".join(
        filter(None, (tr(TRACE_LOST) if is_lost else "", salvage.doubt_of_readings if salvage else ""))
    )
