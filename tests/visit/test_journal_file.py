"""A visit that was copied without its journal after a full disk is told from a damaged one, and is whole with it."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from logger.errors import StillvoltError
from logger.report.archive.search import search
from logger.visit import VisitLog
from logger.visit.storage.salvage import salvage
from logger.visit.storage.verification import verify

SPOTS = [f"Bed {i}, {'left ' * 200}" for i in range(30)]


@pytest.fixture
def visit(tmp_path: Path) -> Path:
    """A visit whose journal a full disk let into the file only as far as that had pages already."""
    path = tmp_path / "home.visit"
    VisitLog.create(path).close()
    size = path.stat().st_size
    with closing(VisitLog.open(path)) as log:
        for spot in SPOTS:
            log.spots.add(spot)
        journal = path.with_name("home.visit-wal").read_bytes()
    assert path.stat().st_size > size
    path.write_bytes(path.read_bytes()[:size])
    path.with_name("home.visit-wal").write_bytes(journal)
    return path


def _alone(visit: Path) -> Path:
    (visit.parent / "alone").mkdir()
    copy = visit.parent / "alone" / "home.visit"
    copy.write_bytes(visit.read_bytes())
    with pytest.raises(sqlite3.DatabaseError, match="malformed"), closing(sqlite3.connect(copy)) as db:
        db.execute("SELECT * FROM spot")
    return copy


def test_a_copy_without_its_journal_is_told_from_a_damaged_one_with_what_to_do(visit: Path) -> None:
    copy = _alone(visit)
    what, to_do = verify(copy).problems
    assert what.startswith("home.visit is not whole: it has ") and "home.visit-wal" in what
    assert to_do.startswith("Copy home.visit and home.visit-wal again, together, from the computer")
    with pytest.raises(StillvoltError) as refused:
        VisitLog.open(copy)
    assert refused.value.what == what and refused.value.next_step.startswith(to_do)
    (listed,) = search(copy.parent).refused
    assert what in listed.reason
    assert what in salvage(copy, visit.parent / "new.visit").remarks


def test_with_its_journal_it_is_whole_and_opening_it_takes_the_journal_in(visit: Path) -> None:
    assert verify(visit).sound
    with closing(VisitLog.open(visit)) as log:
        assert [spot.name for spot in log.spots.all()] == [spot.strip() for spot in SPOTS]
    assert not visit.with_name("home.visit-wal").exists()
    (visit.parent / "later").mkdir()
    copy = visit.parent / "later" / "home.visit"
    copy.write_bytes(visit.read_bytes())
    assert verify(copy).sound


def test_another_damage_is_called_damage(visit: Path) -> None:
    with closing(VisitLog.open(visit)):
        pass
    visit.write_bytes(visit.read_bytes()[:4096] + b"\xff" * (visit.stat().st_size - 4096))
    assert "home.visit-wal" not in " ".join(verify(visit).problems)
