"""Taking, overriding, refusing and voiding readings; spots and marks."""

from __future__ import annotations

import sqlite3

import pytest

from logger.errors import StillvoltError
from logger.settling.events import State
from logger.visit import VisitLog
from logger.visit.results.used_stretch import AlreadyTakenError


def test_a_settled_value_is_taken_with_the_samples_it_came_from(log, recording):
    bed = log.spots.add("Bed, lying down")
    recording.samples([2.0, 1.0], State.CHANGING)
    recording.samples([0.26, 0.27, 0.28, 0.27])
    reading = log.readings.take(bed.id, "everything on")
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
        (State.CHANGING, "changing"),
        (State.CHANGING_LONG, "not been still"),
        (State.DRIFTING, "drifting"),
        (State.OVERLOAD, "overload"),
        (State.LOST, "No value comes"),
    ],
)
def test_a_value_that_is_not_settled_is_refused_with_the_reason(log, recording, state, reason):
    bed = log.spots.add("Bed")
    recording.samples([0.3, 0.5], state)
    with pytest.raises(StillvoltError, match=reason):
        log.readings.take(bed.id)
    assert log.readings.all() == []


def test_every_state_but_settled_has_a_reason(log, recording):
    for state in State:
        recording.samples([0.3], state)
        assert bool(log.current_value.why_not_settled()) == (state is not State.SETTLED)


def test_an_override_is_marked_and_is_the_mean_of_the_last_seconds(log, recording):
    bed = log.spots.add("Bed")
    recording.samples([9.0] * 10 + [0.4, 0.6, 0.4, 0.6, 0.4, 0.6, 0.4, 0.6], State.CHANGING)
    reading = log.readings.take(bed.id, override=True)
    assert reading.taken == "override"
    assert reading.volts == pytest.approx(0.5)
    assert reading.u_volts == pytest.approx(0.1069, abs=1e-4), "the scatter itself, not that of a mean"
    assert reading.samples == 8


def test_an_override_of_a_settled_value_is_an_ordinary_reading(log, recording):
    bed = log.spots.add("Bed")
    recording.samples([0.3] * 5)
    assert log.readings.take(bed.id, override=True).taken == "settled"


def test_nothing_is_taken_when_the_recorder_fell_silent(log, recording, clock):
    bed = log.spots.add("Bed")
    recording.samples([0.3] * 5)
    clock.advance_ns(4_000_000_000)
    with pytest.raises(StillvoltError, match="recorder has stopped"):
        log.readings.take(bed.id)


def test_nothing_is_taken_before_or_after_a_run(log, recording, clock):
    bed = log.spots.add("Bed")
    with pytest.raises(StillvoltError, match="Nothing is being recorded"):
        log.readings.take(bed.id)
    recording.samples([0.3] * 5)
    recording.writer.end(clock.utc_ns(), 0, "stopped")
    for override in (False, True):
        with pytest.raises(StillvoltError, match="Nothing is being recorded"):
            log.readings.take(bed.id, override=override)


@pytest.mark.parametrize(("set_by_s", "said"), [(-120, "2 min before"), (3600, "1 h 00 min after"), (0, "")])
def test_a_reading_after_the_clock_was_set_says_that_its_time_is_not_that_of_its_samples(
    log, recording, clock, set_by_s, said
):
    bed = log.spots.add("Bed")
    clock.set_utc_ns(clock.utc_ns() + set_by_s * 10**9)
    recording.samples([0.3] * 5)
    remarks = [text for text in log.readings.take(bed.id).context.remarks() if "clock was set" in text]
    assert len(remarks) == bool(said) and all(said in text for text in remarks)


def test_a_void_reading_stays_visible_with_its_reason(log, recording):
    bed = log.spots.add("Bed")
    recording.samples([0.3] * 5)
    reading = log.readings.take(bed.id)
    log.readings.void(reading.id, "elbow on the lamp")
    log.readings.void(reading.id, "a second reason does not replace the first")
    (kept,) = log.readings.all()
    assert (kept.volts, kept.void_reason) == (reading.volts, "elbow on the lamp")


def test_what_was_recorded_cannot_be_changed_even_by_a_program_error(log, recording):
    bed = log.spots.add("Bed")
    recording.samples([0.3] * 5)
    log.readings.take(bed.id)
    log.marks.add("kettle on")
    log.facts.set("title", "Rose Lane")
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
        log.spots.add(name)
    desk, bed, sofa = log.spots.all()
    log.spots.move(sofa.id, -5)
    assert [s.name for s in log.spots.all()] == ["Sofa, left end", "Desk", "Bed"]
    log.spots.move(sofa.id, 1)
    log.spots.rename(bed.id, "  Bed,   lying down ")
    assert [s.name for s in log.spots.all()] == ["Desk", "Sofa, left end", "Bed, lying down"]
    log.spots.remove(desk.id)
    assert [s.name for s in log.spots.all()] == ["Sofa, left end", "Bed, lying down"]
    log.spots.restore(desk.id)
    assert log.spots.all()[0].name == "Desk"


@pytest.mark.parametrize("name", ["Bed", "bed ", "", "   "])
def test_a_spot_needs_a_name_of_its_own(log, name):
    log.spots.add("Bed")
    with pytest.raises(StillvoltError, match="spot"):
        log.spots.add(name)
    assert len(log.spots.all()) == 1


def test_a_reading_keeps_the_name_its_spot_had(log, recording):
    bed = log.spots.add("Bed")
    recording.samples([0.3] * 5)
    log.readings.take(bed.id)
    log.spots.rename(bed.id, "Guest bed")
    log.spots.remove(bed.id)
    assert log.readings.all()[0].spot_name == "Bed"
    with pytest.raises(StillvoltError, match="no longer on the list"):
        log.readings.take(bed.id)


def test_two_windows_that_take_at_once_give_one_reading(log, recording, clock):
    """The same samples twice would count as a posture that repeats."""
    bed = log.spots.add("Bed")
    recording.samples([0.3] * 5)
    other = VisitLog.open(log.path, clock)
    first = log.readings.take(bed.id)
    with pytest.raises(AlreadyTakenError) as refused:
        other.readings.take(bed.id)
    other.close()
    assert refused.value.reading.id == first.id
    assert [r.id for r in log.readings.all()] == [first.id]


def test_marks_are_kept_with_their_place_on_the_trace(log, recording):
    before = log.marks.add("before the recording")
    recording.samples([0.3] * 5)
    during = log.marks.add(" kettle on ")
    log.marks.void(before.id, "mistyped")
    kept = log.marks.all()
    assert [(m.text, m.void_reason) for m in kept] == [
        ("before the recording", "mistyped"),
        ("kettle on", None),
    ]
    assert kept[0].steady_utc_ns is None
    assert kept[1].steady_utc_ns == during.steady_utc_ns == log.recorder.live().beat_steady_utc_ns


def test_the_newest_value_of_a_fact_holds_and_the_older_stays(log):
    assert log.facts.get("title", "untitled") == "untitled"
    log.facts.set("title", "Rose Lane")
    log.facts.set("title", "Rose Lane, upstairs")
    assert log.facts.get("title") == "Rose Lane, upstairs"
    with sqlite3.connect(log.path) as db:
        assert db.execute("SELECT count(*) FROM fact").fetchone()[0] == 2
