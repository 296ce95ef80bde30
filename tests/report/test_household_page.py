"""The household's page: one list as acts, no spot covered that was not read, nothing promised of a doubted reading."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from typing import cast

import pytest

from logger.clock import NS_PER_S, ManualClock
from logger.report.document.first_page.amounts import Amount
from logger.report.document.first_page.cause_bars import _Bar, _others, _Shown
from logger.report.document.first_page.first_page import first_page
from logger.report.document.first_page.in_short import in_short, target_standing
from logger.report.document.first_page.tonight import tonight
from logger.report.document.read_report_data import read_report_data
from logger.report.document.report_data import ReportData
from logger.report.document.wording import day
from logger.sweep.spot_plan import SourceContribution
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK
from logger.visit.records.home_details import SourceDetails
from logger.visit.records.home_records import Source
from tests.support.swept_home import LEGS, Home

DAY_NS = 24 * 3600 * NS_PER_S


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ReportData]:
    """A bed with a confirmed list, and a desk that was read and not swept."""
    with closing(VisitLog.create(tmp_path_factory.mktemp("home") / "a.visit", ManualClock())) as log:
        yield _recorded(log)


def _recorded(log: VisitLog) -> ReportData:
    home = Home(log, {"bed": {"Bedroom": 0.9}}, LEGS)
    home.sweep()
    home.settle()
    desk = log.spots.add("desk").id
    for condition, volts in ((EVERYTHING_ON, 1.9), (EVERYTHING_OFF, 0.05)):
        log.readings.enter(desk, condition, volts, 0.01)
    log.readings.enter(log.spots.add("walk 1", OUTSIDE_WALK).id, OUTSIDE_WALK, 0.3, 0.01)  # needs no list
    (bedroom,) = (source for source in log.circuits.all() if source.name == "Bedroom")
    log.source_details.set(bedroom.id, SourceDetails(panel="B", number="7", feeds="the lights upstairs"))
    return read_report_data(log)


def short(data: ReportData) -> dict[str, str]:
    return dict(in_short(data))


def test_the_list_is_an_act_at_the_panel_for_the_spots_it_was_read_at(data: ReportData) -> None:
    page = first_page(data, data.local(max(r.utc_ns for r in data.valid_readings)) + timedelta(days=500))
    assert "but if lamps or wiring changed since, whether it helps is not known" in page.tonight.measured
    assert "over a year" not in first_page(data).tonight.measured
    assert [(one.name, one.note) for one in page.tonight.switch_off] == [
        ("panel B, 7 (Bedroom)", "turns off the lights upstairs")
    ]
    assert "A wall switch is not enough" in page.tonight.back
    assert not any("whether it helps at other spots" in note for note in page.tonight.notes), "said once"
    said = short(data)
    assert re.fullmatch(
        "Measured with just this list off, it fell below 0.1 V: at “bed” from 0.32 V to 0.0[0-9] V.",
        said["Did it help:"],
    )
    assert (
        "For “desk”, above 0.1 V with everything on, it is not known yet what to switch off: the"
        in said["Not covered:"]
    )
    assert "“bed”" not in said["Not covered:"] and "nor about health" in said["Not covered:"]
    assert "the highest is “desk” with 1.90 V" in said["Found:"]
    assert said["Tonight:"] == "Switch off the 1 breaker listed below."
    assert "Nothing was measured elsewhere." in said["Measured:"]


def test_the_days_of_all_that_the_list_rests_on_are_told(data: ReportData) -> None:
    plan = data.tonight
    assert plan is not None
    bed = plan.spots[0]
    last = data.local(bed.read_to_utc_ns)

    def measured(first_days_ago: int, last_days_later: int) -> str:
        spot = replace(
            bed,
            read_from_utc_ns=bed.read_to_utc_ns - first_days_ago * DAY_NS,
            read_to_utc_ns=bed.read_to_utc_ns + last_days_later * DAY_NS,
        )
        plan_then = replace(plan, spots=(spot,))
        return tonight(replace(data, tonight=plan_then), last + timedelta(days=last_days_later)).measured

    assert measured(0, 0) == f"Measured {day(last)}."
    # Read again just now with that list off: that the first reading is over a year old says nothing against it.
    assert measured(400, 0) == f"Measured from {day(last - timedelta(days=400))} to {day(last)}."
    assert "Part of it is over a year old" in measured(0, 400)


def test_of_many_spots_the_highest_are_shown_and_the_others_counted(data: ReportData) -> None:
    desk = next(spot for spot in data.spots if spot.name == "desk")
    more = tuple(replace(desk, id=100 + n, name=f"desk {n}") for n in range(20))
    many = replace(
        data,
        spots=(*data.spots, *more),
        results=data.results | {spot.id: data.results[desk.id] for spot in more},
    )
    page = first_page(many)
    (group,) = page.spot_groups
    assert len(group.spots) == 6 and "bed" not in [spot.name for spot in group.spots]
    assert page.other_spots.startswith("These are the 6 with the highest values. Of the others,")
    assert page.all_spots == "All 22 spots are in the section “Spots”" and page.is_crowded
    # What is done tonight is there in full, and who measured is asked on the next page.
    assert page.tonight.switch_off == first_page(data).tonight.switch_off
    (in_short,) = page.calls_in_short
    assert in_short.who == page.calls_later[0].who and "after the first page" in in_short.tasks[0].what
    assert len(page.calls) + 1 == len(first_page(data).calls)
    assert not first_page(data).other_spots and not first_page(data).calls_later


def test_a_list_whose_reading_is_in_doubt_promises_nothing_and_says_whether_to_act(data: ReportData) -> None:
    assert data.tonight is not None
    reading = data.tonight.spots[0].confirming_reading
    assert reading is not None
    for doubted in (
        replace(data, doubts={reading.id: "The zero check failed later."}),
        replace(data, contradicting=frozenset([reading.id])),
    ):
        said = short(doubted)["Did it help:"]
        assert "not certain" in said and "Measured with" not in said
        assert any("you can do this tonight, but" in note for note in tonight(doubted).notes)
        asked = [task.what for tasks in first_page(doubted).calls for task in tasks.tasks]
        assert asked and not any("can be used already" in what for what in asked)


def test_where_voltages_cancel_there_is_one_decision_and_no_second_list(data: ReportData) -> None:
    plan = data.tonight
    assert plan is not None and not tonight(data).safer
    light = next(source for source in data.sources if source.name == "Light")
    relying = replace(plan, relies_on_cancellation=True)

    def safer(robust: tuple[Source, ...], more_volts: float = -0.02) -> str:
        spots = tuple(replace(spot, left_robust_volts=spot.left.volts + more_volts) for spot in plan.spots)
        return tonight(replace(data, tonight=replace(relying, spots=spots, off_robust=robust))).safer

    assert "Nobody has measured yet whether it helps to switch off Light as well" in safer((*plan.off, light))
    assert "Tonight only what is listed is switched off" in safer((*plan.off, light))
    assert "Light" not in safer((*plan.off, light), 0.02), "what promises no less is not offered"
    assert safer(plan.off).endswith("No list does without that.")
    assert "it helps" not in safer((light,)) and "nobody has read it" in safer((light,))


def test_the_target_is_never_taken_for_a_law_or_for_somebody_elses(data: ReportData) -> None:
    assert target_standing(data) == "0.1 V is a rule of thumb of the trade, no law and no health limit."
    other = replace(data, setup=replace(data.setup, target_volts=0.3))
    assert "rule of thumb" not in target_standing(other) and "chosen for this visit" in target_standing(other)
    stated = replace(data, setup=replace(data.setup, target_source="the building code"))
    assert "no law" not in target_standing(stated) and "(the building code)" in target_standing(stated)


def test_what_is_listed_without_being_shown_to_give_much_has_its_reason(data: ReportData) -> None:
    plan = data.tonight
    assert plan is not None and not any("on the list since" in note for note in tonight(data).notes)
    (listed,) = plan.off

    def said(volts: float, u_volts: float, *, alone: bool = True) -> ReportData:
        """Told from nothing or not, with its reading alone or without."""
        spots = tuple(
            replace(
                spot,
                contributions=tuple(
                    replace(given, volts=volts, u_volts=u_volts, alone=given.alone if alone else None)
                    if given.source.id == listed.id
                    else given
                    for given in spot.contributions
                ),
            )
            for spot in plan.spots
        )
        return replace(data, tonight=replace(plan, spots=spots))

    wide = first_page(said(0.13, 0.07))
    assert any(
        note.startswith("Bedroom is on the list since")
        and "V was read at “bed” with it alone on, above" in note
        for note in wide.tonight.notes
    )
    assert any("How much Bedroom gives here by itself is not certain." in c.rest for c in wide.causes)
    unread = first_page(said(0.13, 0.07, alone=False)).tonight.notes
    assert "Bedroom is on the list since no reading shows that it may stay on." in unread
    assert any("no reading shows" in note or "alone on" in note for note in tonight(said(0.08, 0.01)).notes)


def test_the_panel_of_a_long_list_stands_once_above_it(data: ReportData) -> None:
    plan = data.tonight
    assert plan is not None
    (circuit,) = plan.off
    more = [replace(circuit, id=500 + n, name=f"Outlets {n}") for n in range(3)]
    details = {
        one.id: SourceDetails(panel="B", number=str(n)) for n, one in enumerate([circuit, *more], start=7)
    }
    long = replace(data, tonight=replace(plan, off=(circuit, *more)), source_details=details)
    tonight = first_page(long).tonight
    assert tonight.headline == "Before going to bed, at the panel (fuse box) B, switch off these breakers:"
    assert [one.name for one in tonight.switch_off] == [
        "7 (Bedroom)",
        "8 (Outlets 0)",
        "9 (Outlets 1)",
        "10 (Outlets 2)",
    ]
    other = details | {more[0].id: SourceDetails(panel="C", number="8")}
    tonight = first_page(replace(long, source_details=other)).tonight
    assert "panel C, 8 (Outlets 0)" in [one.name for one in tonight.switch_off]
    assert "fuse box) B" not in tonight.headline


def test_what_nothing_was_seen_of_is_bounded_by_the_figures_of_the_sweep(data: ReportData) -> None:
    """0.016 V ± 0.098 V stands in its section as 0.02 ± 0.10, a range up to 0.12 V: the bars say no other number."""
    with_bars = Amount(0.5, 0.01, "bed")
    shown = _Shown(
        (_Bar(cast("SourceContribution", None), with_bars),), (), (Amount(0.016, 0.049, "bed"),) * 2
    )
    assert data.tonight is not None
    bed = data.tonight.spots[0]
    (said,) = _others(bed, shown, replace(data, tonight=None))
    assert said == "At 2 more nothing could be seen (if there is something, less than about 0.12 V each)."
