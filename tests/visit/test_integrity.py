"""What a stranger or a bad disk changes in a visit log is found, and everything that was recorded in order agrees."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

import pytest

from logger.cli.main import main
from logger.clock import NS_PER_S, ManualClock
from logger.settling.events import Now, Settled, State, Step
from logger.visit import VisitLog
from logger.visit.storage.run_checksum import LineRow
from logger.visit.storage.run_writer import Batch
from logger.visit.storage.salvage import salvage
from logger.visit.storage.verification import verification_text, verify
from tests.support.visit_fixtures import Recording
from tests.support.without_triggers import without_triggers


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


def edit(visit: Path, *statements: str, without_checksums: bool = False) -> None:
    """Change a log as a stranger with a database program would: the triggers are there again afterwards.

    Args:
        visit: the log.
        statements: what is changed.
        without_checksums: make it a log that an older version wrote and this one opened.
    """
    with without_triggers(visit) as db:
        for sql in statements:
            db.execute(sql)
        if without_checksums:
            db.execute("DELETE FROM fact WHERE name LIKE 'checksum of%'")
            db.execute("DELETE FROM entry_checksum WHERE entry_table = 'fact'")
            db.execute(
                "INSERT INTO entry_checksum (entry_table, entry_id, digest) SELECT 'fact', id, x'' FROM fact"
            )
            db.execute("UPDATE entry_checksum SET digest = x''")
            db.execute("UPDATE entry_chain SET entries = (SELECT count(*) FROM entry_checksum), head = x''")
            db.execute("UPDATE live SET line_checksum = ''")


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
        ("UPDATE reading SET u_volts = -0.01 WHERE id = 2", "uncertainty of \N{MINUS SIGN}0.01 V"),
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
        ("DELETE FROM reading_void", "The void of reading 1: it was entered and is gone."),
        ("DELETE FROM reading WHERE id = 4", "The reading 4: it was entered and is gone."),
        ("UPDATE reading_void SET reason = 'x'", "The void of reading 1: it is not as it was entered"),
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
    found = log.integrity()
    assert found.sound
    assert "Nothing confirms 8 entries of before checksums were kept" in found.not_compared()
    assert "the lines of recording 1, of which no checksum was kept" in found.not_compared()


def test_a_renamed_spot_does_not_contradict_its_reading(log: VisitLog, visit: Path) -> None:
    log.spots.rename(1, "Bed, left")
    assert log.integrity().sound
    assert verify(visit).sound


@pytest.fixture
def finished(log: VisitLog, recording: Recording, visit: Path) -> Path:
    """The visit with statements, events and a notice, its recording ended."""
    log.facts.state_condition("everything on", None)
    log.facts.set("setup", '{"household": "Mill Lane"}')
    log.marks.add("kettle on")
    settled = Settled(0.4, 1.6, 0.27, 0.01, 1.6, 4)
    notice = (
        recording.clock.utc_ns(),
        recording.clock.steady_ns() - recording.started_ns,
        "meter",
        "It is low.",
    )
    recording.beat(Batch(events=[settled], notices=[notice]), Now(State.CHANGING, 0.0, None, None, 0))
    recording.writer.end(recording.clock.utc_ns(), 5 * NS_PER_S, "asked to stop")
    assert log.integrity().sound
    return visit


DAY_NS = 86_400 * NS_PER_S


@pytest.mark.parametrize(
    ("sql", "sentence"),
    [
        ("UPDATE event SET volts = 0.05", "Event 1 (settled): The log holds 0.05 V, and the mean"),
        ("UPDATE event SET volts = 0.05", "The event 1 (“settled”): it is not as it was entered"),
        ("UPDATE event SET known_at_t_ns = 0", "The event 1 (“settled”): it is not as it was entered"),
        ("DELETE FROM event", "The event 1: it was entered and is gone."),
        (f"UPDATE run SET started_utc_ns = started_utc_ns - {DAY_NS}, port = 'sim://house'",
         "The beginning of recording 1: it is not as it was entered"),
        ("UPDATE run SET settings = '{'", "The beginning of recording 1: it is not as it was entered"),
        ("UPDATE run SET zone = 'Eurqpe/Vienna'", "The beginning of recording 1: it is not as it was entered"),
        ("UPDATE run_end SET reason = 'the time was up'", "The end of recording 1: it is not as it was entered"),
        ("UPDATE notice SET message = 'It is full.'", "The notice 1 (“meter”): it is not as it was entered"),
        ("UPDATE fact SET value = 'everything off' WHERE name = 'condition'",
         "The statement 1 (“condition”): it is not as it was entered"),
        ("UPDATE fact SET value = replace(value, 'Mill', 'Hill') WHERE name = 'setup'",
         "The statement 2 (“setup”): it is not as it was entered"),
        ("INSERT INTO fact (utc_ns, name, value) VALUES (1, 'condition', 'everything off')",
         "The statement 4 (“condition”) has no checksum"),
        ("UPDATE spot SET name = 'Bunk' WHERE id = 1", "The spot 1 (“Bunk”): it is not as it was entered"),
        ("INSERT INTO reading_void VALUES (2, 1, 'by hand')", "The void of reading 2 has no checksum"),
        ("UPDATE mark SET text = 'kettle off'", "The mark 1: it is not as it was entered"),
        ("UPDATE entry_checksum SET digest = x'' WHERE id = 3", "The checksums of its entries are not those"),
        ("DELETE FROM entry_chain", "The number of entries that were written is gone"),
    ],
)  # fmt: skip
def test_a_changed_entry_of_any_kind_is_found(log: VisitLog, finished: Path, sql: str, sentence: str) -> None:
    edit(finished, sql)
    assert sentence in " ".join(log.integrity().others)
    found = verify(finished)
    assert not found.sound
    assert sentence in verification_text(found)


def test_a_last_reading_removed_with_its_checksum_is_missed(log: VisitLog, finished: Path) -> None:
    gone = "entry_table = 'reading' AND entry_id = 4"
    edit(finished, "DELETE FROM reading WHERE id = 4", f"DELETE FROM entry_checksum WHERE {gone}")
    count = len(log.integrity().others)
    assert count == 1
    assert (
        "The log holds the checksums of 14 entries and changes, and 15 were written."
        in log.integrity().others
    )


def test_the_last_entries_removed_with_all_their_checksums_are_missed(log: VisitLog, visit: Path) -> None:
    edit(
        visit,
        "DELETE FROM reading WHERE id > 2",
        "DELETE FROM entry_checksum WHERE id >= (SELECT min(id) FROM entry_checksum WHERE entry_table = 'reading' "
        "AND entry_id > 2)",
    )
    assert "entries and changes, and 8 were written" in " ".join(log.integrity().others)


def test_what_another_program_wrote_gets_no_checksum_from_what_is_entered_after_it(
    log: VisitLog, finished: Path
) -> None:
    edit(
        finished,
        "INSERT INTO fact (utc_ns, name, value) VALUES (1, 'condition', 'everything off')",
        "UPDATE spot SET name = 'Bunk' WHERE id = 1",
    )
    log.spots.describe(1, "Attic", "")
    log.spots.move(2, -1)
    log.facts.set("condition", "everything on")
    spot, statement = log.integrity().others
    assert spot.startswith("The spot 1 (“Bunk”): it is not as it was entered")
    assert statement.startswith("The statement 4 (“condition”) has no checksum")


@pytest.mark.parametrize("is_ended", [False, True])
def test_a_line_that_holds_another_value_than_its_text_is_found(
    log: VisitLog, recording: Recording, is_ended: bool
) -> None:
    lines: list[LineRow] = [(n, n, "volts", 0.54, b"0.540 V AC") for n in range(3)]
    recording.beat(Batch(lines=lines), Now(State.SETTLING, 0.0, None, None, 0))
    if is_ended:
        recording.writer.end(3, 3, "asked to stop")
    assert verify(log.path).sound
    edit(log.path, "UPDATE line SET volts = 0.05 WHERE id = 2")
    problems = " ".join(verify(log.path).problems)
    assert "Run 1: line 2 holds 0.05 V, and its text “0.540 V AC” is 0.54 V." in problems
    assert "its 3 lines are not the 3 that were recorded" in problems


def test_a_changed_byte_of_a_recording_without_an_end_is_found(log: VisitLog, visit: Path) -> None:
    assert verify(visit).runs[0].unchanged
    edit(visit, "UPDATE line SET raw = x'79' WHERE id = 3")
    assert not verify(visit).runs[0].unchanged
    assert "its 12 lines are not the 12 that were recorded" in log.changed_lines()


def test_a_recording_that_lost_the_checksum_of_its_lines_is_found(log: VisitLog, visit: Path) -> None:
    edit(visit, "UPDATE live SET line_checksum = ''")
    assert "Recording 1: the checksum of its lines is gone." in log.integrity().others


def test_two_processes_and_a_recording_cut_off_leave_one_chain(
    log: VisitLog, recording: Recording, visit: Path, clock: ManualClock
) -> None:
    step = Step(1.0, 0.3, 0.6, 0.01, 1.2)
    recording.beat(Batch(events=[step]), Now(State.CHANGING, 0.0, None, None, 0))
    with closing(VisitLog.open(visit, clock)) as other:
        other.spots.add("Sofa")
        recording.beat(Batch(events=[step]), Now(State.CHANGING, 0.0, None, None, 0))
        log.spots.rename(1, "Bed, left")
    recording.samples([0.3, 0.301] * 10)
    recording.writer.close()
    recording.start()
    kinds = [event.event.kind for event in log.events.after()]
    assert kinds[:2] == ["step", "step"] and kinds[-1] == "settled", "the last one from the lines"
    assert log.integrity().sound, log.integrity().sentences()


@pytest.mark.parametrize(
    ("sql", "kept"),
    [
        ("UPDATE fact SET value = 'everything off' WHERE name = 'condition'",
         "It holds 1 entry not as written (the checksum differs)."),
        ("INSERT INTO mark (utc_ns, text) VALUES (1, 'x')",
         "It holds 1 entry without a checksum, which nothing confirms."),
        ("DELETE FROM mark", "entry_checksum: 14 rows kept.\n1 row belonged to one that is lost."),
    ],
)  # fmt: skip
def test_a_salvage_keeps_the_checksums_and_what_of_them_held(
    log: VisitLog, finished: Path, tmp_path: Path, sql: str, kept: str
) -> None:
    whole = tmp_path / "whole.visit"
    salvage(finished, whole, ManualClock())
    assert verify(whole).sound
    edit(finished, sql)
    out = tmp_path / "salvaged.visit"
    assert kept in salvage(finished, out).record.lost
    with closing(VisitLog.open(out)) as salvaged:
        is_changed = "UPDATE" in sql
        assert salvaged.integrity().sound is not is_changed
        salvaged.marks.add("after it")
        assert salvaged.integrity().sound is not is_changed


def test_the_command_that_exports_says_it_in_the_terminal_too(
    log: VisitLog, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log.spots.add("Bed")
    edit(log.path, "UPDATE spot SET name = 'Desk'")
    assert main(["export", str(log.path), "--out", str(tmp_path / "out"), "--format", "csv"]) == 0
    assert "damaged or was changed" in capsys.readouterr().err
