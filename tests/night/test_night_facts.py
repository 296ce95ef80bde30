"""The facts of a night."""

from __future__ import annotations

from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from logger.clock import NS_PER_S
from logger.metrology.uncertainty import Budget, shown
from logger.night.analysis.lying_stretch import lying_stretch
from logger.night.analysis.night_record import NightRecord
from logger.night.analysis.repeating_loads import LoadReturn, RepeatingLoad
from logger.night.analysis.schedule_match import PlannedSwitching, match_schedule
from logger.night.analysis.summary import summarise
from logger.night.night_analysis import NightAnalysis
from logger.night.night_facts import FactKind, hour_level, night_facts, overload_text, step_time
from logger.night.night_level import level_budget, summary_of
from logger.night.night_text import night_lines
from logger.night.recorded_nights import Night
from logger.report.document.first_page.nights import night_sentence
from logger.report.document.report_data import NightData
from logger.report.document.sections.night import planned_table
from logger.settling.events import Gap, Overload, Settled, Step
from logger.visit.records.recording_records import Run

STEP = Step(1800.0, 0.5, 0.15, 0.01, 1805.0)


def an_hour_with_a_step_and_a_gap() -> Night:
    times_s = np.concatenate([np.arange(0, 2400.0), np.arange(2700, 3600.0)])
    volts = np.where(times_s < 1800, 0.5, 0.15)
    events = (
        Settled(0.0, 1799.0, 0.5, 0.001, 1799.0, 1800), STEP, Settled(1801.0, 2399.0, 0.15, 0.001, 2399.0, 600),
        Gap(2400.0, 2700.0, 2700.0), Settled(2700.0, 3599.0, 0.15, 0.001, 3599.0, 900),
    )  # fmt: skip
    record = NightRecord(times_s, volts, events, 3600.0)
    return Night(1, (), 1_767_225_600 * NS_PER_S, ZoneInfo("UTC"), "UTC", record)


def test_a_level_close_to_the_target_is_not_told_as_above_it_where_meter_and_reference_are_not_known():
    night = an_hour_with_a_step_and_a_gap()  # in no visit log: nothing is known of its meter and reference
    level = summary_of(night, 0.14).level
    assert level is not None and level.above_target_s == pytest.approx(3300.0, abs=2.0)
    assert (level.clearly_above_s, level.clearly_below_s, level.near_target_s) == (
        0.0,
        0.0,
        level.above_target_s,
    )
    lines = night_lines(NightAnalysis(night, summary_of(night, 0.14), 0.14))
    assert any(
        "Clearly above 0.14 V: not known: the steady values are all too close to it; peaks count as movements"
        in line
        for line in lines
    )
    told = night_sentence(NightData(night, summary_of(night, 0.14), None), 0.14)
    assert "for all of 55 min too close to 0.14 V to tell whether it was above or below" in told
    assert any(
        "the ± comes mostly from: reference: counted as building earth, because not stated" in x
        for x in lines
    )
    u_volts = level_budget(night, 0.15, 0.001).u_volts
    (longest,) = [line for line in lines if "Mean of the longest steady span" in line]
    assert (
        u_volts > 0.2 and shown(Budget.of_u("all", 0.5, level_budget(night, 0.5, 0.001).u_volts)) in longest
    )


def test_a_level_far_above_the_target_is_clearly_above_it_only_by_more_than_its_own_uncertainty():
    night = an_hour_with_a_step_and_a_gap()
    level = summarise(night.record, 0.1, lambda volts: 0.03 + 0.9 * volts).level
    assert level is not None and level.near_target_volts == pytest.approx(0.12)
    assert (level.clearly_above_s, level.near_target_s) == (0.0, level.above_target_s)


def test_every_fact_is_in_its_group_with_its_part_of_the_night():
    night = an_hour_with_a_step_and_a_gap()
    summary = summarise(night.record, 0.1)
    matched = match_schedule(
        [PlannedSwitching(1790.0, "breakers off"), PlannedSwitching(3000.0, "breakers on")], summary.steps
    )
    found = night_facts(NightAnalysis(night, summary, 0.1, matched), {STEP: "lamp off"})
    groups = {group.kind: group.facts for group in found}
    assert found[-1].heading == "Steps: 1"
    missed = next(fact for fact in groups[FactKind.TIME] if fact.what == "not recorded")
    assert missed.text == "00:40:00 to 00:45:00" and missed.stretch_s == (2400.0, 2700.0)
    matched_fact, lost = groups[FactKind.PLANNED]
    assert (matched_fact.what, matched_fact.note) == ("00:29 breakers off", "found at 00:30:00")
    assert lost.is_missing and not matched_fact.is_missing and "motion hid it" in lost.note
    (step,) = groups[FactKind.STEPS]
    assert (step.what, step.text) == ("00:30:00", "\N{MINUS SIGN}0.350 V")
    assert step.note == "lamp off, planned: breakers off" and step.stretch_s == (1740.0, 1860.0)
    assert groups[FactKind.LOADS][0].what == "No steps of the same size come again at regular times"


def a_night_from_two_ports() -> Night:
    runs = tuple(
        Run(id=number, started_utc_ns=0, zone="UTC", utc_offset_s=0, port=port, settings="{}", software="",
            ended_utc_ns=None, end_reason="")
        for number, port in enumerate(("/dev/a", "/dev/a", "/dev/b"), 1)
    )  # fmt: skip
    return replace(an_hour_with_a_step_and_a_gap(), runs=runs, run_starts_s={1: 0.0, 2: 600.0, 3: 1800.0})


def test_a_night_from_two_ports_says_so():
    night = a_night_from_two_ports()
    lines = night_lines(NightAnalysis(night, summarise(night.record, 0.1), 0.1))
    assert any("/dev/a from 00:00, then /dev/b from 00:30" in line and "mix both" in line for line in lines)


def test_a_night_cut_to_one_port_does_not_speak_of_the_other():
    whole = a_night_from_two_ports()
    before = replace(whole, record=whole.record.part(0.0, 1500.0))
    after_s = 2000.0
    starts_s = {run_id: start_s - after_s for run_id, start_s in whole.run_starts_s.items()}
    after = replace(whole, record=whole.record.part(after_s, 3600.0), run_starts_s=starts_s)
    for night in (before, after):
        lines = night_lines(NightAnalysis(night, summarise(night.record, 0.1), 0.1))
        assert lines and not any("more than one port" in line for line in lines)


def test_a_fact_without_a_value_ends_without_a_colon():
    night = an_hour_with_a_step_and_a_gap()
    lines = night_lines(NightAnalysis(night, summarise(night.record, 0.1), 0.1, match_schedule([], [])))
    assert "  No steps of the same size come again at regular times" in lines
    assert not [line for line in lines if line.rstrip().endswith(":") and line.startswith("  ")]


def test_a_planned_switching_that_may_be_a_load_coming_again_says_so_in_the_order_of_the_night():
    """Begun at 23:30, so that 00:00 comes after 23:46."""
    night = an_hour_with_a_step_and_a_gap()
    night = replace(night, start_utc_ns=night.start_utc_ns - 1800 * NS_PER_S)
    load = RepeatingLoad(0.35, 600.0, 1200.0, (LoadReturn(1200.0, STEP.time_s),))
    summary = replace(summarise(night.record, 0.1), loads=(load,))
    matched = match_schedule(
        [PlannedSwitching(1790.0, "breakers off"), PlannedSwitching(1000.0, "lamp on")],
        summary.steps,
        (load,),
    )
    planned = night_facts(NightAnalysis(night, summary, 0.1, matched))[3]
    note = "the step of \N{MINUS SIGN}0.350 V at 00:00:00 may be the load that comes again (a change of about 0.35 V)"
    assert (planned.facts[1].text, planned.facts[1].note) == ("cannot be told", note)
    table = planned_table(NightData(night, summary, matched))
    assert [row[0] for row in table.rows] == ["23:46", "23:59"]
    assert table.rows[1][2] == f"cannot be told: {note}"


def test_what_was_above_the_range_is_named_and_never_counted_as_below_the_target():
    night = an_hour_with_a_step_and_a_gap()
    events = tuple(Overload(2400.0, 2700.0, 2700.0) if isinstance(e, Gap) else e for e in night.record.events)
    night = replace(night, record=replace(night.record, events=events))
    summary = summarise(night.record, 1.0)
    lines = "\n".join(night_lines(NightAnalysis(night, summary, 1.0, None)))
    assert "55 min recorded, 5 min beyond the meter's range, 0 s missed" in lines
    assert "Missed: no time" in lines and "overload: 00:40:00 to 00:45:00" in lines
    assert "Above 1 V: 0 s of the steady time, without the 5 min beyond the meter's range" in lines
    assert "Highest hour: beyond the meter's range for 5 min of it" in lines
    assert "00:40:00 to 00:45:00" in overload_text(night, summary)
    assert "beyond the meter's range for 5 min" in night_sentence(NightData(night, summary, None), 1.0)
    unseen = Step(2550.0, 0.15, 0.5, 0.01, 2705.0)
    assert "beyond the meter's range" in step_time(night, unseen)


def test_where_the_display_stood_still_is_cut_out_of_every_figure_and_named():
    times_s = np.arange(0.0, 4 * 3600.0, 2.0)
    frozen = (3600.0, 7200.0)
    volts = np.where((times_s >= frozen[0]) & (times_s < frozen[1]), 0.3, 0.2)
    whole = NightRecord(times_s, volts, (Settled(0.0, 14398.0, 0.225, 0.001, 5.0, 7200),), 4 * 3600.0)
    record = whole.without_frozen([frozen])
    night = Night(1, (), 1_767_225_600 * NS_PER_S, ZoneInfo("UTC"), "UTC", record)
    summary = summarise(record, 0.1)
    assert (summary.still_s, summary.frozen_s, summary.covered_s) == (3 * 3600.0, 3600.0, 4 * 3600.0)
    assert [hour.still_s for hour in summary.hours] == [3600.0, 0.0, 3600.0, 3600.0]
    assert "stood still for 1 h 00 min" in hour_level(summary.hours[1], 3)
    assert (summary.level.p95_volts, summary.level.above_target_s) == (0.2, 3 * 3600.0)
    assert [round(span.volts, 6) for span in record.settled] == [0.2, 0.2]
    assert record.part(1800.0, 5400.0).frozen == ((1800.0, 3600.0),)
    nothing_still = NightRecord(times_s, volts, (), 4 * 3600.0).without_frozen([frozen])
    assert lying_stretch(nothing_still, (0.0, 4 * 3600.0)) == (0.0, 4 * 3600.0)
    sentence = night_sentence(NightData(night, summary, None), 0.1)
    assert "The display stood still 01:00 to 02:00 (1 h 00 min): not counted." in sentence
    said = "\n".join(night_lines(NightAnalysis(night, summary, 0.1)))
    assert "The display stood still: 01:00:00 to 02:00:00, not counted" in said


def an_hour_with_another_level_after_a_gap(after_volts: float) -> Night:
    night = an_hour_with_a_step_and_a_gap()
    *before, last = night.record.events
    assert isinstance(last, Settled)
    return replace(night, record=replace(night.record, events=(*before, replace(last, volts=after_volts))))


def test_a_level_that_changed_while_nothing_was_recorded_is_named_with_both_levels():
    night = an_hour_with_another_level_after_a_gap(0.9)
    told = "Nothing was recorded from 00:40:00 to 00:45:00: 0.150 V before, 0.900 V after."
    summary = summary_of(night, 0.1)
    assert any(told in line for line in night_lines(NightAnalysis(night, summary, 0.1)))
    household = night_sentence(NightData(night, summary, None), 0.1)
    assert told in household and "For 5 min of that time nothing was recorded" in household


def test_a_posture_that_was_taken_up_again_is_no_change_over_a_gap():
    night = an_hour_with_another_level_after_a_gap(0.16)
    assert not any(
        "Nothing was recorded from" in x
        for x in night_lines(NightAnalysis(night, summary_of(night, 0.1), 0.1))
    )
