"""The forecast of a further remedy starts from the newest reading of what is done, not from nothing done."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logger.clock import ManualClock
from logger.plan.outlook import Outlook
from logger.plan.plan_basis import read_basis
from logger.plan.plan_json import plan_json
from logger.plan.remedy_text import prediction_text
from logger.visit import VisitLog
from logger.visit.records.remedy_records import RemedyDecision, RemedyEntry, RemedyKind
from tests.plan.planned_home import PlannedHome


@pytest.fixture
def home(tmp_path):
    clock = ManualClock()
    log = VisitLog.create(tmp_path / "home.visit", clock)
    home = PlannedHome(log, clock)
    home.sweep()
    home.settle()
    yield home
    log.close()


def of(home, kind, name):
    """The forecasts of a proposed remedy by the name of the spot."""
    basis = read_basis(home.log)
    assert basis.tonight is not None
    remedy = next(r for r in home.plan().remedies if r.kind is kind and r.about == name)
    found = Outlook(basis, basis.tonight, basis.readings).predict_next([remedy])
    return {spot.spot_name: spot for spot in found}


def test_with_nothing_done_it_is_the_same_as_from_everything_on(home):
    basis = read_basis(home.log)
    assert basis.tonight is not None
    outlook = Outlook(basis, basis.tonight, basis.readings)
    for remedy in home.plan().remedies:
        for spot, plain in zip(outlook.predict_next([remedy]), outlook.predict([remedy]), strict=True):
            assert (spot.volts, spot.refusal) == (plain.volts, plain.refusal) and not spot.from_done
            assert spot.before_volts == pytest.approx(plain.before_volts)


def test_once_the_lamp_is_unplugged_the_bedroom_starts_from_what_is_left(home):
    home.done(RemedyKind.UNPLUG, "Lamp")
    newest = home.read_without("left", "Lamp")
    left = of(home, RemedyKind.BREAKER_AT_NIGHT, "Bedroom")["left"]
    assert left.from_done and left.before_volts == newest.volts < 0.1
    everything = frozenset(home.ids.values()) - home.gone
    true = home.volts(everything - {home.ids["Bedroom"]}, "left")
    assert left.volts == pytest.approx(true, abs=2 * left.u_volts) and left.is_known
    assert home.read_without("left", "Lamp", shift_volts=0.004).volts == pytest.approx(
        of(home, RemedyKind.BREAKER_AT_NIGHT, "Bedroom")["left"].before_volts
    ), "the newest one of two"


def test_after_wiring_was_shielded_the_newest_reading_narrows_the_range_and_holds_the_truth(home):
    home.done(RemedyKind.WIRING, "Bedroom")
    unread = of(home, RemedyKind.BREAKER_AT_NIGHT, "Hall")["right"]
    assert not unread.from_done and unread.lowest_volts is not None
    for name, spot in list(home.house.spots.items()):
        couplings = {**spot.coupling_farads, "1": tuple(0.3 * f for f in spot.coupling_farads["1"])}
        home.house.spots[name] = replace(spot, coupling_farads=couplings)
    newest = home.read_without("right")
    found = of(home, RemedyKind.BREAKER_AT_NIGHT, "Hall")["right"]
    assert found.from_done and found.before_volts == newest.volts
    true = home.volts(frozenset(home.ids.values()) - {home.ids["Hall"]}, "right")
    assert found.lowest_volts <= true <= found.highest_volts
    assert found.highest_volts - found.lowest_volts <= unread.highest_volts - unread.lowest_volts
    assert not of(home, RemedyKind.BREAKER_AT_NIGHT, "Hall")["left"].from_done, "nobody read there since"


def test_what_nobody_can_know_the_effect_of_leaves_no_forecast_where_it_acts(home):
    home.log.remedies.add(
        RemedyKind.OWN, RemedyEntry(0, RemedyDecision.DONE), spot_id=home.spots["left"].id, text="A mat"
    )
    found = of(home, RemedyKind.BREAKER_AT_NIGHT, "Hall")
    assert "A mat" in found["left"].refusal and not found["right"].refusal


def test_a_reading_against_another_reference_is_no_start(home):
    home.done(RemedyKind.WIRING, "Bedroom")
    home.log.setup.set(replace(home.log.setup.current(), reference="building earth"))
    home.read_without("right")
    assert not of(home, RemedyKind.BREAKER_AT_NIGHT, "Hall")["right"].from_done


def test_the_plan_says_what_a_further_remedy_brings_from_what_is_read_now(home):
    before = home.plan()
    (alone,) = (r for r in before.remedies if r.shown.startswith("Bedroom: Switch the breaker"))
    assert not any(spot.from_done for spot in alone.predictions)
    home.done(RemedyKind.UNPLUG, "Lamp")
    newest = home.read_without("left", "Lamp")
    plan = home.plan()
    (further,) = (r for r in plan.remedies if r.shown.startswith("Bedroom: Switch the breaker"))
    left = next(spot for spot in further.predictions if spot.spot_name == "left")
    assert left.from_done and left.before_volts == newest.volts
    assert left.volts < alone.predictions[0].volts
    said = f"With all that is done {newest.volts:.2f} V were read there."
    assert said in prediction_text(left) and "instead of" not in prediction_text(left)
    kept = next(r for r in plan_json(plan)["remedies"] if r["id"] == further.code)
    assert [p["from_done"] for p in kept["predictions"] if p["spot"] == "left"] == [True]
    together = next(spot for spot in plan.chosen if spot.spot_name == "left")
    assert together.volts == pytest.approx(newest.volts) and together.is_read
    assert together.before_volts == pytest.approx(alone.predictions[0].before_volts), "against nothing done"
    home.done(RemedyKind.BREAKER_AT_NIGHT, "Hall")
    (further,) = (r for r in home.plan().remedies if r.shown.startswith("Bedroom: Switch the breaker"))
    assert not any(spot.from_done for spot in further.predictions), "the hall's merit is not the bedroom's"
