"""The breaker sweep: order, must-stay-on circuits, repeats, resuming, what has to be switched."""

from __future__ import annotations

from dataclasses import replace

import pytest

from logger.report.export.tables.circuits import SWEEP
from logger.sweep.listed_later import read_before_listed, replaced_since_texts
from logger.sweep.sweep_progress import (
    combination_as_at_night,
    combination_of,
    live_at_reading,
    plain_sweep,
    sweep_at,
    sweep_progress,
    switching_instructions,
)
from logger.sweep.sweep_rows import sweep_rows
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, unlisted_on


@pytest.fixture
def panel(log):
    """Four circuits, of which the second must stay on."""
    return [log.circuits.add("circuit", n) for n in ("Bedroom", "Refrigerator", "Study", "Hall + stairs")]


def test_everything_off_then_one_at_a_time_then_everything_on(log, panel):
    bedroom, cold, study, _ = panel
    plan = plain_sweep(log.circuits.all())
    assert [c.label for c in plan] == [
        EVERYTHING_OFF, "only Bedroom on", "only Study on", "only Hall + stairs on", EVERYTHING_ON,
    ]  # fmt: skip
    assert all(cold.id in c.live for c in plan)
    assert plan[0].live == {cold.id} and plan[-1].live == {c.id for c in panel}
    assert combination_of([bedroom.id, study.id], log.circuits.all()).label == "only Hall + stairs off"
    assert plain_sweep([]) == [] and len(plain_sweep([bedroom])) == 2


def test_a_cord_is_unplugged_by_itself_once_it_is_known_where_it_is_plugged_in(log, panel):
    bedroom, cold, study, hall = panel
    lamp = log.circuits.add("cord", "Lamp")
    assert len(plain_sweep(log.circuits.all())) == 5
    assert lamp.id in combination_of([], log.circuits.all()).live, "plugged in, though its circuit is off"
    log.circuits.set_circuit(lamp.id, bedroom.id)
    last = plain_sweep(log.circuits.all())[-1]
    assert last.label == "everything on, without Lamp" and last.live == {c.id for c in panel}
    sources = log.circuits.all()
    everything = frozenset({*last.live, lamp.id})
    whole = combination_of(everything, sources)
    assert switching_instructions(whole, last, sources) == "Everything on. Unplug: Lamp."
    assert switching_instructions(last, combination_of([], sources), sources) == (
        "Everything off except Refrigerator. Plug in: Lamp."
    )
    bed = log.spots.add("Bed")
    log.readings.enter(bed.id, EVERYTHING_ON, 0.9, 0.01, live=everything)
    log.readings.enter(bed.id, "x", 0.5, 0.01, live=frozenset({cold.id, lamp.id, hall.id, study.id}))
    assert sweep_at(log.readings.all(), bed.id, log.circuits.all()).sweep.circuits == (str(bedroom.id),)
    log.readings.enter(bed.id, last.label, 0.3, 0.01, live=last.live)
    assert sweep_at(log.readings.all(), bed.id, log.circuits.all()).sweep.circuits == (
        str(bedroom.id),
        str(lamp.id),
    )


def test_what_is_listed_after_a_reading_was_live_in_it(log, panel):
    bed = log.spots.add("Bed")
    off = combination_of([], log.circuits.all())
    log.readings.enter(bed.id, off.label, 0.05, 0.01, live=off.live)
    lamp = log.circuits.add("cord", "Lamp", circuit_id=panel[0].id)
    again = combination_of([], log.circuits.all())
    assert lamp.id in again.live
    assert sweep_progress(log.readings.all(), bed.id, log.circuits.all()).taken.keys() == {again.live}
    log.readings.enter(bed.id, "x", 0.05, 0.01, live=off.live)
    assert len(sweep_progress(log.readings.all(), bed.id, log.circuits.all()).taken) == 2, (
        "by now the cord is known, and unplugged"
    )


def test_an_interrupted_sweep_goes_on_in_any_order_with_repeats(log, panel):
    bed = log.spots.add("Bed")
    plan = plain_sweep(log.circuits.all())
    for which, volts in ((4, 1.2), (2, 0.4), (0, 0.05), (2, 0.42)):
        log.readings.enter(bed.id, plan[which].label, volts, 0.01, live=plan[which].live)
    mistaken = log.readings.enter(bed.id, plan[1].label, 9.0, 0.01, live=plan[1].live)
    log.readings.void(mistaken.id, "moved")
    found = sweep_progress(log.readings.all(), bed.id, log.circuits.all())
    assert [c.label for c in found.left] == [
        "only Bedroom on",
        "only Hall + stairs on",
    ] and not found.complete
    assert [r.volts for r in found.taken[plan[2].live]] == [0.4, 0.42]
    at_bed = sweep_at(log.readings.all(), bed.id, log.circuits.all())
    sweep = at_bed.sweep
    assert [r.volts for r in at_bed.readings] == [row.volts for row in sweep.rows] and at_bed.has_background
    bedroom, _, study, hall = (str(c.id) for c in panel)
    assert sweep.circuits == (bedroom, study, hall), "what must stay on is part of the background"
    by_set = {reading.on: reading for reading in sweep.readings}
    assert by_set[frozenset({study})].volts == pytest.approx(0.41, abs=0.001)
    assert by_set[frozenset()].volts == 0.05 and by_set[frozenset({bedroom, study, hall})].volts == 1.2
    assert by_set[frozenset({bedroom, study, hall})].u_volts > 0.01, (
        "a body never repeats its posture exactly"
    )
    assert sweep_at(log.readings.all(), log.spots.add("Desk").id, log.circuits.all()) is None
    setup = log.setup.current()
    log.setup.set(setup.with_changes(meter=replace(setup.meter, input_capacitance_farad=5e-11)))
    log.readings.enter(bed.id, plan[2].label, 0.41, 0.01, live=plan[2].live)
    other_meter = sweep_at(log.readings.all(), bed.id, log.circuits.all()).sweep.rows
    assert [row.way for row in other_meter if row.on == frozenset({study})] == [0, 0, 2]


def test_readings_with_everything_on_and_off_belong_to_the_sweep(log, panel):
    bed = log.spots.add("Bed")
    log.readings.enter(bed.id, EVERYTHING_ON, 0.9, 0.01)
    log.readings.enter(bed.id, EVERYTHING_OFF, 0.05, 0.01)
    log.readings.enter(bed.id, "the lamp is on", 0.6, 0.01)
    found = sweep_progress(log.readings.all(), bed.id, log.circuits.all())
    assert [c.label for c in found.left] == ["only Bedroom on", "only Study on", "only Hall + stairs on"]
    assert len(found.taken) == 2


@pytest.mark.parametrize("name", ["Refrigerator", "Bedroom"])
def test_readings_from_before_a_single_circuit_was_listed_are_not_credited_to_it(log, name):
    bed = log.spots.add("Bed")
    for condition, volts in ((EVERYTHING_ON, 1.2), (EVERYTHING_OFF, 0.1)):
        log.readings.enter(bed.id, condition, volts, 0.01)
    only = log.circuits.add("circuit", name)
    assert not sweep_progress(log.readings.all(), bed.id, [only]).taken
    background = frozenset([only.id] if only.stays else [])
    log.readings.enter(bed.id, EVERYTHING_ON, 1.2, 0.01, live=frozenset([only.id]))
    log.readings.enter(bed.id, EVERYTHING_OFF, 0.1, 0.01, live=background)
    found = sweep_progress(log.readings.all(), bed.id, [only])
    values = {row.name: row.value.volts for row in sweep_rows(found, [only]) if row.value is not None}
    assert values == ({} if only.stays else {"Everything off": 0.1, "Everything on": 1.2})
    log.circuits.set_essential(only.id, "")
    taken = sweep_progress(log.readings.all(), bed.id, log.circuits.all()).taken
    assert [r.volts for r in taken[frozenset([only.id])]] == [1.2], (
        "everything off but for it is not everything on"
    )


def test_instructions_name_the_whole_state_of_the_panel(log, panel):
    bedroom, _, study, hall = (c.id for c in panel)
    sources = log.circuits.all()

    def instructions(before, *after):
        was = None if before is None else combination_of(before, sources)
        return switching_instructions(was, combination_of(after, sources), sources)

    assert instructions([bedroom], study) == "Switch on Refrigerator, Study. Everything else off."
    assert instructions([bedroom], bedroom, study) == "Switch off Hall + stairs. Everything else on.", (
        "what is on already is named too, since a difference is taken for the whole state"
    )
    assert instructions([bedroom, study, hall]) == "Everything off except Refrigerator."
    assert instructions([], bedroom, study, hall) == "Everything on."
    assert instructions(None, hall) == "Switch on Refrigerator, Hall + stairs. Everything else off."
    assert instructions([]) == "Leave it as it is: everything off except Refrigerator."


def test_a_list_is_read_with_only_its_circuits_off_also_where_that_is_the_longer_name(log, panel):
    bedroom, _, study, hall = (c.id for c in panel)
    sources = log.circuits.all()
    short, at_night = combination_of([hall], sources), combination_as_at_night([bedroom, study], sources)
    assert (short.label, short.unlisted_on) == ("only Hall + stairs on", False)
    assert (at_night.label, at_night.unlisted_on) == ("only Bedroom, Study off", True)
    assert short.live == at_night.live
    assert (
        switching_instructions(short, at_night, sources) == "Switch off Bedroom, Study. Everything else on."
    ), "what is not listed has to be switched on again, so that it is not as it was"
    every = combination_as_at_night([bedroom, study, hall], sources)
    assert (
        switching_instructions(None, every, sources)
        == "Switch off Bedroom, Study, Hall + stairs. Everything else on."
    )
    assert combination_as_at_night([], sources) == combination_of([bedroom, study, hall], sources)


@pytest.mark.parametrize(
    ("condition", "on"),
    [
        (EVERYTHING_ON, True),
        (EVERYTHING_OFF, False),
        ("everything off, without Lamp", False),
        ("only Lamp off on", False),
        ("only Light, without dimmer on, without Lamp off", False),
        ("only Study on off, without Lamp", True),
        ("the lamp is on", None),
        ("only the lamp", None),
        ("", None),
    ],
)
def test_a_label_defines_what_was_with_the_circuits_that_are_not_listed(condition, on):
    assert unlisted_on(condition) is on


def test_a_circuit_that_is_listed_later_was_off_where_everything_else_was(log, panel):
    bed = log.spots.add("Bed")
    for combination in plain_sweep(log.circuits.all()):
        log.readings.enter(bed.id, combination.label, 0.1, 0.01, live=combination.live)
    attic = log.circuits.add("circuit", "Attic")
    readings = log.readings.all()
    on = {r.condition for r in readings if attic.id in (live_at_reading(r, log.circuits.all()) or ())}
    assert on == {EVERYTHING_ON}
    assert not read_before_listed(readings, bed.id, log.circuits.all())
    log.circuits.set_essential(attic.id, "an alarm")
    sources = log.circuits.all()
    known = {r.condition for r in readings if live_at_reading(r, sources) is not None}
    assert known == {EVERYTHING_ON}, "whoever switched all off may have left it on"
    left_out = read_before_listed(readings, bed.id, sources)
    assert left_out is not None and "4 combinations, such as “everything off”, were" in left_out.text


def test_everything_off_read_before_a_refrigerator_was_listed_is_no_background_and_is_asked_for_again(log):
    """Nobody knows what the refrigerator was then: a mark that is removed later does not change that."""
    bed = log.spots.add("Bed")
    for condition, volts in ((EVERYTHING_ON, 2.2), (EVERYTHING_OFF, 1.9)):
        log.readings.enter(bed.id, condition, volts, 0.01)
    fridge, _ = (log.circuits.add("circuit", name) for name in ("Fridge", "Bedroom"))
    readings = log.readings.all()
    for stays in (fridge.stays, ""):
        log.circuits.set_essential(fridge.id, stays)
        sources = log.circuits.all()
        assert [live_at_reading(r, sources) is None for r in readings] == [False, True]
        left_out = read_before_listed(readings, bed.id, sources)
        assert left_out is not None and left_out.text == (
            "At “Bed” “everything off” was read before Fridge was listed, and nobody knows whether that was on: "
            "read everything off again."
        )
    line = SWEEP.rows(log)[-1]
    assert (line.live, line.not_live, line.listed_later) == ("", "Bedroom", "Fridge; Bedroom")
    off = sweep_progress(readings, bed.id, sources).left[0]
    log.readings.enter(bed.id, off.label, 1.9, 0.01, live=off.live)
    assert off.label == EVERYTHING_OFF and not read_before_listed(log.readings.all(), bed.id, sources)
    assert replaced_since_texts(readings, bed.id, sources) == []
    assert replaced_since_texts(log.readings.all(), bed.id, sources) == [
        "Reading 2, “everything off”, does not count in the sweep: Fridge was listed after it, and nobody knows "
        "whether that was on. It was read again since."
    ]


def test_samples_from_before_something_was_switched_do_not_count(log, recording):
    """A small change begins no new still span: the mean of the span would still hold what was before."""
    bed = log.spots.add("Bed")
    recording.samples([0.300] * 40 + [0.310] * 10)
    run = log.runs.all()[0]
    last = log.samples.after().steady_utc_ns
    reading = log.readings.take(bed.id, "only Study on", live=frozenset({3}), switched_utc_ns=int(last[-10]))
    assert reading.volts == pytest.approx(0.310) and reading.samples == 10
    assert reading.u_volts == pytest.approx(
        log.recorder.live().u_volts * (log.recorder.live().samples / 10) ** 0.5
    )
    assert (reading.start_utc_ns, reading.run_id, reading.live) == (int(last[-10]), run.id, {3})
    log.readings.void(reading.id, "taken anew below")
    again = log.readings.take(bed.id, "x", switched_utc_ns=int(last[0]) - 10**9)
    assert again.volts == log.recorder.live().volts and again.live is None


def test_a_reading_whose_condition_was_typed_is_of_its_combination(log, panel):
    bed = log.spots.add("Bed")
    sources = log.circuits.all()
    typed = log.readings.enter(bed.id, "only Bedroom off", 0.8, 0.01)
    night = combination_as_at_night([panel[0].id], sources)
    (taken,) = sweep_progress(log.readings.all(), bed.id, sources).taken.items()
    assert taken == (night.live, (typed,))
