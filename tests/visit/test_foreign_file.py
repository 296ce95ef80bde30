"""A visit that somebody else sent is data: what it defines beyond a visit log is refused before it is read."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from logger.errors import StillvoltError
from logger.report.archive.entry import read_entry
from logger.visit import VisitLog
from logger.visit.storage.read_only import checked_log
from logger.visit.storage.schema import APPLICATION_ID
from tests.visit.test_versions import load

HOSTILE = {
    "a trigger": "CREATE TRIGGER more AFTER INSERT ON mark BEGIN DELETE FROM spot; END",
    "a view": "CREATE VIEW more AS SELECT 1",
    "a view without end": (
        "CREATE VIEW more AS WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT i FROM n"
    ),
    "a view in place of a table": "DROP TABLE mark; CREATE VIEW mark AS SELECT 1 AS id, 2 AS utc_ns, 'x' AS text",
    "a virtual table": "CREATE VIRTUAL TABLE more USING fts5 (text)",
    "a missing trigger": "DROP TRIGGER line_keeps_delete",
    "a trigger that does nothing": (
        "DROP TRIGGER line_keeps_delete; "
        "CREATE TRIGGER line_keeps_delete BEFORE DELETE ON line BEGIN SELECT 1; END"
    ),
    "another column": "ALTER TABLE spot ADD COLUMN more TEXT NOT NULL DEFAULT ''",
    "another table": "CREATE TABLE more (id INTEGER PRIMARY KEY)",
    "another index": "CREATE INDEX more ON line (length(hex(raw)))",
}

CONCERNS = {
    "a view in place of a table": "mark",
    "a missing trigger": "line_keeps_delete",
    "a trigger that does nothing": "line_keeps_delete",
    "another column": "spot",
}
"""The entry that is named; `more` where none stands here."""


@pytest.fixture
def visit(tmp_path: Path) -> Path:
    return load(3, tmp_path / "sent.visit")


@pytest.mark.parametrize("what", HOSTILE)
def test_what_a_visit_log_does_not_have_is_refused_by_every_way_in(visit: Path, what: str) -> None:
    with closing(sqlite3.connect(visit)) as db:
        db.execute("PRAGMA foreign_keys = OFF")
        db.executescript(HOSTILE[what])
    before = visit.read_bytes()
    for read in (VisitLog.open, read_entry):
        with pytest.raises(StillvoltError, match="not a visit log as this program writes it") as error:
            read(visit)
        assert CONCERNS.get(what, "more") in str(error.value)
    assert visit.read_bytes() == before


def test_names_of_foreign_entries_cannot_steer_a_terminal(visit: Path) -> None:
    with closing(sqlite3.connect(visit)) as db:
        db.execute('CREATE TABLE "\x1b[31m\u202e' + "x" * 500 + '" (id)')
    with pytest.raises(StillvoltError) as error:
        VisitLog.open(visit)
    assert str(error.value).isprintable()
    assert len(str(error.value)) < 500


def test_a_copy_without_its_journal_is_no_empty_visit(tmp_path: Path) -> None:
    path = tmp_path / "copy.visit"
    with closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    before = path.read_bytes()
    with pytest.raises(StillvoltError, match="without its journal"):
        VisitLog.open(path)
    assert path.read_bytes() == before


def test_a_new_visit_has_its_tables_in_the_file_alone(tmp_path: Path) -> None:
    with closing(VisitLog.create(tmp_path / "new.visit")):
        alone = Path(shutil.copy(tmp_path / "new.visit", tmp_path / "alone.visit"))
    with closing(VisitLog.open(alone)) as log:
        assert log.spots.all() == []


def test_damaged_rows_and_pages_are_one_error_in_words(visit: Path) -> None:
    data = bytearray(visit.read_bytes())
    for at in range(4096, len(data), 4096):
        data[at : at + 64] = bytes(64)
    visit.write_bytes(bytes(data))
    with pytest.raises(StillvoltError, match=r"damaged|cannot be opened"), checked_log(visit) as log:
        log.readings.all()
