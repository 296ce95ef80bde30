"""Where a night begins and ends: found beside the evening's work, moved by the user, and followed by everything."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from logger.cli.main import main
from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.metrology.setup import Setup
from logger.night.analysis.night_comparison import NightVerdict
from logger.night.edge_times import (
    MIN_LENGTH_S,
    keep_edges,
    notes_on_typed,
    shifted_edges,
    typed_edges,
    typed_stretch,
)
from logger.night.night_analysis import analyse_as_stated
from logger.night.night_difference import HIGHER_LEFT_OUT, compare_nights
from logger.night.night_edges import FOUND_EDGES, EdgeCause, MovedEdges, moved_edges, with_moved_edges
from logger.night.night_facts import night_facts
from logger.night.night_json import night_json
from logger.night.night_text import comparison_text, edges_text
from logger.night.recorded_nights import longest_night, nights
from logger.night.work_times import WorkTime, work_times
from logger.report.archive.entry import read_entry
from logger.report.document.first_page.nights import night_sentence
from logger.report.document.read_report_data import read_report_data
from logger.report.document.sections import night as night_section
from logger.settling.events import Event, Motion, Now, Settled, State, Step
from logger.visit import VisitLog
from logger.visit.records.fact_names import NIGHT_EDGES
from logger.visit.storage.run_writer import Batch, Counts, Heartbeat, RunWriter

MINUTE_S = 60.0
HOUR_S = 3600.0
EVENING = "2026-11-25T20:00:00+01:00"


class Home:
    """A visit log in which somebody works by a clock set by hand."""

    def __init__(self, path, began):
        self.path = path
        self.began = datetime.fromisoformat(began)
        self.clock = ManualClock(round(self.began.timestamp()) * NS_PER_S)
        self.log = VisitLog.create(path, self.clock)
        self.spot = self.log.spots.add("Bed, left")

    def record(self, hours, volts=0.2, steps=(), reason="stopped", still_min=None, motions=(),
               unlike=(1e9, 0.0)):  # fmt: skip
        """A run that is still, throughout or for so long, one sample a minute; all by minutes since its start.

        `unlike`: from which hour on its value is another one, and which.
        """
        writer = RunWriter(
            self.path, utc_ns=self.clock.utc_ns(), zone="Europe/Vienna",
            utc_offset_s=int(self.began.utcoffset().total_seconds()), port="/dev/ttyUSB0", settings="{}",
            software="test", pid=1,
        )  # fmt: skip
        started_ns = self.clock.steady_ns()
        lines = []
        for number in range(round(hours * 60)):
            self.clock.advance_ns(60 * NS_PER_S)
            shown = volts if number < unlike[0] * 60 else unlike[1]
            lines.append((self.clock.utc_ns(), self.clock.steady_ns() - started_ns, "volts", shown, b"x"))
        end_s = lines[-1][1] / NS_PER_S
        still_s = end_s if still_min is None else still_min * MINUTE_S
        events: list[Event] = [Settled(0.0, still_s, volts, 0.001, 5.0, len(lines))]
        events += [Motion(a * MINUTE_S, b * MINUTE_S, volts + 1.0, b * MINUTE_S) for a, b in motions]
        events += [Step(at * MINUTE_S, volts + 0.1, volts, 0.001, at * MINUTE_S + 5.0) for at in steps]
        now = Now(State.SETTLED, 0.0, volts, 0.01, len(lines))
        t_ns = self.clock.steady_ns() - started_ns
        writer.write(
            Batch(lines=lines, events=events),
            Heartbeat(self.clock.utc_ns(), t_ns, "open", "", now, [], Counts(volts=len(lines)), ""),
        )
        writer.end(self.clock.utc_ns(), t_ns, reason)
        writer.close()

    def pause(self, hours):
        self.clock.advance_ns(round(hours * HOUR_S) * NS_PER_S)

    def at(self, minutes, do):
        """Do something so many minutes after the beginning, by the computer's clock."""
        now_ns = self.clock.utc_ns()
        self.clock.set_utc_ns(round((self.began + timedelta(minutes=minutes)).timestamp()) * NS_PER_S)
        do()
        self.clock.set_utc_ns(now_ns)

    def read_at(self, minutes):
        self.at(minutes, lambda: self.log.readings.enter(self.spot.id, "", 0.2, 0.01))


@pytest.fixture
def home(tmp_path):
    home = Home(tmp_path / "home.visit", EVENING)
    yield home
    home.log.close()


def local(night):
    return night.clock_minute(0.0), night.clock_minute(night.record.end_s)


def test_the_evenings_readings_and_the_mornings_are_no_part_of_the_night(home):
    home.record(10.5)
    for minutes in (5, 60, 161, 620):
        home.read_at(minutes)
    night = longest_night(home.log)
    assert local(night) == ("22:41", "06:20")
    assert (night.edges.begins, night.edges.ends) == (EdgeCause.WORK, EdgeCause.WORK)
    assert night.counts and night.record.end_s == pytest.approx((620 - 161) * MINUTE_S)
    assert night.rfc3339(0.0) == "2026-11-25T22:41:00+01:00"
    text = edges_text(night)
    assert "begins at 22:41:00 (after the last reading" in text and "Recorded from 20:00 to 06:30" in text


def test_a_voided_reading_was_taken_all_the_same(home):
    home.record(8)
    home.read_at(90)
    home.log.readings.void(home.log.readings.all()[0].id, "typed twice")
    assert local(longest_night(home.log)) == ("21:30", "04:00")


@pytest.mark.parametrize(("labelled_after_min", "begins"), [(2, "21:32"), (600, "20:00")])
def test_a_switching_counts_as_work_if_it_was_labelled_at_once(home, labelled_after_min, begins):
    home.record(10, steps=[90])
    (step,) = longest_night(home.log).record.steps
    run_id = home.log.runs.all()[0].id
    home.at(90 + labelled_after_min, lambda: home.log.step_labels.add(run_id, step, None, "ignored"))
    assert local(longest_night(home.log))[0] == begins


def test_an_evening_of_work_is_no_night_and_keeps_its_whole_length(home):
    home.record(6)
    for minutes in (100, 200, 300):
        home.read_at(minutes)
    night = longest_night(home.log)
    assert local(night) == ("20:00", "02:00") and not night.counts
    assert read_report_data(home.log).nights == () and not read_entry(home.path).has_night


def test_moved_edges_are_followed_by_summary_report_archive_and_command(home, capsys):
    home.record(6, steps=[30, 150])
    for minutes in (100, 200, 300):
        home.read_at(minutes)
    assert main(["night", str(home.path), "--from", "22:15", "--until", "22:35", "--json"]) == 0
    printed = json.loads(capsys.readouterr().out)
    assert (printed["start"], printed["end"]) == ("2026-11-25T22:15:00+01:00", "2026-11-25T22:35:00+01:00")
    assert printed["edges"] == {
        "begins": "moved",
        "ends": "moved",
        "recording_start": "2026-11-25T20:00:00+01:00",
        "recording_end": "2026-11-26T02:00:00+01:00",
        "left_out": [
            {
                "start": start,
                "end": end,
                "length_s": length_s,
                "why": "the edge was moved by hand",
                "p05_volts": 0.2,
                "p95_volts": 0.2,
                "is_higher_than_night": False,
            }
            for start, end, length_s in (
                ("2026-11-25T20:00:00+01:00", "2026-11-25T22:15:00+01:00", 8100.0),
                ("2026-11-25T22:35:00+01:00", "2026-11-26T02:00:00+01:00", 12300.0),
            )
        ],
    }
    assert [step["time"] for step in printed["steps"]] == ["2026-11-25T22:30:00+01:00"]
    data = read_report_data(home.log)
    (reported,) = data.nights
    assert reported.summary.end_s == 20 * MINUTE_S
    assert [known.found.t_ns for known in data.steps] == [30 * 60 * NS_PER_S]
    text = repr(night_section.night(data))
    assert "begins at 22:15:00 (moved by hand)" in text and "Night from 22:15 to 22:35" in text
    assert read_entry(home.path).has_night
    assert main(["night", str(home.path)]) == 0
    assert "The night begins: 22:15:00, moved by hand" in capsys.readouterr().out
    assert main(["night", str(home.path), "--found-edges"]) == 0
    assert "The night begins: 20:00:00, when the recording began" in capsys.readouterr().out
    assert len(home.log.facts.values_of(NIGHT_EDGES)) == 2  # the older one stays in the log


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (["--from", "19:00"], "19:00 is outside the recording, which ran from 2026-11-25T20:00:00+01:00"),
        (["--until", "2026-11-26T09:00:00+01:00"], "is outside the recording"),
        (["--from", "02:00", "--until", "23:00"], "would begin at 02:00 and end at 23:00"),
        (["--from", "23:00", "--until", "23:00"], "less than a minute"),
        (["--from", "2026-11-25T23:00:00"], "has no offset from UTC"),
        (["--from", "25:00"], "“25:00” is no time"),
        (["--from", "late"], "“late” is no time"),
        (["--from", "23:00", "--found-edges"], "not both"),
        (["--from", "23:00", "--night", "2"], "holds 1"),
    ],
)
def test_edges_that_cannot_be_are_refused_in_a_sentence(home, capsys, arguments, why):
    home.record(8)
    assert main(["night", str(home.path), *arguments]) == 1
    assert why in capsys.readouterr().err
    assert home.log.facts.values_of(NIGHT_EDGES) == []


def test_one_edge_is_moved_and_the_other_stays_where_it_was_found_or_moved(home):
    home.record(9)
    home.read_at(120)
    night = longest_night(home.log)
    keep_edges(home.log, night, typed_edges(night, "", "2026-11-25T22:30:00-05:00"))
    night = longest_night(home.log)
    assert local(night) == ("22:00", "04:30") and night.edges.begins is EdgeCause.WORK
    keep_edges(home.log, night, typed_edges(night, "21:00:30", ""))
    night = longest_night(home.log)
    assert night.clock_time(0.0) == "21:00:30" and local(night)[1] == "04:30"
    keep_edges(home.log, night, shifted_edges(night, HOUR_S, None))
    assert longest_night(home.log).clock_time(0.0) == "22:00:30"
    keep_edges(home.log, night, FOUND_EDGES)
    assert local(longest_night(home.log)) == ("22:00", "05:00")


def test_each_night_of_a_visit_has_its_own_edges(home):
    home.record(8)
    home.pause(12)
    home.record(7)
    first, second = nights(home.log)
    keep_edges(home.log, second, typed_edges(second, "17:00", ""))
    assert [local(night) for night in nights(home.log)] == [("20:00", "04:00"), ("17:00", "23:00")]
    keep_edges(home.log, first, typed_edges(first, "", "03:00"))
    assert [local(night) for night in nights(home.log)] == [("20:00", "03:00"), ("17:00", "23:00")]


def test_a_recorder_that_was_interrupted_at_night_does_not_end_it_and_edges_may_be_in_the_pause(home):
    home.record(3, reason="the recorder was cut off; closed afterwards")
    home.pause(1)
    home.record(4)
    night = longest_night(home.log)
    assert local(night) == ("20:00", "04:00") and len(night.runs) == 2
    keep_edges(home.log, night, typed_edges(night, "23:30", ""))
    night = longest_night(home.log)
    assert night.record.missing[0] == (0.0, pytest.approx(1800.0, abs=60.0))
    assert night.moment(0.0) == (night.runs[0].id, pytest.approx(3.5 * HOUR_S))
    assert night.moment(HOUR_S) == (night.runs[1].id, pytest.approx(1800.0))
    assert night.holds(night.runs[1].id, 10.0) and not night.holds(night.runs[0].id, HOUR_S)


def test_a_time_that_comes_twice_begins_the_night_at_the_first_and_ends_it_at_the_last(tmp_path):
    """The clocks go back from 03:00 to 02:00 in the night of 25 October 2026 (Europe/Vienna)."""
    home = Home(tmp_path / "autumn.visit", "2026-10-24T22:00:00+02:00")
    home.record(9)
    night = longest_night(home.log)
    (note,) = notes_on_typed(night, "02:30", "06:00")
    assert "2026-10-25T02:30:00+02:00 and 2026-10-25T02:30:00+01:00. The first one begins" in note
    assert notes_on_typed(night, "02:30 UTC+01:00", "") == [] == notes_on_typed(night, "", "05:00")
    keep_edges(home.log, night, typed_edges(night, "02:30", ""))
    began = longest_night(home.log)
    assert began.rfc3339(0.0) == "2026-10-25T02:30:00+02:00"
    keep_edges(home.log, night, typed_edges(night, "22:00", "02:30"))
    ended = longest_night(home.log)
    assert ended.rfc3339(ended.record.end_s) == "2026-10-25T02:30:00+01:00"
    assert ended.record.end_s == 5.5 * HOUR_S
    keep_edges(home.log, night, typed_edges(night, "2026-10-25T02:30:00+01:00", "06:00"))
    assert longest_night(home.log).rfc3339(0.0) == "2026-10-25T02:30:00+01:00"
    home.log.close()


def test_the_edges_of_a_night_over_a_change_of_the_clock_are_typed_back_as_they_are_shown(tmp_path):
    """Each of the two 02:30 of 25 October 2026 is told from the other by its offset (Europe/Vienna)."""
    home = Home(tmp_path / "autumn.visit", "2026-10-24T22:00:00+02:00")
    home.record(9)
    night = longest_night(home.log)
    shown = " to ".join(night.clock_minute(time_s) for time_s in (4.5 * HOUR_S, 5.5 * HOUR_S))
    assert shown == "02:30 UTC+02:00 to 02:30 UTC+01:00"
    keep_edges(home.log, night, typed_edges(night, *typed_stretch(shown)))
    moved = longest_night(home.log)
    assert moved.rfc3339(0.0) == "2026-10-25T02:30:00+02:00" and moved.record.end_s == HOUR_S
    keep_edges(home.log, night, typed_edges(night, "02:30 UTC+01:00", "06:00"))
    after = longest_night(home.log)
    left = [after.left_out_text(part.stretch) for part in after.left_out]
    assert left[0] == "22:00 UTC+02:00 to 02:30 UTC+01:00 (5 h 30 min)", "the change lies in what is left out"
    with pytest.raises(StillvoltError, match="23:00 UTC-05:00"):
        typed_edges(night, "23:00 UTC-05:00", "")
    home.log.close()


def test_a_time_that_the_clocks_leave_out_is_refused(tmp_path):
    """The clocks go forward from 02:00 to 03:00 in the night of 29 March 2026 (Europe/Vienna)."""
    home = Home(tmp_path / "spring.visit", "2026-03-28T22:00:00+01:00")
    home.record(8)
    night = longest_night(home.log)
    with pytest.raises(StillvoltError, match="There was no 02:30 in that night"):
        typed_edges(night, "02:30", "")
    keep_edges(home.log, night, typed_edges(night, "01:30", "03:30"))
    assert longest_night(home.log).record.end_s == HOUR_S
    home.log.close()


def test_what_the_window_shows_can_be_typed_back(home):
    home.clock.advance_ns(17 * NS_PER_S)
    home.record(8)
    night = longest_night(home.log)
    start, end = typed_stretch(" to ".join(local(night)))
    edges = typed_edges(night, start, end)
    assert edges.start_utc_ns == night.start_utc_ns
    assert edges.end_utc_ns == night.utc_ns(night.record.end_s - 17.0)
    assert typed_edges(night, night.rfc3339(0.0), "").start_utc_ns == night.start_utc_ns


@pytest.mark.parametrize(
    "text", ["23:10 to 06:40", "23:10 – 06:40", "23:10 - 06:40", "23:10–06:40", "23:10 until 06:40"]
)
def test_two_times_on_one_line(text):
    assert typed_stretch(text) == ("23:10", "06:40")


@pytest.mark.parametrize("text", ["", "23:10", "23:10 to", "23:10 to 05:00 to 06:00"])
def test_what_is_not_two_times_is_refused(text):
    with pytest.raises(StillvoltError, match="is not two times"):
        typed_stretch(text)


def test_moved_edges_are_kept_and_read_as_they_are():
    kept = with_moved_edges("", 3, MovedEdges(5, None))
    kept = with_moved_edges(kept, 7, MovedEdges(None, 9))
    assert moved_edges(kept) == {3: MovedEdges(5, None), 7: MovedEdges(None, 9)}
    assert moved_edges(with_moved_edges(kept, 3, FOUND_EDGES))[3] == FOUND_EDGES
    assert moved_edges("") == {}


def test_a_moved_edge_that_crosses_a_found_one_wins(home):
    """The end was moved into the evening; what is found later of the evening's work moves no edge past it."""
    home.record(9)
    night = longest_night(home.log)
    keep_edges(home.log, night, typed_edges(night, "", "21:00"))
    home.read_at(120)
    night = longest_night(home.log)
    assert local(night) == ("20:00", "21:00") and night.record.end_s > MIN_LENGTH_S
    assert (night.edges.begins, night.edges.ends) == (EdgeCause.RECORDING, EdgeCause.MOVED)


@pytest.mark.parametrize(
    ("motions", "cause", "why"),
    [
        (((300, 303), (308, 312)), EdgeCause.LYING, "when the getting up began"),
        ((), EdgeCause.STILL, "where the value was last steady for long"),
        (((300, 480),), EdgeCause.STILL, "where the value was last steady for long"),
    ],
)
def test_nobody_gets_up_without_a_motion_and_what_is_left_out_is_named(home, motions, cause, why):
    home.record(8, still_min=300, motions=motions)
    night = longest_night(home.log)
    assert night.edges.ends is cause and why in edges_text(night)
    is_lying = cause is EdgeCause.LYING  # else nobody knows: a load that comes and goes looks the same
    reason = (
        "not lying still."
        if is_lying
        else "not steady, as somebody moved or something switched itself on and off."
    )
    assert f"01:00 to 04:00 (3 h 00 min) is left out: {reason}" in edges_text(night)
    assert "The value was between 0.20 V and 0.20 V then (5th to 95th percentile)." in edges_text(night)
    assert ("Nothing said of the night is of that time." in edges_text(night)) is not is_lying
    (reported,) = read_report_data(home.log).nights
    assert f"is left out: {reason}" in night_sentence(reported, 0.1)


def test_a_higher_level_that_is_left_out_is_told_and_keeps_the_night_from_being_called_low(home):
    home.record(8, still_min=300, unlike=(5, 3.0))
    home.pause(24)
    home.record(8)
    home.at(0, lambda: home.log.setup.set(Setup(reference="earth rod", on_battery=True, link_isolated=True)))
    before, after = nights(home.log)
    (part,) = before.left_out
    assert part.volts == (3.0, 3.0) and part.hides_a_level
    told = "The value was between 3.00 V and 3.00 V then (5th to 95th percentile). That is higher than all"
    assert told in edges_text(before)
    assert any(told in night_sentence(one, 0.1) for one in read_report_data(home.log).nights)
    analysis = analyse_as_stated(home.path, 1)
    notes = [fact.note for group in night_facts(analysis) for fact in group.facts if fact.what == "Left out"]
    assert "3.000 to 3.000 V there (5th to 95th percentile), higher than the night" in notes[0]
    assert night_json(analysis)["edges"]["left_out"][0]["is_higher_than_night"] is True

    compared = compare_nights(before, after, same_visit=True)
    assert compared.verdict is NightVerdict.NOT_COMPARABLE and "3.00 V to 3.00 V then" in compared.why_not
    assert "Of the earlier night: 01:00 to 04:00 (3 h 00 min) is left out" in comparison_text(compared)
    # What somebody cut off knowingly limits the comparison, and does not forbid it.
    keep_edges(home.log, before, typed_edges(before, "", "01:00"))
    before, after = nights(home.log)
    compared = compare_nights(before, after, same_visit=True)
    assert "3.00 V to 3.00 V then" not in compared.why_not and HIGHER_LEFT_OUT in compared.remarks


def test_edges_are_what_was_typed_to_the_nanosecond(home):
    home.record(6)
    night = longest_night(home.log)
    # A night that was found begins at any fraction of a second.
    night = replace(night, start_utc_ns=night.start_utc_ns + 123_456_789)
    for minute in range(60):
        edges = typed_edges(night, f"21:{minute:02}", "01:59")
        assert edges.start_utc_ns is not None and edges.end_utc_ns is not None
        assert (edges.start_utc_ns % (60 * NS_PER_S), edges.end_utc_ns % (60 * NS_PER_S)) == (0, 0)
    with pytest.raises(StillvoltError, match="begin at 21:05 and end at 21:05"):
        typed_edges(night, "21:05", "21:05")


def test_the_span_of_a_reading_is_work_where_it_was_taken_at_once() -> None:
    minute_ns = 60 * NS_PER_S
    spans = ((None, 5 * minute_ns), (18 * minute_ns, 20 * minute_ns), (0, 480 * minute_ns))
    assert work_times(spans, [500 * minute_ns], [], {}) == [
        WorkTime(5 * minute_ns, 5 * minute_ns),
        WorkTime(18 * minute_ns, 20 * minute_ns),
        WorkTime(480 * minute_ns, 480 * minute_ns),
        WorkTime(500 * minute_ns, 500 * minute_ns),
    ]
