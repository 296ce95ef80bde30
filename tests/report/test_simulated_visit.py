"""A visit that was simulated in part: each output marks it, and the mark stays with copies, salvage and a new file."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd
import pytest

from logger.cli.main import main
from logger.clock import ManualClock
from logger.recording.trace_import import import_trace
from logger.report.archive.entry import read_entry
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.fact_names import CONTINUED_FROM
from logger.visit.results.on_off_result import SpotResult
from logger.visit.storage.salvage import salvage
from tests.support.visit_fixtures import Recording

MEASURED_VOLTS, SIMULATED_VOLTS = 0.27, 5.0


def record(path: Path, clock: ManualClock, port: str, volts: float, condition: str) -> Recording:
    """Record a run from a port, and read the bed in it."""
    recording = Recording(path, clock, port)
    recording.samples([volts] * 20)
    with closing(VisitLog.open(path, clock)) as log:
        (bed,) = log.spots.all()
        log.readings.take(bed.id, condition)
    return recording


@pytest.fixture
def mixed(tmp_path: Path, clock: ManualClock) -> Path:
    """The bed on was measured; then it was practised, on and off."""
    path = tmp_path / "mixed.visit"
    log = VisitLog.create(path, clock)
    log.spots.add("Bed")
    log.close()
    record(path, clock, "/dev/ttyUSB0", MEASURED_VOLTS, EVERYTHING_ON).writer.close()
    for condition in (EVERYTHING_ON, EVERYTHING_OFF):
        record(path, clock, "sim://house", SIMULATED_VOLTS, condition).writer.close()
    return path


def marks(path: Path) -> tuple[list[bool], list[bool]]:
    """Which runs and which readings of a visit are simulated."""
    with closing(VisitLog.open(path)) as log:
        return [r.simulated for r in log.runs.all()], [r.simulated for r in log.readings.all()]


def test_simulated_values_never_take_the_place_of_measured_ones(mixed: Path) -> None:
    with closing(VisitLog.open(mixed)) as log:
        result = SpotResult.of(log.readings.all(), log.spots.all()[0].id, [])
    assert result.on is not None and result.on.volts == pytest.approx(MEASURED_VOLTS)
    assert result.off is None and not result.simulated, "the measured reading has no simulated partner"


def test_the_report_states_on_its_first_page_how_much_is_simulated(
    mixed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "report.html"
    main(["report", str(mixed), "--out", str(page)])
    first_page, _, rest = page.read_text(encoding="utf-8").partition('id="household"')
    sentence = "Simulated in part: 2 of 3 recordings and 2 of 3 readings"
    assert sentence in first_page and sentence in capsys.readouterr().err
    assert f"{SIMULATED_VOLTS:.1f}" in rest and rest.count("simulated, not measured") >= 2
    captions = [line for line in rest.splitlines() if "Bed, everything" in line and "(simulated)" in line]
    assert captions, "the traces of simulated readings are marked"


def test_the_export_marks_every_row(mixed: Path, tmp_path: Path) -> None:
    main(["export", str(mixed), "--out", str(tmp_path / "out")])
    of = {
        name: pd.read_csv(tmp_path / "out" / f"{name}.csv")
        for name in ("runs", "readings", "samples", "about")
    }
    assert list(of["runs"]["simulated"]) == list(of["readings"]["simulated"]) == ["no", "yes", "yes"]
    samples = of["samples"]
    assert set(samples[samples["simulated"] == "yes"]["volts"]) == {SIMULATED_VOLTS}
    assert set(samples[samples["simulated"] == "no"]["volts"]) == {MEASURED_VOLTS}
    assert "Simulated in part" in of["about"].to_csv()


def test_compare_and_archive_name_it_and_compare_no_simulated_value_with_a_measured_one(
    mixed: Path, tmp_path: Path, clock: ManualClock, capsys: pytest.CaptureFixture[str]
) -> None:
    practice = tmp_path / "practice.visit"
    log = VisitLog.create(practice, clock)
    log.spots.add("Bed")
    log.close()
    record(practice, clock, "sim://house", SIMULATED_VOLTS, EVERYTHING_ON).writer.close()
    main(["compare", "--same-home", "--json", str(practice), str(mixed)])
    compared = json.loads(capsys.readouterr().out)
    assert (compared["before"]["simulated"], compared["after"]["simulated"]) == (True, True)
    assert "simulated" in json.dumps(compared["spots"]) and '"lower"' not in json.dumps(compared["spots"])
    assert read_entry(mixed).simulated == "simulated in part"
    assert read_entry(practice).simulated == "simulated"
    main(["archive", str(tmp_path)])
    assert "SIMULATED IN PART" in capsys.readouterr().out


def test_a_copy_and_a_salvaged_visit_keep_the_marks(mixed: Path, tmp_path: Path) -> None:
    copy = Path(shutil.copy(mixed, tmp_path / "copy.visit"))
    salvage(copy, tmp_path / "salvaged.visit")
    expected = [False, True, True]
    assert marks(copy) == marks(tmp_path / "salvaged.visit") == (expected, expected)


def test_a_reading_whose_run_was_lost_keeps_its_mark(mixed: Path, tmp_path: Path) -> None:
    with closing(sqlite3.connect(mixed)) as db, db:
        db.execute("PRAGMA foreign_keys = OFF")
        for (name,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall():
            db.execute(f"DROP TRIGGER {name}")
        db.execute("DELETE FROM run WHERE port LIKE 'sim:%'")
    salvage(mixed, tmp_path / "salvaged.visit")
    expected = [False, True, True]
    assert marks(tmp_path / "salvaged.visit") == (expected, expected)


def test_a_recording_that_goes_on_in_a_new_file_stays_simulated(mixed: Path, clock: ManualClock) -> None:
    recording = record(mixed, clock, "sim://house", SIMULATED_VOLTS, EVERYTHING_ON)
    mixed.unlink()
    moved = recording.writer.follow_file()
    assert moved is not None
    recording.samples([SIMULATED_VOLTS])
    recording.writer.close()
    with closing(VisitLog.open(moved.path)) as log:
        assert log.facts.get(CONTINUED_FROM) == mixed.name
    assert marks(moved.path)[0] == [False, True, True, True]


def test_a_trace_that_its_file_marks_is_imported_as_simulated(
    tmp_path: Path, clock: ManualClock, capsys: pytest.CaptureFixture[str]
) -> None:
    began = datetime(2026, 1, 5, 20, tzinfo=UTC)
    rows = [f"{n / 5},0.3" for n in range(60)]
    for mark in ("yes", "no"):
        trace, visit = tmp_path / f"{mark}.csv", tmp_path / f"{mark}.visit"
        trace.write_text("time_s,volts,simulated\n" + "".join(f"{row},{mark}\n" for row in rows))
        import_trace(trace, visit, began)
        assert marks(visit)[0] == [mark == "yes"]
        main(["replay", str(trace), "--events", str(tmp_path / "events.jsonl")])
        events = [json.loads(line) for line in (tmp_path / "events.jsonl").read_text().splitlines()]
        assert events and all(event.get("simulated", False) == (mark == "yes") for event in events)
        assert ("nothing was measured" in capsys.readouterr().err) == (mark == "yes")
