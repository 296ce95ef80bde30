"""A damaged visit log is described in words, and what can be read of it comes into a new one."""

from __future__ import annotations

import random
import re
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from logger.cli.main import main
from logger.clock import ManualClock
from logger.errors import StillvoltError
from logger.settling.events import Now, State
from logger.visit import VisitLog
from logger.visit.results.value_verification import SettledSpan, why_not_of_samples
from logger.visit.storage import connection as _connection
from logger.visit.storage.connection import write_schema
from logger.visit.storage.line_text import distinct_volts
from logger.visit.storage.read_only import checked_log
from logger.visit.storage.run_checksum import LineRow
from logger.visit.storage.run_writer import Batch, Counts, Heartbeat, RunWriter
from logger.visit.storage.salvage import salvage
from logger.visit.storage.verification import verification_text, verify
from tests.support.visit_fixtures import Recording
from tests.support.without_triggers import without_triggers
from tests.visit.test_foreign_file import HOSTILE
from tests.visit.test_versions import load

DEMO = Path(__file__).parents[2] / "fixtures" / "demo" / "garden_flat.visit"
PAGE_BYTES = 4096

FIRST_CELL_AT = 105
"""Where the first page states the place of its rows (SQLite, "Database File Format", 1.6)."""


@pytest.fixture
def ended(tmp_path: Path) -> Path:
    """A visit with one run of 400 lines that ended in order."""
    path = tmp_path / "home.visit"
    VisitLog.create(path, ManualClock()).close()
    writer = RunWriter(
        path, utc_ns=0, zone="UTC", utc_offset_s=0, port="test", settings="{}", software="test", pid=1
    )
    for start in range(0, 400, 100):
        lines: list[LineRow] = [
            (n, n, "volts", n / 1000, b"%.3f" % (n / 1000)) for n in range(start, start + 100)
        ]
        now = Now(State.SETTLING, 0.0, None, None, 0)
        writer.write(Batch(lines=lines), Heartbeat(start, start, "open", "", now, [], Counts(), ""))
    writer.end(500, 500, "stopped")
    writer.close()
    return path


def test_an_index_that_lacks_an_entry_is_damage_although_every_row_is_there(
    ended: Path, tmp_path: Path
) -> None:
    """One bit, in an index: what is looked up by it would be taken for an entry that never had a checksum."""
    with closing(VisitLog.open(ended)) as opened:
        opened.spots.add("Bed")
    content = ended.read_bytes()
    # An entry of an index: a header of four bytes, then the table's name (SQLite, "Database File Format", 2.1).
    (found,) = re.finditer(rb"\x04\x15..spot", content, re.DOTALL)
    ended.write_bytes(content[: found.end() - 4] + b"s0ot" + content[found.end() :])
    with closing(sqlite3.connect(ended)) as db:
        assert db.execute("PRAGMA quick_check(1)").fetchone()[0] == "ok"
    with pytest.raises(StillvoltError, match="missing from index"), checked_log(ended):
        pass
    assert main(["archive", str(tmp_path)]) == 1 and not verify(ended).sound


def test_a_sound_visit_is_called_sound(ended: Path) -> None:
    found = verify(ended)
    assert found.sound
    assert [(run.lines, run.kept_lines, run.unchanged) for run in found.runs] == [(400, 400, True)]
    assert found.counts["line"] == 400


def test_one_changed_digit_of_one_line_is_found(ended: Path) -> None:
    with closing(sqlite3.connect(ended)) as db, db:
        (sql,) = db.execute("SELECT sql FROM sqlite_schema WHERE name = 'line_keeps_update'").fetchone()
        db.execute("DROP TRIGGER line_keeps_update")
        db.execute("UPDATE line SET volts = volts + 0.001 WHERE id = 200")
        db.execute(sql)
    found = verify(ended)
    assert not found.sound
    assert found.runs[0].unchanged is False
    with pytest.raises(StillvoltError, match="Run 1: its 400 lines are not the 400"), checked_log(ended):
        pass
    before = ended.read_bytes()
    trace = ended.with_name("more.csv")
    trace.write_text("time_s,volts\n" + "".join(f"{second},0.3\n" for second in range(10)))
    assert main(["import", str(trace), "--visit", str(ended), "--began", "2026-01-02T22:00:00Z"]) == 1
    assert ended.read_bytes() == before


def test_lines_that_are_gone_without_a_trace_are_lost_when_it_is_salvaged(
    ended: Path, tmp_path: Path
) -> None:
    with closing(sqlite3.connect(ended)) as db, db:
        (sql,) = db.execute("SELECT sql FROM sqlite_schema WHERE name = 'line_keeps_delete'").fetchone()
        db.execute("DROP TRIGGER line_keeps_delete")
        db.execute("DELETE FROM line WHERE id = 200")
        db.execute(sql)
    found = salvage(ended, tmp_path / "new.visit")
    assert not found.whole
    assert "its 399 lines are not the 400" in " ".join(found.remarks)
    with checked_log(tmp_path / "new.visit") as log:  # it says that it was salvaged, and can be reported
        assert len(log.samples.after().volts) == 399


def test_a_run_that_goes_on_has_no_checksum_yet(tmp_path: Path) -> None:
    path = tmp_path / "home.visit"
    VisitLog.create(path).close()
    writer = RunWriter(
        path, utc_ns=0, zone="UTC", utc_offset_s=0, port="test", settings="{}", software="test", pid=1
    )
    found = verify(path)
    writer.close()
    assert found.sound
    assert found.runs[0].unchanged is None


def test_a_sound_visit_is_salvaged_whole(ended: Path, tmp_path: Path) -> None:
    found = salvage(ended, tmp_path / "new.visit")
    assert found.whole
    again = verify(tmp_path / "new.visit")
    assert again.sound
    assert again.runs[0].unchanged


def test_what_verify_finds_fault_with_is_never_salvaged_as_whole(
    ended: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = bytearray(ended.read_bytes())
    data[FIRST_CELL_AT] ^= 0xFF
    ended.write_bytes(bytes(data))
    assert main(["verify", str(ended)]) == 1
    assert main(["salvage", str(ended), "--out", str(tmp_path / "new.visit")]) == 1
    printed = capsys.readouterr().out
    assert "must be looked at with care" in printed
    assert "Something was lost or is in doubt" in printed
    assert len(verify(tmp_path / "new.visit").remarks) > 0


@pytest.mark.parametrize("seed", [1])
@pytest.mark.long
def test_zeroed_pages_cost_what_was_in_them_and_no_more(tmp_path: Path, seed: int) -> None:
    damaged = Path(shutil.copy(DEMO, tmp_path / "damaged.visit"))
    data = bytearray(damaged.read_bytes())
    pages = len(data) // PAGE_BYTES
    # Behind the pages of the list of tables, whose loss is another test.
    for page in random.Random(seed).sample(range(100, pages), 5):
        data[page * PAGE_BYTES : (page + 1) * PAGE_BYTES] = bytes(PAGE_BYTES)
    damaged.write_bytes(bytes(data))
    before = damaged.read_bytes()
    assert not verify(damaged).sound
    found = salvage(damaged, tmp_path / "new.visit")
    assert not found.whole
    assert damaged.read_bytes() == before
    lines = next(table for table in found.tables if table.table == "line")
    with closing(sqlite3.connect(DEMO)) as db:
        recorded = db.execute("SELECT count(*) FROM line").fetchone()[0]
    again = verify(tmp_path / "new.visit")
    lost = {run.run_id: run.kept_lines - run.lines for run in again.runs if run.kept_lines and run.lines}
    assert sum(lost.values()) == recorded - lines.kept, (
        "the checksums that came over tell how many lines are gone"
    )
    short = [run_id for run_id, count in lost.items() if count]
    of_runs = [text for text in again.problems if text.startswith("Run ")]
    assert all(f"Run {i}: " in text for i, text in zip(short, of_runs, strict=True))
    entered_and_gone = [text for text in again.problems if text not in of_runs]
    assert all(text.endswith("was entered and is gone.") for text in entered_and_gone), "else it is sound"
    lost_entries = any(
        not table.whole for table in found.tables if table.table in ("reading", "check_result")
    )
    assert lost_entries or not entered_and_gone
    assert lines.kept > 0.95 * recorded
    assert main(["report", str(tmp_path / "new.visit"), "--out", str(tmp_path / "new.html")]) == 0


@pytest.mark.parametrize("what", HOSTILE)
def test_the_readings_of_a_foreign_file_come_over_and_nothing_else(
    ended: Path, tmp_path: Path, what: str
) -> None:
    with closing(sqlite3.connect(ended)) as db:
        db.executescript(HOSTILE[what])
    found = salvage(ended, tmp_path / "new.visit")
    assert next(table.kept for table in found.tables if table.table == "line") == 400
    with closing(VisitLog.open(tmp_path / "new.visit")) as log:
        assert len(log.samples.after().volts) == 400


@pytest.mark.parametrize("pages", [[1], [1, 2]])
def test_a_lost_list_of_tables_is_replaced_by_that_of_a_new_log(
    ended: Path, tmp_path: Path, pages: list[int]
) -> None:
    data = bytearray(ended.read_bytes())
    for page in pages:
        data[(page - 1) * PAGE_BYTES : page * PAGE_BYTES] = bytes(PAGE_BYTES)
    ended.write_bytes(bytes(data))
    found = salvage(ended, tmp_path / "new.visit")
    assert "list of tables was damaged" in " ".join(found.remarks)
    assert not found.whole
    assert next(table.kept for table in found.tables if table.table == "line") == 400
    if pages == [1]:
        again = verify(tmp_path / "new.visit")
        assert again.sound
        assert again.runs[0].unchanged


def test_of_a_log_that_was_upgraded_the_tables_of_its_first_version_come_over(tmp_path: Path) -> None:
    path = tmp_path / "old.visit"
    write_schema(path, version=1)
    with (
        closing(sqlite3.connect(load(1, tmp_path / "rows.visit"))) as rows,
        closing(sqlite3.connect(path)) as db,
        db,
    ):
        for table in ("run", "spot", "line", "reading"):
            for row in rows.execute(f"SELECT * FROM {table}"):
                db.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(row))})", row)
    with closing(VisitLog.open(path)) as log:
        before = [(reading.spot_name, reading.volts) for reading in log.readings.all()]
    data = bytearray(path.read_bytes())
    data[:PAGE_BYTES] = bytes(PAGE_BYTES)
    path.write_bytes(bytes(data))
    salvage(path, tmp_path / "new.visit")
    with closing(VisitLog.open(tmp_path / "new.visit")) as log:
        assert [(reading.spot_name, reading.volts) for reading in log.readings.all()] == before


@pytest.mark.parametrize("what", ["text", "empty", "another database", "cut to its first page"])
def test_what_cannot_be_read_at_all_leaves_no_new_file(ended: Path, tmp_path: Path, what: str) -> None:
    path = tmp_path / "bad.visit"
    if what == "another database":
        with closing(sqlite3.connect(path)) as db, db:
            db.execute("CREATE TABLE recipe (name TEXT)")
    else:
        content = {
            "text": b"time_s,volts\n" * 99,
            "empty": b"",
            "cut to its first page": ended.read_bytes()[:4096],
        }
        path.write_bytes(content[what])
    with pytest.raises(StillvoltError, match="Nothing could be read"):
        salvage(path, tmp_path / "new.visit")
    assert not (tmp_path / "new.visit").exists()


def test_verify_describes_every_damage_without_a_traceback(tmp_path: Path) -> None:
    """Flipped bits, zeroed pages and truncations of a small visit, by seed; the campaign is scripts/bench/faults.py."""
    content = tmp_path / "small.visit"
    VisitLog.create(content, ManualClock()).close()
    data = content.read_bytes()
    random_ = random.Random(5)
    for number in range(60):
        changed = bytearray(data)
        kind = number % 3
        if kind == 0:
            for _ in range(8):
                changed[random_.randrange(100, len(changed))] ^= 1 << random_.randrange(8)
        elif kind == 1:
            at = random_.randrange(0, len(changed) // PAGE_BYTES) * PAGE_BYTES
            changed[at : at + PAGE_BYTES] = bytes(PAGE_BYTES)
        else:
            del changed[random_.randrange(0, len(changed)) :]
        path = tmp_path / f"{number}.visit"
        path.write_bytes(bytes(changed))
        try:
            found = verify(path)
        except StillvoltError as error:
            assert str(error)
        else:
            assert found.sound or all(found.problems)


def test_two_values_that_differ_are_never_given_alike() -> None:
    assert distinct_volts(0.0799, 0.0823) == ("0.0799", "0.0823")
    assert distinct_volts(0.0799000001, 0.0799) == ("0.0799000001", "0.0799")


def test_verify_says_where_a_run_without_an_end_breaks_off(log: VisitLog, recording: Recording) -> None:
    recording.samples([0.3] * 5)
    broken_off = "It breaks off after line 5: no end was written"
    assert broken_off in verification_text(verify(log.path))
    recording.writer.end(
        recording.clock.utc_ns(), recording.clock.steady_ns() - recording.started_ns, "stopped"
    )
    assert "no end was written" not in verification_text(verify(log.path))


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        (b'"calibrated_on": ""', b'"calibrated_on": "2026-02m03"'),
        (b'"assumed": [', b'"assumed": \x1b'),
        (b'"assumed": [', b'"assumed": \xa0'),
    ],
)
def test_a_field_that_nothing_can_read_is_found_where_no_checksum_tells_and_salvage_does_without_it(
    tmp_path: Path, right: bytes, wrong: bytes
) -> None:
    """An older version kept no checksum of an entry, and the damaged one is text and JSON, or no longer either."""
    path, new = load(3, tmp_path / "old.visit"), tmp_path / "new.visit"
    with without_triggers(path) as db:
        content = db.execute("SELECT CAST(context AS BLOB) FROM reading WHERE id = 4").fetchone()[0]
        changed = content.replace(right, wrong)
        db.execute("UPDATE reading SET context = CAST(? AS TEXT) WHERE id = 4", (changed,))
    assert changed != content
    found = verify(path)
    assert not found.sound
    assert any("The reading 4 cannot be read" in problem for problem in found.problems)
    salvage(path, new, ManualClock())
    with checked_log(new) as log:
        assert [reading.context for reading in log.readings.all() if reading.id == 4] in ([None], [])


def test_a_list_of_tables_that_is_no_text_is_told_as_damage(ended: Path) -> None:
    content = ended.read_bytes()
    at = content.index(b"CREATE TABLE spot")
    ended.write_bytes(content[: at + 30] + b"\xa0" + content[at + 31 :])
    with pytest.raises(StillvoltError, match="damaged"):
        VisitLog.open(ended)
    assert not verify(ended).sound


def test_a_disk_that_fills_while_it_is_salvaged_is_told_and_leaves_no_file(
    ended: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    open_existing = _connection.open_existing

    def with_little_room(path: Path) -> sqlite3.Connection:
        connection = open_existing(path)
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages + 1}")
        return connection

    monkeypatch.setattr(_connection, "open_existing", with_little_room)
    made = tmp_path / "made.visit"
    assert main(["salvage", str(ended), "--out", str(made)]) == 1
    said = capsys.readouterr().err
    assert (
        "could not be made" in said and "See whether the disk is full." in said and "unexpected" not in said
    )
    assert not list(tmp_path.glob("made*"))


@pytest.mark.filterwarnings("error")
def test_a_sample_that_is_no_number_is_told_and_not_computed_with() -> None:
    span = SettledSpan(0, 2_000_000_000, 0.3, 0.01, 3)
    volts = np.array([0.3, np.inf, 0.3])
    t_ns = np.array([0, 1_000_000_000, 2_000_000_000])
    assert why_not_of_samples(span, t_ns, volts) == "A sample that it rests on is no number."
