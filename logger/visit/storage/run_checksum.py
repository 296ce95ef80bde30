"""The checksum of a run: SHA-256 over its lines, kept with each batch and at the end, recomputed to verify it.

Each line of the meter counts as the JSON of [utc_ns, t_ns, status, volts, raw bytes in hexadecimal] and a line feed, in
order of arrival. While the run goes on, its heartbeat holds the checksum of the lines so far, written in one
transaction with them; so has a run that was cut off. One that ends in order keeps it as a fact too. It takes 2 to 3 s
for a million lines, 1 s for a night at 10 Hz.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from logger.translation import kept_text
from logger.visit.storage.entry_checksum import has_entry_checksums

FACT_PREFIX = "checksum of run "
"""Name of the fact, followed by the id of the run; its value is 'LINES SHA256'."""

_ROWS_AT_ONCE = 5000


LineRow = tuple[int, int, str, float | None, bytes]
"""utc_ns, t_ns, status, volts, raw: one line of the meter."""


@dataclass(frozen=True, slots=True)
class RunChecksum:
    """How many lines a run has and their SHA-256 in hexadecimal."""

    lines: int
    sha256: str

    def as_fact(self) -> str:
        """As the value of the fact; `from_fact` is the way back."""
        return f"{self.lines} {self.sha256}"

    @classmethod
    def from_fact(cls, value: str) -> RunChecksum | None:
        """From the value of the fact; None where it is damaged."""
        lines, _, sha256 = value.partition(" ")
        return cls(int(lines), sha256) if lines.isdecimal() and len(sha256) == 64 else None


class LineDigest:
    """The checksum of a run's lines as they come.

    Args:
        before: a digest of lines that come first, which stays as it is.
    """

    def __init__(self, before: LineDigest | None = None) -> None:
        self._lines = 0
        self._digest = hashlib.sha256()
        if before is not None:
            self._lines, self._digest = before._lines, before._digest.copy()

    def add(self, lines: Iterable[LineRow]) -> None:
        """Add lines."""
        # As json.dumps writes the array, in half its time.
        texts = [
            f'[{utc_ns}, {t_ns}, {_json_text(status)}, {"null" if volts is None else repr(volts)}, "{raw.hex()}"]\n'
            for utc_ns, t_ns, status, volts, raw in lines
        ]
        self._digest.update("".join(texts).encode("ascii"))
        self._lines += len(texts)

    def result(self) -> RunChecksum:
        """The checksum of the lines so far."""
        return RunChecksum(self._lines, self._digest.hexdigest())


def computed_checksum(db: sqlite3.Connection, run_id: int) -> RunChecksum:
    """The checksum of the lines that a log holds for a run; raises sqlite3.DatabaseError where they are damaged."""
    digest = LineDigest()
    cursor = db.cursor()
    cursor.row_factory = None
    cursor.execute(
        "SELECT utc_ns, t_ns, status, volts, raw FROM line WHERE run_id = ? ORDER BY id", (run_id,)
    )
    while rows := cursor.fetchmany(_ROWS_AT_ONCE):
        digest.add(rows)
    return digest.result()


def kept_checksum(db: sqlite3.Connection, run_id: int) -> RunChecksum | None:
    """The checksum that was kept at the end of a run, or with its last batch; None where none was, or it is damaged."""
    row = db.execute(
        "SELECT value FROM fact WHERE name = ? ORDER BY id LIMIT 1", (f"{FACT_PREFIX}{run_id}",)
    ).fetchone()
    if row is None and has_entry_checksums(db):
        row = db.execute("SELECT line_checksum FROM live WHERE run_id = ?", (run_id,)).fetchone()
    return RunChecksum.from_fact(str(row[0])) if row else None


def changed_lines(db: sqlite3.Connection) -> str:
    """`changed_lines_words` of the first run that has other lines than were recorded; empty where none has.

    Raises:
        sqlite3.DatabaseError: they cannot be read.
    """
    for (run_id,) in [tuple(row) for row in db.execute("SELECT id FROM run ORDER BY id")]:
        kept = kept_checksum(db, run_id)
        if kept and (found := computed_checksum(db, run_id)) != kept:
            return changed_lines_words(run_id, found.lines, kept.lines)
    return ""


def changed_lines_words(run_id: int, lines: int, kept_lines: int) -> str:
    """The sentence for a run whose lines are not those that were recorded, in English: shown by `tr_kept`.

    Args:
        run_id: the run.
        lines: that the log holds.
        kept_lines: that were recorded.
    """
    text = kept_text("Run {run}: its {lines} lines are not the {kept} that were recorded.")
    return text.format(run=run_id, lines=lines, kept=kept_lines)


@cache
def _json_text(text: str) -> str:
    return json.dumps(text)
