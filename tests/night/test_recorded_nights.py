"""The nights of a visit log: which runs belong together, and what the command prints of them."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest

from gui.model.night_controller import recording_text
from logger.cli.main import main
from logger.clock import NS_PER_S
from logger.errors import StillvoltError
from logger.night.analysis.summary import summarise
from logger.night.edge_times import typed_edges
from logger.night.night_analysis import NEWEST, analyse_night
from logger.night.night_conditions import condition_at, keep_night_entry
from logger.night.night_edges import EdgeCause, MovedEdges
from logger.night.night_entries import NightEntry
from logger.night.night_spots import NOWHERE_KNOWN, NightSpot, beds_first, keep_night_spot
from logger.night.recorded_nights import (
    SAME_NIGHT_ENDED_NS,
    RunSpan,
    longest_night,
    night_spans,
    nights,
    same_nights,
)
from logger.night.work_times import WorkTime
from logger.report.document.read_report_data import read_report_data
from logger.settling.events import Event, Gap, Motion, Now, Overload, Settled, State, Step
from logger.visit.records.fact_names import CONDITION, NIGHT_CONDITION, NIGHT_SPOT
from logger.visit.records.home_records import Spot
from logger.visit.records.recording_records import CLOCK_SET
from logger.visit.records.stop_source import is_on_purpose
from logger.visit.storage.run_writer import Batch

HOUR_NS = 3600 * NS_PER_S
SETTLED = Now(State.SETTLED, 12.0, 0.9, 0.01, 100)


def pause(recording, seconds):
    recording.writer.end(
        recording.clock.utc_ns(), recording.clock.steady_ns() - recording.started_ns, "stopped"
    )
    recording.writer.close()
    recording.clock.advance_ns(round(seconds * NS_PER_S))
    recording.start()


def test_a_meter_that_stops_before_the_recording_does_is_missed_until_its_end(log, recording):
    recording.samples([0.3] * 50)
    valued_s = (recording.clock.steady_ns() - recording.started_ns) / NS_PER_S
    recording.clock.advance_ns(40 * NS_PER_S)
    recording.writer.end(
        recording.clock.utc_ns(), recording.clock.steady_ns() - recording.started_ns, "stopped"
    )
    record = longest_night(log).record
    assert record.end_s == pytest.approx(valued_s + 40, abs=1)
    assert [end_s - start_s for start_s, end_s in record.missing] == [pytest.approx(40, abs=1)]


def test_a_recording_of_nothing_but_overload_has_its_whole_length(log, recording):
    recording.clock.advance_ns(40 * NS_PER_S)
    recording.beat(Batch(events=[Overload(1.0, 39.0, 1.0)]), Now(State.OVERLOAD, 1.0, None, None, 0))
    recording.writer.end(
        recording.clock.utc_ns(), recording.clock.steady_ns() - recording.started_ns, "stopped"
    )
    found = summarise(longest_night(log).record, 0.1)
    assert (found.covered_s, found.overload_s, found.missed_s) == pytest.approx((0.0, 38.0, 2.0), abs=0.5)
    assert str(found.motions_per_hour) == "0.0"


def test_runs_with_a_short_pause_are_one_night_and_with_a_long_one_two(log, recording):
    recording.samples([0.3] * 50)
    pause(recording, 600)
    recording.samples([0.2] * 25)
    pause(recording, SAME_NIGHT_ENDED_NS / NS_PER_S + 60)
    recording.samples([0.1] * 30)
    first, second = nights(log)
    assert [len(night.runs) for night in (first, second)] == [2, 1]
    assert np.diff(first.record.times_s).min() > 0
    assert any(
        isinstance(e, Gap) and e.end_s - e.start_s == pytest.approx(600, abs=1) for e in first.record.events
    )
    assert longest_night(log).number == 1
    assert datetime.fromisoformat(second.rfc3339(0.0)) > datetime.fromisoformat(
        first.rfc3339(first.record.end_s)
    )


def test_what_was_still_open_when_a_recorder_was_killed_is_part_of_its_night(log, recording):
    recording.samples([0.5] * 50)
    recording.writer.close()  # without an end: as after SIGKILL
    (night,) = nights(log)
    (span,) = (event for event in night.record.events if isinstance(event, Settled))
    assert (span.volts, span.samples) == (0.5, 50)


def test_a_clock_set_back_between_two_runs_neither_turns_the_night_round_nor_hides_the_pause(
    log, recording, capsys
):
    recording.samples([0.3] * 50)
    recording.writer.end(recording.clock.utc_ns(), 0, "stopped")
    recording.writer.close()
    recording.clock.set_utc_ns(recording.clock.utc_ns() - 3600 * NS_PER_S)
    recording.start()
    recording.samples([0.2] * 50)
    (night,) = nights(log)
    assert np.diff(night.record.times_s).min() > 0 and len(night.record.volts) == 100
    assert night.set_back_s == pytest.approx((20.0,), abs=0.5)
    assert main(["night", str(log.path)]) == 0
    printed = capsys.readouterr().out
    assert "at least 0 s missed" in printed and "between them is not known" in printed
    assert main(["night", str(log.path), "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["missed_for_unknown_time_at"]) == 1


def test_the_command_prints_json_and_words_and_refuses_what_is_not_there(log, recording, capsys):
    recording.samples([0.3] * 400)
    path = str(log.path)
    assert main(["night", path, "--json"]) == 0
    printed = json.loads(capsys.readouterr().out)
    assert printed["planned"] == []
    assert (
        printed["covered_s"] == pytest.approx(160, abs=1)
        and printed["steps"] == [] == printed["repeating_loads"]
    )
    assert datetime.fromisoformat(printed["start"]).utcoffset() is not None
    assert main(["night", path]) == 0
    assert "recorded" in capsys.readouterr().out
    assert main(["night", path, "--night", "2"]) == 1
    assert "holds 1" in capsys.readouterr().err
    assert main(["night", path, "--against", path]) == 0
    assert "Both are the same night" in capsys.readouterr().out


def test_the_command_prints_planned_switchings_with_their_steps(log, recording, capsys):
    recording.samples([0.3] * 400)
    at = nights(log)[0].local(60.0).strftime("%H:%M")
    log.facts.set("schedule", f"{at} breakers off")
    assert main(["night", str(log.path), "--json"]) == 0
    (planned,) = json.loads(capsys.readouterr().out)["planned"]
    assert (planned["what"], planned["step"]) == ("breakers off", None)
    assert main(["night", str(log.path)]) == 0
    assert "breakers off" in capsys.readouterr().out


def test_a_visit_without_a_recording_is_refused(log):
    with pytest.raises(StillvoltError, match="Nothing has been recorded"):
        longest_night(log)


def test_an_evening_is_no_night_and_runs_that_follow_each_other_are_one():
    evening = RunSpan(1, 0, 2 * HOUR_NS)
    after_supper = RunSpan(2, 4 * HOUR_NS, HOUR_NS // 2)
    assert len(night_spans([evening], [], {})) == 0
    assert len(night_spans([evening, after_supper], [], {})) == 1
    next_day = RunSpan(3, 20 * HOUR_NS, HOUR_NS)
    assert [[run.run_id for run in night] for night in same_nights([evening, after_supper, next_day])] == [
        [1, 2],
        [3],
    ]
    assert len(night_spans([], [], {})) == 0 and same_nights([]) == []


def test_a_simulated_run_and_a_measured_one_that_follows_at_once_are_two_nights():
    measured, practised = RunSpan(1, 0, 3 * HOUR_NS), RunSpan(2, 3 * HOUR_NS, 3 * HOUR_NS, simulated=True)
    assert same_nights([measured, practised]) == [[measured], [practised]]
    assert len(night_spans([measured, practised], [], {})) == 0, "together they would last a night"
    assert (
        same_nights([practised, replace(practised, run_id=3, started_utc_ns=6 * HOUR_NS)])[0][1].run_id == 3
    )


def test_a_practice_night_dated_before_the_visit_is_a_night_of_its_own():
    visit = RunSpan(1, 40 * HOUR_NS, HOUR_NS, simulated=True, ended=True)
    night, again = (
        RunSpan(2, 20 * HOUR_NS, 8 * HOUR_NS, True, True),
        RunSpan(3, 41 * HOUR_NS, HOUR_NS, True),
    )
    assert same_nights([visit, night, again]) == [[visit], [night], [again]]


@pytest.mark.parametrize(
    ("reason", "count"),
    [
        ("stopped from the window", 2),
        ("stopped with Ctrl+C", 2),
        ("the time was up", 2),
        ("the recorder was cut off; closed afterwards", 1),
        ("stopped by an error", 1),
        ("stopped by a signal of the system (SIGTERM)", 1),
    ],
)
def test_a_recorder_that_was_off_on_purpose_missed_nothing_of_a_night(reason, count):
    evening = RunSpan(1, 0, 3 * HOUR_NS, ended=is_on_purpose(reason))
    night = RunSpan(2, 5 * HOUR_NS, 7 * HOUR_NS)
    assert len(same_nights([evening, night])) == count
    soon = replace(night, started_utc_ns=evening.end_utc_ns + SAME_NIGHT_ENDED_NS)
    assert len(same_nights([evening, soon])) == 1


def test_a_clock_set_back_makes_no_recording_shorter():
    runs = [RunSpan(1, 10 * HOUR_NS, 3 * HOUR_NS), RunSpan(2, 9 * HOUR_NS, 2 * HOUR_NS)]
    assert len(night_spans(runs, [], {})) == 1


def test_samples_of_four_hours_are_a_night_and_a_shorter_recording_is_told(log, recording, capsys):
    assert len(night_spans([RunSpan(1, 0, 4 * HOUR_NS - NS_PER_S // 2)], [], {})) == 1
    assert len(night_spans([RunSpan(1, 0, 4 * HOUR_NS - 60 * NS_PER_S)], [], {})) == 0
    recording.samples([0.3] * 301)
    (night,) = nights(log)
    told = f"The recording of {night.began_text} has 2 min and is too short for a night (4 h 00 min)."
    assert night.why_no_night == told and read_report_data(log).why_no_night == told
    assert main(["night", str(log.path)]) == 0
    assert told in capsys.readouterr().out


def test_an_evening_of_work_is_no_night_however_long_it_is():
    recording = [RunSpan(1, 0, 10 * HOUR_NS)]
    sweep = [WorkTime(k * HOUR_NS, k * HOUR_NS) for k in (1, 3)]
    assert len(night_spans(recording, sweep, {})) == 1
    all_through = [WorkTime(k * HOUR_NS, k * HOUR_NS) for k in (2, 4, 7)]
    assert len(night_spans(recording, all_through, {})) == 0
    moved = {1: MovedEdges(8 * HOUR_NS, None)}
    assert len(night_spans(recording, all_through, moved)) == 1


def test_a_clock_that_was_set_and_a_recording_that_goes_on_are_named(log, recording, capsys):
    message = "The computer's clock was set forward by 3600.0 s; the trace goes on without a jump."
    recording.samples([0.3] * 400)
    clock = recording.clock
    began_utc_ns = clock.utc_ns()
    notice = (began_utc_ns + HOUR_NS, clock.steady_ns() - recording.started_ns, CLOCK_SET, message)
    recording.beat(Batch(notices=[notice]), Now(State.SETTLED, 0.0, 0.3, 0.01, 400))
    (night,) = nights(log)
    assert message in night.clock_notes[0] and night.clock_notes[0].startswith(
        f"At {night.clock_time(160.0)}"
    )
    assert night.edges.ends is EdgeCause.GOING_ON
    clock.advance_ns(HOUR_NS)  # no heartbeat any more: it was cut off
    assert nights(log)[0].edges.ends is EdgeCause.BROKEN_OFF
    clock.advance_ns(-HOUR_NS)
    assert "By the clock as it was set they are 1:00:00 later." in night.clock_notes[0]
    once_set = night.clock_set[0]
    assert (
        replace(once_set, offset_s=-2.2).offset_text == "2.2 s earlier"
        and replace(once_set, offset_s=0.3).offset_text == ""
    )
    assert (
        replace(night, clock_set=(replace(once_set, offset_s=0.0),))
        .clock_notes[0]
        .endswith("when the run began.")
    )
    with pytest.raises(StillvoltError, match="set forward by 3600") as refused:
        typed_edges(night, "2001-01-01T00:00:00+00:00", "")
    assert f"By the clock as it was set last the recording ran from {night.rfc3339(3600.0)}" in str(
        refused.value
    )
    recording.writer.end(notice[0], notice[1], "stopped from the window")
    assert nights(log)[0].edges.ends is EdgeCause.RECORDING
    assert main(["night", str(log.path), "--json"]) == 0
    (printed,) = json.loads(capsys.readouterr().out)["clock_set"]
    earlier, later = (datetime.fromisoformat(printed[key]) for key in ("from", "to"))
    assert (later - earlier).total_seconds() == printed["offset_s"] == 3600.0
    assert (printed["message"], printed["at"]) == (message, printed["from"])
    assert main(["night", str(log.path)]) == 0
    assert message in capsys.readouterr().out


def test_a_step_within_a_gap_has_the_times_between_which_it_lies(log, recording, capsys):
    recording.samples([0.3] * 60)
    recording.clock.advance_ns(20 * NS_PER_S)
    recording.samples([0.9] * 100)
    events: list[Event] = [Gap(24.0, 44.4, 44.4), Step(34.2, 0.3, 0.9, 0.01, 60.0)]
    recording.beat(Batch(events=events), Now(State.SETTLED, 44.4, 0.9, 0.01, 100))
    night = longest_night(log)
    (step,) = night.record.steps
    earliest_s, latest_s = 24.0, 44.4
    assert night.record.unseen(step) == (earliest_s, latest_s)
    assert main(["night", str(log.path)]) == 0
    between = (
        f"between {night.clock_time(earliest_s)} and {night.clock_time(latest_s)}, while nothing was recorded"
    )
    assert between in capsys.readouterr().out
    assert main(["night", str(log.path), "--json"]) == 0
    (printed,) = json.loads(capsys.readouterr().out)["steps"]
    assert (printed["earliest"], printed["latest"]) == (night.rfc3339(earliest_s), night.rfc3339(latest_s))


def test_what_was_on_is_what_was_stated_while_that_holds_and_each_change_in_the_night(log, recording, capsys):
    log.facts.set(CONDITION, "everything on")
    recording.samples([0.3] * 50)
    assert nights(log)[0].conditions_text == "everything on"
    log.facts.set(CONDITION, "everything off")
    log.facts.set(NIGHT_CONDITION, "damaged")
    recording.samples([0.2] * 50)
    (night,) = nights(log)
    assert night.conditions_text == f"everything on; from {night.clock_minute(20.0)} everything off"
    assert main(["night", str(log.path)]) == 0
    assert f"What was on in the night: {night.conditions_text}" in capsys.readouterr().out
    keep_night_entry(log, NightEntry("only Bedroom off", night.runs[0].id, is_ahead=False))
    assert main(["night", str(log.path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["conditions"]
    assert [one["condition"] for one in found] == ["only Bedroom off", "everything off"]


def test_where_the_person_lay_is_the_newest_entry_under_its_present_name(log, recording, capsys):
    recording.samples([0.3] * 50)
    bed, run_id = log.spots.add("Bed, left"), nights(log)[0].runs[0].id
    assert nights(log)[0].spot == NOWHERE_KNOWN
    for name, at in (("Sofa", None), (bed.name, bed.id)):
        keep_night_spot(log, NightEntry(NightSpot(at, name), run_id, is_ahead=False))
    for damaged in ("damaged", "{}", '{"spot_id": "x", "spot": "y", "run_id": 1, "is_ahead": false}', "[" * 9999,
                    '{"spot_id": 1, "spot": 7, "run_id": Infinity, "is_ahead": false}'):  # fmt: skip
        log.facts.set(NIGHT_SPOT, damaged)
    log.spots.rename(bed.id, "Cot")
    assert nights(log)[0].spot == NightSpot(bed.id, "Cot")
    assert main(["night", str(log.path)]) == 0
    assert "Where the person lay: Cot" in capsys.readouterr().out
    assert main(["night", str(log.path), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["spot"] == "Cot"
    keep_night_spot(log, NightEntry(None, run_id, is_ahead=False))
    assert nights(log)[0].spot == NOWHERE_KNOWN, "taken back"


def test_beds_are_suggested_first():
    names = ["Bedroom: desk", "Sofa", "Kinderbett", "bed, lying down", "Chair"]
    spots = [Spot(number, name) for number, name in enumerate(names, 1)]
    found = [spot.name for spot in beds_first(spots, {2: "acostado boca arriba"}, 4)]
    assert found == ["bed, lying down", "Sofa", "Kinderbett", "Bedroom: desk", "Chair"]


def test_a_statement_that_something_speaks_against_is_of_no_night(log, clock, recording):
    def known():
        return condition_at(log, [run.id for run in log.runs.all()], clock.utc_ns())

    log.facts.set(CONDITION, "everything off")
    recording.samples([0.05] * 50)
    assert known() == "everything off"
    recording.beat(
        Batch(events=[Step(12.0, 0.05, 0.06, 0.001, 13.0), Motion(13.0, 15.0, 1.0, 15.0)]), SETTLED
    )
    recording.beat(Batch(events=[Step(16.0, 0.06, 1.9, 0.01, 17.0)]), SETTLED)
    assert known() == "everything off", "the body moved"
    recording.beat(Batch(events=[Step(19.5, 0.06, 1.9, 0.01, 20.0)]), SETTLED)
    assert known() == ""
    log.facts.set(CONDITION, "everything on")
    assert known() == "everything on"
    pause(recording, 60)
    recording.samples([0.05] * 50)
    assert known() == "", "what was switched while nothing was recorded was not seen"
    log.facts.set(CONDITION, "everything off")
    spot = log.spots.add("Bed")
    log.readings.take(spot.id, "everything off")
    start_utc_ns = clock.utc_ns()
    recording.samples([1.9] * 50)
    now_s = recording.t_s()
    recording.beat(Batch(events=[Settled(now_s - 15.0, now_s, 1.9, 0.01, now_s, 30)]), SETTLED)
    assert condition_at(log, [run.id for run in log.runs.all()], start_utc_ns) == ""


def test_what_was_stated_for_readings_long_before_a_night_is_not_taken_for_it(log, clock, recording):
    log.facts.set(CONDITION, "everything off")
    recording.samples([0.3] * 2)
    pause(recording, 7200)
    recording.samples([0.3] * 50)
    assert nights(log)[-1].conditions_text == "not entered"
    entry = NightEntry("everything on", nights(log)[0].runs[0].id, is_ahead=True)
    keep_night_entry(log, entry)  # during the earlier recording, for the night to come
    pause(recording, 7200)
    recording.samples([0.3] * 50)
    assert (
        nights(log)[-1].conditions_text == "everything on" and nights(log)[1].conditions_text == "not entered"
    )
    keep_night_entry(log, NightEntry(None, None, is_ahead=True))
    pause(recording, 14 * 3600)
    recording.samples([0.3] * 50)
    assert nights(log)[-1].conditions_text == "not entered"


def test_nights_are_listed_before_what_is_none_and_the_newest_is_found(log, recording, monkeypatch):
    monkeypatch.setattr("logger.night.recorded_nights.MIN_NIGHT_S", 60.0)
    for lines in (200, 20, 250, 30):
        recording.samples([0.3] * lines)
        pause(recording, 4 * 3600)
    found = analyse_night(log.path, NEWEST, 0.1, "")
    assert [(one.number, one.is_night) for one in found.recordings[:2]] == [(3, True), (1, True)]
    assert not any(one.is_night for one in found.recordings[2:]) and found.night.number == 3
    assert recording_text(found.recordings[0]).startswith("Night of ")
    assert recording_text(found.recordings[-1]).startswith("Recording of ")
