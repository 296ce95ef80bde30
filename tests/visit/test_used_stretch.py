"""A stretch of the trace gives one value, whoever takes it: a reading of a spot and condition, or a check's step."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gui.model.visit_snapshot import VisitSnapshot
from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.metrology.checks import CheckKind
from logger.metrology.setup import Setup
from logger.settling.events import Event, Gap, Motion, Now, Overload, Settled, State, Step
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_ON, STILL_AFTER_STATEMENT_S
from logger.visit.results.used_stretch import AlreadyTakenError, StretchInUseError
from logger.visit.storage.run_writer import Batch
from tests.support.visit_fixtures import Recording

SAMPLE_S = 0.4
"""Of the recording that a test fills by hand."""


def test_the_same_samples_are_taken_once(log: VisitLog, recording: Recording) -> None:
    bed, desk = log.spots.add("Bed").id, log.spots.add("Desk").id
    recording.samples([0.3] * 5)
    first = log.readings.take(bed, "everything on")
    other_window = VisitLog.open(log.path, recording.clock)
    with pytest.raises(AlreadyTakenError, match="already taken at “Bed”") as refused:
        other_window.readings.take(bed, "everything on")
    assert refused.value.reading == first
    for spot, condition in ((desk, "everything on"), (bed, "everything off")):
        for stated in (False, True):
            with pytest.raises(StretchInUseError, match="“Bed” was read with everything on"):
                other_window.readings.take(spot, condition, stated_unchanged=stated)
    other_window.close()
    assert log.readings.all() == [first]
    recording.samples([0.3] * 5)
    log.readings.take(desk, "everything on")
    assert len(log.readings.all()) == 2, "a new stretch is free"


def test_lines_since_a_reading_need_a_change_or_the_users_word(log: VisitLog, recording: Recording) -> None:
    bed, desk = log.spots.add("Bed").id, log.spots.add("Desk").id
    recording.samples([0.3] * 10)
    live = log.recorder.live()
    assert live is not None and live.since_steady_utc_ns < live.beat_steady_utc_ns
    log.readings.take(bed, "everything on")
    since_ns = live.beat_steady_utc_ns + 1
    with pytest.raises(StillvoltError, match="Too few values have come since then"):
        log.readings.take(desk, "everything on", switched_utc_ns=since_ns, stated_unchanged=True)
    grow(recording, 0.3, 10)
    with pytest.raises(StretchInUseError, match="Nothing has moved since “Bed”"):
        log.readings.take(desk, "everything on", switched_utc_ns=since_ns)
    assert log.readings.take(
        desk, "everything on", switched_utc_ns=since_ns, stated_unchanged=True
    ).stated_unchanged


def test_a_span_begins_no_earlier_than_its_condition_was_stated(log: VisitLog, recording: Recording) -> None:
    bed = log.spots.add("Bed").id
    log.facts.state_condition("everything on", log.recorder.live())
    recording.samples([1.6] * 30)
    live = log.recorder.live()
    assert live is not None
    stated_ns = live.beat_steady_utc_ns
    log.facts.state_condition("everything off", live)
    with pytest.raises(StillvoltError, match="changed 0 s ago; before that it was “everything on”"):
        log.readings.take(bed, "everything off")
    grow(recording, 1.6, round(STILL_AFTER_STATEMENT_S / SAMPLE_S) + 1)
    reading = log.readings.take(bed, "everything off")
    assert reading.start_utc_ns is not None and reading.start_utc_ns >= stated_ns
    log.facts.state_condition("everything on", log.recorder.live())
    ended = log.facts.other_condition_ended("everything off", live.run_id)
    assert ended is not None and ended.condition == "everything on"


def test_what_was_stated_in_another_recording_held_in_none_of_this_ones_lines(
    log: VisitLog, recording: Recording
) -> None:
    recording.samples([0.3] * 30)
    live = log.recorder.live()
    assert live is not None
    here, next_run = live.run_id, live.run_id + 1
    log.facts.state_condition("only breaker 3", live)
    log.facts.state_condition("", live)
    log.facts.state_condition("everything on", replace(live, run_id=next_run))
    before = log.facts.condition_before()
    assert [before.in_run(run_id, []) for run_id in (here, next_run)] == ["only breaker 3", ""]
    log.facts.state_condition("everything off", replace(live, run_id=next_run))
    before = log.facts.condition_before()
    assert [before.in_run(run_id, []) for run_id in (here, next_run)] == ["", "everything on"]


def test_a_span_begins_no_earlier_than_its_reference_was_stated(log: VisitLog, recording: Recording) -> None:
    bed = log.spots.add("Bed").id
    log.setup.set(Setup(reference="building earth", on_battery=True, link_isolated=True))
    recording.samples([0.3] * 30)
    live = log.recorder.live()
    assert live is not None
    promised = log.current_value.promise()
    stated_ns = live.beat_steady_utc_ns
    log.setup.set(log.setup.current().with_changes(reference="earth rod"))
    with pytest.raises(StillvoltError, match="of reference, meter or laptop a moment ago"):
        log.readings.take(bed, "everything on")
    grow(recording, 0.3, round(STILL_AFTER_STATEMENT_S / SAMPLE_S) + 1)
    with pytest.raises(StillvoltError, match="after this value was asked for"):
        log.readings.take(bed, "everything on", promised=promised)
    reading = log.readings.take(bed, "everything on")
    assert reading.start_utc_ns is not None and reading.start_utc_ns >= stated_ns
    grow(recording, 0.3, 10)
    before = log.current_value.promise().span.start_t_ns
    log.setup.set(log.setup.current().with_changes(household="Garden flat", moisture="wet"))
    assert log.current_value.promise().span.start_t_ns == before, "what is no other reference parts no value"
    log.setup.set(log.setup.current().with_changes(on_battery=False))
    with pytest.raises(StillvoltError, match="a moment ago"):
        log.current_value.promise()


def test_the_level_of_a_check_is_no_reading_and_no_step_of_another(
    log: VisitLog, recording: Recording
) -> None:
    bed = log.spots.add("Bed").id
    recording.samples([0.006] * 5)
    check = log.checks.add(
        CheckKind.ZERO, [log.check_steps.take(CheckKind.ZERO, [], spot=log.spots.all()[0])]
    )
    assert check.spot_names == log.checks.all()[0].spot_names == ("Bed",) and check.steps[0].spot_id == bed
    with pytest.raises(StretchInUseError, match="step “on the reference wire” of the zero check"):
        log.check_steps.take(CheckKind.REFERENCE, [])
    for stated in (False, True):
        with pytest.raises(StretchInUseError, match="zero check"):
            log.readings.take(bed, "everything on", stated_unchanged=stated)
    recording.samples([3.1] * 5)
    log.check_steps.take(CheckKind.TWO_RODS, [])
    other_window = VisitLog.open(log.path, recording.clock)
    with pytest.raises(StretchInUseError, match="“between the rods” of the two-rod check"):
        other_window.readings.take(bed, "everything on")
    other_window.close()
    recording.samples([0.4] * 5)
    log.readings.take(bed, "everything on")
    with pytest.raises(StretchInUseError, match="“Bed” was read"):
        log.check_steps.take(CheckKind.ZERO, [])
    assert log.check_steps.take(CheckKind.REFERENCE, []).volts == pytest.approx(0.4), (
        "the probe is in the hand"
    )


def grow(recording: Recording, volts: float, count: int) -> None:
    """Let the still span that goes on go on."""
    recording.samples([volts] * count, since_s=SAMPLE_S)


def test_a_voided_reading_or_a_new_stretch_gives_the_way_free(log: VisitLog, recording: Recording) -> None:
    bed = log.spots.add("Bed").id
    recording.samples([0.3] * 5)
    log.readings.void(log.readings.take(bed, "everything on").id, "wrong posture")
    log.readings.take(bed, "everything on")
    recording.samples([0.31] * 5)
    log.readings.take(bed, "everything on")
    assert [r.void_reason for r in log.readings.all()] == ["wrong posture", None, None]


def test_a_run_ends_after_it_began_whatever_the_clock_was_set_to(log: VisitLog, recording: Recording) -> None:
    recording.samples([0.3] * 5)
    recording.clock.set_utc_ns(recording.clock.utc_ns() - 7200 * 10**9)
    recording.samples([0.3] * 5)
    t_ns = recording.clock.steady_ns() - recording.started_ns
    recording.writer.end(recording.clock.utc_ns(), t_ns, "stopped")
    (run,) = log.runs.all()
    assert run.ended_utc_ns == run.started_utc_ns + t_ns
    assert run.clock_set_ns == -7200 * 10**9


def test_a_load_that_switches_between_two_spots_shows_no_move(log: VisitLog, recording: Recording) -> None:
    """On the user's word it is taken, and the remark names what the trace shows."""
    bed, sofa = log.spots.add("bed").id, log.spots.add("sofa").id
    recording.samples([0.62] * 5)
    log.readings.take(bed, "everything on")
    step_at(recording, 0.62, 0.52)
    with pytest.raises(
        StretchInUseError, match="shows a step since “bed” was read with everything on, but no"
    ):
        log.readings.take(sofa, "everything on")
    log.readings.take(bed, "everything off")
    step_at(recording, 0.52, 0.42)
    by_word = log.readings.take(sofa, "everything off", stated_unchanged=True)
    remark = "on the practitioner's word: only a step, no motion, since “bed” was read"
    assert by_word.by_word and by_word.context is not None and remark in by_word.context.remarks()
    recording.samples([0.42] * 5)
    moved = log.readings.take(bed, "everything on")
    assert not moved.by_word and moved.context is not None and moved.context.unmoved == ""


def test_a_time_without_lines_is_no_move_either(log: VisitLog, recording: Recording) -> None:
    """What happened in it is not known: an overload shows a hand, a gap nothing."""
    bed, sofa = log.spots.add("bed").id, log.spots.add("sofa").id
    recording.samples([0.6] * 5)
    log.readings.take(bed, "everything on")
    t_s = recording.t_s()
    between(recording, Gap(t_s, t_s + 3.0, t_s + 3.0))
    recording.samples([0.5] * 5, moved=False)
    with pytest.raises(StretchInUseError, match="Part of the trace since “bed” was read"):
        log.readings.take(sofa, "everything on")
    t_s = recording.t_s()
    between(recording, Overload(t_s, t_s + 0.4, t_s + 0.4))
    recording.samples([0.5] * 5, moved=False)
    assert not log.readings.take(sofa, "everything on").by_word


def between(recording: Recording, event: Event) -> None:
    """An event that the recorder found between two stretches."""
    recording.beat(Batch(events=[event]), Now(State.CHANGING, recording.t_s(), None, None, 0))


def step_at(recording: Recording, before_volts: float, after_volts: float) -> None:
    """A load switches, nobody moves, and the value is settled again."""
    between(recording, Step(recording.t_s() + 0.2, before_volts, after_volts, 0.001, recording.t_s() + 0.2))
    recording.samples([after_volts] * 5, moved=False)


def test_a_motion_that_has_just_become_final_is_a_move_before_the_window_reads_it(
    log: VisitLog, recording: Recording
) -> None:
    """The heartbeat of the moment of a key calls it open no more, and what was read last does not have it yet."""
    bed, sofa = log.spots.add("Bed"), log.spots.add("Sofa")
    recording.samples([0.62] * 30)
    recording.clock.advance_ns(NS_PER_S)
    log.readings.take(bed.id, EVERYTHING_ON)
    snapshot = VisitSnapshot(log, recording.clock)
    snapshot.refresh(force=True)
    motion = Motion(recording.t_s() + 1.0, recording.t_s() + 2.0, 2.0, recording.t_s() + 3.0)
    recording.clock.advance_ns(3 * NS_PER_S)
    recording.samples([0.52] * 30, moved=False)
    start_s = recording.t_s() - 10.0
    span = Settled(start_s, recording.t_s(), 0.52, 0.01, start_s + 4.0, 30)
    recording.beat(Batch(events=[motion]), Now(State.SETTLED, start_s, 0.52, 0.01, 30), [span])
    moment = log.recorder.live()
    assert moment is not None and moment.growing_span == span
    assert snapshot.unmoved_elsewhere(sofa.id, moment) is None
