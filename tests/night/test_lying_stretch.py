"""Where somebody lies in a recording, on traces whose evening and morning are known."""

from __future__ import annotations

import numpy as np
import pytest

from logger.night.analysis.lying_stretch import longest_free, lying_stretch
from logger.night.analysis.night_record import NightRecord, shifted
from logger.settling.events import Event, Gap, Settled, Step

HOUR_S = 3600.0


def record_of(still, end_s, gaps=(), steps=()):
    """A record with still spans and gaps; the rest of it was recorded and not still."""
    events: list[Event] = [Settled(a, b, 0.3, 0.001, a + 4.0, 10) for a, b in still]
    events += [Gap(a, b, b) for a, b in gaps]
    events += [Step(at_s, 0.3, 0.2, 0.001, at_s + 5.0) for at_s in steps]
    events.sort(key=lambda e: e.time_s if isinstance(e, Step) else e.start_s)
    times_s = np.arange(0.0, end_s, 10.0)
    return NightRecord(times_s, np.full(len(times_s), 0.3), tuple(events), end_s)


def in_bed(start_s, end_s, turns_s=20.0):
    """Still spans of a sleeper who turns over every 8 min."""
    starts = np.arange(start_s, end_s, 480.0)
    return [(a, min(a + 480.0 - turns_s, end_s)) for a in starts.tolist()]


def errands(start_s, end_s):
    """Still spans of somebody who walks 2 of every 6 min."""
    return [(a + 120.0, min(a + 360.0, end_s)) for a in np.arange(start_s, end_s - 120.0, 360.0).tolist()]


def test_an_evening_and_a_morning_of_errands_are_cut_off():
    lies_s, rises_s, end_s = 2 * HOUR_S, 9 * HOUR_S, 9.5 * HOUR_S
    still = [*errands(0.0, lies_s - 60.0), *in_bed(lies_s, rises_s), *errands(rises_s, end_s)]
    found = lying_stretch(record_of(still, end_s), (0.0, end_s))
    assert found == pytest.approx((lies_s, rises_s), abs=240.0)


def test_a_walk_in_the_night_and_a_gap_do_not_end_it():
    still = [
        *in_bed(0.0, 3 * HOUR_S),
        *in_bed(3 * HOUR_S + 600.0, 5 * HOUR_S),
        *in_bed(6 * HOUR_S, 8 * HOUR_S),
    ]
    record = record_of(still, 8 * HOUR_S, gaps=[(5 * HOUR_S, 6 * HOUR_S)])
    assert lying_stretch(record, (0.0, 8 * HOUR_S)) == (0.0, 8 * HOUR_S)


def test_a_short_way_to_bed_is_not_cut_off():
    still = in_bed(100.0, 8 * HOUR_S - 100.0)
    assert lying_stretch(record_of(still, 8 * HOUR_S), (0.0, 8 * HOUR_S)) == (0.0, 8 * HOUR_S)


@pytest.mark.parametrize("still", [[], errands(0.0, 8 * HOUR_S)])
def test_where_nothing_shows_that_anybody_lies_the_whole_counts(still):
    assert lying_stretch(record_of(still, 8 * HOUR_S), (600.0, 7 * HOUR_S)) == (600.0, 7 * HOUR_S)


@pytest.mark.parametrize(
    ("work", "free"),
    [
        ([], (0.0, 100.0)),
        ([(10.0, 20.0), (5.0, 30.0), (90.0, 90.0)], (30.0, 90.0)),
        ([(-50.0, 10.0), (95.0, 200.0)], (10.0, 95.0)),
        ([(-50.0, -10.0), (150.0, 200.0)], (0.0, 100.0)),
        ([(0.0, 100.0)], (0.0, 0.0)),
    ],
)
def test_the_longest_part_free_of_work(work, free):
    assert longest_free((0.0, 100.0), work) == free


def test_a_part_of_a_record_cuts_what_crosses_its_edges():
    record = record_of([(0.0, 100.0), (130.0, 400.0)], 500.0, gaps=[(400.0, 500.0)], steps=[115.0, 300.0])
    part = record.part(50.0, 450.0)
    assert part.end_s == 400.0 and part.times_s[0] == 0.0 and part.times_s[-1] == 400.0
    assert [(span.start_s, span.end_s) for span in part.settled] == [(0.0, 50.0), (80.0, 350.0)]
    assert part.missing == [(350.0, 400.0)] and [step.time_s for step in part.steps] == [65.0, 250.0]
    assert [step.time_s for step in record.part(115.0, 300.0).steps] == [0.0, 185.0]
    assert record.part(120.0, 299.0).steps == [] and record.part(0.0, 500.0) is record
    assert shifted(part.steps[0], 50.0) == record.steps[0]
