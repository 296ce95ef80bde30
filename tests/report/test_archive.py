"""The archive: what it says of each visit, what it finds, and that it changes nothing."""

from __future__ import annotations

import calendar
import hashlib
import json
import os
import sqlite3
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from gui.model.visit_snapshot import VisitSnapshot
from logger.cli.main import main
from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.metrology.setup import Setup
from logger.report.archive.entry import ArchiveEntry, Highest, read_entry
from logger.report.archive.listing import archive_json, archive_text
from logger.report.archive.search import Archive, Search, search
from logger.report.document.read_report_data import read_report_data
from logger.settling.events import Now, State
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.home_details import SourceDetails, SpotDetails
from logger.visit.records.remedy_records import RemedyDecision, RemedyEntry, RemedyKind
from logger.visit.storage.bare_connection import opened_read_only
from logger.visit.storage.run_checksum import LineRow
from logger.visit.storage.run_writer import Batch, Counts, Heartbeat, RunWriter
from logger.visit.storage.schema import USER_VERSION
from logger.visit.storage.visit_folder import visits_in
from tests.support.other_language import OtherLanguage, speak, unspoken

VERSION_1 = Path(__file__).parents[2] / "fixtures/visits/version_1.sql"
HOUR_NS = 3600 * NS_PER_S
ENTRY = ArchiveEntry(
    Path("mill.visit"), USER_VERSION, "Mill", None, (), (), 0, None, None, False, False, False, ()
)


def test_a_line_of_the_archive_is_in_the_language_that_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = replace(
        ENTRY, damage="x", simulated="simulated in part", salvaged=True, readings=2, highest_on=Highest(1.2, "7"),
        highest_off=Highest(0.149, "8"), has_sweep=True, has_night=True, day=date(2026, 5, 4),
        stretches=((date(2026, 5, 4), date(2026, 5, 8)),),
    )  # fmt: skip
    assert (
        "SIMULATED IN PART, SALVAGED, 2 readings, highest on 1.20 V (7), highest off 0.15 V (8), sweep, night"
        in (archive_text(Archive((whole,), (), 1)))
    )
    speak(monkeypatch, OtherLanguage())
    shown = archive_text(Archive((whole, replace(ENTRY, household="")), (), 2))
    assert unspoken(shown.replace("Mill", "").replace("mill.visit", "")) == []


def utc_ns(*moment: int) -> int:
    return calendar.timegm((*moment, 0, 0, 0)[:6]) * NS_PER_S


def make(
    path: Path,
    household: str,
    room: str,
    start_ns: int,
    hours: float = 0.0,
    values_until_h: float | None = None,
) -> VisitLog:
    """A small visit, with a recording of so many hours (values until then, or until its end); the log stays open."""
    path.parent.mkdir(exist_ok=True)
    clock = ManualClock(start_ns)
    log = VisitLog.create(path, clock)
    log.setup.set(Setup(household=household))
    if hours:
        run = RunWriter(
            path, utc_ns=start_ns, zone="Europe/Vienna", utc_offset_s=7200, port="/dev/ttyUSB0", settings="{}",
            software="test", pid=1,
        )  # fmt: skip
        length_ns = round(hours * HOUR_NS)
        beat = Heartbeat(
            start_ns, length_ns, "open", "", Now(State.SETTLED, 0.0, 0.3, 0.01, 9), [], Counts(), ""
        )
        until_ns = length_ns if values_until_h is None else round(values_until_h * HOUR_NS)
        lines: list[LineRow] = [(start_ns + t_ns, t_ns, "volts", 0.3, b"0.3") for t_ns in (0, until_ns)]
        run.write(Batch(lines), beat)
        run.end(start_ns + length_ns, length_ns, "stopped")
        run.close()
    bed = log.spots.add("Bed, left", room, "lamp on")
    desk = log.spots.add("Desk", "Study")
    log.readings.enter(bed.id, EVERYTHING_ON, 9.9, 0.01)
    log.readings.void(1, "wrong spot")
    log.readings.enter(bed.id, EVERYTHING_ON, 1.8, 0.01)
    log.readings.enter(bed.id, EVERYTHING_ON, 0.7, 0.01)
    log.readings.enter(desk.id, EVERYTHING_ON, 0.4, 0.01)
    log.readings.enter(desk.id, EVERYTHING_OFF, 0.05, 0.01)
    log.marks.add("kettle on")
    return log


def state_of(folder: Path) -> dict[str, tuple[str, int]]:
    """Every file with its content and time of change."""
    return {
        str(p.relative_to(folder)): (hashlib.sha256(p.read_bytes()).hexdigest(), p.stat().st_mtime_ns)
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "visits"
    make(folder / "mill.visit", "Mill", "Bedroom", utc_ns(2025, 3, 1, 23, 30), hours=8).close()
    flat = make(folder / "2026" / "flat.visit", "Garden flat", "Attic", utc_ns(2026, 5, 16, 18), hours=1)
    a, b = flat.circuits.add("circuit", "Bedroom outlets"), flat.circuits.add("circuit", "Heat")
    for live in ((a.id,), (b.id,), (a.id, b.id)):
        flat.readings.enter(1, "swept", 0.2, 0.01, live=frozenset(live))
    flat.spot_details.set(1, SpotDetails(posture="standing"))
    flat.spot_details.set(1, SpotDetails(posture="On the back", place="head by the window"))
    flat.source_details.set(a.id, SourceDetails(panel="Cellar", number="F12/14"))
    flat.close()
    return folder


def test_what_is_said_of_each_visit(folder):
    flat, mill = search(folder).visits
    assert (flat.household, flat.day, flat.rooms, flat.readings) == (
        "Garden flat", date(2026, 5, 16), ("Attic", "Study"), 7,
    )  # fmt: skip
    assert flat.highest_on == Highest(1.8, "Bed, left", contradicted=True), (
        "also where a newer reading follows"
    )
    assert flat.highest_off == Highest(0.05, "Desk")
    assert (flat.has_sweep, flat.has_night, mill.has_sweep, mill.has_night) == (True, False, False, True)
    assert mill.day == date(2025, 3, 2), "local date: half past one in the night"
    assert (date(2025, 3, 2), date(2025, 3, 2)) in mill.stretches
    assert not flat.recording and flat.version == USER_VERSION


@pytest.mark.parametrize(
    ("wanted", "names"),
    [
        (Search(), ["flat", "mill"]),
        (Search(household="GARDEN"), ["flat"]),
        (Search(room="attic"), ["flat"]),
        (Search(spot="bed, LEFT"), ["flat", "mill"]),
        (Search(text="outlets"), ["flat"]),
        (Search(text="kettle"), ["flat", "mill"]),
        (Search(text="back window cellar f12/14"), ["flat"]),
        (Search(text="standing"), []),
        (Search(text="lamp on", household="mill"), ["mill"]),
        (Search(text="attic kettle garden"), ["flat"]),
        (Search(text="attic mill"), []),
        (Search(first_day=date(2025, 3, 2)), ["flat", "mill"]),
        (Search(first_day=date(2025, 3, 3)), ["flat"]),
        (Search(last_day=date(2025, 3, 2)), ["mill"]),
        (Search(household="nobody"), []),
        (Search(text="wrong spot"), ["flat", "mill"]),
    ],
)
def test_search(folder, wanted, names):
    found = search(folder, wanted)
    assert [entry.path.stem for entry in found.visits] == names and found.visit_count == 2


@pytest.mark.parametrize(
    ("first", "last", "is_found"),
    [
        (4, 4, True),
        (5, 6, True),
        (7, 7, False),
        (8, 8, True),
        (9, None, False),
        (None, 3, False),
        (None, 4, True),
    ],
)
def test_a_visit_is_found_by_the_date_of_each_recording_and_reading(first, last, is_found):
    days = tuple((date(2026, 5, a), date(2026, 5, b)) for a, b in ((4, 5), (5, 6), (8, 8)))
    entry = replace(ENTRY, day=date(2026, 5, 4), stretches=days)
    wanted = Search(first_day=first and date(2026, 5, first), last_day=last and date(2026, 5, last))
    assert wanted.matches(entry) is is_found
    assert archive_text(Archive((entry,), (), 1)).startswith("2026-05-04 to 2026-05-08  Mill")


def test_a_first_day_after_the_last_is_a_mistake_and_not_an_empty_answer(folder):
    with pytest.raises(StillvoltError, match="from 2026-05-16 to 2025-03-01: the first is the later one"):
        search(folder, Search(first_day=date(2026, 5, 16), last_day=date(2025, 3, 1)))


def test_nothing_in_the_folder_is_changed_by_looking(folder):
    before = state_of(folder)
    search(folder)
    assert state_of(folder) == before


def test_not_even_a_program_error_could_write_into_a_visit(folder):
    before = state_of(folder)
    with opened_read_only(folder / "mill.visit") as db:
        assert state_of(folder) == before, "no journal beside it while it is read"
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            db.execute("CREATE TABLE t (x)")
    live = make(folder / "live.visit", "Live", "Hall", utc_ns(2026, 6, 1, 12))
    with opened_read_only(live.path) as db, pytest.raises(sqlite3.OperationalError, match="readonly"):
        db.execute("CREATE TABLE t (x)")
    live.close()


def test_an_older_log_is_read_as_it_is(tmp_path):
    path = tmp_path / "old.visit"
    with sqlite3.connect(path) as db:
        db.executescript(VERSION_1.read_text())
    db.close()
    before = state_of(tmp_path)
    (entry,) = search(tmp_path).visits
    assert entry.version == 1 and entry.readings > 0 and entry.spots and not entry.rooms
    assert entry.highest_on is not None and not entry.has_sweep
    assert state_of(tmp_path) == before, "not upgraded, no journal left beside it"


def test_a_visit_that_is_being_recorded_shows_what_is_in_its_journal(folder):
    path = folder / "live.visit"
    log = make(path, "Live", "Hall", utc_ns(2026, 6, 1, 12))
    assert path.with_name("live.visit-wal").stat().st_size
    before = path.read_bytes()
    entry = read_entry(path)
    assert (entry.household, entry.readings) == ("Live", 4)
    assert path.read_bytes() == before
    log.readings.enter(1, EVERYTHING_ON, 2.0, 0.01)
    assert read_entry(path).readings == 5
    log.close()
    assert read_entry(path).readings == 5


def test_a_log_that_this_process_has_open_keeps_its_locks(tmp_path):
    """A close of another handle drops this process's locks.

    SQLite, "How To Corrupt An SQLite Database File", 2.2; the next program that closes the log
    would remove the journal of an open one.
    """
    log = make(tmp_path / "live.stillvolt", "Live", "Hall", utc_ns(2026, 6, 1, 12))
    read_entry(log.path)
    assert visits_in(tmp_path) == [log.path]  # by its content
    other = f"import sqlite3; db = sqlite3.connect({str(log.path)!r}); db.execute('SELECT * FROM fact'); db.close()"
    subprocess.run([sys.executable, "-c", other], check=True)
    assert log.path.with_name("live.stillvolt-wal").exists()
    log.close()


def test_a_log_copied_with_half_of_its_journal_is_read_and_left_alone(tmp_path):
    log = make(tmp_path / "live.visit", "Live", "Hall", utc_ns(2026, 6, 1, 12))
    moved = tmp_path / "moved"
    moved.mkdir()
    for name in ("live.visit", "live.visit-wal"):
        (moved / name).write_bytes((tmp_path / name).read_bytes())
    log.close()
    before = state_of(moved)
    (entry,) = search(moved).visits
    assert entry.readings == 4 and state_of(moved) == before


def test_what_cannot_be_read_is_listed_with_its_reason_and_left_alone(folder):
    whole = (folder / "mill.visit").read_bytes()
    (folder / "notes.visit").write_text("not a log")
    (folder / "empty.visit").write_bytes(b"")
    (folder / "cut.visit").write_bytes(whole[: len(whole) // 2])
    (folder / "worn.visit").write_bytes(whole[:4096] + b"\xff" * (len(whole) - 4096))
    newer = bytearray(whole)
    newer[60:64] = (USER_VERSION + 1).to_bytes(4, "big")
    (folder / "newer.visit").write_bytes(newer)
    with sqlite3.connect(folder / "foreign.visit") as db:
        db.execute("CREATE TABLE t (x)")
    db.close()
    (folder / "letter.txt").write_text("is no visit and does not claim to be")
    before = state_of(folder)
    found = search(folder)
    assert [entry.path.stem for entry in found.visits] == ["flat", "mill"]
    reasons = {refused.path.stem: refused.reason for refused in found.refused}
    assert set(reasons) == {"notes", "empty", "cut", "worn", "newer", "foreign"}
    assert (
        reasons["notes"]
        == reasons["empty"]
        == reasons["foreign"]
        == "It is not a visit log, or its beginning is damaged."
    )
    assert "cut.visit is not whole" in reasons["cut"] and "damaged" in reasons["worn"]
    assert "newer Stillvolt" in reasons["newer"]
    assert state_of(folder) == before
    assert "left alone" in archive_text(found) and "worn.visit" in archive_text(found)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pipes and few links in folders")
def test_a_name_in_upper_case_counts_and_what_is_no_file_is_named(folder):
    (folder / "mill.visit").rename(folder / "MILL.VISIT")
    os.mkfifo(folder / "pipe.visit")
    (folder / "lost.visit").symlink_to(folder / "nothing")
    (folder / "folder.visit").mkdir()
    os.mkfifo(folder / "pipe.svlt")
    (folder / "zero.svlt").symlink_to("/dev/zero")
    found = search(folder)
    assert [entry.path.name for entry in found.visits] == ["flat.visit", "MILL.VISIT"]
    reasons = {refused.path.name: refused.reason for refused in found.refused}
    assert set(reasons) == {"pipe.visit", "lost.visit", "pipe.svlt", "zero.svlt"}
    assert "a pipe, a device" in reasons["pipe.svlt"] and "a pipe, a device" in reasons["zero.svlt"]
    assert "a pipe, a device" in reasons["pipe.visit"] and "a link to nothing" in reasons["lost.visit"]
    # A window would wait for what a pipe says.
    assert "MILL.VISIT" in (listed := {path.name for path in visits_in(folder)})
    assert listed.isdisjoint(reasons)


def test_a_folder_name_with_any_character(tmp_path):
    folder = tmp_path / "50% of #1? & more"
    make(folder / "plain.visit", "Mill", "Hall", utc_ns(2026, 6, 1, 12)).close()
    # A new visit gets no such name, but somebody may give it one.
    (folder / "plain.visit").rename(folder / "a b#c?.visit")
    assert [entry.household for entry in search(folder).visits] == ["Mill"]


def test_the_command(folder, capsys):
    assert main(["archive", str(folder), "--household", "flat"]) == 0
    printed = capsys.readouterr().out
    assert (
        "Garden flat: Attic, Study; 7 readings, highest on 1.80 V (Bed, left, READINGS CONTRADICT EACH OTHER)"
        in printed
        and "1 of 2 visits" in printed
    )
    assert (
        main(
            [
                "archive",
                str(folder),
                "--from",
                "2026-01-01",
                "--to",
                "2026-12-31",
                "--room",
                "attic",
                "--json",
            ]
        )
        == 0
    )
    printed = json.loads(capsys.readouterr().out)
    assert [visit["date"] for visit in printed["visits"]] == ["2026-05-16"] and printed["looked_at"] == 2
    assert printed["visits"][0]["highest_off"] == {"volts": 0.05, "spot": "Desk", "contradicted": False}
    assert main(["archive", str(folder), "--from", "May"]) == 1
    assert "not a date" in capsys.readouterr().err
    with pytest.raises(StillvoltError, match="no folder"):
        search(folder / "none")
    with pytest.raises(StillvoltError, match="no folder"):
        search(folder / ("n" * 300))


@pytest.mark.parametrize(("values_until_h", "is_night"), [(8.0, True), (3.5, True)])
def test_archive_report_and_window_agree_on_what_a_night_is(tmp_path, values_until_h, is_night):
    """A night whose values stop early is a night with the rest missed."""
    path = tmp_path / "house.visit"
    log = make(path, "House", "Hall", utc_ns(2026, 5, 16, 21), hours=8, values_until_h=values_until_h)
    assert bool(read_report_data(log).nights) is is_night
    snapshot = VisitSnapshot(log)
    snapshot.refresh()
    assert snapshot.night_count == is_night
    log.close()
    assert read_entry(path).has_night is is_night


def test_a_visit_under_another_name_is_found_by_its_content_and_a_copy_is_not_being_recorded(folder):
    visit = next(folder.rglob("*.visit"))
    visit.rename(visit.with_suffix(".stillvolt"))
    (folder / "notes.stillvolt").write_text("no visit")
    found = search(folder)
    assert visit.with_suffix(".stillvolt") in [entry.path for entry in found.visits]
    assert not any(entry.recording for entry in found.visits) and not any(
        refused.path.name == "notes.stillvolt" for refused in found.refused
    )


def test_the_highest_of_two_homes_or_of_repeats_that_agree_is_not_marked(folder):
    path = folder / "oak.visit"
    log = make(path, "Oak", "Bedroom", utc_ns(2026, 6, 1, 18))
    log.readings.void(2, "the lead was loose")
    assert read_entry(path).highest_on == Highest(0.7, "Bed, left"), "one voided"
    log.readings.enter(1, EVERYTHING_ON, 0.705, 0.01)
    assert read_entry(path).highest_on == Highest(0.705, "Bed, left"), "they agree"
    cord = log.circuits.add("cord", "Lamp")
    log.close()
    log = VisitLog.open(path, ManualClock(utc_ns(2026, 6, 1, 19)))
    log.remedies.add(RemedyKind.UNPLUG, RemedyEntry(0, RemedyDecision.DONE), [cord.id])
    log.readings.enter(1, EVERYTHING_ON, 0.1, 0.01)
    assert read_entry(path).highest_on == Highest(0.705, "Bed, left"), "of another home"
    log.readings.enter(1, EVERYTHING_ON, 2.1, 0.01)
    assert read_entry(path).highest_on == Highest(2.1, "Bed, left", contradicted=True)
    marks = {v["household"]: v["highest_on"]["contradicted"] for v in archive_json(search(folder))["visits"]}
    assert marks == {"Oak": True, "Mill": True, "Garden flat": True}
    log.close()
