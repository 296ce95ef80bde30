"""Whether the volts of each line are those that its text shows, read again as they were when it was recorded.

A line whose text is read as no voltage today, since the interpretation has become stricter, contradicts nothing here:
the checksum of its run shows whether it was changed.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable

from logger.meter.decimal_comma import DecimalComma
from logger.meter.lines import LineReading, read_line
from logger.metrology.rounding import grouped
from logger.translation import shown_number, tr_n
from logger.visit.records.imported_trace import imported_trace, row_volts
from logger.visit.records.recording_records import Run
from logger.visit.storage.run_meter import description_of

MIN_SHOWN_DIGITS, DOUBLE_DIGITS = 6, 17
"""Digits of a value; 17 tell any two doubles apart."""

MAX_SHOWN_BYTES = 60
"""So much of a line's text is shown."""


def line_text_problems(db: sqlite3.Connection) -> list[str]:
    """A sentence on each run with lines whose volts are not those of their text; it takes a second for a million lines.

    Raises:
        sqlite3.DatabaseError: a page is damaged.
    """
    volts_of = _readers(db)
    first: dict[int, tuple[int, str, str, str]] = {}
    count: dict[int, int] = {}
    cursor = db.cursor()
    cursor.row_factory = None
    for line_id, run_id, volts, raw in cursor.execute(
        "SELECT id, run_id, volts, raw FROM line WHERE volts IS NOT NULL ORDER BY id"
    ):
        read = volts_of.get(run_id)
        again = None if read is None else read(raw)
        if again is None or again == volts:
            continue
        count[run_id] = count.get(run_id, 0) + 1
        if run_id not in first:
            shown = raw[:MAX_SHOWN_BYTES].decode("utf-8", errors="replace")
            first[run_id] = line_id, shown, *distinct_volts(volts, again)
    return [
        tr_n(
            "Run {run}: line {line} holds {held} V, and its text “{text}” is {again} V.",
            "Run {run}: line {line} holds {held} V, and its text “{text}” is {again} V ({n} such lines).",
            count[run_id],
        ).format(
            run=run_id,
            line=line_id,
            held=shown_number(held),
            text=text,
            again=shown_number(again),
            n=grouped(count[run_id]),
        )
        for run_id, (line_id, text, held, again) in first.items()
    ]


def distinct_volts(first: float, second: float) -> tuple[str, str]:
    """Two different values with as many digits as tell them apart: at least 6, at most those of a double."""
    for digits in range(MIN_SHOWN_DIGITS, DOUBLE_DIGITS):
        texts = f"{first:.{digits}g}", f"{second:.{digits}g}"
        if texts[0] != texts[1]:
            return texts
    return repr(first), repr(second)


def _readers(db: sqlite3.Connection) -> dict[int, Callable[[bytes], float | None]]:
    """What reads the volts of a line, by the id of its run, with the settings that the run had."""
    # Texts as their bytes: settings with a flipped bit may be no text any more.
    rows = db.execute("SELECT id, CAST(settings AS BLOB) FROM run").fetchall()
    return {int(row[0]): _reader(bytes(row[1]).decode("utf-8", errors="replace")) for row in rows}


def _reader(settings: str) -> Callable[[bytes], float | None]:
    run = Run(0, 0, "", 0, "", settings, "", None, "")
    imported = imported_trace(run)
    if imported is not None:
        return lambda raw: _volts_of_row(raw, imported.unit_exponent)
    description = description_of(run)
    read: Callable[[bytes], LineReading] = read_line if description is None else description.read()
    # A stored value with a comma that a line leaves open was read by what the other lines showed.
    read = DecimalComma(read, is_settled=True).read
    return lambda raw: read(raw).volts


def _volts_of_row(raw: bytes, unit_exponent: int) -> float | None:
    try:
        return row_volts(raw, unit_exponent)
    except (ValueError, IndexError):
        return None
