"""What is told of a night goes through the translation whole, and what other programs read of it does not change."""

from __future__ import annotations

from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np

from logger.clock import NS_PER_S
from logger.metrology.uncertainty import Budget
from logger.night.analysis.night_comparison import NightDifference, NightVerdict
from logger.night.analysis.night_record import NightRecord
from logger.night.analysis.repeating_loads import LoadReturn, RepeatingLoad
from logger.night.analysis.schedule_match import PlannedSwitching, match_schedule
from logger.night.analysis.summary import summarise
from logger.night.edge_times import notes_on_typed, typed_stretch
from logger.night.night_analysis import NightAnalysis
from logger.night.night_conditions import NightCondition
from logger.night.night_difference import REMARK_SENTENCES, ComparedNights
from logger.night.night_edges import EdgeCause, NightEdges
from logger.night.night_facts import overload_text, step_time
from logger.night.night_json import night_json
from logger.night.night_output import night_output
from logger.night.night_text import comparison_text, edges_text, night_lines
from logger.night.recorded_nights import ClockSet, Night
from logger.settling.events import Gap, Motion, Overload, Settled, Step
from tests.support.other_language import OtherLanguage, speak, unspoken

STEP = Step(1800.0, 0.5, 0.15, 0.01, 1805.0)
LOAD = RepeatingLoad(0.35, 600.0, 1200.0, (LoadReturn(1200.0, 1800.0), LoadReturn(2410.0, 3400.0)))


def a_night_with_everything() -> NightAnalysis:
    times_s = np.concatenate([np.arange(0, 2400.0), np.arange(2800, 3600.0)])
    volts = np.where(times_s < 1800, 0.5, 0.15)
    events = (
        Settled(0.0, 1700.0, 0.5, 0.001, 1700.0, 1700),
        Motion(1700.0, 1790.0, 0.9, 1795.0),
        STEP,
        Settled(1801.0, 2399.0, 0.15, 0.001, 2399.0, 600),
        Gap(2400.0, 2700.0, 2700.0),
        Overload(2700.0, 2800.0, 2800.0),
        Settled(2801.0, 3599.0, 0.15, 0.001, 3599.0, 800),
    )
    record = NightRecord(times_s, volts, events, 3600.0).without_frozen([(3000.0, 3100.0)])
    night = Night(
        1,
        (),
        1_767_225_600 * NS_PER_S,
        ZoneInfo("UTC"),
        "UTC",
        record,
        edges=NightEdges((-900.0, 4500.0), 3600.0, EdgeCause.WORK, EdgeCause.LYING),
        clock_set=(ClockSet(60.0, 0, 0, 7200.0, ""),),
        doubted=((100.0, 160.0),),
        conditions=(NightCondition(0.0, ""), NightCondition(600.0, "ABC")),
    )
    summary = replace(summarise(record, 0.1), loads=(LOAD,))
    planned = [PlannedSwitching(1790.0, "ABC"), PlannedSwitching(3000.0, "ABC")]
    return NightAnalysis(night, summary, 0.1, match_schedule(planned, summary.steps, (LOAD,)))


def test_every_word_of_a_night_goes_through_the_translation(monkeypatch):
    analysis = a_night_with_everything()
    night = analysis.night
    speak(monkeypatch, OtherLanguage())
    seen = [
        *night_lines(analysis),
        overload_text(night, analysis.summary),
        edges_text(night),
        step_time(night, Step(2750.0, 0.15, 0.5, 0.01, 2900.0)),
        *notes_on_typed(replace(night, edges=NightEdges((0.0, 90_000.0), 3600.0)), "00:10", "00:20"),
    ]
    assert [word for line in seen for word in unspoken(line.replace("ABC", "").replace("UTC", ""))] == []
    began = night.local(0.0)
    budget = Budget.of_u("scatter", 0.3, 0.01)
    for verdict in NightVerdict:
        compared = ComparedNights(
            "", budget, budget, NightDifference(0.1, 0.01, 50.0), verdict, tuple(REMARK_SENTENCES),
            (began, began), turned=True, conditions=(night.conditions_text, night.conditions_text), spots=("ABC", ""),
        )  # fmt: skip
        assert unspoken(comparison_text(compared).replace("ABC", "")) == []
    assert typed_stretch("23:10 - 06:40") == typed_stretch("23:10 to 06:40") == ("23:10", "06:40")


def test_two_nights_are_compared_in_another_language_and_json_stays(monkeypatch, log, recording):
    recording.samples([0.3] * 10)
    analysis = a_night_with_everything()
    english = night_json(analysis), night_output(log.path, None, log.path, as_json=True)
    speak(monkeypatch, OtherLanguage())
    assert (night_json(analysis), night_output(log.path, None, log.path, as_json=True)) == english
    assert unspoken(night_output(log.path, None, log.path, as_json=False).replace("Etc/UTC", "")) == []
