"""What a reading was read against is corrected: its ± and checks follow, the row is checked, undone and salvaged."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from logger.errors import StillvoltError
from logger.meter.description import Accuracy, MeterDescription
from logger.metrology.check_validity import Lapse
from logger.metrology.checks import CheckKind, CheckVerdict
from logger.metrology.reference_answers import ReferenceAnswers
from logger.metrology.setup import MeterFacts, Reference, Setup
from logger.metrology.uncertainty import BUILDING_EARTH_VOLTS, RECTANGULAR, Budget, compare_with
from logger.report.document.html_page import report_html
from logger.report.document.read_report_data import read_report_data
from logger.report.export.write_export import export
from logger.visit import Reading, VisitLog
from logger.visit.records.circumstances import Circumstances
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, Statement
from logger.visit.results.check_review import doubt_by_checks, failed_later
from logger.visit.results.condition_doubt import Level, condition_doubt
from logger.visit.results.correction_history import footnote
from logger.visit.results.on_off_result import budget_of
from logger.visit.storage.salvage import salvage
from logger.visit.storage.verification import verify
from tests.report.test_report import words
from tests.visit.test_integrity import edit

ROD = Setup(
    household="test", reference="earth rod", soil="loam", moisture="wet", on_battery=True, link_isolated=True,
    meter=MeterFacts.of(MeterDescription("Bench", accuracy=(Accuracy(20.0, 1.0, 2, 0.001),))),
)  # fmt: skip


@pytest.fixture
def home(log: VisitLog, recording) -> VisitLog:
    """A bed read at 0.35 V, as it was stated against a rod, after a zero check that passed."""
    log.setup.set(ROD)
    bed = log.spots.add("Bed")
    recording.samples([0.001] * 6, u_volts=0.001)
    log.checks.add(CheckKind.ZERO, [log.current_value.settled_span()])
    recording.samples([0.35] * 6)
    log.readings.take(bed.id, EVERYTHING_ON)
    return log


def corrected(
    log: VisitLog,
    reading: Reading,
    reference: Reference | None = None,
    on_battery: bool = True,
    link_isolated: bool = True,
) -> Reading:
    answers = reading.answers
    assert answers is not None
    if reference is not None:
        answers = answers.against(reference, ReferenceAnswers.of(ROD))
    answers = replace(answers, on_battery=on_battery, link_isolated=link_isolated)
    return log.readings.corrections.set_references([(reading, answers)], "entered wrongly", "A. Example")[0]


def of(reading: Reading) -> Budget:
    budget = budget_of(reading)
    assert budget is not None
    return budget


def test_uncertainty_and_verdict_follow_and_the_reading_itself_stays(home: VisitLog) -> None:
    taken = home.readings.all()[0]
    assert compare_with(of(taken), 0.1) == "above"
    assert taken.context.verdicts[CheckKind.ZERO] is CheckVerdict.PASSED
    found = corrected(home, taken, reference="building earth")
    of_earth = next(c for c in of(found).components if c.name == "reference: building earth")
    assert of_earth.u_volts == pytest.approx(BUILDING_EARTH_VOLTS / RECTANGULAR)
    assert compare_with(of(found), 0.1) == "not distinguishable"
    assert found.context.verdicts == {} and found.context.lapses[CheckKind.ZERO] is Lapse.REFERENCE
    assert (found.context.setup.soil, found.as_taken.answers.soil) == ("", "loam")
    (row,) = found.corrections
    assert row.text == (
        "what it was read against was corrected from “earth rod (loam, wet)” to “building earth” (entered wrongly)"
    )
    assert footnote(found) == "read against “earth rod (loam, wet)”, corrected to “building earth”"
    assert not found.by_word, "what was on is as it was"
    back = corrected(home, found, reference="earth rod")
    assert back.context == taken.context and footnote(back) == "" and len(back.corrections) == 2
    with pytest.raises(StillvoltError, match="another window"):
        corrected(home, taken, on_battery=False)


def test_what_failed_before_fails_still_and_laptop_and_link_count(log: VisitLog, recording) -> None:
    log.setup.set(ROD)
    bed = log.spots.add("Bed")
    recording.samples([2.0] * 6)
    log.checks.add(CheckKind.ZERO, [log.current_value.settled_span()])
    recording.samples([0.01] * 6)
    taken = log.readings.take(bed.id, EVERYTHING_ON)
    found = corrected(log, taken, reference="building earth", on_battery=False, link_isolated=False)
    assert found.context.verdicts == {CheckKind.ZERO: CheckVerdict.FAILED}
    assert of(found).expanded_volts > of(taken).expanded_volts > 2.0
    assert found.context.remarks()[:3] == [
        "building earth as reference",
        "laptop on its charger",
        "link not isolated",
    ]


def test_report_and_export_say_what_it_was_and_is(home: VisitLog, tmp_path: Path) -> None:
    corrected(home, home.readings.all()[0], reference="building earth")
    data = read_report_data(home)
    text = words(report_html(data, data.local(data.readings[0].utc_ns)))
    assert "corrected from “earth rod (loam, wet)” to “building earth”, because “entered wrongly”" in text
    assert "building earth as reference" in text
    export(home.path, tmp_path / "out", ["csv"])
    readings, rows, budget = (
        pd.read_csv(tmp_path / "out" / f"{name}.csv", keep_default_na=False)
        for name in ("readings", "corrections", "budget")
    )
    assert (readings.reference[0], readings.taken_reference[0]) == ("building earth", "earth rod")
    assert readings.correction_reason[0] == "entered wrongly"
    assert (rows.kind[0], rows.from_reference[0], rows.to_reference[0]) == (
        "reference", "earth rod (loam, wet)", "building earth",
    )  # fmt: skip
    assert "reference: building earth" in set(budget.component)


def test_the_export_says_nothing_of_a_rod_once_the_reference_is_the_buildings_earth(
    home: VisitLog, tmp_path: Path
) -> None:
    home.circumstances.set(Circumstances(footwear="socks", rod_length_m=1.0))
    found = []
    for setup in (ROD, replace(ROD, reference="building earth")):
        home.setup.set(setup)
        table = tmp_path / str(setup.reference) / "setup.csv"
        export(home.path, table.parent, ["csv"])
        rows = pd.read_csv(table, keep_default_na=False)
        found.append(dict(zip(rows["item"], rows["value"], strict=True)))
    assert [(one["soil"], one["moisture"]) for one in found] == [("loam", "wet"), ("", "")]
    assert [one["footwear"] for one in found] == ["socks", "socks"]
    assert "1.0" in found[0].values() and "1.0" not in found[1].values()


def test_it_is_checked_and_salvaged(home: VisitLog, tmp_path: Path) -> None:
    found = corrected(home, home.readings.all()[0], reference="building earth", on_battery=False)
    home.close()
    assert not verify(home.path).problems
    salvage(home.path, tmp_path / "new.visit")
    with closing(VisitLog.open(tmp_path / "new.visit")) as new:
        (again,) = new.readings.all()
        assert (again.answers, again.corrections) == (found.answers, found.corrections)
    edit(
        home.path,
        "UPDATE reference_correction SET to_answers = replace(to_answers, 'building earth', 'earth rod')",
    )
    assert any("answers of correction 1" in problem for problem in verify(home.path).problems)


def test_a_correction_whose_answers_are_lost_changes_nothing_and_is_told(home: VisitLog) -> None:
    taken = home.readings.all()[0]
    corrected(home, taken, reference="building earth")
    home.close()
    edit(home.path, "DELETE FROM reference_correction")
    with closing(VisitLog.open(home.path)) as log:
        assert log.readings.all()[0].answers == taken.answers
        assert any("What it says of the reference is lost." in one for one in log.integrity().sentences())


def test_a_check_of_the_rod_says_nothing_of_what_was_read_against_the_buildings_earth(
    log: VisitLog, recording
) -> None:
    log.setup.set(ROD)
    bed = log.spots.add("Bed")
    for volts in (0.004, 2.0):
        recording.samples([volts] * 6, u_volts=0.001)
        log.checks.add(CheckKind.ZERO, [log.current_value.settled_span()])
        if volts < 1.0:
            recording.samples([0.3] * 6)
            taken = log.readings.take(bed.id, EVERYTHING_ON)
    failed = failed_later(log.checks.all())
    assert "passed before this reading and failed after it" in doubt_by_checks(taken, failed, {})
    found = corrected(log, taken, reference="building earth")
    assert found.context is not None and found.context.lapses[CheckKind.ZERO] is Lapse.REFERENCE
    assert doubt_by_checks(found, failed, {}) == ""


def test_what_it_was_corrected_to_takes_no_doubt_about_what_is_on(log: VisitLog, recording) -> None:
    log.setup.set(ROD)
    recording.samples([0.05] * 6)
    taken = log.readings.take(log.spots.add("Bed").id, EVERYTHING_OFF)
    context, level = log.checks.context(), Level(0.26, 0.002, 2_000)
    found = corrected(log, taken, reference="building earth")
    for reading in (taken, found):
        said = condition_doubt(Statement(EVERYTHING_OFF, 1_000), level, [reading], [], context)
        assert said.startswith("“Bed” was read as 0.05 V with everything off")
    of_earth = replace(found, corrections=())
    assert condition_doubt(Statement(EVERYTHING_OFF, 1_000), level, [of_earth], [], context) == "", (
        "what was taken against another reference cannot be compared"
    )
