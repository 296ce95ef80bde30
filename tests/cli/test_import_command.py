"""`stillvolt import`, and what the other commands make of an imported run."""

from __future__ import annotations

import csv
import json
from datetime import date
from pathlib import Path

import pytest

from logger.cli.main import main
from logger.meter.description import Accuracy, MeterDescription
from logger.meter.description_folder import save
from logger.recording.trace_import import UNIT_ASSUMED
from logger.visit import VisitLog

EVENING = Path(__file__).parents[2] / "fixtures" / "traces" / "evening.csv"
BEGAN = "2026-01-05T20:15:00+01:00"


def import_evening(visit: Path, *more: str) -> int:
    return main(["import", str(EVENING), "--visit", str(visit), "--began", BEGAN, *more])


def test_an_import_prints_what_the_run_holds(tmp_path, capsys):
    assert import_evening(tmp_path / "a.visit") == 0
    printed = capsys.readouterr()
    assert (
        "as run 1: 2,444 samples, 2026-01-05 20:15:00+01:00 to 2026-01-05 20:25:19+01:00 (10 min)"
        in printed.out
    )
    assert printed.err == f"stillvolt: {UNIT_ASSUMED}\n"


def test_a_kept_meter_whose_calibration_is_yet_to_come_is_told_where_it_is_used(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logger.meter.description_folder.folder", lambda: tmp_path)
    save(MeterDescription("Bench", calibrated_on=date(2999, 1, 31), assumed=frozenset()), tmp_path)
    said = "stillvolt: The day entered for the meter's calibration, 2999-01-31, is yet to come"
    missing = str(tmp_path / "none" / "n.visit")
    record = ["record", "--port", "socket://127.0.0.1:9", "--visit", missing]
    for command in (["import", str(EVENING), "--visit", str(tmp_path / "a.visit"), "--began", BEGAN], record):
        main([*command, "--meter", "Bench"])
        assert said in capsys.readouterr().err
    main(["meters"])
    assert said in capsys.readouterr().err


def test_report_export_and_night_show_an_imported_run(tmp_path, capsys):
    visit, out = tmp_path / "a.visit", tmp_path / "out"
    import_evening(visit)
    assert main(["export", str(visit), "--out", str(out), "--format", "csv"]) == 0
    (run,) = csv.DictReader((out / "runs.csv").read_text(encoding="utf-8").splitlines())
    assert run["port"] == "file:evening.csv" and run["started_utc"].startswith("2026-01-05T19:15:00")
    assert len((out / "samples.csv").read_text().splitlines()) == 1 + 2444
    assert main(["replay", str(EVENING), "--events", str(tmp_path / "events.jsonl")]) == 0
    replayed = [json.loads(line)["kind"] for line in (tmp_path / "events.jsonl").read_text().splitlines()]
    exported = [row["kind"] for row in csv.DictReader((out / "events.csv").read_text().splitlines())]
    assert sorted(exported) == sorted(replayed)
    capsys.readouterr()
    assert main(["night", str(visit), "--json"]) == 0
    night = json.loads(capsys.readouterr().out)
    assert night["length_s"] == pytest.approx(619.753)
    assert main(["report", str(visit), "--out", str(tmp_path / "report.html")]) == 0
    report = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "is an imported trace" in report and "file:evening.csv" in report and BEGAN in report


def test_a_kept_meter_and_a_reference_become_those_of_the_visit(tmp_path):
    accuracy = (Accuracy(1.0, 0.5, 3.0, 0.0001),)
    save(MeterDescription("hall meter", accuracy=accuracy, assumed=frozenset({"true_rms"})))
    assert import_evening(tmp_path / "a.visit", "--meter", "hall meter", "--reference", "building") == 0
    log = VisitLog.open(tmp_path / "a.visit")
    setup = log.setup.current()
    log.close()
    assert (setup.meter.name, setup.reference) == ("hall meter", "building earth")
    assert setup.meter.accuracy == accuracy


@pytest.mark.parametrize(
    ("began", "more", "reason"),
    [
        ("2026-01-05T20:15:00", [], "RFC 3339"),
        (BEGAN, ["--meter", "no such meter"], "No meter called 'no such meter'"),
    ],
)
def test_a_refused_import_has_the_status_1_and_makes_no_visit(tmp_path, capsys, began, more, reason):
    visit = tmp_path / "a.visit"
    assert main(["import", str(EVENING), "--visit", str(visit), "--began", began, *more]) == 1
    assert reason in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    "words",
    [
        ["--visit", "a.visit"],
        ["--began", BEGAN],
        ["--visit", "a.visit", "--began", BEGAN, "--reference", "pipe"],
    ],
)
def test_a_missing_word_or_another_reference_is_wrong_usage(words):
    with pytest.raises(SystemExit) as ended:
        main(["import", str(EVENING), *words])
    assert ended.value.code == 2
