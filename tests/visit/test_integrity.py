"""What a stranger or a bad disk changes in a visit log is found, and everything that was recorded in order agrees."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from logger.settling.events import State
from logger.visit import VisitLog
from logger.visit.storage.entry_checksum import entry_fact
from logger.visit.storage.verification import verification_text, verify


@pytest.fixture
def visit(log: VisitLog, recording) -> Path:
    bed, desk = log.spots.add("Bed"), log.spots.add("Desk")
    recording.samples([0.26, 0.27, 0.28, 0.27])
    log.readings.take(bed.id, "everything on")
    log.readings.void(1, "moved")
    recording.samples([0.26, 0.27, 0.28, 0.27])
    log.readings.take(desk.id, "everything on")
    recording.samples([0.4, 0.6, 0.4, 0.6], State.CHANGING)
    log.readings.take(desk.id, "everything off", override=True)
    log.readings.enter(bed.id, "everything off", 0.1, 0.01)
    return log.path


def edit(visit: Path, sql: str, *, without_checksums: bool = False) -> None:
    """Change a log as a stranger with a database program would: the triggers are there again afterwards."""
    with closing(sqlite3.connect(visit)) as db:
        triggers = db.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            db.execute(f"DROP TRIGGER {name}")
        db.execute(sql)
        if without_checksums:
            db.execute("DELETE FROM fact WHERE name LIKE 'checksum of%'")
        for _, trigger in triggers:
            db.execute(trigger)
        db.commit()


def test_what_was_recorded_and_taken_in_order_agrees(log: VisitLog, visit: Path) -> None:
    found = log.integrity()
    assert found.sound, found.sentences()
    assert found.by_hand == (4,)
    assert found.summary() == ""
    assert "Entered by hand, so that no lines can confirm them: reading 4." in verification_text(
        verify(visit)
    )


@pytest.mark.parametrize("without_checksums", [False, True])
@pytest.mark.parametrize(
    ("sql", "sentence"),
    [
        ("UPDATE reading SET volts = 0.135 WHERE id = 2", "holds 0.135 V, and the mean of the samples .* 0.27 V"),
        ("UPDATE reading SET volts = -0.27 WHERE id = 2", "no AC voltage"),
        ("UPDATE reading SET u_volts = -0.01 WHERE id = 2", "uncertainty of -0.01 V"),
        ("UPDATE reading SET samples = 400 WHERE id = 2", "says 400 samples"),
        ("UPDATE reading SET last_line_id = 900 WHERE id = 2", "lines that it rests on are missing"),
        ("UPDATE reading SET first_line_id = 9 WHERE id = 2", "end before they begin"),
        ("UPDATE reading SET start_t_ns = start_t_ns + 60000000000 WHERE id = 2", "times that the log holds"),
        ("UPDATE reading SET utc_ns = utc_ns + 86400000000000 WHERE id = 2", "from its last line"),
        ("UPDATE reading SET taken = 'guessed' WHERE id = 2", "guessed"),
        ("UPDATE reading SET spot_id = 1 WHERE id = 2", "taken for “Desk”, and the log counts it for “Bed”"),
        ("UPDATE line SET volts = 0.9 WHERE id BETWEEN 5 AND 8", "the mean of the samples it rests on is 0.9 V"),
    ],
)  # fmt: skip
def test_a_changed_reading_does_not_agree_with_its_lines(
    log: VisitLog, visit: Path, sql: str, sentence: str, without_checksums: bool
) -> None:
    edit(visit, sql, without_checksums=without_checksums)
    found = log.integrity()
    assert 2 in found.readings
    with pytest.raises(AssertionError, match=sentence):
        raise AssertionError(found.readings[2])
    assert found.summary().startswith(
        "This visit log is damaged or was changed after it was recorded: reading"
    )
    assert not verify(visit).sound


def test_a_changed_scatter_of_an_unsettled_value_is_found(log: VisitLog, visit: Path) -> None:
    edit(visit, "UPDATE reading SET u_volts = 0.01 WHERE id = 3", without_checksums=True)
    assert "scatter" in log.integrity().readings[3]


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE reading SET volts = 0.2 WHERE id = 4",
        "UPDATE reading SET condition = 'everything on' WHERE id = 4",
        "UPDATE reading SET spot_name = 'Couch' WHERE id = 4",
    ],
)
def test_what_no_lines_confirm_is_confirmed_by_its_checksum(log: VisitLog, visit: Path, sql: str) -> None:
    edit(visit, sql)
    assert list(log.integrity().readings) == [4]


@pytest.mark.parametrize(
    ("sql", "sentence"),
    [
        ("DELETE FROM reading_void", "The void of reading 1 was entered and is gone."),
        ("DELETE FROM reading WHERE id = 4", "The reading 4 was entered and is gone."),
        ("UPDATE reading_void SET reason = 'x'", "The void of reading 1 is not as it was entered"),
    ],
)
def test_an_entry_that_is_gone_is_missed(log: VisitLog, visit: Path, sql: str, sentence: str) -> None:
    edit(visit, sql)
    assert sentence in " ".join(log.integrity().others)


def test_an_event_of_no_kind_is_found(log: VisitLog, visit: Path) -> None:
    edit(
        visit,
        "INSERT INTO event (run_id, kind, start_t_ns, end_t_ns, known_at_t_ns) VALUES (1, 'nonsense', 0, 1, 1)",
    )
    assert "'nonsense'" in " ".join(log.integrity().others)


def test_a_reading_of_an_older_version_has_no_checksum_and_agrees(log: VisitLog, visit: Path) -> None:
    edit(visit, "SELECT 1", without_checksums=True)
    assert log.facts.get(entry_fact("reading", 2)) == ""
    assert log.integrity().sound


def test_a_renamed_spot_does_not_contradict_its_reading(log: VisitLog, visit: Path) -> None:
    log.spots.rename(1, "Bed, left")
    assert log.integrity().sound
    assert verify(visit).sound
