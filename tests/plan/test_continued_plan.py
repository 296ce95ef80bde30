"""A later visit of a home takes its open remedies over, and proves them against what the earlier one read."""

from __future__ import annotations

import json
from contextlib import closing
from dataclasses import replace

import pytest

from logger.clock import NS_PER_S, ManualClock
from logger.plan.continued_plan import continue_home
from logger.plan.plan_output import plan_output
from logger.plan.planned_remedy import ProofVerdict, RemedyStatus, RoutePurpose
from logger.plan.remedy_plan import remedy_plan_of
from logger.report.archive.search import Search, search
from logger.report.compare.comparison import compare_visits
from logger.sweep.sweep_progress import combination_as_at_night
from logger.visit import VisitLog
from logger.visit.records.remedy_records import RemedyDecision, RemedyEntry, RemedyKind
from tests.plan.planned_home import PlannedHome

WEEK_NS = 7 * 86_400 * NS_PER_S


@pytest.fixture
def visits(tmp_path):
    """An earlier visit with a planned lamp and a done breaker, and the later one, with home and clock."""
    clock = ManualClock()
    before, after = tmp_path / "before.visit", tmp_path / "after.visit"
    with closing(VisitLog.create(before, clock)) as log:
        home = PlannedHome(log, clock)
        home.sweep()
        proven = home.done(RemedyKind.UNPLUG_AT_NIGHT, "Lamp")
        home.read_without("left", "Lamp")
        assert home.remedy(proven).status is RemedyStatus.PROVEN
        log.remedies.decide(proven.id, RemedyEntry(0, RemedyDecision.UNDONE))
        log.remedies.add(
            RemedyKind.UNPLUG, RemedyEntry(0, RemedyDecision.PLANNED, due="2026-01-05"), [home.ids["Lamp"]]
        )
        home.done(RemedyKind.BREAKER_AT_NIGHT, "Hall")
        clock.advance_ns(WEEK_NS)
        continue_home(before, after, clock)
        yield before, after, home, clock


def read(log, home, clock, spot, *off):
    """Read a spot of the later visit by the physics of the same home."""
    clock.advance_ns(60 * NS_PER_S)
    sources = {source.name: source.id for source in log.circuits.all()}
    wanted = combination_as_at_night(
        [sources[name] for name in off if name not in home.cords],
        log.circuits.all(),
        [sources[name] for name in off if name in home.cords],
    )
    true = home.volts(frozenset(home.ids.values()) - {home.ids[name] for name in off}, spot)
    spot_id = next(s.id for s in log.spots.all() if s.name == spot)
    log.readings.enter(spot_id, wanted.label, round(true, 3), 0.002, live=wanted.live)


def test_open_remedies_are_taken_over_in_one_step_with_what_was_read(visits):
    _, after, home, _ = visits
    with closing(VisitLog.open(after)) as log:
        assert [(r.kind, r.decision, r.from_visit) for r in log.remedies.all()] == [
            ("unplug for good", "planned", "before.visit"),
            ("breaker off at night", "done", "before.visit"),
        ]
        assert log.remedies.all()[0].due == "2026-01-05"
        spots = {spot.id: spot.name for spot in log.spots.all()}
        kept = [(b.remedy_id, spots[b.spot_id], b.condition) for b in log.remedies.baselines()]
        assert kept == [(1, "left", "everything on"), (2, "right", "everything on")]
        for baseline in log.remedies.baselines():
            everything = frozenset(home.ids.values())
            assert baseline.volts == pytest.approx(home.volts(everything, spots[baseline.spot_id]), abs=0.001)
            assert baseline.predicted_volts is not None and baseline.predicted_together_volts is not None
        (stop,) = remedy_plan_of(log).route
        assert (stop.spot_name, stop.combination.label, stop.purpose) == (
            "right",
            "only Hall off",
            RoutePurpose.AFTER,
        )


def test_the_later_visit_proves_them_and_says_that_it_is_another_visit(visits):
    _, after, home, clock = visits
    with closing(VisitLog.open(after, clock)) as log:
        log.setup.set(replace(log.setup.current(), on_battery=True, link_isolated=True))
        lamp = log.remedies.all()[0]
        log.remedies.decide(lamp.id, RemedyEntry(0, RemedyDecision.DONE, done_on="2026-01-04"))
        read(log, home, clock, "right", "Hall")
        read(log, home, clock, "left", "Lamp")
        found = {r.kept.id: r for r in remedy_plan_of(log).remedies if r.kept}
        assert {r.status for r in found.values()} == {RemedyStatus.PROVEN}
        hall, unplugged = found[2].result, found[1].result
        right = next(c for c in hall.changes if c.spot_name == "right")
        assert right.before_visit == "before.visit"
        assert right.predicted.volts == pytest.approx(right.after.volts, abs=0.1), "of both, done in between"
        assert hall.together_with == (found[1].shown,)
        left = next(c for c in unplugged.changes if c.spot_name == "left")
        assert unplugged.together_with == () and left.predicted.volts == pytest.approx(
            left.after.volts, abs=0.1
        )
        assert any("another visit" in doubt for doubt in unplugged.doubts)


def test_what_is_proven_stays_where_it_was_proven(visits):
    before, _, _, _ = visits
    with closing(VisitLog.open(before)) as log:
        assert len(log.remedies.all()) == 3


def test_a_reading_of_the_later_visit_alone_is_told_as_not_read_before(visits):
    _, after, home, clock = visits
    with closing(VisitLog.open(after, clock)) as log:
        own = log.remedies.add(
            RemedyKind.OWN, RemedyEntry(0, RemedyDecision.DONE), text="A mat under the bed"
        )
        read(log, home, clock, "left")
        found = next(r for r in remedy_plan_of(log).remedies if r.kept and r.kept.id == own.id)
        assert found.status is RemedyStatus.DONE and found.result.verdict is not ProofVerdict.PROVEN


def test_the_contract_of_the_command(visits):
    before, _, _, _ = visits
    found = json.loads(plan_output(before, as_json=True))
    statuses = {remedy["name"]: remedy["status"] for remedy in found["remedies"]}
    assert statuses["Lamp: Unplug for good"] == "planned"
    assert statuses["Hall: Switch the breaker off at night"] == "done"
    assert statuses["Lamp: Unplug at night"] == "proposed"
    assert set(found["least_effort"]) <= set(statuses) and isinstance(found["meets_target"], bool)
    for remedy in found["remedies"]:
        assert {
            "name",
            "about",
            "who",
            "effort",
            "status",
            "predicted_volts",
            "u_predicted_volts",
            "spot",
        } <= set(remedy)
        assert remedy["effort"] in ("none", "small", "electrician")
    text = plan_output(before, as_json=False)
    assert "Lamp: Unplug for good [planned" in text and "Due: 2026-01-05" in text


def test_a_comparison_names_what_was_done_in_between_and_no_cause(visits):
    before, after, home, clock = visits
    with closing(VisitLog.open(after, clock)) as log:
        log.setup.set(replace(log.setup.current(), on_battery=True, link_isolated=True))
        read(log, home, clock, "left")
        read(log, home, clock, "right", "Hall")
    found = compare_visits(before, after, same_home=True)
    assert [(one.name, one.status) for one in found.done] == [
        ("Hall: Switch the breaker off at night", RemedyStatus.PROVEN)
    ]
    (note,) = [note for note in found.notes if "Done between the visits" in note]
    assert "(proven)" in note and "does not show that this was the cause" in note


def test_the_archive_finds_homes_with_open_remedies_by_their_newest_visit(visits):
    before, after, home, clock = visits
    open_ones = Search(open_remedies=True)
    assert [entry.path for entry in search(before.parent, open_ones).visits] == [after]
    assert {entry.open_remedies for entry in search(before.parent).visits} == {2}
    with closing(VisitLog.open(after, clock)) as log:
        lamp = log.remedies.all()[0]
        log.remedies.decide(lamp.id, RemedyEntry(0, RemedyDecision.NOT_WANTED))
        read(log, home, clock, "right", "Hall")
    assert search(before.parent, open_ones).visits == ()
