"""The report of a sweep that is no answer: readings contradict each other, or the set itself was not read."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from datetime import UTC, datetime
from html import unescape

import pytest

from gui.stages.sources.tonight_content import alternatives_text, circuits_meaning_text
from logger.report.archive.entry import read_entry
from logger.report.document.first_page.first_page import first_page
from logger.report.document.first_page.measured import trust_sentence
from logger.report.document.first_page.tonight import tonight as of_tonight
from logger.report.document.html_page import report_html
from logger.report.document.read_report_data import read_report_data
from logger.report.export.write_export import export
from logger.sweep.plan_text import SUSPECT, doubt_lines, likely_causes, to_be_certain_text
from logger.sweep.sweep_progress import combination_of
from logger.sweep.switch_off_plan import PlanState
from logger.visit.results.on_off_result import SpotResult
from tests.support.swept_home import LEGS, Home

COUPLINGS = {"bed": {"Bedroom": 0.9, "Light": 0.1, "Study": 0.08, "Hall": 0.2}}
WRONG = "only Bedroom on"
OFF_AND_TWO = ("everything off", "only Bedroom on", "only Light on")
WRITTEN = datetime(2026, 1, 2, 9, 0, tzinfo=UTC)


@pytest.fixture
def home(log):
    return Home(log, COUPLINGS, LEGS)


def without_an_answer(log):
    """The first page and the whole text of a report in which nothing may be switched off yet."""
    data = read_report_data(log)
    page = first_page(data)
    assert page.tonight.headline.startswith("There is no list for tonight yet.")
    assert page.tonight.switch_off == () and page.tonight.unplug == ()
    assert not any(tasks.who == "You yourself:" for tasks in page.calls)
    html = report_html(data, WRITTEN)
    for answer in (
        "Switch off:",
        "Nothing has to be switched off",
        "The shortest list",
        "By three rules, predicted",
    ):
        assert answer not in html
    return page, html


def test_readings_that_contradict_each_other_stand_in_place_of_a_list(log, home):
    home.sweep(wrong={WRONG: lambda true: 10 * true})
    data = read_report_data(log)
    (suspect,) = (r for r in data.readings if r.condition == WRONG)
    assert data.doubts[suspect.id] == SUSPECT
    page, html = without_an_answer(log)
    assert "“bed” contradict each other. So leave all breakers on tonight." in page.tonight.headline
    again = f"“bed” contradict each other. Read these again: {WRONG} ("
    assert again in page.calls[0].tasks[0].what, "asked of whoever measured, not of the household"
    (cause,) = page.causes
    assert cause.picture == "" and "contradict each other" in cause.rest
    assert "Suspect readings at bed" in html and "By the model, what each gives" not in html


def test_a_small_home_with_a_contradiction_is_not_told_that_nothing_has_to_be_switched_off(log):
    """The plan without an off-list is the one that once was taken for "nothing to do"."""
    home = Home(log, {"bed": {"Hall": 0.02}}, LEGS)
    home.sweep(wrong={"everything off": lambda true: 0.87})
    assert home.answer().state is PlanState.CONTRADICTORY
    without_an_answer(log)


def test_a_set_that_nobody_read_is_no_list(log, home):
    home.sweep()
    found = home.answer()
    while found.state is PlanState.OPEN:
        page, _ = without_an_answer(log)
        home.read(found.next_combination, "bed")
        found = home.answer()
    assert found.state is PlanState.UNCONFIRMED
    page, _ = without_an_answer(log)
    assert "nobody has read that at “bed” yet" in page.tonight.headline and "Bedroom" in page.tonight.headline
    first, second = (task.what for task in page.calls[0].tasks)
    assert first == f"The next reading: {found.next_combination.label}, at “bed”."
    assert "is not certain yet. Read once more first: “everything off” at “bed”, " in second


def test_a_background_that_nobody_read_is_named_and_not_made_up(log, home):
    home.sweep()
    off = next(r for r in log.readings.all() if r.condition == "everything off")
    log.readings.void(off.id, "moved")
    page, html = without_an_answer(log)
    assert "Everything off was not read at “bed”: read that first." in page.tonight.headline
    assert page.calls[0].tasks[0].what == "Read what is missing at “bed”: “everything off”."
    assert "the background was not read" in html


def test_the_list_of_a_confirmed_answer_has_the_value_that_was_read(log):
    home = Home(log, {"bed": {"Bedroom": 0.9}}, LEGS)
    home.sweep()
    found, _ = home.settle()
    tonight = of_tonight(read_report_data(log))
    assert [one.name for one in tonight.switch_off] == [source.name for source in found.off] != []
    assert tonight.headline == "Before going to bed, at the panel (fuse box), switch off these breakers:"
    page = first_page(read_report_data(log))
    assert re.search(
        "it fell below 0.1 V: at “bed” from [0-9.]+ V to [0-9.]+ V", dict(page.in_short)["Did it help:"]
    )
    (doubt,) = (task.what for task in page.calls[-1].tasks if "rests on that one reading" in task.what)
    assert doubt.endswith("Tonight's list can be used already.")
    html = unescape(report_html(read_report_data(log), WRITTEN))
    assert html.count(doubt_lines(found.spots[0])[-1]) == 1, "for the professional, beside the sweep"


def test_a_supply_that_does_not_fit_is_named_in_report_and_window_before_any_reading(log):
    """Two circuits on the legs of a split phase, read to the end with one phase entered."""
    home = Home(
        log,
        {"bed": {"Bedroom": 0.9, "Light": 0.2}},
        {"Bedroom": (0,), "Light": (1,), "Study": (0,), "Hall": (1,)},
    )
    log.setup.set(replace(log.setup.current(), supply="single phase"))
    home.sweep()
    for circuits in (["Bedroom", "Study", "Hall"], ["Bedroom", "Light"], ["Study", "Hall"]):
        home.read(combination_of([home.ids[name] for name in circuits], log.circuits.all()), "bed")
    found = home.answer()
    text = found.supply_doubt
    assert text.endswith("better than the single phase that was entered. Check the supply.")
    assert found.state is PlanState.CONTRADICTORY
    assert to_be_certain_text(found).startswith(text)
    assert likely_causes(found, "single phase")[0] == text in circuits_meaning_text(found, found.spots[0])
    assert alternatives_text(found) == "", "the window names it once"
    data = read_report_data(log)
    assert any(task.what.startswith(text) for task in first_page(data).calls[-1].tasks)
    html = unescape(report_html(data, WRITTEN))
    assert html.count(text) == 3, "for the household, beside the sweep, and in what is still to be read"
    confirmed = replace(found, state=PlanState.CONFIRMED)
    assert alternatives_text(confirmed).count(text) == 1
    of_confirmed = first_page(replace(data, tonight=confirmed)).calls[-1].tasks
    assert any(task.what.startswith(text) for task in of_confirmed)
    log.setup.set(replace(log.setup.current(), supply="split phase"))
    assert home.answer().supply_doubt == "" and text not in unescape(
        report_html(read_report_data(log), WRITTEN)
    )


def test_the_readings_that_would_make_it_certain_are_named(log):
    home = Home(log, {"bed": {"Bedroom": 0.9}}, LEGS)
    home.sweep()
    found, _ = home.settle()
    (spot,) = found.spots
    off, one, other = (next(r for r in log.readings.all() if r.condition == name) for name in OFF_AND_TWO)
    swapped = replace(spot, background_doubt="read once", exchangeable=((off, one), (one, other)))
    assert to_be_certain_text(replace(found, spots=(swapped,))) == (
        "What some circuits give is not certain yet. To make it certain, read once more: “everything off” at “bed” and "
        "“only Bedroom on” at “bed”."
    )


def test_a_renamed_circuit_has_its_present_name_in_the_conditions_of_report_and_export(log, home, tmp_path):
    home.sweep()
    kept = [reading.condition for reading in log.readings.all()]
    bedroom = next(source for source in log.circuits.all() if source.name == "Bedroom")
    log.circuits.rename(bedroom.id, "Bedroom, upstairs")
    now = [condition.replace("Bedroom", "Bedroom, upstairs") for condition in kept]
    assert now != kept and [reading.condition for reading in read_report_data(log).readings] == now
    export(log.path, tmp_path / "out", ("csv",))
    for table in ("readings", "sweep"):
        rows = list(
            csv.DictReader((tmp_path / "out" / f"{table}.csv").read_text(encoding="utf-8").splitlines())
        )
        assert {row["condition"] for row in rows} == set(now)
    assert [reading.condition for reading in log.readings.all()] == kept


def test_repeats_that_contradict_each_other_are_told_by_all_that_is_made_of_the_visit(log, tmp_path):
    log.spots.add("Bed")
    for volts, u_volts in ((1.5, 0.06), (0.2, 0.03), (0.9, 0.04)):
        log.readings.enter(1, "everything on", volts, u_volts)
    log.circuits.add("circuit", "Hall")
    told = "(1.50 V, 0.20 V and 0.90 V) contradict each other, so that no ± holds."
    result = SpotResult.of(log.readings.all(), 1, log.circuits.all())
    assert told in result.meaning(0.1) and "not known" in result.verdict(0.1)
    data = read_report_data(log)
    page = first_page(data)
    assert all(told in data.doubts[reading.id] for reading in data.readings)
    assert (
        dict(page.in_short)["How sure:"]
        == "How far the values can be trusted is not known: the readings contradict each other."
    )
    (row,) = page.spot_groups[0].spots
    assert row.on.word == "not known" and "†" in row.on.marks
    export(log.path, tmp_path / "out", ("csv",))
    for table, column, cell in (("sweep", "contradicts", "yes"), ("spots", "on_expanded_volts", "")):
        rows = list(
            csv.DictReader((tmp_path / "out" / f"{table}.csv").read_text(encoding="utf-8").splitlines())
        )
        assert {row[column] for row in rows} == {cell}
    assert read_entry(log.path).highest_on.volts == 1.5
    for volts in (0.05, 1.1):
        log.readings.enter(1, "everything off", volts, 0.03)
    (outside, *_) = first_page(read_report_data(log)).outside
    assert outside.startswith("With everything off the readings at “Bed” contradict each other")
    for reading in log.readings.all()[3:]:
        log.readings.void(reading.id, "mistaken")
    log.readings.void(1, "mistaken")
    log.readings.void(2, "mistaken")
    assert not read_report_data(log).doubts and "not known" not in trust_sentence(read_report_data(log))[:40]


def test_only_what_was_read_with_the_same_things_on_is_a_repeat(log):
    bed = log.spots.add("Bed").id
    for condition, volts in (("everything on", 3.2), ("everything off", 0.1)):
        log.readings.enter(bed, condition, volts, 0.03)
    fridge = log.circuits.add("circuit", "Refrigerator").id
    for condition, volts in (("everything on", 3.2), ("everything off", 0.9)):
        log.readings.enter(bed, condition, volts, 0.03, live=frozenset([fridge]))
    data = read_report_data(log)
    assert not data.contradicting and not data.results[bed].apart and not data.swept
    attic = log.circuits.add("circuit", "Attic").id
    log.readings.enter(bed, "everything on", 3.2, 0.03, live=frozenset([fridge, attic]))
    log.circuits.remove(attic)
    assert not read_report_data(log).swept and not read_entry(log.path).has_sweep
    log.readings.enter(bed, "everything off", 0.2, 0.03, live=frozenset([fridge]))
    assert {r.volts for same in read_report_data(log).results[bed].apart for r in same} == {0.9, 0.2}


def test_the_export_names_the_suspects(log, home, tmp_path):
    home.sweep(wrong={WRONG: lambda true: 10 * true})
    export(log.path, tmp_path / "out", ("csv",))
    rows = list(csv.DictReader((tmp_path / "out" / "sweep.csv").read_text(encoding="utf-8").splitlines()))
    suspects = {row["condition"] for row in rows if row["contradicts"] == "yes"}
    assert WRONG in suspects and 1 <= len(suspects) <= 3


def test_a_sweep_against_two_references_asks_for_one_of_them_and_suspects_no_reading(log, home):
    home.sweep()
    log.setup.set(log.setup.current().with_changes(reference="building earth"))
    log.readings.enter(home.spots["bed"].id, WRONG, 0.01, 0.001, live=frozenset({home.ids["Bedroom"]}))
    data = read_report_data(log)
    assert data.tonight.state is PlanState.CONTRADICTORY
    assert SUSPECT not in data.doubts.values()
    page, _ = without_an_answer(log)
    why = "“bed” cannot be put together. Not comparable: one was read against "
    assert why in page.tonight.headline and why in page.causes[0].rest
    assert "Read all of them again with one meter and one reference." in page.calls[0].tasks[0].what


def test_a_sweep_against_two_references_is_no_answer_though_its_values_agree(log, home):
    home.sweep()
    log.setup.set(log.setup.current().with_changes(reference="building earth"))
    bed = home.spots["bed"].id
    again = next(r for r in log.readings.all() if r.spot_id == bed and r.condition == WRONG)
    log.readings.enter(bed, WRONG, again.volts, again.u_volts, live=again.live)
    plan = read_report_data(log).tonight
    assert plan.state is PlanState.CONTRADICTORY and plan.next_combination is None
    (spot,) = plan.contradictions
    assert "against" in spot.why_not_alike and spot.contributions == () and spot.suspects == ()
    _, html = without_an_answer(log)
    assert "The mistaken one is to be voided" not in html
