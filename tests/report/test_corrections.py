"""A corrected reading counts where it belongs in report, export and archive, and what it was is stated beside it."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from logger.report.archive.entry import read_entry
from logger.report.compare.comparison import compare_visits
from logger.report.document.html_page import report_html
from logger.report.document.read_report_data import read_report_data
from logger.report.export.write_export import export
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from tests.report.test_report import words


@pytest.fixture
def corrected(log: VisitLog, recording) -> VisitLog:
    """Reading 1 was taken for the bed and belongs to the desk; 2 was taken with everything on, and all was off."""
    bed, desk = log.spots.add("Bed"), log.spots.add("Desk")
    for spot, volts in ((bed, 0.9), (bed, 0.05), (bed, 0.27)):
        recording.samples([volts] * 5)
        log.readings.take(spot.id, EVERYTHING_ON)
    first, second, third = log.readings.all()
    store = log.readings.corrections
    store.move(first, desk.id, "wrong <spot>", "A. Example")
    store.set_condition(second, EVERYTHING_OFF, None, "the breakers were off")
    store.make_valid(store.void(third, "moved"), "it was another one")
    return log


def test_the_report_counts_it_where_it_belongs_and_has_a_footnote(corrected: VisitLog) -> None:
    data = read_report_data(corrected)
    text = words(report_html(data, data.local(data.readings[0].utc_ns)))
    assert data.results[2].on.id == 1 and data.results[1].off.id == 2 and data.results[1].on.id == 3
    assert (
        "1* Reading 1: taken for “Bed”, everything on; moved from “Bed” to “Desk”, because “wrong <spot>” ("
        in text
    )
    assert ", A. Example)." in text
    assert "what was on was corrected from “everything on” to “everything off”" in text
    assert "voided, because “moved”" in text and "valid again, because “it was another one”" in text
    mark = "* The practitioner has corrected later at which spot, with what switched on or against what it was read."
    assert f"{mark} The details are in" in text
    assert "Corrected (" not in text and "†" not in text, "the household's page has marks only"
    assert "practitioner's word" in data.doubts[2], "another condition was stated then"
    assert 1 not in data.doubts and 3 not in data.doubts
    assert "Voided readings" not in text


def test_a_reading_that_was_not_corrected_has_no_mark(corrected: VisitLog, recording) -> None:
    recording.samples([0.3] * 5)
    corrected.readings.take(2, EVERYTHING_OFF)
    data = read_report_data(corrected)
    text = words(report_html(data, data.local(data.readings[0].utc_ns)))
    assert "1* " in text and "4* " not in text and "Reading 4:" not in text


def test_a_typing_error_in_a_name_does_not_stay_in_report_and_export(log: VisitLog, tmp_path: Path) -> None:
    bed = log.spots.add("Bde")
    log.readings.enter(bed.id, EVERYTHING_ON, 0.9, 0.01)
    log.spots.rename(bed.id, "Bed")
    log.spots.remove(bed.id)  # which changes no name back
    data = read_report_data(log)
    text = words(report_html(data, data.local(data.readings[0].utc_ns)))
    assert "Bde" not in text and log.readings.all()[0].spot_name == "Bde", "the log keeps it"
    export(log.path, tmp_path / "out", ["csv"])
    table = pd.read_csv(tmp_path / "out" / "readings.csv")
    assert table.spot.tolist() == table.taken_spot.tolist() == ["Bed"]


def test_the_export_has_what_it_was_beside_what_it_is_and_every_correction(
    corrected: VisitLog, tmp_path: Path
) -> None:
    tables = {
        p.stem: pd.read_csv(p, keep_default_na=False)
        for p in export(corrected.path, tmp_path / "out", ["csv"])
    }
    readings = tables["readings"]
    assert readings.spot.tolist() == ["Desk", "Bed", "Bed"]
    assert readings.taken_spot.tolist() == ["Bed"] * 3
    assert readings.condition.tolist() == [EVERYTHING_ON, EVERYTHING_OFF, EVERYTHING_ON]
    assert readings.taken_condition.tolist() == [EVERYTHING_ON] * 3
    assert readings.corrections.tolist() == [1, 1, 2]
    assert readings.correction_reason.tolist() == [
        "wrong <spot>", "the breakers were off", "moved; it was another one",
    ]  # fmt: skip
    assert readings.void_reason.tolist() == ["", "", ""]
    assert "practitioner's word" in readings.doubt[1]
    corrections = tables["corrections"]
    assert corrections.reading_id.tolist() == [1, 2, 3, 3]
    assert corrections.kind.tolist() == ["spot", "condition", "void", "valid"]
    assert corrections.from_spot.tolist() == ["Bed", "", "", ""]
    assert corrections.to_condition.tolist() == ["", EVERYTHING_OFF, "", ""]
    assert corrections.entered_by.tolist() == ["A. Example", "", "", ""]
    assert "corrections" in tables["about"].table.tolist()


def test_the_archive_finds_it_where_it_belongs(corrected: VisitLog) -> None:
    entry = read_entry(corrected.path)
    assert entry.readings == 3
    assert (entry.highest_on.volts, entry.highest_on.spot) == (pytest.approx(0.9), "Desk")
    assert (entry.highest_off.volts, entry.highest_off.spot) == (pytest.approx(0.05), "Bed")


def test_the_comparison_takes_the_corrected_value_and_says_so(corrected: VisitLog, tmp_path: Path) -> None:
    later = VisitLog.create(tmp_path / "later.visit")
    later.readings.enter(later.spots.add("Desk").id, EVERYTHING_ON, 0.5, 0.02)
    later.close()
    corrected.close()
    found = compare_visits(corrected.path, tmp_path / "later.visit", same_home=True)
    change = next(spot for spot in found.spots if spot.pair.after and spot.pair.after.name == "Desk")
    assert change.on.before.volts == pytest.approx(0.9)
    assert "before: corrected: read as “Bed”, corrected to “Desk”" in change.on.remarks
