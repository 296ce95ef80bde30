"""Circuits and cords: the list, what must stay on, and what the user says of steps."""

from __future__ import annotations

import sqlite3

import pytest

from logger.errors import StillvoltError
from logger.settling.events import Event, Gap, Step
from logger.sweep.labelled_steps import (
    DetectedStep,
    detected_steps,
    known_steps,
    source_effects,
    withdrawn_labels,
)
from logger.visit.records.essential_circuits import why_it_stays
from logger.visit.records.home_records import Meaning, StepLabel
from logger.visit.records.recording_records import LoggedEvent
from logger.visit.storage.content_limits import MAX_ROWS, excess
from logger.visit.storage.schema import USER_VERSION


def test_a_list_takes_no_more_than_a_visit_log_that_can_be_opened_again_may_have(log, monkeypatch):
    monkeypatch.setitem(MAX_ROWS, "source", 2)
    first, second = log.circuits.add("circuit", "Bedroom"), log.circuits.add("cord", "Lamp")
    log.circuits.remove(second.id)
    with pytest.raises(StillvoltError, match="at most 2 circuits and cords"):
        log.circuits.add("circuit", "Kitchen")
    log.circuits.rename(first.id, "Kitchen")
    assert [circuit.name for circuit in log.circuits.all()] == ["Kitchen"]
    assert excess(log._connection.db, USER_VERSION) == ""


def test_the_list_is_kept_in_order_and_edited(log):
    kitchen = log.circuits.add("circuit", " Kitchen  outlets ")
    bedroom = log.circuits.add("circuit", "Bedroom", two_pole=True)
    lamp = log.circuits.add("cord", "Lamp", circuit_id=bedroom.id)
    assert [s.name for s in log.circuits.all()] == ["Kitchen outlets", "Bedroom", "Lamp"]
    assert (bedroom.two_pole, lamp.circuit_id, lamp.kind) == (True, bedroom.id, "cord")
    log.circuits.move(lamp.id, -5)
    log.circuits.rename(kitchen.id, "Kitchen")
    log.circuits.set_circuit(lamp.id, kitchen.id)
    log.circuits.set_two_pole(bedroom.id, False)
    log.circuits.remove(bedroom.id)
    assert [(s.name, s.circuit_id) for s in log.circuits.all()] == [("Lamp", kitchen.id), ("Kitchen", None)]
    assert (
        log.circuits.with_removed()[bedroom.id].name == "Bedroom"
        and not log.circuits.with_removed()[bedroom.id].two_pole
    )
    log.circuits.restore(bedroom.id)
    assert [s.name for s in log.circuits.all()] == ["Lamp", "Kitchen", "Bedroom"]


def test_a_name_stands_once_also_across_circuits_and_cords(log):
    log.circuits.add("circuit", "Bedroom")
    for act in (
        lambda: log.circuits.add("cord", "bedroom"),
        lambda: log.circuits.rename(log.circuits.add("circuit", "Hall").id, "BEDROOM"),
        lambda: log.circuits.add("cord", "  "),
    ):
        with pytest.raises(StillvoltError, match="Nothing was changed"):
            act()
    gone = log.circuits.add("cord", "Lamp")
    log.circuits.remove(gone.id)
    log.circuits.add("cord", "Lamp")
    with pytest.raises(StillvoltError, match="already"):
        log.circuits.restore(gone.id)


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("Refrigerator", "cold"), ("Kitchen, fridge-freezer", "cold"), ("SMOKE ALARMS", "alarm"),
        ("Sump pump", "pump"), ("Oxygen concentrator", "medical"), ("CPAP", "medical"),
        ("Router and telephone", "emergency"), ("Aquarium", "animals"), ("Bedroom outlets", ""),
        ("Kühlschrank", "cold"), ("Bad, Heizungspumpe", "pump"), ("Congélateur", "cold"), ("Telefonladegerät", ""),
        ("Study, phone charger", ""), ("Range", ""), ("Wellness room", ""), ("Fireplace fan", ""),
    ],
)  # fmt: skip
def test_what_a_home_cannot_do_without_is_told_by_its_name(log, name, word):
    """The usual cautions of the work (common practice, no source)."""
    assert word in why_it_stays(name) and bool(word) == bool(why_it_stays(name))
    source = log.circuits.add("circuit", name)
    assert source.stays == why_it_stays(name)
    log.circuits.set_essential(source.id, "" if source.stays else "the user says so")
    assert bool(log.circuits.all()[0].stays) is not bool(source.stays), "the user has the last word"


def test_the_newest_word_on_a_step_holds_and_the_older_ones_stay(log, recording):
    recording.samples([0.3] * 5)
    lamp, bed = log.circuits.add("cord", "Lamp"), log.spots.add("Bed")
    log.step_labels.add(1, Step(1.0, 0.3, 0.6, 0.01, 2.0), bed.id, "on", lamp.id)
    log.step_labels.add(1, Step(1.0, 0.3, 0.6, 0.01, 2.0), bed.id, "unnamed")
    log.step_labels.add(1, Step(1.0, 0.3, 0.6, 0.01, 2.0), None, "ignored")
    assert [n.meaning for n in log.step_labels.all()] == ["on", "unnamed", "ignored"]
    assert (log.step_labels.all()[0].source_id, log.step_labels.all()[0].spot_id) == (lamp.id, bed.id)
    with sqlite3.connect(log.path) as db, pytest.raises(sqlite3.IntegrityError, match="never changed"):
        db.execute("UPDATE step_name SET meaning = 'off'")


def said(number: int, t_s: float, meaning: Meaning, run_id: int = 1) -> StepLabel:
    source_id = 1 if meaning in ("on", "off") else None
    return StepLabel(number, 0, run_id, Step(t_s, 0.3, 0.6, 0.01, t_s), None, meaning, source_id)


def found(t_s: float, run_id: int = 1) -> DetectedStep:
    return DetectedStep(run_id, Step(t_s, 0.3, 0.6, 0.01, t_s + 5), True)


def test_a_step_that_is_no_longer_there_is_told_by_its_newest_word_only():
    assert [n.id for n in withdrawn_labels([], [said(1, 20.0, "on")])] == [1]
    assert withdrawn_labels([found(20.4)], [said(1, 20.0, "on")]) == [], "placed anew"
    assert [n.id for n in withdrawn_labels([found(20.0, run_id=2)], [said(1, 20.0, "on")])] == [1], (
        "of another run"
    )
    for newest in ("unnamed", "ignored"):
        assert withdrawn_labels([], [said(1, 20.0, "on"), said(2, 20.0, newest)]) == []
    renamed = [said(1, 20.0, "on"), said(2, 20.3, "off"), said(3, 40.0, "on")]
    assert [n.id for n in withdrawn_labels([], renamed)] == [2, 3]


def test_the_newest_word_holds_where_the_detector_placed_the_step_anew():
    words = [said(1, 20.0, "on"), said(2, 20.4, "ignored")]
    (known,) = known_steps([found(20.4)], words, ())
    assert known.ignored and known.label == words[1]


def test_the_users_word_outweighs_hindsight():
    """A lamp that was on for a few seconds looks like a raised arm; who switched it knows better."""
    names = [said(1, 20.0, "on"), said(2, 40.0, "off")]
    known = known_steps([found(40.3)], names, ())
    assert [(k.label.meaning, k.found.kept_by_label) for k in known] == [("on", True), ("off", False)]
    assert known[0].change_volts == pytest.approx(0.3)
    assert [k.label for k in known_steps([], [said(1, 20.0, "on"), said(2, 20.0, "ignored")], ())] == []


def test_steps_of_a_simulated_run_count_only_where_none_was_measured():
    measured = [found(20.0), DetectedStep(1, Step(40.0, 0.6, 0.3, 0.01, 45.0), True)]
    practised = [DetectedStep(2, Step(t_s, 0.3, 5.3, 0.01, t_s + 5), True) for t_s in (20.0, 40.0)]
    labels = [said(1, 20.0, "on"), said(2, 40.0, "off"), said(3, 20.0, "on", 2), said(4, 40.0, "on", 2)]
    known = known_steps(measured + practised, labels, {2})
    assert [step.simulated for step in known] == [False, False, True, True]
    (effect,) = source_effects(known).values()
    assert (effect.volts, effect.ons, effect.offs, effect.simulated) == (pytest.approx(0.3), 1, 1, False)
    (effect,) = source_effects(known_steps(practised, labels[2:], {2})).values()
    assert (effect.volts, effect.simulated) == (pytest.approx(5.0), True)


def test_a_step_within_a_gap_confirms_no_switching_and_has_the_times_between_which_it_lies():
    gap, seen = Gap(10.0, 32.0, 32.0), Step(60.0, 0.6, 0.3, 0.01, 65.0)
    placed: list[Event] = [gap, Step(21.0, 0.3, 0.6, 0.01, 40.0), seen]
    events = [LoggedEvent(i, 1, 0, event) for i, event in enumerate(placed)]
    steps = detected_steps(events)
    assert [step.unseen_s for step in steps] == [(10.0, 32.0), None]
    assert detected_steps(events[1:], events[:1]) == steps, (
        "whether they come together or one after the other"
    )
    assert detected_steps(events[1:])[0].unseen_s is None
    known = known_steps(steps, [said(1, 21.0, "on"), said(2, 60.0, "off")], ())
    (effect,) = source_effects(known).values()
    assert (effect.ons, effect.offs) == (0, 1)
