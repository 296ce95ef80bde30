"""What goes wrong on a visit and must cost nothing.

Names twice, spots gone, clocks set, the port gone, a condition forgotten, two windows at once.
"""

from __future__ import annotations

import pytest

from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.settling.events import State
from logger.visit import VisitLog
from logger.visit.records.condition import HOLDS_S
from logger.visit.records.reading_records import Mark
from logger.visit.results.chronology import in_order
from logger.visit.results.used_stretch import AlreadyTakenError

HOUR_NS = 3600 * NS_PER_S


@pytest.mark.parametrize(
    ("first", "again"),
    [
        ("Bed", "BED"),
        ("Bed", "  bed\u00a0"),
        ("Bed, lying down", "Bed,  lying\tdown"),
        ("Caf\u00e9 corner", "Cafe\u0301 corner"),  # composed and decomposed
        ("Seat 2", "Seat \uff12"),  # full-width digit
        ("Stra\u00dfe", "STRASSE"),
        ("Bed", "Be\u200bd"),  # a blank of no width
        ("\u0130stanbul seat", "i\u0307stanbul seat"),
    ],
)
def test_names_that_a_person_cannot_tell_apart_are_one(log, first, again):
    log.spots.add(first)
    other = log.spots.add("Desk")
    for act in (lambda: log.spots.add(again), lambda: log.spots.rename(other.id, again)):
        with pytest.raises(StillvoltError, match="already"):
            act()
    assert [spot.name for spot in log.spots.all()] == [first, "Desk"]


def test_names_that_differ_are_two_and_a_name_is_kept_as_typed(log):
    for name in ("Bed 1", "Bed 2", "Bed, left", "Bett für Gäste", "ベッド"):
        log.spots.add(name)
    assert [spot.name for spot in log.spots.all()] == [
        "Bed 1",
        "Bed 2",
        "Bed, left",
        "Bett für Gäste",
        "ベッド",
    ]


def test_a_name_that_shows_nothing_is_none(log):
    with pytest.raises(StillvoltError, match="needs a name"):
        log.spots.add("\u200b \u200f")


def test_a_reading_for_a_spot_removed_meanwhile_is_refused_and_the_spot_can_be_brought_back(
    log, recording, clock
):
    bed, desk = log.spots.add("Bed"), log.spots.add("Desk")
    recording.samples([0.3] * 5)
    kept = log.readings.take(bed.id, "everything on")
    other = VisitLog.open(log.path, clock)
    other.spots.remove(bed.id)
    other.close()
    for act in (
        lambda: log.readings.take(bed.id, "everything on"),
        lambda: log.readings.take(bed.id, "everything on", override=True),
        lambda: log.readings.enter(bed.id, "everything on", 0.3, 0.01),
    ):
        with pytest.raises(StillvoltError, match=r"no longer on the list.*No reading was taken"):
            act()
    assert [r.id for r in log.readings.all()] == [kept.id], "what was taken before stays"
    log.spots.restore(bed.id)
    assert [spot.id for spot in log.spots.all()] == [bed.id, desk.id]
    recording.samples([0.5] * 5)
    assert log.readings.take(bed.id, "everything on").spot_id == bed.id


def test_a_removed_name_may_be_used_again_but_then_the_old_spot_stays_away(log):
    old = log.spots.add("Bed")
    log.spots.remove(old.id)
    new = log.spots.add("bed")
    assert new.id != old.id
    with pytest.raises(StillvoltError, match="already"):
        log.spots.restore(old.id)


@pytest.mark.parametrize(
    "jump_ns", [-HOUR_NS, HOUR_NS, -30 * 24 * HOUR_NS], ids=["back", "forward", "a month"]
)
def test_a_clock_set_in_mid_visit_stops_nothing(log, recording, clock, jump_ns):
    bed = log.spots.add("Bed")
    recording.samples([0.3] * 5)
    first = log.readings.take(bed.id, "everything on")
    clock.set_utc_ns(clock.utc_ns() + jump_ns)
    # Not even until the next heartbeat: the one before was seen to come.
    assert log.current_value.why_not_settled() == ""
    assert not log.recorder.is_stale(log.recorder.live())
    recording.samples([0.5] * 5)
    second = log.readings.take(bed.id, "everything on")
    assert [r.id for r in log.readings.all()] == [first.id, second.id], (
        "in the order in which they were taken"
    )
    assert second.volts == pytest.approx(0.5)
    assert (second.first_line_id, second.last_line_id) == (6, 10), "with their own samples"
    assert second.start_utc_ns > first.end_utc_ns, "on the steady time line"
    stretch = log.samples.between(second.first_line_id, second.last_line_id)
    assert stretch.volts.tolist() == [0.5] * 5


def test_a_killed_recorder_is_noticed_whatever_the_clock_says(log, recording, clock):
    recording.samples([0.3] * 5)
    assert log.current_value.why_not_settled() == ""
    clock.advance_ns(1800 * NS_PER_S)
    clock.set_utc_ns(log.recorder.live().beat_utc_ns)  # set back to the very moment of the last beat
    assert "stopped" in log.current_value.why_not_settled()
    with pytest.raises(StillvoltError, match="stopped"):
        log.readings.take(log.spots.add("Bed").id, "everything on")


def test_a_window_that_looks_for_the_first_time_after_the_clock_was_set_sees_the_next_beat(
    log, recording, clock
):
    recording.samples([0.3] * 5)
    clock.set_utc_ns(clock.utc_ns() - HOUR_NS)
    late = VisitLog.open(log.path, clock)
    assert "stopped" in late.current_value.why_not_settled(), "nobody can know yet"
    recording.samples([0.3])
    assert late.current_value.why_not_settled() == ""
    late.close()


def test_beats_that_nobody_watched_are_judged_by_the_clock(log, recording, clock):
    recording.samples([0.3] * 5)
    assert log.current_value.why_not_settled() == ""
    clock.advance_ns(600 * NS_PER_S)
    recording.samples([0.3] * 5)
    clock.advance_ns(600 * NS_PER_S)  # killed ten minutes ago, after a beat that nobody saw
    assert "stopped" in log.current_value.why_not_settled()


def test_readings_and_marks_keep_their_order_when_the_clock_is_set_back(log, recording, clock):
    bed = log.spots.add("Bed")
    recording.samples([0.3] * 5)
    log.readings.take(bed.id, "everything on")
    log.marks.add("kettle on")
    clock.set_utc_ns(clock.utc_ns() - HOUR_NS)
    recording.samples([0.4] * 5)
    log.readings.take(bed.id, "everything on")
    recording.samples([0.4])
    log.marks.add("kettle off")
    log.readings.enter(bed.id, "everything on", 0.4, 0.01)  # by hand: only the clock that was set knows when
    order = [
        item.text if isinstance(item, Mark) else item.id
        for item in in_order(log.readings.all(), log.marks.all())
    ]
    assert [x for x in order if x != 3] == [1, "kettle on", 2, "kettle off"]
    assert order.index(3) > order.index(2)


@pytest.mark.parametrize("override", [False, True])
def test_while_the_port_is_gone_nothing_is_taken_not_even_by_override(log, recording, clock, override):
    bed = log.spots.add("Bed")
    recording.samples([0.3] * 5)
    with_port = log.readings.take(bed.id, "everything on")
    recording.lose_port("The port /dev/ttyUSB0 is gone.")
    with pytest.raises(StillvoltError, match=r"ttyUSB0 is gone.*No reading was taken"):
        log.readings.take(bed.id, "everything on", override=override)
    with pytest.raises(StillvoltError, match="is gone"):
        log.current_value.settled_span()
    assert [r.id for r in log.readings.all()] == [with_port.id]
    by_hand = log.readings.enter(bed.id, "everything on", 0.31, 0.01)
    assert by_hand.taken == "by hand", "the display can still be read by eye"


def test_an_override_takes_nothing_from_a_recorder_that_was_killed(log, recording, clock):
    bed = log.spots.add("Bed")
    recording.samples([0.3] * 5, State.CHANGING)
    clock.advance_ns(HOUR_NS)
    with pytest.raises(StillvoltError, match="stopped"):
        log.readings.take(bed.id, "everything on", override=True)


def test_what_is_on_holds_while_somebody_is_at_work_and_is_asked_for_after_a_pause(log, clock):
    assert not log.facts.condition().holds([], clock.utc_ns()), "never stated"
    bed = log.spots.add("Bed")
    log.facts.set("condition", "everything off")
    limit_ns = round(HOLDS_S * NS_PER_S)
    clock.advance_ns(limit_ns)
    assert log.facts.condition().holds(log.readings.all(), clock.utc_ns())
    log.readings.enter(bed.id, "everything off", 0.1, 0.01)
    clock.advance_ns(limit_ns)
    assert log.facts.condition().holds(log.readings.all(), clock.utc_ns()), "a reading under it stands by it"
    clock.advance_ns(1)
    assert not log.facts.condition().holds(log.readings.all(), clock.utc_ns())
    assert log.facts.condition().condition == "everything off", "what was stated is not forgotten"


def test_what_does_not_stand_by_a_condition(log, clock):
    bed = log.spots.add("Bed")
    log.facts.set("condition", "everything off")
    clock.advance_ns(1800 * NS_PER_S)
    log.readings.enter(bed.id, "everything on", 0.1, 0.01)
    void = log.readings.enter(bed.id, "everything off", 0.1, 0.01)
    log.readings.void(void.id, "wrong about what was on")
    clock.advance_ns(1801 * NS_PER_S)
    assert not log.facts.condition().holds(log.readings.all(), clock.utc_ns())


@pytest.mark.parametrize("jump_s", [-86_400, 86_400])
def test_a_clock_set_by_a_day_asks_again_rather_than_assume(log, clock, jump_s):
    log.facts.set("condition", "everything on")
    clock.set_utc_ns(clock.utc_ns() + jump_s * NS_PER_S)
    assert not log.facts.condition().holds([], clock.utc_ns())


def test_of_two_windows_that_tag_the_same_spot_in_the_same_moment_one_takes_and_either_voids(
    log, recording, clock
):
    bed = log.spots.add("Bed")
    recording.samples([0.3] * 5)
    other = VisitLog.open(log.path, clock)
    kept = log.readings.take(bed.id, "everything on")
    with pytest.raises(AlreadyTakenError):
        other.readings.take(bed.id, "everything on")
    other.readings.void(kept.id, "wrong spot")
    again = other.readings.take(bed.id, "everything on")
    for seen_by in (log, other):
        assert [(r.id, r.void_reason) for r in seen_by.readings.all()] == [
            (kept.id, "wrong spot"),
            (again.id, None),
        ]
    other.close()
