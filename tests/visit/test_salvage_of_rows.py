"""Salvage keeps every row that its page still holds, whatever leads to the page or belongs to the row is lost."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from logger.cli.main import main
from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.metrology.checks import CheckKind
from logger.report.archive.entry import read_entry
from logger.report.compare.compared_visit import compared_visit
from logger.report.document.read_report_data import read_report_data
from logger.settling.events import Now, State
from logger.visit import VisitLog
from logger.visit.results.salvaged_readings import TRACE_LOST
from logger.visit.storage.placeholder_rows import LOST_PORT
from logger.visit.storage.read_only import open_checked
from logger.visit.storage.run_checksum import LineRow
from logger.visit.storage.run_writer import Batch, Counts, Heartbeat, RunWriter
from logger.visit.storage.salvage import Salvage, salvage
from logger.visit.storage.verification import verify
from tests.support.without_triggers import without_triggers
from tests.visit.test_versions import load

PAGE_BYTES = 4096
LINES = 3000
BEGAN_UTC_NS = 1_700_000_000 * NS_PER_S
SPOTS = ("Bed", "Desk")
VOIDED = "wrong socket"


@pytest.fixture
def visit(tmp_path: Path) -> Path:
    """A visit with one run of 3,000 lines, two spots, a circuit, 30 readings, one of them voided, and a check."""
    path = tmp_path / "home.visit"
    clock = ManualClock()
    VisitLog.create(path, clock).close()
    writer = RunWriter(
        path, utc_ns=BEGAN_UTC_NS, zone="Europe/Berlin", utc_offset_s=3600, port="test", settings="{}",
        software="test", pid=1,
    )  # fmt: skip
    for start in range(0, LINES, 100):
        lines: list[LineRow] = [
            (BEGAN_UTC_NS + n * NS_PER_S, n * NS_PER_S, "volts", n / 1000, b"%.3f" % (n / 1000))
            for n in range(start, start + 100)
        ]
        beat_ns = (start + 99) * NS_PER_S
        now = Now(State.SETTLING, 0.0, None, None, 0)
        writer.write(
            Batch(lines=lines), Heartbeat(BEGAN_UTC_NS + beat_ns, beat_ns, "open", "", now, [], Counts(), "")
        )
    writer.end(BEGAN_UTC_NS + LINES * NS_PER_S, LINES * NS_PER_S, "stopped")
    writer.close()
    with closing(VisitLog.open(path, clock)) as log:
        spots = [log.spots.add(name) for name in SPOTS]
        circuit = log.circuits.add("circuit", "Kitchen")
        log.checks.skip(CheckKind.ZERO, "no time")
        for number in range(30):
            log.readings.enter(
                spots[number % 2].id, "all on", 0.5 + number / 100, 0.01, frozenset({circuit.id})
            )
        log.readings.void(3, VOIDED)
    with closing(sqlite3.connect(path)) as db, db:
        db.execute(
            "INSERT INTO reading (utc_ns, run_id, spot_id, spot_name, condition, volts, u_volts, samples, start_t_ns, "
            "end_t_ns, first_line_id, last_line_id, taken) VALUES (?, 1, 1, 'Bed', '', 0.1, 0.01, 50, ?, ?, 10, 60, "
            "'settled')",
            (BEGAN_UTC_NS + 60 * NS_PER_S, 10 * NS_PER_S, 60 * NS_PER_S),
        )
    return path


def first_page_of(path: Path, table: str) -> int:
    with closing(sqlite3.connect(path)) as db:
        return int(db.execute("SELECT rootpage FROM sqlite_schema WHERE name = ?", (table,)).fetchone()[0])


def zero(path: Path, *pages: int) -> None:
    data = bytearray(path.read_bytes())
    for page in pages:
        data[(page - 1) * PAGE_BYTES : page * PAGE_BYTES] = bytes(PAGE_BYTES)
    path.write_bytes(data)


def kept(found: Salvage, table: str) -> int:
    return next(of.kept for of in found.tables if of.table == table)


def usable(path: Path, folder: Path) -> None:
    """Every command that reads a visit ends in order with this one."""
    assert main(["report", str(path), "--out", str(folder / "usable.html")]) == 0
    assert main(["export", str(path), "--out", str(folder / "usable")]) == 0
    assert main(["night", str(path)]) in (0, 1)
    archive = folder / "archive"
    archive.mkdir()
    shutil.copy(path, archive)
    assert main(["archive", str(archive)]) == 0


@pytest.mark.parametrize("missing_bytes", [1, 4096, 4097, 40_000])
def test_a_file_that_lost_its_end_keeps_every_row_before(
    visit: Path, tmp_path: Path, missing_bytes: int
) -> None:
    data = visit.read_bytes()
    visit.write_bytes(data[:-missing_bytes])
    found = salvage(visit, tmp_path / "new.visit")
    lost_pages = -(-missing_bytes // PAGE_BYTES)
    assert kept(found, "run") == 1
    # A page has about 100 of these lines.
    assert kept(found, "line") + kept(found, "reading") >= LINES + 31 - 120 * lost_pages
    assert not found.whole
    assert visit.read_bytes() == data[:-missing_bytes]


@pytest.mark.parametrize("offset", [0, 5, 15, 16, 17, *range(19, 24), 28, 31, 47, 100, 103, 104, 108, 110])
def test_one_changed_byte_of_the_first_page_costs_no_row(visit: Path, tmp_path: Path, offset: int) -> None:
    data = bytearray(visit.read_bytes())
    data[offset] ^= 0x41
    visit.write_bytes(data)
    found = salvage(visit, tmp_path / "new.visit")
    assert (kept(found, "line"), kept(found, "reading"), kept(found, "spot")) == (LINES, 31, 2)
    assert verify(tmp_path / "new.visit").runs[0].unchanged


@pytest.mark.parametrize("table", ["line", "reading"])
def test_the_pages_below_a_lost_one_are_found(visit: Path, tmp_path: Path, table: str) -> None:
    zero(visit, first_page_of(visit, table))
    found = salvage(visit, tmp_path / "new.visit")
    assert (kept(found, "line"), kept(found, "reading")) == (LINES, 31)
    assert not found.whole
    assert verify(tmp_path / "new.visit").runs[0].unchanged


def test_lines_whose_run_is_lost_are_kept_with_their_times(visit: Path, tmp_path: Path) -> None:
    new = tmp_path / "new.visit"
    zero(visit, first_page_of(visit, "run"), first_page_of(visit, "run_end"))
    found = salvage(visit, new)
    assert kept(found, "line") == LINES
    assert found.record.restored_runs == (1,)
    with closing(VisitLog.open(new)) as log:
        (run,) = log.runs.all()
        assert (run.started_utc_ns, run.port) == (BEGAN_UTC_NS, LOST_PORT)
        assert len(log.samples.after().volts) == LINES
        assert log.readings.all()[-1].start_utc_ns == BEGAN_UTC_NS + 10 * NS_PER_S
    usable(new, tmp_path)


def test_readings_whose_spot_is_lost_are_kept_with_its_name(visit: Path, tmp_path: Path) -> None:
    new = tmp_path / "new.visit"
    zero(visit, first_page_of(visit, "spot"))
    assert kept(salvage(visit, new), "reading") == 31
    with closing(VisitLog.open(new)) as log:
        assert [spot.name for spot in log.spots.all()] == list(SPOTS)
    usable(new, tmp_path)


def test_a_lost_circuit_gets_a_name_that_says_so(visit: Path, tmp_path: Path) -> None:
    new = tmp_path / "new.visit"
    zero(visit, first_page_of(visit, "source"))
    salvage(visit, new)
    with closing(VisitLog.open(new)) as log:
        assert [circuit.name for circuit in log.circuits.all()] == ["Circuit 1 (name lost)"]
    usable(new, tmp_path)


def test_every_table_lost_but_lines_and_readings_leaves_a_usable_visit(visit: Path, tmp_path: Path) -> None:
    new = tmp_path / "new.visit"
    others = (
        "fact",
        "run",
        "run_end",
        "event",
        "notice",
        "spot",
        "reading_void",
        "live",
        "check_result",
        "source",
    )
    zero(visit, *(first_page_of(visit, table) for table in others))
    found = salvage(visit, new)
    assert (kept(found, "line"), kept(found, "reading")) == (LINES, 31)
    usable(new, tmp_path)


@pytest.mark.parametrize(
    ("table", "words"),
    [("reading_void", "may have been voided"), ("check_result", "check may have failed")],
)
def test_what_is_not_known_since_is_kept_for_good(
    visit: Path, tmp_path: Path, table: str, words: str
) -> None:
    new, again = tmp_path / "new.visit", tmp_path / "again.visit"
    zero(visit, first_page_of(visit, table))
    assert words in salvage(visit, new).record.doubt_of_readings
    salvage(new, again)
    with closing(VisitLog.open(again)) as log:
        record = log.facts.salvage()
    assert record is not None
    assert words in record.doubt_of_readings
    assert record.sentence in " ".join(verify(again).remarks)


def test_a_visit_that_was_never_salvaged_says_nothing(visit: Path) -> None:
    with closing(VisitLog.open(visit)) as log:
        assert log.facts.salvage() is None
        assert [reading.void_reason for reading in log.readings.all()].count(VOIDED) == 1


def test_report_export_and_comparison_state_what_is_not_known(visit: Path, tmp_path: Path) -> None:
    new = tmp_path / "new.visit"
    zero(visit, first_page_of(visit, "reading_void"))
    sentence = salvage(visit, new).record.sentence
    with closing(VisitLog.open(new)) as log:
        data = read_report_data(log)
        assert data.salvage is not None
        assert sentence == data.salvage.sentence == compared_visit(log).salvage
        assert all("may have been voided" in data.doubts[reading.id] for reading in data.readings)
    assert main(["report", str(new), "--out", str(tmp_path / "new.html")]) == 0
    assert sentence in (tmp_path / "new.html").read_text(encoding="utf-8")
    assert main(["export", str(new), "--out", str(tmp_path / "new")]) == 0
    assert sentence in (tmp_path / "new" / "about.csv").read_text(encoding="utf-8")
    assert read_entry(new).salvaged


def test_a_reading_whose_run_is_missing_lacks_its_trace_and_raises_nothing(
    visit: Path, tmp_path: Path
) -> None:
    with without_triggers(visit) as db:
        db.execute("DELETE FROM run")
        db.execute("DELETE FROM line")
    with closing(VisitLog.open(visit)) as log:
        data = read_report_data(log)
    assert [TRACE_LOST in data.doubts.get(r.id, "") for r in data.readings] == [False] * 30 + [True]
    assert any("Run 1: it is missing" in problem for problem in verify(visit).problems)


def test_what_cannot_be_read_of_a_row_costs_that_field_or_that_row_and_no_other(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Letters of JSON and kinds are hit; `salvage` reads its own log by the code of the other commands, and says so."""
    content = load(5, tmp_path / "sound.visit").read_bytes()
    damaged = tmp_path / "damaged.visit"
    lost: dict[bytes, list[str]] = {}
    for letters in (b'"verdicts": {', b'"span": {'):
        damaged.write_bytes(content.replace(letters, letters[:-2] + b"\x01" + letters[-1:]))
        new = tmp_path / f"{len(lost)}.visit"
        assert main(["salvage", str(damaged), "--out", str(new)]) == 1
        printed = capsys.readouterr().out
        assert "can't be opened" not in printed
        lost[letters] = [line for line in printed.splitlines() if "field" in line or "row damaged" in line]
    assert list(lost.values()) == [
        ["reading: 6 rows kept. 3 rows lost a field that cannot be read."],
        ["check_result: 0 rows kept. 1 row damaged."],
    ]


def test_damage_that_shows_while_a_visit_is_opened_is_called_damage(visit: Path) -> None:
    zero(visit, first_page_of(visit, "reading"))
    with pytest.raises(StillvoltError, match=r"is damaged .*`stillvolt salvage VISIT --out NEW`"):
        VisitLog.open(visit)


def test_what_opens_a_visit_with_an_entry_that_it_cannot_read_names_the_command_that_helps(
    tmp_path: Path,
) -> None:
    content = load(5, tmp_path / "sound.visit").read_bytes()
    for byte in (b"\x01", b"\xff"):  # no JSON any more, and no text
        damaged = tmp_path / f"{byte[0]}.visit"
        damaged.write_bytes(content.replace(b'"verdicts": {', b'"verdicts":' + byte + b"{"))
        with pytest.raises(StillvoltError, match=r"\(an entry in it .*`stillvolt salvage VISIT --out NEW`"):
            open_checked(damaged)


def test_a_file_that_is_not_there_is_not_called_damaged(tmp_path: Path) -> None:
    with pytest.raises(StillvoltError, match="There is no visit log"):
        salvage(tmp_path / "gone.visit", tmp_path / "new.visit")
