"""A visit that was made to exhaust, mislead or end the program is refused in one sentence before it is read."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.report.archive.search import search
from logger.report.document.write_report import write_report
from logger.visit import VisitLog
from logger.visit.storage.connection import open_existing
from logger.visit.storage.content_limits import MAX_ROWS, MAX_TEXT_BYTES, limited_in_time
from logger.visit.storage.read_only import checked_log, open_checked
from logger.visit.storage.salvage import salvage
from logger.visit.storage.verification import verify
from tests.support.hostile_visits import make_hostile, statements

LATER = Path(__file__).parents[2] / "fixtures" / "demo" / "garden_flat_later.visit"

HOSTILE = statements()

AS_SOUND = {"a number as a name", "a zone of no land", "a check of no kind", "settings that are a list"}
"""What a visit can hold as far as SQLite and the program's own rules go: it is read, and leads nowhere."""


@pytest.mark.parametrize("what", [what for what in HOSTILE if what not in AS_SOUND])
def test_a_hostile_visit_is_refused_by_every_way_in(tmp_path: Path, what: str) -> None:
    path = make_hostile(LATER, tmp_path / "sent.visit", HOSTILE[what])
    before = path.read_bytes()
    with pytest.raises(StillvoltError) as refused:
        open_checked(path).close()
    assert "\n" not in str(refused.value)
    with pytest.raises(StillvoltError), checked_log(path) as log:
        log.read_once()
    assert path.read_bytes() == before
    with closing(VisitLog.create(tmp_path / "other.visit")):
        pass


def test_a_recorder_is_told_in_a_sentence_that_the_state_in_a_visit_is_none(tmp_path: Path) -> None:
    path = make_hostile(LATER, tmp_path / "sent.visit", HOSTILE["a state of no kind"])
    with closing(VisitLog.open(path)) as log, pytest.raises(StillvoltError, match="is damaged"):
        log.recorder.live()


@pytest.mark.parametrize("what", sorted(AS_SOUND))
def test_what_is_strange_and_harmless_is_read(tmp_path: Path, what: str) -> None:
    path = make_hostile(LATER, tmp_path / "sent.visit", HOSTILE[what])
    try:
        write_report(path, tmp_path / "report.html")
    except StillvoltError as refused:
        assert "damaged" in str(refused)
    else:
        assert (
            "passwd" not in (tmp_path / "report.html").read_text(encoding="utf-8")
            or what == "a zone of no land"
        )


@pytest.mark.parametrize("what", HOSTILE)
def test_verify_and_salvage_end_and_the_new_visit_is_sound(tmp_path: Path, what: str) -> None:
    path = make_hostile(LATER, tmp_path / "sent.visit", HOSTILE[what])
    assert verify(path).to_json()
    out = tmp_path / "new.visit"
    salvage(path, out)
    # What the file holds in words of our own (JSON, kinds) is not looked into; values and sizes are.
    with closing(open_existing(out)) as db:
        assert db.execute("PRAGMA quick_check").fetchone()[0] == "ok"


def test_a_sound_visit_is_within_every_limit(tmp_path: Path) -> None:
    path = make_hostile(LATER, tmp_path / "sound.visit", "SELECT 1")
    with closing(open_checked(path)) as log:
        assert len(log.spots.all()) == 8
    assert verify(path).sound


def test_the_largest_that_is_allowed_is_opened(tmp_path: Path) -> None:
    with closing(sqlite3.connect(LATER)) as db:
        spots = db.execute("SELECT count(*) FROM spot").fetchone()[0]
        removed = db.execute("SELECT count(*) FROM spot WHERE removed_utc_ns IS NOT NULL").fetchone()[0]
    path = make_hostile(
        LATER,
        tmp_path / "large.visit",
        f"WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n LIMIT {MAX_ROWS['spot'] - spots}) "
        "INSERT INTO spot (name, position, room, reminder) SELECT 's' || i, i, '', '' FROM n; "
        f"UPDATE mark SET text = replace(hex(zeroblob({MAX_TEXT_BYTES // 2})), '0', 'x')",
    )
    with closing(open_checked(path)) as log:
        assert len(log.spots.all()) == MAX_ROWS["spot"] - removed


def test_an_archive_lists_the_damaged_ones_and_goes_on(tmp_path: Path) -> None:
    make_hostile(LATER, tmp_path / "a.visit", "SELECT 1")
    make_hostile(LATER, tmp_path / "b.visit", HOSTILE["many spots"])
    damaged = bytearray(LATER.read_bytes())
    damaged[-4096:] = bytes(4096)
    (tmp_path / "c.visit").write_bytes(damaged)
    found = search(tmp_path)
    assert [entry.path.name for entry in found.visits] == ["a.visit"]
    assert {refused.path.name for refused in found.refused} == {"b.visit", "c.visit"}
    assert all(refused.reason.endswith(".") for refused in found.refused)


def test_a_check_that_takes_too_long_is_ended() -> None:
    clock = ManualClock()

    def advance() -> int:
        clock.advance_ns(NS_PER_S)
        return 1

    with closing(sqlite3.connect(":memory:")) as db:
        db.create_function("advance", 0, advance)
        endless = (
            "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + advance() FROM n) SELECT count(*) FROM n"
        )
        with (
            pytest.raises(StillvoltError, match="took longer than 60 s"),
            limited_in_time(db, "sent.visit", 60.0, clock),
        ):
            db.execute(endless).fetchone()
        assert db.execute("SELECT 1").fetchone() == (1,), "the connection can be used afterwards"
