"""Two visits compared: verdicts with their uncertainty, what is not comparable and why, spots matched by name."""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from math import hypot, sqrt
from pathlib import Path

import pytest

from gui.dev.demo import DemoRecorder
from logger.cli.main import main
from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.meter.description import Accuracy
from logger.metrology.posture import DEFAULT_REPEATABILITY, POSTURE
from logger.metrology.setup import UNKNOWN_METER, Setup
from logger.metrology.uncertainty import METER, RECTANGULAR
from logger.output_file import ReplaceRefusedError
from logger.report.compare.comparison import (
    ANOTHER_WAY,
    LATER_NAMED_BEFORE,
    WALK_LEFT_OUT,
    OtherHomeError,
    compare_visits,
)
from logger.report.compare.listing import (
    change_text,
    comparison_json,
    comparison_text,
    details_text,
    summary_text,
)
from logger.report.compare.shared_recordings import NOTE
from logger.report.compare.spot_matching import pairs, read_matches
from logger.report.compare.write_comparison import write_comparison
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK
from logger.visit.records.fact_names import MATCHED_SPOTS, SAME_HOME
from logger.visit.records.home_details import SpotDetails
from logger.visit.records.home_records import Spot
from logger.visit.results.on_off_result import budget_of
from logger.visit.storage.connection import open_existing
from tests.support.other_language import OtherLanguage, speak, unspoken
from tests.support.without_triggers import without_triggers

METER_FACTS = replace(
    UNKNOWN_METER,
    name="Bench",
    accuracy=(Accuracy(6.0, 1.0, 5, 0.001),),
    assumed=(),
    calibrated_on="2026-04-01",
)
SETUP = Setup(
    household="Garden flat", reference="earth rod", mains_hz=50.0, on_battery=True, link_isolated=True,
    meter=METER_FACTS,
)  # fmt: skip

Values = dict[str, tuple[float | None, float | None]]


@pytest.fixture
def visit(tmp_path):
    """Makes a visit of values on and off, read in a year with a set-up."""

    def make(year: int, values: Values, setup: Setup = SETUP, rooms: dict[str, str] | None = None) -> Path:
        path = tmp_path / f"{year}.visit"
        clock = ManualClock(round(datetime(year, 5, 16, 18, tzinfo=UTC).timestamp()) * NS_PER_S)
        log = VisitLog.create(path, clock)
        log.setup.set(setup)
        for name, pair in values.items():
            spot = log.spots.add(name, (rooms or {}).get(name, ""))
            for condition, volts in zip((EVERYTHING_ON, EVERYTHING_OFF), pair, strict=True):
                if volts is not None:
                    log.readings.enter(spot.id, condition, volts, 0.002)
        log.close()
        return path

    return make


def only(found):
    (spot,) = found.spots
    return spot


def test_each_spot_is_improved_worse_or_not_distinguishable(visit):
    before = visit(2025, {"Bed": (1.8, 0.05), "Desk": (0.9, 0.10), "Sofa": (0.5, 0.3)})
    after = visit(2026, {"Bed": (0.3, 0.05), "Desk": (0.92, 0.30), "Sofa": (0.9, None), "Hall": (0.2, 0.1)})
    found = compare_visits(before, after)
    told = {spot.name: (spot.on.verdict, spot.off.verdict) for spot in found.spots}
    assert told == {
        "Bed": ("improved", "not distinguishable"),
        "Desk": ("not distinguishable", "worse"),
        "Sofa": ("worse", "only before"),
        "Hall": ("only after", "only after"),
    }
    assert found.spots[0].on.difference.volts == pytest.approx(-1.5)
    assert found.spots[0].on.after_against_target == "above 0.1 V" and not found.notes
    text = comparison_text(found)
    assert "improved, still above 0.1 V; 1.80 V" in text and "only before, 0.30 V" in text
    assert summary_text(found) in text
    assert summary_text(found) == (
        "Everything on, 4 spots: 1 improved, 1 without a clear change, 1 worse, 1 read after only. "
        "Everything off, 4 spots: 1 without a clear change, 1 worse, 1 read before only, 1 read "
        "after only."
    )


def test_another_posture_height_or_person_is_said_of_each_value_and_so_is_one_that_is_not_recorded(visit):
    before, after = (visit(year, {"Bed": (1.8, 0.05), "Desk": (0.9, None)}) for year in (2025, 2026))
    for path, posture, height_m, person in (
        (before, "on the back", 0.55, ""),
        (after, "sitting", 0.57, "adult"),
    ):
        with closing(VisitLog.open(path)) as log:
            log.spot_details.set(log.spots.all()[0].id, SpotDetails(posture, height_m, person=person))
    found = compare_visits(before, after)
    bed, desk = found.spots
    assert found.notes == (ANOTHER_WAY.format(spots="“Bed”"),), (
        "a change that is counted may be of the posture"
    )
    assert bed.on.remarks[-2:] == ("posture: on the back before, sitting after", "person not recorded before")
    assert not any("posture" in remark for remark in desk.on.remarks), "neither visit has it"


def test_a_comparison_in_another_language_says_the_same_and_its_json_stays_english(
    visit, tmp_path, monkeypatch, capsys
):
    other_meter = replace(SETUP, meter=replace(METER_FACTS, input_resistance_ohm=1e6))
    before = visit(2025, {"Bed": (1.8, 0.05), "Armchair": (0.3, None)}, rooms={"Bed": "Loft"})
    after = visit(2026, {"Bed": (1.7, 0.5), "Arm chair": (0.9, 0.1)}, other_meter, rooms={"Bed": "Attic"})
    english = compare_visits(before, after)
    text, data = comparison_text(english), comparison_json(english)
    speak(monkeypatch, OtherLanguage())
    found = compare_visits(before, after)
    shown = comparison_text(found)
    for name in (str(tmp_path), "visit", "Garden flat", "Loft", "Attic", "Bed", "Armchair", "Arm chair"):
        shown = re.sub(rf"\b{re.escape(name)}(?![^⟦]*⟧)|/{re.escape(name)}", "", shown)
    assert set(unspoken(shown)) <= {"everything", "off"}, "conditions: this language has none of what is kept"
    write_comparison(found, out := tmp_path / "comparison.txt", language="en")
    assert out.read_text(encoding="utf-8").endswith(f"\n\n{text}\n"), "compared anew in that language"
    main(["compare", str(before), str(after), "--json"])
    assert json.loads(capsys.readouterr().out) == data


def test_a_comparison_is_written_and_never_over_a_visit(visit, tmp_path):
    before, after = visit(2025, {"Bed": (1.8, 0.05)}), visit(2026, {"Bed": (0.3, 0.05)})
    found, out = compare_visits(before, after), tmp_path / "comparison.txt"
    write_comparison(found, out)
    assert out.read_text(encoding="utf-8").endswith(f"\n\n{comparison_text(found)}\n")
    write_comparison(found, out)
    out.write_text("mine", encoding="utf-8")
    with pytest.raises(ReplaceRefusedError):
        write_comparison(found, out)
    for path in (before, after):
        with pytest.raises(StillvoltError):
            write_comparison(found, path, replace=True)
    assert out.read_text(encoding="utf-8") == "mine"


def test_the_same_meter_shares_its_error_and_another_one_does_not(visit):
    before = visit(2025, {"Bed": (1.8, None)})
    same = only(compare_visits(before, visit(2026, {"Bed": (1.7, None)}))).on.difference
    other = replace(SETUP, meter=replace(METER_FACTS, name="Other bench", calibrated_on="2027-05-01"))
    apart = only(compare_visits(before, visit(2027, {"Bed": (1.7, None)}, other))).on.difference
    assert [c.u_volts for c in same.components if c.name == METER] == [
        pytest.approx((0.01 * 0.1 + sqrt(2) * 0.005) / RECTANGULAR)
    ]
    shares = sorted(c.u_volts for c in apart.components if c.name.startswith(METER))
    assert shares == [pytest.approx((0.01 * volts + 0.005) / RECTANGULAR) for volts in (1.7, 1.8)]
    assert same.u_volts < apart.u_volts
    recalibrated = replace(SETUP, meter=replace(METER_FACTS, calibrated_on="2028-01-01"))
    again = only(compare_visits(before, visit(2028, {"Bed": (1.7, None)}, recalibrated))).on.difference
    assert again.u_volts == pytest.approx(apart.u_volts), "adjusted since: no common error"


def test_a_posture_taken_up_again_is_part_of_both(visit):
    found = only(compare_visits(visit(2025, {"Bed": (1.8, None)}), visit(2026, {"Bed": (1.7, None)}))).on
    shares = [c.u_volts for c in found.difference.components if c.name.startswith(POSTURE)]
    assert shares == [pytest.approx(DEFAULT_REPEATABILITY.u_volts(v)) for v in (1.7, 1.8)]
    assert found.verdict == "not distinguishable"


def test_repeats_in_a_visit_narrow_its_own_side(visit):
    before, after = visit(2025, {"Bed": (1.0, None), "Sofa": (1.0, None)}), visit(2026, {"Bed": (0.8, None)})
    log = VisitLog.open(before)
    log.close()
    wide = compare_visits(before, after).spots[0].on.difference
    log = VisitLog.open(before)
    bed, sofa = log.spots.all()
    for _ in range(6):
        for spot in (bed, sofa):
            log.readings.enter(spot.id, EVERYTHING_ON, 1.0, 0.002)
    log.close()
    narrow = compare_visits(before, after).spots[0].on.difference
    u_of = {
        found is wide: {c.name: c.u_volts for c in found.components if c.name.startswith(POSTURE)}
        for found in (wide, narrow)
    }
    assert u_of[False][f"{POSTURE} (before)"] < 0.6 * u_of[True][f"{POSTURE} (before)"]
    assert u_of[False][f"{POSTURE} (after)"] == u_of[True][f"{POSTURE} (after)"]


def test_another_reference_is_not_comparable(visit):
    earth = replace(SETUP, reference="building earth")
    found = only(
        compare_visits(visit(2025, {"Bed": (1.8, None)}, earth), visit(2026, {"Bed": (0.3, None)}))
    ).on
    assert found.verdict == "not comparable" and "building earth" in found.why
    assert found.difference is None and found.computed_before is None


def test_an_unstated_reference_is_not_the_same_one_a_year_later(visit):
    unstated = replace(SETUP, reference=None)
    paths = visit(2025, {"Bed": (1.8, None)}, unstated), visit(2026, {"Bed": (0.3, None)}, unstated)
    found = only(compare_visits(*paths)).on
    assert found.verdict == "not comparable" and "not stated" in found.why


def test_another_input_is_not_comparable_but_computed_and_marked_so(visit):
    low = replace(SETUP, meter=replace(METER_FACTS, input_resistance_ohm=1e6))
    paths = visit(2025, {"Bed": (0.5, None)}, low), visit(2026, {"Bed": (0.5, None)})
    found = compare_visits(*paths)
    change = only(found).on
    assert change.verdict == "not comparable" and "1 Mohm" in change.why and change.difference is None
    assert change.computed_before.volts > 1.0, "10 Mohm would have read more"
    assert change.computed_difference.volts == pytest.approx(0.5 - change.computed_before.volts)
    u_volts = hypot(*(c.u_volts for c in change.computed_difference.components))
    assert u_volts > budget_of(change.after).u_volts
    assert "Computed, not read" in comparison_text(found) and "which would be improved" in comparison_text(
        found
    )
    told = comparison_json(found)["spots"][0]["on"]
    assert told["difference_volts"] is None and told["computed_difference_volts"] < 0


def test_a_reading_of_an_old_log_without_context_is_not_comparable(tmp_path, visit):
    text = (Path(__file__).parents[2] / "fixtures/visits/version_1.sql").read_text()
    old = tmp_path / "old.visit"
    with sqlite3.connect(old) as db:
        db.executescript(text)
    db.close()
    open_existing(old).close()
    log = VisitLog.open(old)
    name = next(s.name for s in log.spots.all() if any(r.spot_id == s.id for r in log.readings.all()))
    log.close()
    found = compare_visits(old, visit(2026, {name: (0.3, 0.1)}), same_home=True)
    spot = next(s for s in found.spots if s.name == name)
    verdicts = {spot.on.verdict, spot.off.verdict}
    assert "not comparable" in verdicts and not verdicts & {"improved", "worse"}
    assert "nothing is kept" in (spot.on.why or spot.off.why)
    assert "uncertainty not known" in comparison_text(found)


def test_points_of_the_outside_walk_are_left_out_and_why_is_said(visit):
    paths = visit(2025, {"Bed": (1.8, None), "Hall": (None, None)}), visit(2026, {"Bed": (1.7, None)})
    assert WALK_LEFT_OUT not in compare_visits(*paths).notes
    for path in paths:
        with closing(VisitLog.open(path)) as log:
            log.readings.enter(log.spots.add("walk 1", OUTSIDE_WALK).id, OUTSIDE_WALK, 0.3, 0.002)
    found = compare_visits(*paths)
    assert ([spot.name for spot in found.spots], found.notes) == (["Bed", "Hall"], (WALK_LEFT_OUT,))
    assert "Hall\n  read in neither visit with everything on or everything off" in comparison_text(found)
    with pytest.raises(StillvoltError, match="has no spot 'walk 1'"):
        compare_visits(*paths, {"walk 1": "walk 1"})


def test_voided_readings_do_not_count(visit):
    before, after = visit(2025, {"Bed": (1.8, None)}), visit(2026, {"Bed": (0.3, None)})
    log = VisitLog.open(after)
    log.readings.void(log.readings.all()[0].id, "wrong spot")
    log.close()
    assert only(compare_visits(before, after)).on.verdict == "only before"


@pytest.mark.parametrize(
    ("old", "new", "how"),
    [
        ("Bed, left", "bed,  LEFT", "same name"),
        ("Caf\u00e9 corner", "Cafe\u0301 corner", "same name"),
        ("Bed, left", "Bed left", "similar name"),
        ("Armchair", "Arm chair", "similar name"),
        ("Living room, center", "Living room, centre", "similar name"),
        ("Armchair", "Armchiar", "similar name"),
        ("Bed, left", "Bed, right", ""),
        ("Seat 1", "Seat 2", ""),
        ("Seat A", "Seat B", ""),
        ("Hall", "Wall", ""),
        ("Upper bed", "Lower bed", ""),
        ("Desk", "Sofa", ""),
        ("\u5bdd\u5ba4", "\u66f8\u658e", ""),
    ],
)
def test_names_that_differ_by_a_slip_are_offered_and_others_are_not(old, new, how):
    first, *rest = pairs([Spot(1, old)], [Spot(1, new)], {})
    assert first.how == how and (first.before is None) == (not how) and len(rest) == (not how)


def test_what_could_be_either_is_left_to_the_user():
    old = [Spot(1, "Armchair")]
    new = [Spot(1, "Armchairs"), Spot(2, "Arm-chair x"), Spot(3, "Armchaire")]
    assert all(not pair.how for pair in pairs(old, new, {}))
    rooms = pairs([Spot(1, "Armchair", "Study")], [Spot(1, "Arm chair", "Hall")], {})
    assert all(not pair.how for pair in rooms), "another room"


def test_a_similar_name_is_named_and_can_be_taken_back_for_good(visit, capsys):
    before, after = visit(2025, {"Armchair": (0.9, None)}), visit(2026, {"Arm chair": (0.3, None)})
    found = compare_visits(before, after)
    assert (
        only(found).pair.how == "similar name"
        and "'Armchair' before is taken for 'Arm chair'" in found.notes[0]
    )
    assert main(["compare", str(before), str(after), "--match", "Armchair="]) == 0
    assert "is taken for" not in capsys.readouterr().out
    assert [s.on.verdict for s in compare_visits(before, after).spots] == ["only after", "only before"]


def test_a_match_by_hand_is_kept_in_the_later_visit_and_holds_for_the_two(visit, capsys):
    before = visit(2025, {"Bed": (1.8, None)})
    after = visit(2026, {"Guest bed, wall side": (0.3, None)})
    assert main(["compare", str(before), str(after), "--match", "bed=guest bed, wall SIDE", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["spots"][0]["matched"] == "by hand" and told["spots"][0]["on"]["verdict"] == "improved"
    assert told["spots"][0]["before_spot"] == "Bed"
    assert only(compare_visits(before, after)).on.verdict == "improved", "kept"
    log = VisitLog.open(after)
    assert json.loads(log.facts.get(MATCHED_SPOTS))
    log.spots.rename(log.spots.all()[0].id, "Attic bed")
    log.close()
    assert only(compare_visits(before, after)).pair.how == "by hand", "whatever it is called by now"
    earlier = visit(2024, {"Bed": (1.8, None)})
    assert len(compare_visits(earlier, after).spots) == 2, "another earlier visit has spots of its own"
    moved = before.rename(before.with_name("moved.visit"))
    assert only(compare_visits(moved, after)).pair.how == "by hand", "wherever the file lies"


def test_a_newer_word_on_a_spot_takes_the_place_of_an_older_one(visit):
    before = visit(2025, {"Bed": (1.8, None), "Cot": (0.9, None)})
    after = visit(2026, {"Bunk": (0.3, None), "Sofa": (0.2, None)})

    def told():
        found = compare_visits(before, after).spots
        return {
            (s.pair.before.name if s.pair.before else "", s.pair.after.name if s.pair.after else "")
            for s in found
        }

    compare_visits(before, after, {"Bed": "Bunk"})
    assert told() == {("Bed", "Bunk"), ("", "Sofa"), ("Cot", "")}
    compare_visits(before, after, {"cot": "bunk"})
    assert told() == {("Cot", "Bunk"), ("", "Sofa"), ("Bed", "")}
    compare_visits(before, after, {"COT": "Sofa"})
    assert told() == {("", "Bunk"), ("Cot", "Sofa"), ("Bed", "")}
    log = VisitLog.open(after)
    log.spots.remove(next(s.id for s in log.spots.all() if s.name == "Sofa"))
    log.close()
    assert told() == {("", "Bunk"), ("Cot", ""), ("Bed", "")}
    with pytest.raises(StillvoltError, match="Two spots are matched with 'Bunk'"):
        compare_visits(before, after, {"Bed": "Bunk", "Cot": "bunk"})


def test_mistaken_matches_and_files_are_told(visit):
    before, after = visit(2025, {"Bed": (1.8, None)}), visit(2026, {"Bed": (0.3, None), "Desk": (0.1, None)})
    with pytest.raises(StillvoltError, match="earlier visit has no spot 'Sofa'"):
        compare_visits(before, after, {"Sofa": "Bed"})
    with pytest.raises(StillvoltError, match="later visit has no spot 'Sofa'"):
        compare_visits(before, after, {"Bed": "Sofa"})
    with pytest.raises(StillvoltError, match="same file"):
        compare_visits(before, before)
    with pytest.raises(StillvoltError, match="does not match two spots"):
        read_matches(["Bed"])
    with pytest.raises(StillvoltError, match="matched twice"):
        read_matches(["Bed=Desk", "bed=Sofa"])
    copy = before.with_name("copy.visit")
    shutil.copy(before, copy)
    with pytest.raises(StillvoltError, match="hold the same visit"):
        compare_visits(before, copy)
    log = VisitLog.open(after)
    assert not log.facts.get(MATCHED_SPOTS), "nothing was kept of a mistake"
    log.close()


def test_what_has_to_be_said_of_either_reading_is_said(visit):
    before = visit(2025, {"Bed": (1.8, None)}, replace(SETUP, on_battery=False))
    found = compare_visits(before, visit(2026, {"Bed": (0.3, None)}))
    remarks = only(found).on.remarks
    assert "before: laptop on its charger" in remarks and "after: laptop on its charger" not in remarks
    assert "after: zero check not done" in remarks
    assert "[before: laptop on its charger; " in comparison_text(found)
    assert comparison_json(found)["spots"][0]["on"]["remarks"] == list(remarks)


def test_everything_off_is_compared_only_where_the_same_stayed_on(visit):
    def with_off(year: int, volts: float, on: str) -> Path:
        path = visit(year, {"Bed": (1.8, None)})
        with closing(VisitLog.open(path)) as log:
            ids = {name: log.circuits.add("circuit", name).id for name in ("Refrigerator", "Freezer")}
            live = frozenset([ids[on]] if on else [])
            log.readings.enter(log.spots.all()[0].id, EVERYTHING_OFF, volts, 0.002, live=live)
        return path

    before, after = with_off(2024, 0.9, "Refrigerator"), with_off(2025, 0.1, "")
    off = only(compare_visits(before, after)).off
    assert off.verdict == "not comparable" and "Refrigerator before, nothing after" in off.why
    assert off.remarks[0] == "before: stayed on: Refrigerator"
    not_listed = visit(2026, {"Bed": (1.8, 0.1)})
    assert "before, not known what" in only(compare_visits(before, not_listed)).off.why
    assert only(compare_visits(after, not_listed)).off.verdict == "not distinguishable"
    assert only(compare_visits(before, with_off(2027, 0.1, "Refrigerator"))).off.verdict == "improved"


def test_what_looks_like_a_mix_up_of_the_visits_is_said(visit):
    later = visit(2026, {"Bed": (0.3, None)}, rooms={"Bed": "Attic"})
    found = compare_visits(later, visit(2025, {"Bed": (1.8, None)}, rooms={"Bed": "Bedroom"}))
    assert [note.split()[0:3] for note in found.notes] == [["The", "visit", "named"], ["'Bed'", "was", "in"]]


@pytest.mark.parametrize(
    ("before", "after", "why"),
    [
        ("Garden flat", "Mill", "two households: 'Garden flat' before and 'Mill' after"),
        ("Garden flat", "", "For the later visit no household is entered"),
        (" ", "Mill", "For the earlier visit no household is entered"),
        ("", "", "entered in neither visit"),
    ],
)
def test_visits_that_may_be_of_two_homes_are_compared_once_that_is_confirmed(
    visit, capsys, before, after, why
):
    paths = [
        visit(year, {"Bed": (volts, None)}, replace(SETUP, household=household))
        for year, volts, household in ((2025, 1.8, before), (2026, 0.3, after))
    ]
    with pytest.raises(OtherHomeError, match=why):
        compare_visits(*paths)
    arguments = ["compare", *map(str, paths)]
    assert main(arguments) == 1
    refused = capsys.readouterr()
    assert not refused.out and why in refused.err and "--same-home" in refused.err
    log = VisitLog.open(paths[1])
    assert not log.facts.get(SAME_HOME), "nothing was kept of a refusal"
    log.close()
    assert main([*arguments, "--same-home"]) == 0
    assert why in capsys.readouterr().out, "the answer is named beside the comparison"
    assert only(compare_visits(*paths)).on.verdict == "improved", "the answer is kept"
    earlier = visit(2024, {"Bed": (1.0, None)}, replace(SETUP, household="Third"))
    with pytest.raises(OtherHomeError):
        compare_visits(earlier, paths[1])


def test_a_household_is_the_same_however_it_is_typed(visit):
    typed = replace(SETUP, household="  GARDEN   flat ")
    found = compare_visits(visit(2025, {"Bed": (1.8, None)}, typed), visit(2026, {"Bed": (0.3, None)}))
    assert only(found).on.verdict == "improved" and not found.notes


def test_a_change_below_the_target_is_no_worsening(visit):
    exact = replace(SETUP, meter=replace(METER_FACTS, accuracy=(Accuracy(6.0, 0.1, 1, 0.0001),)))
    found = only(
        compare_visits(visit(2025, {"Bed": (0.020, None)}, exact), visit(2026, {"Bed": (0.031, None)}, exact))
    ).on
    assert found.verdict in ("not distinguishable", "slightly higher")
    assert "still below 0.1 V" in change_text(found) and "now below" not in change_text(found)


def test_a_difference_that_is_less_certain_than_its_values_says_why(visit):
    exact = replace(SETUP, meter=replace(METER_FACTS, accuracy=(Accuracy(6.0, 0.1, 1, 0.0001),)))
    found = only(
        compare_visits(visit(2025, {"Bed": (1.84, None)}, exact), visit(2026, {"Bed": (0.58, None)}, exact))
    ).on
    assert details_text(found).endswith(
        ", less certain than each value, since nobody lies or sits the same way twice"
    )


def test_of_two_visits_the_damaged_one_is_named(visit):
    before, after = visit(2025, {"Bed": (1.8, None)}), visit(2026, {"Bed": (0.3, None)})
    with without_triggers(before) as db:
        db.execute("UPDATE reading SET context = '{'")
    with pytest.raises(StillvoltError) as refused:
        compare_visits(before, after)
    assert before.name in str(refused.value) and after.name not in str(refused.value)


def test_readings_of_one_recording_are_no_change(visit, tmp_path):
    """A backup and the visit that went on: the recording that both hold is compared with nothing, others are."""
    now, backup = tmp_path / "now.visit", tmp_path / "backup.visit"
    clock = ManualClock()
    log = VisitLog.create(now, clock)
    log.setup.set(SETUP)
    bed, desk = log.spots.add("Bed"), log.spots.add("Desk")
    recorder = DemoRecorder(log, clock)
    recorder.still(0.3, 10)
    log.readings.take(bed.id, EVERYTHING_ON)
    log.readings.enter(desk.id, EVERYTHING_ON, 0.9, 0.002)
    with closing(sqlite3.connect(backup)) as db:
        open_copy = sqlite3.connect(now)
        open_copy.backup(db)
        open_copy.close()
    recorder.move(0.3, 2.0, 4)
    recorder.still(0.8, 10)
    log.readings.take(bed.id, EVERYTHING_ON)
    with pytest.raises(StillvoltError, match="an earlier state"):
        compare_visits(backup, now)
    log.readings.enter(desk.id, EVERYTHING_ON, 0.4, 0.002)
    apart = {spot.name: spot.on for spot in compare_visits(backup, now).spots}["Desk"]
    assert apart.verdict == "not comparable" and "contradict each other" in apart.why
    log.readings.void(log.readings.all()[1].id, "the lamp was still in")
    recorder.close()
    log.close()
    for one, other in ((backup, now), (now, backup)):
        found = compare_visits(one, other)
        verdicts = {spot.name: spot.on.verdict for spot in found.spots}
        assert verdicts["Bed"] == "not comparable" and verdicts["Desk"] in ("improved", "worse")
        assert NOTE in found.notes and (LATER_NAMED_BEFORE in found.notes) == (one == now)
