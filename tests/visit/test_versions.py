"""A visit log of every schema version opens whole, and is a current one afterwards."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from logger.errors import StillvoltError
from logger.visit import VisitLog
from logger.visit.storage.integrity import check_integrity
from logger.visit.storage.read_only import checked_log, open_checked
from logger.visit.storage.schema import USER_VERSION
from logger.visit.storage.visit_folder import LOOKED_INTO
from tests.support.without_triggers import without_triggers

VISITS = Path(__file__).parents[2] / "fixtures" / "visits"

FIRST_READINGS: list[tuple[object, ...]] = [
    ("Bed, lying down", "everything on", 0.271, 0.004, 12, "settled", None),
    ("Bed, lying down", "everything off", 0.052, 0.004, 12, "settled", None),
    ("Desk", "everything on", 0.4, 0.02, 1, "by hand", "wrong spot"),
]
LATER_READINGS: list[tuple[object, ...]] = [
    ("Desk", "everything off", 0.11, 0.01, 1, "by hand", None),
    ("Desk", "without Bedroom", 0.2, 0.01, 1, "by hand", None),
    ("Desk", "everything off", 0.12, 0.01, 1, "by hand", None),
]
"""One that each version after the first brought."""
CORRECTED_READINGS: list[tuple[object, ...]] = [
    *FIRST_READINGS[:2],
    (*FIRST_READINGS[2][:-1], None),
    ("Bed, lying down", *LATER_READINGS[0][1:]),
    ("Desk", "everything off", *LATER_READINGS[1][2:]),
    LATER_READINGS[2],
]
"""Version 5 brought none, made one valid again, moved one, and corrected what was on in one."""


def load(version: int, path: Path) -> Path:
    with closing(sqlite3.connect(path)) as db:
        db.executescript((VISITS / f"version_{version}.sql").read_text(encoding="utf-8"))
    return path


def schema_of(path: Path) -> set[tuple[str, str]]:
    with closing(sqlite3.connect(path)) as db:
        return set(db.execute("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL"))


def test_there_is_a_visit_of_every_version():
    kept = {path.name for path in VISITS.glob("*.sql")}
    assert kept == {f"version_{version}.sql" for version in range(1, USER_VERSION + 1)}


@pytest.mark.parametrize("version", range(1, USER_VERSION + 1))
def test_a_visit_of_that_version_has_the_same_readings(tmp_path, clock, version):
    log = VisitLog.open(load(version, tmp_path / "old.visit"), clock)
    found = [
        (r.spot_name, r.condition, r.volts, r.u_volts, r.samples, r.taken, r.void_reason)
        for r in log.readings.all()
    ]
    assert found == (CORRECTED_READINGS if version >= 5 else FIRST_READINGS + LATER_READINGS[: version - 1])
    assert log.samples.after().volts.tolist() == [0.271] * 12 + [0.052] * 12
    assert [e.event.kind for e in log.events.after()] == ["settled", "settled"]
    assert [m.text for m in log.marks.all()] == ["kettle on"]
    assert log.facts.condition().condition == "everything on"
    assert [s.room for s in log.spots.all()] == (["", ""] if version == 1 else ["Bedroom", ""])
    assert [c.kind for c in log.checks.all()] == ([] if version == 1 else ["zero check"])
    assert [c.name for c in log.circuits.all()] == ([] if version < 3 else ["Bedroom", "Bedside lamp"])
    assert len(log.step_labels.all()) == (0 if version < 3 else 1)
    places = [details.place for details in log.spot_details.all().values()]
    assert places == ([] if version < 6 else ["left side, head 40 cm from the wall"])
    assert [details.number for details in log.source_details.all().values()] == ([] if version < 6 else ["7"])
    assert [len(log.photos.picture(photo.id)) > 0 for photo in log.photos.of_spot(1)] == [True] * (
        version >= 6
    )
    assert log.circumstances.current().footwear == ("" if version < 6 else "socks")
    assert [check.spot_names for check in log.checks.all()] == [()] * (version > 1)
    log.close()


@pytest.mark.parametrize("version", range(1, USER_VERSION + 1))
def test_a_visit_of_that_version_becomes_a_current_one(tmp_path, clock, version):
    VisitLog.create(tmp_path / "new.visit", clock).close()
    old = load(version, tmp_path / "old.visit")
    VisitLog.open(old, clock).close()
    assert schema_of(old) == schema_of(tmp_path / "new.visit")
    with closing(sqlite3.connect(old)) as db:
        assert db.execute("PRAGMA user_version").fetchone()[0] == USER_VERSION
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []


def test_entries_of_before_checksums_are_unchecked_and_what_version_4_wrote_is_confirmed(tmp_path, clock):
    with closing(VisitLog.open(load(4, tmp_path / "old.visit"), clock)) as log:
        found = log.integrity()
        assert not (found.readings or found.others)
        assert "of before checksums were kept" in found.not_compared()
    with closing(sqlite3.connect(load(4, tmp_path / "changed.visit"))) as db, db:
        db.execute("DROP TRIGGER reading_keeps_update")
        db.execute("UPDATE reading SET volts = 0.02 WHERE id = (SELECT max(id) FROM reading)")
        assert list(check_integrity(db).readings) == [6]


@pytest.fixture(autouse=True)
def _no_inode_is_known():
    """The files of one test take the inodes of those of another, which in one process counts as the same file."""
    before = set(LOOKED_INTO)
    LOOKED_INTO.clear()
    yield
    LOOKED_INTO.update(before)


def _scribble(path):
    data = bytearray(path.read_bytes())
    page = len(data) // 4096 // 2 * 4096
    data[page : page + 300] = b"\xa5" * 300
    path.write_bytes(data)


def _spoil_a_context(path):
    with without_triggers(path) as db:
        db.execute("UPDATE reading SET context = '{' WHERE id = 1")


@pytest.mark.parametrize("version", range(2, USER_VERSION))
@pytest.mark.parametrize("spoil", [_scribble, _spoil_a_context])
def test_a_damaged_visit_of_that_version_is_refused_as_it_was(tmp_path, clock, version, spoil):
    old = load(version, tmp_path / "old.visit")
    spoil(old)
    before = old.read_bytes()
    with pytest.raises(StillvoltError, match="damaged"):
        open_checked(old, clock)
    with pytest.raises(StillvoltError, match="damaged"), checked_log(old):
        pass
    assert old.read_bytes() == before


@pytest.mark.parametrize("version", range(1, USER_VERSION))
def test_a_visit_of_that_version_is_read_without_a_change_and_upgraded_to_be_written(
    tmp_path, clock, version
):
    old = load(version, tmp_path / "old.visit")
    before = old.read_bytes()
    with checked_log(old) as log:
        assert log.path == old and log.readings.all()
    assert old.read_bytes() == before
    with closing(open_checked(old, clock)) as log:
        assert log.readings.all()
    assert old.read_bytes() != before
