"""The checksum of a visit log: the same for the same content, another one for any change of it."""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from logger.clock import ManualClock
from logger.visit import VisitLog
from logger.visit.records.home_records import Spot
from tests.support.without_triggers import without_triggers


@pytest.fixture
def visit(day_visit: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(day_visit, tmp_path / "a.visit"))


def checksum(visit: Path) -> str:
    with closing(VisitLog.open(visit)) as log:
        return log.checksum()


def test_opening_a_checkpoint_a_copy_and_vacuum_leave_it(visit: Path, tmp_path: Path) -> None:
    before = checksum(visit)
    assert checksum(visit) == before
    with closing(sqlite3.connect(visit)) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        assert checksum(visit) == before
        db.execute("VACUUM")
    assert checksum(visit) == before
    assert checksum(Path(shutil.copy(visit, tmp_path / "b.visit"))) == before


def test_another_process_that_has_the_log_open_leaves_it(visit: Path) -> None:
    before = checksum(visit)
    with closing(VisitLog.open(visit)) as other:
        other.readings.all()
        assert checksum(visit) == before


CHANGES = (
    "UPDATE line SET volts = volts + 1e-15 WHERE id = 7",
    "UPDATE line SET raw = x'00' WHERE id = 7",
    "UPDATE line SET status = 'held' WHERE id = 7",
    "UPDATE line SET volts = NULL WHERE id = 7",
    "DELETE FROM line WHERE id = 7",
    "UPDATE reading SET volts = 0.05 WHERE id = 1",
    "UPDATE reading SET condition = 'everything off' WHERE id = 1",
    "UPDATE fact SET value = 'x' WHERE id = 1",
    "UPDATE spot SET room = 'Attic' WHERE id = 1",
    "UPDATE source SET two_pole = 1 - two_pole WHERE id = 1",
    "UPDATE run SET zone = 'UTC'",
    "UPDATE check_result SET verdict = 'failed' WHERE id = 1",
    "INSERT INTO mark (utc_ns, text) VALUES (1, 'x')",
    "UPDATE event SET end_t_ns = end_t_ns + 1 WHERE id = 1",
)
"""One statement for each kind of content; triggers that would refuse it are dropped meanwhile."""


@pytest.mark.parametrize("change", CHANGES)
def test_a_changed_value_changes_it(visit: Path, change: str) -> None:
    before = checksum(visit)
    with without_triggers(visit) as db:
        assert db.execute(change).rowcount > 0
    assert checksum(visit) != before


def test_the_recorders_heartbeat_is_no_content(visit: Path) -> None:
    before = checksum(visit)
    with closing(VisitLog.open(visit)) as log:
        log.recorder.request_stop()
    with closing(sqlite3.connect(visit)) as db, db:
        assert db.execute("UPDATE live SET beat_t_ns = beat_t_ns + 1").rowcount == 1
    assert checksum(visit) == before


def test_a_column_that_a_newer_version_adds_leaves_it(visit: Path) -> None:
    before = checksum(visit)
    with closing(sqlite3.connect(visit, isolation_level=None)) as db:
        db.row_factory = sqlite3.Row
        newer = VisitLog(visit, db, ManualClock())  # a later version's schema, which `open` refuses today
        db.execute("ALTER TABLE spot ADD COLUMN colour TEXT NOT NULL DEFAULT ''")
        db.execute("CREATE TABLE newer (id INTEGER PRIMARY KEY) STRICT")
        assert newer.checksum() == before
        db.execute("UPDATE spot SET colour = 'red' WHERE id = 1")
        assert newer.checksum() != before


def test_text_that_looks_like_the_next_column_is_told_from_it(tmp_path: Path) -> None:
    sums = set()
    for number, (name, room) in enumerate((("a\troom=b", ""), ("a", "b"), ('a"\troom="b', ""))):
        with closing(VisitLog.create(tmp_path / f"{number}.visit", ManualClock())) as log:
            log.spots.add("x")
        with closing(sqlite3.connect(tmp_path / f"{number}.visit")) as db, db:
            db.execute("UPDATE spot SET name = ?, room = ?", (name, room))
        sums.add(checksum(tmp_path / f"{number}.visit"))
    assert len(sums) == 3


def test_the_definition_by_hand(visit: Path) -> None:
    """The definition of the module's docstring, followed once more in the plainest way."""
    lines = []
    with closing(sqlite3.connect(visit)) as db:
        schema = "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
        for (table,) in db.execute(schema).fetchall():
            if table in ("live", "request", "entry_checksum", "entry_chain"):
                continue
            columns = db.execute(f"PRAGMA table_info({table})").fetchall()
            for _, name, kind, _, default, _ in columns:
                values = [v for (v,) in db.execute(f"SELECT {name} FROM {table} ORDER BY {columns[0][1]}")]
                text = "".join(json.dumps(v.hex() if kind == "BLOB" and v else v) + "\n" for v in values)
                assert kind in ("INTEGER", "REAL", "TEXT", "BLOB")
                at_default = {"''": "", "0": 0}.get(default)
                if any(value is not None and value != at_default for value in values):
                    lines.append(f"{table}.{name} {hashlib.sha256(text.encode()).hexdigest()}\n")
    assert len(lines) > 50
    assert checksum(visit) == hashlib.sha256("".join(sorted(lines)).encode()).hexdigest()


def test_spots_survive(visit: Path) -> None:
    """The copy that the other tests work on is a visit with content."""
    with closing(VisitLog.open(visit)) as log:
        assert isinstance(log.spots.all()[0], Spot)
        assert log.readings.all()
