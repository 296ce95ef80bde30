"""The plan to hang on the wall, the electrician's page, and the section of remedies."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from logger.errors import StillvoltError
from logger.metrology.uncertainty import Budget
from logger.plan.planned_remedy import (
    PlannedRemedy,
    ProofVerdict,
    RemedyPlan,
    RemedyResult,
    RemedyStatus,
    SpotChange,
    SpotPrediction,
)
from logger.plan.solver.prediction import Rise
from logger.report.document.plan_sheet.effect_text import effect_text
from logger.report.document.plan_sheet.plan_sheet import plan_sheet
from logger.report.document.report_data import ReportData
from logger.report.document.sections.remedies import remedies
from logger.report.document.write_plan import write_plan
from logger.translation import in_language
from logger.visit import VisitLog
from logger.visit.records.home_details import SourceDetails
from logger.visit.records.home_records import Source
from logger.visit.records.remedy_records import Remedy, RemedyDecision, RemedyEntry, RemedyKind

DEMO = Path("fixtures/demo/garden_flat.visit")

LAMP = Source(1, "cord", "Bedside lamp", circuit_id=2)
NOW = datetime(2026, 11, 28, tzinfo=UTC)
OUTLETS = Source(2, "circuit", "Bedroom outlets")


def planned(
    kind: RemedyKind,
    sources: tuple[Source, ...] = (LAMP,),
    status: RemedyStatus = RemedyStatus.PLANNED,
    **more: Any,
) -> PlannedRemedy:
    """A remedy on which something was decided."""
    done = status is not RemedyStatus.PLANNED
    entry = RemedyEntry(
        1,
        RemedyDecision.DONE if done else RemedyDecision.PLANNED,
        due="" if done else "2026-12-20",
        done_on="2026-11-20" if done else "",
        by_whom="Jo",
    )
    kept = Remedy(1, 1, kind, tuple(source.id for source in sources), entries=(entry,))
    return PlannedRemedy(kind, sources, None, "", "", kept, status, **more)


def data_of(*found: PlannedRemedy, **more: Any) -> ReportData:
    """What the sheet reads of a report."""
    return cast(
        ReportData,
        SimpleNamespace(
            plan=RemedyPlan(0.1, (), found, **more),
            source_details={OUTLETS.id: SourceDetails(panel="A", number="7")},
            local=lambda utc_ns: datetime.fromtimestamp(utc_ns // 10**9, UTC),
            clock_changes=False,
            sources=(LAMP, OUTLETS),
            nights=(),
        ),
    )


def change(before: float, after: float) -> SpotChange:
    """A bed that was read before and after, ± 0.04 V."""
    return SpotChange(
        1,
        "Bed",
        Budget.of_u("a", before, 0.02),
        Budget.of_u("a", after, 0.02),
        Budget.of_u("a", after - before, 0.02),
        "",
        0,
        86_400 * 10**9,
        "",
        "everything on",
    )


def test_each_remedy_stands_in_the_group_of_whoever_does_it_and_when() -> None:
    proven = RemedyResult(ProofVerdict.PROVEN, (change(1.98, 0.15),))
    worse = RemedyResult(ProofVerdict.WORSE, (change(0.15, 0.4),))
    sheet = plan_sheet(
        data_of(
            planned(RemedyKind.UNPLUG_AT_NIGHT, status=RemedyStatus.PROVEN, result=proven),
            planned(RemedyKind.MOVE),
            planned(RemedyKind.DISCONNECT, (OUTLETS,)),
            planned(RemedyKind.READ_AGAIN, ()),
            planned(RemedyKind.UNPLUG, status=RemedyStatus.PROVEN, result=proven),
            planned(RemedyKind.MOVE, status=RemedyStatus.WORSE, result=worse),
        ),
        NOW,
    )
    assert sheet is not None
    assert [(group.head, len(group.lines)) for group in sheet.groups] == [
        ("Undo this: the value has risen", 1),
        ("Each evening", 1),
        ("This week", 1),
        ("Ask an electrician", 1),
        ("With whoever measures", 1),
        ("Done", 1),
    ]
    undo, evening, week, electrician, _, done = (group.lines[0] for group in sheet.groups)
    assert "higher: “Bed” from about 0.15 V to about 0.40 V" in undo.brings and undo.ticked
    assert not evening.ticked, "it is to be done again this evening, however often it was done"
    assert week.until == "Until 20 December 2026. By Jo." and not week.ticked
    assert electrician.what == "panel A, 7 (Bedroom outlets): Fit an automatic or remote disconnect"
    assert done.ticked and done.until == "Done on 20 November 2026 by Jo."
    assert "lower: “Bed” from about 1.98 V to about 0.15 V" in done.brings
    assert len(set(sheet.cautions)) == len(sheet.cautions) and any("panel" in c for c in sheet.cautions)


def test_what_was_due_is_asked_about_and_a_night_above_the_target_is_not_passed_over() -> None:
    data = data_of(
        planned(RemedyKind.MOVE), chosen=(SpotPrediction(1, "Bed", 0.05, 0.01),), meets_target=True
    )
    later = plan_sheet(data, datetime(2027, 1, 1, tzinfo=UTC))
    assert later is not None
    assert later.groups[0].lines[0].until.startswith("It was due on 20 December 2026: is it done?")
    assert later.lead == ("That is below 0.1 V at every spot that was swept.",)
    above = plan_sheet(
        data_of(planned(RemedyKind.MOVE), chosen=(SpotPrediction(1, "Bed", 0.19, 0.06),), meets_target=True),
        NOW,
    )
    assert above is not None
    assert above.lead == ("That is not certain to be below 0.1 V at every spot that was swept.",)
    night = SimpleNamespace(summary=SimpleNamespace(level=SimpleNamespace(clearly_above_s=60.0)))
    with_night = SimpleNamespace(**{**vars(data), "nights": (night,)})
    sheet = plan_sheet(cast(ReportData, with_night), NOW)
    assert sheet is not None and "at times above 0.1 V all the same" in sheet.lead[-1]


def test_what_is_only_proposed_or_not_wanted_is_nobodys_plan() -> None:
    proposed = PlannedRemedy(RemedyKind.UNPLUG, (LAMP,), None, "", "", None, RemedyStatus.PROPOSED)
    entry = RemedyEntry(1, RemedyDecision.NOT_WANTED)
    refused = Remedy(1, 1, RemedyKind.MOVE, (1,), entries=(entry,))
    not_wanted = PlannedRemedy(
        RemedyKind.MOVE, (LAMP,), None, "", "", refused, RemedyStatus.PROPOSED, not_wanted=True
    )
    assert plan_sheet(data_of(proposed, not_wanted), NOW) is None
    section = remedies(data_of(proposed, not_wanted))
    assert section is not None and "not wanted" in repr(section) and "Unplug" not in repr(section)


def test_a_prediction_never_reads_like_a_measurement() -> None:
    def text(**values: Any) -> str:
        spot = SpotPrediction(1, "Bed", before_volts=1.98, **values)
        return effect_text(planned(RemedyKind.UNPLUG, predictions=(spot,)))

    assert text(volts=0.15, u_volts=0.02, is_known=True).startswith(
        "Worked out, not measured: from 1.98 V to"
    )
    assert text(volts=0.15, u_volts=0.02, is_read=True).startswith("Read: from about 1.98 V to about 0.15 V")
    assert text(volts=0.15, u_volts=0.06).startswith("A guess, to be read")
    assert "Nobody can say beforehand" in text(volts=0.9, u_volts=3.2), "a number ± 6.4 V would mislead"
    assert text(lowest_volts=0.15, highest_volts=1.98).startswith("At best from 1.98 V to 0.15 V")
    assert text(volts=2.4, u_volts=0.1, rises=Rise.YES) == "At “Bed” it rises to about 2.40 V."
    assert "Nobody can say beforehand" in text(refusal="The readings contradict each other.")


@pytest.mark.parametrize(
    ("verdict", "said"),
    [
        (ProofVerdict.NO_EFFECT, "nothing has changed"),
        (ProofVerdict.NOT_TOLD_APART, "too small to tell"),
        (ProofVerdict.NOT_READ, "Not read again yet at “Desk”"),
        (ProofVerdict.NOT_COMPARABLE, "cannot be compared"),
    ],
)
def test_a_result_that_proves_nothing_says_so(verdict: ProofVerdict, said: str) -> None:
    result = RemedyResult(verdict, (change(0.2, 0.19),), unread=("Desk",))
    text = effect_text(planned(RemedyKind.UNPLUG, status=RemedyStatus.DONE, result=result))
    assert said in text and "lower" not in text


def test_what_has_not_fallen_is_not_said_to_be_lower() -> None:
    result = RemedyResult(
        ProofVerdict.PROVEN, (change(1.98, 0.15), replace(change(0.84, 0.87), spot_name="Desk"))
    )
    text = effect_text(planned(RemedyKind.UNPLUG, status=RemedyStatus.PROVEN, result=result))
    assert "lower: “Bed” from about 1.98 V to about 0.15 V" in text and "Desk" not in text


def test_what_was_never_read_before_still_has_a_value() -> None:
    spot = SpotPrediction(1, "Bed", volts=0.07, u_volts=0.02, is_read=True)
    assert effect_text(planned(RemedyKind.UNPLUG, predictions=(spot,))) == "“Bed”: about 0.07 V."


def test_of_several_remedies_between_two_readings_none_is_called_the_cause_alone() -> None:
    result = RemedyResult(ProofVerdict.PROVEN, (change(1.98, 0.15),), together_with=("Desk lamp: Unplug",))
    text = effect_text(planned(RemedyKind.UNPLUG, status=RemedyStatus.PROVEN, result=result))
    assert text.endswith("That is the result of this and Desk lamp: Unplug together.")


def test_the_plan_is_printed_alone_in_the_language_of_the_report(tmp_path: Path) -> None:
    visit = tmp_path / "home.visit"
    shutil.copy(DEMO, visit)
    visit.chmod(0o600)
    out = tmp_path / "plan.html"
    VisitLog.create(tmp_path / "new.visit").close()
    with pytest.raises(StillvoltError, match="Nothing is planned yet"):
        write_plan(tmp_path / "new.visit", out)
    assert not out.exists()
    log = VisitLog.open(visit)
    lamp = next(source for source in log.circuits.all() if source.kind == "cord")
    log.remedies.add(
        RemedyKind.SHIELDED_CORD,
        RemedyEntry(0, RemedyDecision.PLANNED, note="<b>heirloom</b>"),
        [lamp.id],
    )
    log.close()
    assert write_plan(visit, out, language="de").startswith("Simulated")
    page = out.read_text(encoding="utf-8")
    assert 'lang="de"' in page and "&lt;b&gt;heirloom" in page and "<b>heirloom" not in page
    with in_language("de"), pytest.raises(StillvoltError):
        write_plan(visit, visit)
