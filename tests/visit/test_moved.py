"""A visit that is copied to another computer, opened in another zone, or that an older version wrote."""

from __future__ import annotations

import itertools
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest

from logger.errors import StillvoltError
from logger.meter.description import MeterDescription
from logger.meter.description_folder import load, save
from logger.meter.description_toml import as_toml
from logger.meter.port import PortSettings
from logger.metrology.setup import MeterFacts, Setup
from logger.recording.session import StopEvent, record
from logger.report.export.write_export import export
from logger.visit import VisitLog
from logger.visit.records.recording_records import Run
from logger.visit.results.on_off_result import SpotResult, budget_of
from logger.visit.storage.run_meter import not_kept_here
from logger.visit.storage.run_writer import RunWriter
from logger.visit.storage.schema import USER_VERSION
from logger.visit.storage.time_zone import zone_note

VERSION_1 = Path(__file__).parents[2] / "fixtures/visits/version_1.sql"


def facts(log: VisitLog) -> list[object]:
    """All that a visit says, to be compared before and after a journey."""
    samples = log.samples.after()
    return [
        log.runs.all(), log.spots.all(), log.readings.all(), log.marks.all(), log.checks.all(), log.setup.current(),
        log.facts.condition(),
        [e.event for e in log.events.after()], samples.volts.tolist(), samples.utc_ns.tolist(),
        samples.steady_utc_ns.tolist(),
    ]  # fmt: skip


@pytest.fixture
def filled(log, recording):
    """A visit with a set-up, a reading, a mark and a recorder that is still at work."""
    meter = MeterFacts.of(MeterDescription("bench meter"))
    log.setup.set(Setup(household="mill house", reference="earth rod", meter=meter, mains_hz=50.0))
    bed = log.spots.add("Bed", "bedroom", "as at night")
    recording.samples([0.3] * 8)
    log.readings.take(bed.id, "everything on")
    log.marks.add("kettle on")
    return log


@pytest.fixture
def elsewhere(tmp_path):
    folder = tmp_path / "another computer"
    folder.mkdir()
    return folder


# --- copied ---------------------------------------------------------------------------------------------------------


def test_copied_in_mid_recording_with_its_journal(filled, elsewhere, clock):
    for suffix in ("", "-wal", "-shm"):
        shutil.copy(f"{filled.path}{suffix}", elsewhere)
    copy = VisitLog.open(elsewhere / filled.path.name, clock)
    assert facts(copy) == facts(filled)
    copy.close()


def test_the_journals_index_is_not_needed(filled, elsewhere, clock):
    for suffix in ("", "-wal"):
        shutil.copy(f"{filled.path}{suffix}", elsewhere)
    copy = VisitLog.open(elsewhere / filled.path.name, clock)
    assert facts(copy) == facts(filled)
    copy.close()


def test_after_a_clean_close_the_file_alone_is_the_whole_visit(filled, recording, elsewhere, clock):
    before = facts(filled)
    recording.writer.close()
    filled.close()
    assert not Path(f"{filled.path}-wal").exists(), "nothing is left beside it"
    shutil.copy(filled.path, elsewhere / "under another name.visit")
    copy = VisitLog.open(elsewhere / "under another name.visit", clock)
    assert facts(copy) == before
    copy.marks.add("seen at the office")
    copy.close()


def test_the_recorder_of_the_first_computer_does_not_write_into_the_copy(filled, recording, elsewhere, clock):
    for suffix in ("", "-wal"):
        shutil.copy(f"{filled.path}{suffix}", elsewhere)
    copy = VisitLog.open(elsewhere / filled.path.name, clock)
    before = facts(copy)
    recording.samples([0.9] * 4)
    assert facts(copy) == before
    clock.advance_ns(4_000_000_000)
    assert "stopped" in copy.current_value.why_not_settled(), (
        "nobody writes here: it is told, and nothing can be taken"
    )
    copy.close()


# --- another zone ---------------------------------------------------------------------------------------------------


def test_times_are_the_same_moments_in_another_zone_and_it_is_said(filled, elsewhere, clock, zone):
    zone("Europe/Vienna")
    before = facts(filled)
    assert zone_note(filled.runs.all()[0]) == ""
    at_home = export(filled.path, elsewhere / "home", ["csv"])
    zone("America/Los_Angeles")
    assert facts(filled) == before
    assert zone_note(filled.runs.all()[0]) == (
        "Recorded in Europe/Vienna (UTC+01:00); times are shown in that zone. This computer is at UTC-08:00."
    )
    abroad = export(filled.path, elsewhere / "abroad", ["csv"])
    assert [p.read_text() for p in at_home] == [p.read_text() for p in abroad], "exported times are UTC"


def test_summer_time_that_begins_in_mid_visit_moves_no_reading(log, recording, clock, zone):
    zone("Europe/Vienna")
    # 2026-03-29 01:00 UTC: clocks go from 02:00 to 03:00 (EU Directive 2000/84/EC).
    clock.set_utc_ns(1_774_746_000 * 10**9 - 2 * 10**9)
    recording.writer.close()
    recording.start()
    bed = log.spots.add("Bed")
    recording.samples([0.3] * 4)
    before = log.readings.take(bed.id, "everything on")
    recording.samples([0.3] * 8)
    after = log.readings.take(bed.id, "everything on")
    assert after.end_utc_ns - before.end_utc_ns == 8 * 400_000_000
    local = [time.localtime(r.end_utc_ns // 10**9)[3:5] for r in (before, after)]
    assert local == [(1, 59), (3, 0)], "the wall clock jumped in between, the record did not"


def test_a_zone_of_half_hours():
    run = replace(_run(), zone="Asia/Kolkata", utc_offset_s=19_800)
    assert "Asia/Kolkata (UTC+05:30)" in zone_note(run)


def _run():
    return Run(1, 1_767_225_600 * 10**9, "UTC", 0, "sim://", "{}", "test", None, "")


# --- the kept meter is not there ------------------------------------------------------------------------------------


def test_the_meters_facts_travel_with_the_visit(filled, elsewhere, clock, monkeypatch):
    monkeypatch.setattr("platformdirs.user_config_dir", lambda *_, **__: str(elsewhere / "nothing kept here"))
    shutil.copy(filled.path, elsewhere)
    shutil.copy(f"{filled.path}-wal", elsewhere)
    copy = VisitLog.open(elsewhere / filled.path.name, clock)
    (reading,) = copy.readings.all()
    assert copy.setup.current().meter.name == reading.context.setup.meter.name == "bench meter"
    assert budget_of(reading) == budget_of(filled.readings.all()[0])
    copy.close()


def test_a_meter_not_known_here_is_taken_over_from_the_visit(log, clock, tmp_path):
    meter = MeterDescription("bench meter")
    settings = PortSettings("/dev/ttyUSB0", meter=meter.name).to_json() | {"description": as_toml(meter)}
    RunWriter(
        log.path, utc_ns=clock.utc_ns(), zone="UTC", utc_offset_s=0, port="/dev/ttyUSB0",
        settings=json.dumps(settings), software="test", pid=1,
    ).close()  # fmt: skip
    (run,) = log.runs.all()
    found = not_kept_here(run, tmp_path)
    assert found == meter
    save(found, tmp_path)
    assert not_kept_here(run, tmp_path) is None
    assert load("bench meter", tmp_path) == found


def test_a_description_edited_later_changes_no_reading(filled, tmp_path):
    before = budget_of(filled.readings.all()[0])
    save(MeterDescription("bench meter", input_resistance_ohm=1e6), tmp_path)
    assert budget_of(filled.readings.all()[0]) == before


# --- an older version -----------------------------------------------------------------------------------------------


@pytest.fixture
def old(tmp_path) -> Path:
    """A visit as version 1 kept it."""
    path = tmp_path / "old.visit"
    with sqlite3.connect(path) as db:
        db.executescript(VERSION_1.read_text(encoding="utf-8"))
    db.close()
    return path


def version(path: Path) -> int:
    with sqlite3.connect(path) as db:
        found = int(db.execute("PRAGMA user_version").fetchone()[0])
    db.close()
    return found


def test_an_older_visit_opens_whole_and_is_current_afterwards(old, clock):
    assert version(old) == 1
    log = VisitLog.open(old, clock)
    assert [(r.spot_name, r.condition, r.volts, r.taken) for r in log.readings.all()] == [
        ("Bed, lying down", "everything on", 0.271, "settled"),
        ("Bed, lying down", "everything off", 0.052, "settled"),
        ("Desk", "everything on", 0.4, "by hand"),
    ]
    assert log.readings.all()[2].void_reason == "wrong spot"
    assert len(log.samples.after().volts) == 24 and len(log.events.after()) == 2
    assert [m.text for m in log.marks.all()] == ["kettle on"]
    assert [(s.name, s.room, s.reminder) for s in log.spots.all()] == [
        ("Bed, lying down", "", ""),
        ("Desk", "", ""),
    ]
    assert log.setup.current() == Setup() and log.checks.all() == []
    log.close()
    assert version(old) == USER_VERSION


def test_readings_of_an_older_visit_claim_nothing_that_is_not_known(old, clock):
    log = VisitLog.open(old, clock)
    for reading in log.readings.all():
        assert reading.context is None and budget_of(reading) is None
    result = SpotResult.of(log.readings.all(), log.spots.all()[0].id)
    assert result.pair() == "0.3 (0.05)", "the values are there"
    assert result.difference() is None
    assert result.meaning(0.1).startswith("Not comparable: ")
    log.close()


def test_an_older_visit_can_be_gone_on_with(old, clock):
    log = VisitLog.open(old, clock)
    desk = log.spots.all()[1]
    new = log.readings.enter(desk.id, "everything on", 0.4, 0.02)
    assert new.context is not None and budget_of(new) is not None
    with sqlite3.connect(old) as db, pytest.raises(sqlite3.IntegrityError, match="never changed"):
        db.execute("UPDATE reading SET volts = 7")
    log.close()


def test_an_upgrade_that_is_killed_half_way_leaves_the_old_file(old):
    dump = "\n".join(sqlite3.connect(old).iterdump())
    code = (
        "import itertools, os, sys\n"
        "from pathlib import Path\n"
        "from logger.visit import VisitLog\n"
        "from logger.visit.storage import connection\n"
        "whole = connection._statements\n"
        "def half(script):\n"
        "    yield from itertools.islice(whole(script), 2)\n"
        "    os._exit(9)\n"
        "connection._statements = half\n"
        "VisitLog.open(Path(sys.argv[1]))\n"
    )
    assert subprocess.run([sys.executable, "-c", code, str(old)], check=False).returncode == 9
    assert version(old) == 1
    assert "\n".join(sqlite3.connect(old).iterdump()) == dump
    log = VisitLog.open(old)
    assert len(log.readings.all()) == 3, "and the next try succeeds"
    log.close()


def test_an_upgrade_that_the_disk_refuses_leaves_the_old_file(old, monkeypatch):
    monkeypatch.setattr(
        "logger.visit.storage.connection.UPGRADES", ("", "ALTER TABLE spot ADD COLUMN room TEXT;", "NO SQL;")
    )
    with pytest.raises(StillvoltError, match="It was not changed"):
        VisitLog.open(old)
    assert version(old) == 1
    with sqlite3.connect(old) as db:
        assert "room" not in [row[1] for row in db.execute("PRAGMA table_info(spot)")]


# --- two recorders --------------------------------------------------------------------------------------------------


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals of this kind")
def test_two_recorders_on_two_ports_keep_apart(tmp_path):
    import tty  # noqa: PLC0415  Windows has none

    ends, threads, stops = [], [], []
    for name in ("east", "west"):
        end, far = os.openpty()
        tty.setraw(far)
        ends.append(end)
        stops.append(StopEvent())
        settings = PortSettings(url=os.ttyname(far))
        arguments = {"stop": stops[-1], "notify": lambda _: None}
        thread = threading.Thread(
            target=record, args=(tmp_path / f"{name}.visit", settings), kwargs=arguments
        )
        threads.append(thread)
        thread.start()
    logs = [_opened(tmp_path / f"{name}.visit") for name in ("east", "west")]
    step = itertools.count()
    # Lines of which several wait in the port come late and are no samples, so a loaded machine needs more of them.
    _until(
        lambda: all(len(log.samples.after().volts) >= 20 for log in logs),
        between=lambda: [
            os.write(end, f"{volts + next(step) % 50 / 1000:.3f} V AC\r\n".encode())
            for end, volts in zip(ends, (0.3, 0.8), strict=True)
        ],
    )
    for log, first in zip(logs, ("0.3", "0.8"), strict=True):
        raw = [
            line[0].decode() for line in log._connection.all("SELECT raw FROM line WHERE status = 'volts'")
        ]
        assert all(text.startswith(first) for text in raw)
    for stop, thread in zip(stops, threads, strict=True):
        stop.set()
        thread.join(10)
        assert not thread.is_alive()
    for log in logs:
        (run,) = log.runs.all()
        assert run.ended_utc_ns is not None
        log.close()


def _opened(path: Path) -> VisitLog:
    _until(lambda: path.exists() and path.stat().st_size > 4096)
    log = VisitLog.open(path)
    _until(lambda: log.recorder.live() is not None)
    return log


def _until(condition, between=lambda: None) -> None:
    limit = time.monotonic() + 60.0
    while not condition():
        assert time.monotonic() < limit, "waited in vain"
        between()
        time.sleep(0.01)
