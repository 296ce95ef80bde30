"""Details of spots and circuits, and circumstances: the newest hold, older ones stay, and damage is told."""

from __future__ import annotations

from contextlib import closing
from dataclasses import fields, replace
from pathlib import Path

import pytest

from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.visit import VisitLog
from logger.visit.records.circumstances import CIRCUMSTANCE_FIELDS, Circumstances
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.fact_names import CIRCUMSTANCES, FURTHER_OF_DESCRIPTION
from logger.visit.records.home_details import SourceDetails, SpotDetails, circuit_label
from logger.visit.records.home_records import Source
from logger.visit.results.detail_differences import detail_differences
from logger.visit.results.on_off_result import SpotResult
from logger.visit.storage.salvage import salvage
from logger.visit.storage.verification import verify
from tests.support.without_triggers import without_triggers
from tests.visit.test_salvage_of_rows import first_page_of, zero

LYING = SpotDetails(
    "on the back", 0.5, "left side", "lamp", "the owner", "nobody", "A. Example",
    height_of="chest", distances="lamp 0.6 m", plug_side="lit", carried_by="metal bed frame",
)  # fmt: skip
PANEL = SourceDetails(
    "A",
    "7",
    "16 A",
    "L1",
    "30 mA, with 3",
    "outlets",
    "",
    "A. Example",
    poles="phase and neutral",
    plug="earthed",
)


def home(path: Path, clock: ManualClock) -> VisitLog:
    log = VisitLog.create(path, clock)
    log.spots.add("Bed")
    log.circuits.add("circuit", "Study outlets")
    return log


def test_the_newest_details_hold_and_older_ones_held_for_older_readings(tmp_path: Path) -> None:
    clock = ManualClock()
    with closing(home(tmp_path / "a.visit", clock)) as log:
        assert log.spot_details.all() == {} and log.spot_details.at(1, clock.utc_ns()) == SpotDetails()
        before, newest = clock.utc_ns(), log.newest_entry()
        log.spot_details.set(1, LYING)
        log.source_details.set(1, PANEL)
        clock.advance_ns(NS_PER_S)
        sitting = SpotDetails("  sitting\n up ", 1.0)
        log.spot_details.set(1, sitting)
        log.spot_details.set(1, SpotDetails("sitting up", 1))  # as it is already
        log.source_details.set(1, SourceDetails())
        assert log.spot_details.all()[1] == SpotDetails("sitting up", 1.0)
        assert [d.posture for d in log.spot_details.history(1)] == ["on the back", "sitting up"]
        assert (
            log.spot_details.at(1, before) == LYING and log.spot_details.at(1, clock.utc_ns()).height_m == 1.0
        )
        assert log.source_details.at(1, before) == PANEL and not log.source_details.all()[1].is_recorded
        log.spot_details.set(1, LYING)  # set back: a row of its own
        assert len(log.spot_details.history(1)) == 3 and log.newest_entry() > newest
        assert log.spot_details.all()[1].entered_by == "A. Example"
    assert verify(tmp_path / "a.visit").sound


def test_a_description_is_of_the_readings_that_it_held_for_and_another_posture_is_not_subtracted(
    tmp_path: Path,
) -> None:
    clock = ManualClock()
    with closing(home(tmp_path / "a.visit", clock)) as log:
        log.readings.enter(1, EVERYTHING_ON, 0.7, 0.01)
        clock.advance_ns(NS_PER_S)
        log.spot_details.set(1, SpotDetails("sitting upright"))
        clock.advance_ns(NS_PER_S)
        log.spot_details.set(1, SpotDetails("sitting upright", 0.5))
        (on,) = log.readings.all()
        assert (on.details.posture, on.details.height_m) == ("sitting upright", 0.5), "it was completed"
        clock.advance_ns(NS_PER_S)
        log.spot_details.set(1, SpotDetails("lying flat", 0.5, person="the owner"))
        log.readings.enter(1, EVERYTHING_OFF, 0.05, 0.01)
        on, off = log.readings.all()
        assert (on.details.person, off.details.posture) == ("", "lying flat")
        found = SpotResult.of([on, off], 1)
        assert found.difference() is None and found.columns() is None
        assert found.meaning(0.1).endswith("On: sitting upright. Off: lying flat.")
        log.spot_details.correct_earlier(1)
        on, off = log.readings.all()
        assert on.details == off.details and SpotResult.of([on, off], 1).difference() is not None
    assert verify(tmp_path / "a.visit").sound


@pytest.mark.parametrize(
    "details",
    [
        SpotDetails("x" * 201),
        SpotDetails(place="left\u202eside"),
        SpotDetails(person="\x1b[31m"),
        SpotDetails(distances="\x1b[31m"),
        SpotDetails(height_m=float("nan")),
        SpotDetails(height_m=float("inf")),
        SpotDetails(height_m=-0.1),
        SpotDetails(height_m=50.0),
    ],
)
def test_what_no_field_can_hold_is_refused_in_a_sentence(tmp_path: Path, details: SpotDetails) -> None:
    with closing(home(tmp_path / "a.visit", ManualClock())) as log:
        with pytest.raises(StillvoltError, match="Nothing was changed"):
            log.spot_details.set(1, details)
        with pytest.raises(StillvoltError, match="Nothing was changed"):
            log.source_details.set(1, SourceDetails(panel="x" * 201))
        with pytest.raises(StillvoltError, match="Length of the rod"):
            log.circumstances.set(Circumstances(rod_length_m=100.0))
        assert log.spot_details.all() == log.source_details.all() == {}


def test_a_circuit_is_shown_with_its_panel_and_number_as_far_as_they_are_known() -> None:
    source = Source(1, "circuit", "Study outlets")
    assert circuit_label(source, PANEL) == "panel A, 7 (Study outlets)"
    assert circuit_label(source, SourceDetails(number="7")) == "7 (Study outlets)"
    assert circuit_label(source, SourceDetails(panel="A")) == "panel A (Study outlets)"
    assert circuit_label(source, SourceDetails()) == circuit_label(source, None) == "Study outlets"


def test_circumstances_are_kept_with_their_history_and_a_damaged_part_is_left_out(tmp_path: Path) -> None:
    clock = ManualClock()
    stated = Circumstances("socks", "cotton", "the owner", 1.0, 0.8, "lawn", "20 m", "rod in the hand", "dry")
    stated = replace(stated, earthing="TT", probe_held="right hand, dry", night_persons="alone")
    with closing(home(tmp_path / "a.visit", clock)) as log:
        assert not log.circumstances.current().is_recorded
        log.circumstances.set(stated)
        begun = clock.utc_ns()
        clock.advance_ns(NS_PER_S)
        log.circumstances.set(stated.of_home_and_equipment())
        log.circumstances.set(stated.of_home_and_equipment())
        assert [value.footwear for _, value in log.circumstances.history()] == ["socks", ""]
        now = log.circumstances.current()
        assert log.circumstances.at(begun) == stated and (now.bedding, now.earthing) == ("cotton", "TT")
        assert not (now.probe_held or now.night_persons), "another day has its own"
        assert {field.name for field in fields(now)} == set(CIRCUMSTANCE_FIELDS)
        for text in (
            "[",
            "[1]",
            '{"footwear": 5, "rod_length_m": "far", "lead": "a\\u202eb", "probe": "wire"}',
        ):
            log.facts.set(CIRCUMSTANCES, text)
        assert log.circumstances.current() == Circumstances(probe="wire")


@pytest.mark.parametrize(
    ("sql", "sentence"),
    [
        ("UPDATE spot_detail SET height_m = 0.6", "details of a spot 1: it is not as it was entered"),
        (
            "UPDATE source_detail SET number = '8'",
            "details of a circuit or cord 1: it is not as it was entered",
        ),
        ("DELETE FROM source_detail", "details of a circuit or cord 1: it was entered and is gone"),
    ],
)
def test_changed_details_are_found(tmp_path: Path, sql: str, sentence: str) -> None:
    with closing(home(tmp_path / "a.visit", ManualClock())) as log:
        log.spot_details.set(1, LYING)
        log.source_details.set(1, PANEL)
    with without_triggers(tmp_path / "a.visit") as db:
        db.execute(sql)
    assert sentence in " ".join(verify(tmp_path / "a.visit").problems)


def test_details_of_a_lost_spot_and_circuit_are_salvaged(tmp_path: Path) -> None:
    path, new = tmp_path / "a.visit", tmp_path / "new.visit"
    with closing(home(path, ManualClock())) as log:
        log.spot_details.set(1, LYING)
        log.source_details.set(1, PANEL)
    zero(path, first_page_of(path, "spot"), first_page_of(path, "source"))
    salvage(path, new)
    with closing(VisitLog.open(new)) as log:
        assert log.spot_details.all() == {1: LYING} and log.source_details.all() == {1: PANEL}
        assert [spot.name for spot in log.spots.all()] == ["Spot 1 (name lost)"]
        assert [circuit.name for circuit in log.circuits.all()] == ["Circuit 1 (name lost)"]


def test_further_details_without_a_row_or_damaged_are_left_out(tmp_path: Path) -> None:
    with closing(home(tmp_path / "a.visit", ManualClock())) as log:
        log.spot_details.set(1, SpotDetails("on the back"))
        for text in (
            '{"description": 7, "distances": "far"}',
            "[",
            '{"description": 1, "distances": "a\\u202eb"}',
        ):
            log.facts.set(FURTHER_OF_DESCRIPTION, text)
        assert log.spot_details.all() == {1: SpotDetails("on the back")}


def test_two_visits_name_what_else_differs_of_a_description_and_what_only_one_has() -> None:
    before = replace(LYING, meter_place="on the floor", probe_held="right hand")
    after = replace(before, carried_by="wooden bed frame", plug_side="", probe_held="Right hand", others="")
    assert detail_differences(before, after) == [
        "Bed, seat and floor: metal bed frame before, wooden bed frame after",
        "not recorded after: Plugs and lamps, Other people",
    ]
    assert "not recorded before: Plugs and lamps, Other people" in detail_differences(after, before)
    assert detail_differences(before, before) == []
