"""Taking, overriding, refusing and voiding readings; spots and marks."""

from __future__ import annotations

import sqlite3

import pytest

from logger.errors import StillvoltError
from logger.settling.events import State
from logger.visit import VisitLog


def test_a_settled_value_is_taken_with_the_samples_it_came_from(log, recording):
    bed = log.add_spot("Bed, lying down")
    recording.samples([2.0, 1.0], State.CHANGING)
    recording.samples([0.26, 0.27, 0.28, 0.27])
    reading = log.take_reading(bed.id, "everything on")
    assert reading.volts == pytest.approx(0.27)
    assert reading.u_volts == 0.01
    assert (reading.first_line_id, reading.last_line_id) == (3, 6)
    assert reading.end_utc_ns - reading.start_utc_ns == 1_200_000_000
    assert (reading.spot_name, reading.condition, reading.taken) == (
        "Bed, lying down",
        "everything on",
        "settled",
    )


@pytest.mark.parametrize(
    ("state", "reason"),
    [
        (State.WAITING, "not sent a value"),
        (State.SETTLING, "still settling"),
        (State.CHANGING, "moving"),
        (State.CHANGING_LONG, "not been still"),
        (State.DRIFTING, "drifting"),
        (State.OVERLOAD, "overload"),
        (State.LOST, "No value comes"),
    ],
)
def test_a_value_that_is_not_settled_is_refused_with_the_reason(log, recording, state, reason):
    bed = log.add_spot("Bed")
    recording.samples([0.3, 0.5], state)
    with pytest.raises(StillvoltError, match=reason):
        log.take_reading(bed.id)
    assert log.readings() == []


def test_every_state_but_settled_has_a_reason(log, recording):
    for state in State:
        recording.samples([0.3], state)
        assert bool(log.why_not_settled()) == (state is not State.SETTLED)


def test_an_override_is_marked_and_is_the_mean_of_the_last_seconds(log, recording):
    bed = log.add_spot("Bed")
    recording.samples([9.0] * 10 + [0.4, 0.6, 0.4, 0.6, 0.4, 0.6, 0.4, 0.6], State.CHANGING)
    reading = log.take_reading(bed.id, override=True)
    assert reading.taken == "override"
    assert reading.volts == pytest.approx(0.5)
    assert reading.u_volts == pytest.approx(0.1069, abs=1e-4), "the scatter itself, not that of a mean"
    assert reading.samples == 8


def test_an_override_of_a_settled_value_is_an_ordinary_reading(log, recording):
    bed = log.add_spot("Bed")
    recording.samples([0.3] * 5)
    assert log.take_reading(bed.id, override=True).taken == "settled"


def test_nothing_is_taken_when_the_recorder_fell_silent(log, recording, clock):
    bed = log.add_spot("Bed")
    recording.samples([0.3] * 5)
    clock.advance_ns(4_000_000_000)
    with pytest.raises(StillvoltError, match="recorder has stopped"):
        log.take_reading(bed.id)


def test_nothing_is_taken_before_or_after_a_run(log, recording, clock):
    bed = log.add_spot("Bed")
    with pytest.raises(StillvoltError, match="Nothing is being recorded"):
        log.take_reading(bed.id)
    recording.samples([0.3] * 5)
    recording.writer.end(clock.utc_ns(), 0, "stopped")
    for override in (False, True):
        with pytest.raises(StillvoltError, match="Nothing is being recorded"):
            log.take_reading(bed.id, override=override)


def test_a_void_reading_stays_visible_with_its_reason(log, recording):
    bed = log.add_spot("Bed")
    recording.samples([0.3] * 5)
    reading = log.take_reading(bed.id)
    log.void_reading(reading.id, "elbow on the lamp")
    log.void_reading(reading.id, "a second reason does not replace the first")
    (kept,) = log.readings()
    assert (kept.volts, kept.void_reason) == (reading.volts, "elbow on the lamp")


def test_what_was_recorded_cannot_be_changed_even_by_a_program_error(log, recording):
    bed = log.add_spot("Bed")
    recording.samples([0.3] * 5)
    log.take_reading(bed.id)
    log.add_mark("kettle on")
    log.set_fact("title", "Rose Lane")
    with sqlite3.connect(log.path) as db:
        for table, column in {
            "line": "volts", "reading": "volts", "mark": "text", "fact": "value", "run": "port"
        }.items():  # fmt: skip
            assert db.execute(f"SELECT count(*) FROM {table}").fetchone()[0] > 0
            with pytest.raises(sqlite3.IntegrityError, match="never changed"):
                db.execute(f"UPDATE {table} SET {column} = 7")
            with pytest.raises(sqlite3.IntegrityError, match="never changed"):
                db.execute(f"DELETE FROM {table}")


def test_spots_are_added_renamed_moved_removed_and_brought_back(log):
    for name in ("Desk", "Bed", "Sofa, left end"):
        log.add_spot(name)
    desk, bed, sofa = log.spots()
    log.move_spot(sofa.id, -5)
    assert [s.name for s in log.spots()] == ["Sofa, left end", "Desk", "Bed"]
    log.move_spot(sofa.id, 1)
    log.rename_spot(bed.id, "  Bed,   lying down ")
    assert [s.name for s in log.spots()] == ["Desk", "Sofa, left end", "Bed, lying down"]
    log.remove_spot(desk.id)
    assert [s.name for s in log.spots()] == ["Sofa, left end", "Bed, lying down"]
    log.restore_spot(desk.id)
    assert log.spots()[0].name == "Desk"


@pytest.mark.parametrize("name", ["Bed", "bed ", "", "   "])
def test_a_spot_needs_a_name_of_its_own(log, name):
    log.add_spot("Bed")
    with pytest.raises(StillvoltError, match="spot"):
        log.add_spot(name)
    assert len(log.spots()) == 1


def test_a_reading_keeps_the_name_its_spot_had(log, recording):
    bed = log.add_spot("Bed")
    recording.samples([0.3] * 5)
    log.take_reading(bed.id)
    log.rename_spot(bed.id, "Guest bed")
    log.remove_spot(bed.id)
    assert log.readings()[0].spot_name == "Bed"
    with pytest.raises(StillvoltError, match="no longer on the list"):
        log.take_reading(bed.id)


def test_two_windows_that_take_at_once_give_two_readings(log, recording, clock):
    bed = log.add_spot("Bed")
    recording.samples([0.3] * 5)
    other = VisitLog.open(log.path, clock)
    first, second = log.take_reading(bed.id), other.take_reading(bed.id)
    other.close()
    assert {r.id for r in log.readings()} == {first.id, second.id} and first.id != second.id


def test_marks_are_kept_with_their_place_on_the_trace(log, recording):
    before = log.add_mark("before the recording")
    recording.samples([0.3] * 5)
    during = log.add_mark(" kettle on ")
    log.void_mark(before.id, "mistyped")
    kept = log.marks()
    assert [(m.text, m.void_reason) for m in kept] == [
        ("before the recording", "mistyped"),
        ("kettle on", None),
    ]
    assert kept[0].steady_utc_ns is None
    assert kept[1].steady_utc_ns == during.steady_utc_ns == log.live().beat_steady_utc_ns


def test_the_newest_value_of_a_fact_holds_and_the_older_stays(log):
    assert log.fact("title", "untitled") == "untitled"
    log.set_fact("title", "Rose Lane")
    log.set_fact("title", "Rose Lane, upstairs")
    assert log.fact("title") == "Rose Lane, upstairs"
    with sqlite3.connect(log.path) as db:
        assert db.execute("SELECT count(*) FROM fact").fetchone()[0] == 2
