"""Lines that come late, all at once, after a silence are no samples; packets and slow meters come in time."""

from __future__ import annotations

import random

import pytest

from logger.settling.events import Gap, Settled, Step
from logger.settling.late_lines import LateLines
from logger.settling.replay import replay


def regular(start_s, count, every_s=0.1):
    return [start_s + i * every_s for i in range(count)]


def late_times(times_s):
    lines: LateLines[float] = LateLines()
    decided = [pair for time_s in times_s for pair in lines.take(time_s, time_s)]
    decided += lines.flush()
    assert [time_s for time_s, _ in decided] == times_s, "nothing is lost, and the order stays"
    return [time_s for time_s, late in decided if late], lines.take_burst()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("chunk_s", [0.0, 0.002, 0.4])
def test_a_backlog_is_late_and_what_follows_is_not(seed, chunk_s):
    rng = random.Random(seed)
    every_s, silence_s = rng.choice([0.05, 0.1, 0.4]), rng.uniform(5.0, 40.0)
    before = regular(0.0, 60, every_s)
    count = int(silence_s / every_s)
    per_chunk = max(count // 3, 4)
    begun_s = before[-1] + silence_s
    burst = [begun_s + min(i // per_chunk, 2) * chunk_s for i in range(count)]
    late, found = late_times([*before, *burst, *regular(burst[-1] + every_s, 100, every_s)])
    assert late == burst
    assert found is not None and found.lines == count and found.silence_s == pytest.approx(silence_s)


@pytest.mark.parametrize(
    "times_s",
    [
        [*regular(0.0, 50), *regular(24.0, 50)],
        [float(k) for k in [*range(10), *range(30, 40)] for _ in range(10)],
        [4.0 * (k // 4) for k in range(150)] + [172.0 + 4.0 * (k // 4) for k in range(100)],
        [*regular(0.0, 40, 1.0), *regular(60.0, 40, 1.0)],
        [*regular(0.0, 40, 3.0), *regular(160.0, 40, 3.0)],
        [0.0, *[20.0] * 50, *regular(20.1, 50)],
    ],
    ids=[
        "a plain gap", "an adapter that sends packets", "packets far apart", "a line a second", "a slow meter",
        "no rhythm known yet",
    ],
)  # fmt: skip
def test_lines_in_the_usual_rhythm_are_not_late(times_s):
    assert late_times(times_s) == ([], None)


def drain(rng, every_s, silence_s, faster, jitter=0.1):
    """Arrival times of a meter's lines before, in and after a backlog that a link gives so many times faster."""
    before = regular(0.0, 60, every_s)
    count = int(silence_s / every_s / (1 - 1 / faster))
    begun_s = before[-1] + silence_s
    backlog = regular(begun_s, count, every_s / faster)
    after = regular(backlog[-1] + every_s, 100, every_s)
    moved = [time_s + rng.uniform(0, jitter * every_s) for time_s in [*before, *backlog, *after]]
    return moved, moved[60 : 60 + count]


@pytest.mark.parametrize("faster", [1.35, 2.0, 6.0])
@pytest.mark.parametrize("every_s", [0.05, 0.2, 1.0])
def test_a_backlog_that_a_link_gives_slowly_is_late_until_it_is_over(faster, every_s):
    times_s, backlog = drain(random.Random(29), every_s, 40.0, faster)
    late, found = late_times(times_s)
    assert set(backlog[:-2]) <= set(late) and len(late) <= len(backlog) + 2
    assert found is not None and not found.is_over and found.silence_s == pytest.approx(40.0, abs=every_s)


def test_a_link_that_stalls_again_has_still_its_backlog():
    times_s = [
        *regular(0.0, 60, 0.2),
        *regular(50.0, 100, 0.1),
        *regular(70.0, 200, 0.1),
        *regular(90.2, 50, 0.2),
    ]
    late, found = late_times(times_s)
    assert late == times_s[60:360] and found is not None


def test_a_rhythm_that_stays_for_longer_than_a_backlog_can_is_read():
    times_s = [*regular(0.0, 60, 0.2), *regular(22.0, 400, 0.1), *regular(72.0, 100, 0.1)]
    late, _ = late_times(times_s)
    assert late == times_s[60 : 60 + len(late)] and len(late) < 140, (
        "10 s at 5 lines/s are 50 lines, at twice the pace 100"
    )


def test_a_stalled_link_makes_no_level_and_no_step():
    rng = random.Random(14)
    times_s = [*regular(0.0, 100), *[29.0] * 190, *regular(29.1, 300)]
    level = [1.0] * 100 + [3.0] * 100 + [1.0] * 390
    events = replay(times_s, [round(volts + rng.gauss(0, 0.0005), 4) for volts in level])
    assert not any(isinstance(event, Step) for event in events)
    assert [event.volts for event in events if isinstance(event, Settled)] == pytest.approx(
        [1.0, 1.0], abs=0.001
    )
    assert [(gap.start_s, gap.end_s) for gap in events if isinstance(gap, Gap)] == [
        (pytest.approx(9.9), pytest.approx(29.1))
    ]


@pytest.mark.parametrize("every_s", [0.05, 0.1, 0.4])
def test_short_stalls_before_a_gap_are_no_packets(every_s):
    """What a computer that stalls now and then reads at once after a gap is late all the same."""
    ends = [*((at, at + 2.0) for at in range(10, 80, 6)), (84.0, 87.0)]
    times_s = [
        next((end for at, end in ends if at < time_s < end), time_s) for time_s in regular(0.0, 2000, every_s)
    ]
    backlog = [time_s for time_s in times_s if time_s == 87.0]
    late, found = late_times([time_s for time_s in times_s if time_s < 95.0])
    assert late[: len(backlog)] == backlog and len(late) <= len(backlog) + 2 and found is not None


@pytest.mark.parametrize("every_s", [2.0, 3.0, 4.0, 8.0])
def test_a_slow_meter_settles_and_its_own_intervals_are_no_gaps(every_s):
    rng = random.Random(15)
    times_s = [*regular(0.0, 40, every_s), *regular(80 * every_s, 40, every_s)]
    events = replay(times_s, [round(1.5 + rng.gauss(0, 0.002), 4) for _ in times_s])
    spans = [event for event in events if isinstance(event, Settled)]
    assert [span.volts for span in spans] == pytest.approx([1.5, 1.5], abs=0.005)
    gaps = [(gap.start_s, gap.end_s) for gap in events if isinstance(gap, Gap)]
    assert gaps == [(times_s[39], times_s[40])], "a real gap is the only one"


def test_only_an_even_trace_shows_that_its_first_interval_was_no_gap():
    assert not any(isinstance(event, Gap) for event in replay([10.0 * i for i in range(30)], [0.3] * 30))
    (gap,) = [
        e for e in replay([0.0, *(10.0 + 0.4 * i for i in range(60))], [0.3] * 61) if isinstance(e, Gap)
    ]
    assert (gap.start_s, gap.end_s) == (0.0, 10.0)
    (gap,) = [e for e in replay([0.0, 10.0], [0.3, 0.3]) if isinstance(e, Gap)]
    assert (gap.start_s, gap.end_s) == (0.0, 10.0)
