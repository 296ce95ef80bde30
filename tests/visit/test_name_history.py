"""What is on is kept in words, and follows its circuits when they get other names, or exchange theirs."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from dataclasses import asdict

import pytest

from logger.night.night_conditions import condition_at, keep_night_entry, night_entries
from logger.night.night_entries import NightEntry
from logger.night.night_spots import NightSpot, keep_night_spot, night_spot_entries
from logger.sweep.words_of_the_list import remark_by_words
from logger.visit import VisitLog
from logger.visit.records.fact_names import CHECK_STEP, CONDITION, RENAMED, SCHEDULE
from logger.visit.records.reading_records import Span
from logger.visit.storage.verification import verify
from tests.support.visit_fixtures import exchange_names
from tests.support.without_triggers import without_triggers


@pytest.fixture
def home(log: VisitLog) -> VisitLog:
    """Three circuits, one of them with a comma in its name, and a cord."""
    for name in ("Alpha", "Beta", "Kitchen, left"):
        log.circuits.add("circuit", name)
    log.circuits.add("cord", "Lamp", circuit_id=1)
    return log


TEXTS = {
    "only Beta off": ("only Alpha off", "only Hall off"),
    "only Alpha, Kitchen, left on": ("only Beta, Kitchen, left on", "only Alpha, Kitchen, left on"),
    "only Alpha, Beta off, without Lamp": (
        "only Beta, Alpha off, without Lamp",
        "only Alpha, Hall off, without Lamp",
    ),
    "everything on, without Lamp": ("everything on, without Lamp", "everything on, without Lamp"),
    "beta aus": ("Alpha aus", "Hall aus"),
    "everything off": ("everything off", "everything off"),
    "Beta lamps off": ("Beta lamps off", "Beta lamps off"),
    "only breakers off": ("only breakers off", "only breakers off"),
    "Beta": ("Beta", "Beta"),
}


@pytest.mark.parametrize("text", TEXTS)
def test_a_statement_follows_its_circuits_through_other_names_and_back(home, text):
    exchanged, renamed = TEXTS[text]

    def words() -> set[str]:
        home.facts.set("other", "entry")
        night = night_entries(home)[-1].value
        return {home.facts.get(CONDITION), home.facts.condition().condition, night or ""}

    home.facts.state_condition(text, None)
    keep_night_entry(home, NightEntry(text, None, is_ahead=True))
    assert words() == {text}
    exchange_names(home, 1, 2)
    assert words() == {exchanged}
    exchange_names(home, 1, 2)
    assert words() == {text.replace("beta", "Beta")}, "exchanged back"
    home.circuits.rename(2, "Hall")
    home.circuits.set_essential(2, "alarm")
    home.circuits.move(2, -1)
    assert words() == {renamed}
    home.circuits.add("circuit", "Beta")
    assert words() == {renamed}, "another one of the old name is another circuit"
    home.circuits.remove(2)
    assert words() == {renamed}, "one that is off the list keeps its name"
    with closing(sqlite3.connect(home.path)) as db:
        kept = db.execute("SELECT value FROM fact WHERE name = ?", (CONDITION,)).fetchall()
    assert kept == [(text,)], "what was entered is not changed"
    assert not verify(home.path).problems


def test_what_is_planned_follows_too_and_what_is_entered_later_has_the_later_names(home):
    home.facts.set(SCHEDULE, "23:00 Beta off; 03:00 breakers off\n06:30 only Alpha, Beta on")
    exchange_names(home, 1, 2)
    assert home.facts.get(SCHEDULE) == "23:00 Alpha off; 03:00 breakers off\n06:30 only Beta, Alpha on"
    home.facts.set(SCHEDULE, "23:00 Beta off")
    assert home.facts.get(SCHEDULE) == "23:00 Beta off"
    home.facts.state_condition("only Beta off", None)
    home.circuits.rename(1, "Hall")
    assert home.facts.condition().condition == "only Hall off"
    assert [value for _, value in home.facts.values_of(SCHEDULE)][-1] == "23:00 Hall off"


def test_when_it_was_stated_in_a_run_follows_too(home, recording, clock):
    recording.samples([0.2] * 3)
    live = home.recorder.live()
    home.facts.state_condition("only Beta off", live)
    home.facts.state_condition("everything on", live)
    exchange_names(home, 1, 2)
    assert home.facts.other_condition_ended("everything on", live.run_id).condition == "only Alpha off"
    assert [moment.condition for moment in home.facts.stated_moments()] == ["only Alpha off", "everything on"]
    home.facts.state_condition("only Beta off", live)
    home.circuits.rename(1, "Hall")
    assert condition_at(home, [live.run_id], clock.utc_ns()) == "only Hall off", "it is still what was stated"


def as_an_older_version(log: VisitLog) -> None:
    """Take away what a version did not keep that knew nothing of names before."""
    with without_triggers(log.path) as db:
        ids = "(SELECT id FROM fact WHERE name = ?)"
        db.execute(f"DELETE FROM entry_checksum WHERE entry_table = 'fact' AND entry_id IN {ids}", (RENAMED,))
        db.execute("DELETE FROM fact WHERE name = ?", (RENAMED,))


def test_in_an_older_log_readings_and_the_order_of_entries_tell_which_circuit_was_meant(home):
    bed = home.spots.add("Bed")
    home.readings.enter(bed.id, "only Beta off", 0.3, 0.0, live=frozenset({1, 3, 4}))
    keep_night_entry(home, NightEntry("only Beta off", None, is_ahead=True))
    exchange_names(home, 1, 2)
    keep_night_entry(home, NightEntry("only Kitchen, left off", None, is_ahead=True))
    keep_night_entry(home, NightEntry("only Beta off", None, is_ahead=True))
    as_an_older_version(home)
    home.facts.set("other", "entry")
    found = [entry.value for entry in night_entries(home)]
    assert found == ["only Alpha off", "only Kitchen, left off", "only Beta off"]


def test_where_an_older_log_does_not_tell_it_no_circuit_is_named(home):
    bed = home.spots.add("Bed")
    home.readings.enter(bed.id, "only Beta off", 0.3, 0.0, live=frozenset({1, 3, 4}))
    home.circuits.set_two_pole(2, True)
    keep_night_entry(home, NightEntry("only Beta off", None, is_ahead=True))
    exchange_names(home, 1, 2)
    as_an_older_version(home)
    home.facts.set("other", "entry")
    assert night_entries(home)[0].value == "only Beta off, by the names of that time"


@pytest.mark.parametrize(
    "value", ["", "[]", "null", '{"source_id": 9, "before": "a", "after": "b"}', "{" * 10**5]
)
def test_a_fact_of_a_name_that_is_none_changes_nothing(home, value):
    keep_night_entry(home, NightEntry("only Beta off", None, is_ahead=True))
    home.facts.set(RENAMED, value)
    home.circuits.rename(2, "Hall")
    assert night_entries(home)[0].value == "only Hall off"
    assert json.loads(home.facts.get(RENAMED)) == {"source_id": 2, "before": "Beta", "after": "Hall"}


def test_where_the_person_lay_has_the_present_name_of_the_spot(home):
    bed, desk = home.spots.add("Bed"), home.spots.add("Desk")
    for spot in (NightSpot(bed.id, "Bed"), NightSpot(None, "Bed")):
        keep_night_spot(home, NightEntry(spot, None, is_ahead=True))
    for spot_id, name in ((bed.id, "for a moment"), (desk.id, "Bed"), (bed.id, "Desk")):
        home.spots.rename(spot_id, name)
    assert [entry.value.name for entry in night_spot_entries(home)] == ["Desk", "Bed"], (
        "a place that is no spot stays"
    )


def test_where_a_check_was_done_has_the_present_name_of_the_spot(home):
    bed = home.spots.add("Bed")
    step = {"kind": "zero check", "name": "shorted", "span": asdict(Span(0.0, 0.0, 1, 1, 0, 1, 1, 2))}
    home.facts.set(CHECK_STEP, json.dumps(step | {"spot_id": bed.id, "spot_name": "Bed"}))
    home.spots.rename(bed.id, "Cot")
    home.spots.add("Bed")
    assert [used.spot_name for used in home.checks.used_steps()] == ["Cot"]


def test_readings_follow_also_where_their_words_alone_say_what_was_on_or_a_mark_has_changed(home):
    bed = home.spots.add("Bed")
    home.circuits.set_essential(3, "alarm")
    home.readings.enter(bed.id, "only Beta off", 0.3, 0.0)
    home.readings.enter(bed.id, "only Beta on", 0.3, 0.0, live=frozenset({2, 3, 4}))
    home.readings.enter(bed.id, "only Alpha on, without Lamp", 0.3, 0.0, live=frozenset({1, 3}))
    typed = home.readings.enter(bed.id, "everything on", 0.3, 0.0)
    home.circuits.set_essential(3, "")
    exchange_names(home, 1, 2)
    home.readings.corrections.set_condition(typed, "only Beta off", None, "mistaken")
    found = ["only Alpha off", "only Alpha on", "only Beta on, without Lamp", "only Beta off"]
    assert [reading.condition for reading in home.present_readings()] == found
    home.circuits.rename(1, "Hall")
    last = home.present_readings()[-1]
    assert last.condition == "only Hall off", "a correction has the names of its own time"
    assert last.corrections[0].words == "what was on was corrected from “everything on” to “only Hall off”"


def test_words_that_name_what_is_listed_wholly_are_the_condition_that_the_list_sets(home):
    spot = home.spots.add("Bed").id
    everything = frozenset((1, 2, 3, 4))
    texts = {
        "only Beta off": everything - {2},
        "only Alpha, Kitchen, left off, without Lamp": frozenset((2,)),
        "everything on, without Lamp": everything - {4},
        "only Beta on": frozenset((2, 4)),
        "only Beta, Hall off": None,
        "only Lamp off": None,
        "only Beta, Beta off": None,
        "Beta off": None,
        "only Beta off, or so": None,
    }
    for text in texts:
        home.readings.enter(spot, text, 0.3, 0.01)
    kept = home.readings.all()
    assert [reading.live for reading in kept] == list(texts.values())
    assert "not used for the list" in remark_by_words(kept[4], home.circuits.all())
    assert not remark_by_words(kept[0], home.circuits.all())
    home.circuits.set_essential(1, "alarm")
    home.readings.enter(spot, "only Beta on", 0.3, 0.01)
    assert home.readings.all()[-1].live is None, "nobody knows whether what must stay on was left on"


def test_a_log_that_kept_words_alone_has_them_by_the_names_of_their_time(home):
    spot = home.spots.add("Bed").id
    exchange_names(home, 1, 2)
    of_then = home.readings.enter(spot, "only Beta off", 0.3, 0.01)
    with without_triggers(home.path) as db:
        db.execute("UPDATE reading SET live = ''")
    exchange_names(home, 1, 2)
    home.circuits.rename(1, "Hall")
    assert (of_then.live, home.readings.all()[0].live) == (frozenset((2, 3, 4)),) * 2
    assert home.present_readings()[0].condition == "only Hall off"
    moved = home.readings.corrections.move(
        home.present_readings()[0], home.spots.add("Desk").id, "wrong spot"
    )
    assert not moved.condition_corrected, "what its words name is no correction"
    assert home.readings.all()[0].live == of_then.live
