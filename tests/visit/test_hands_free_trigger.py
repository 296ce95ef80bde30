"""Hands-free reading: once a span, not too soon, never from the span before."""

from __future__ import annotations

from dataclasses import replace

from logger.settling.events import State
from logger.visit.hands_free_trigger import HandsFreeTrigger


def run(recording, log, armed: HandsFreeTrigger, samples: int, state: State = State.SETTLED) -> list[float]:
    """Times at which a reading was due while samples came in."""
    due = []
    since_s = recording.t_s() + 0.4
    for _ in range(samples):
        recording.samples([0.3], state)
        # One span for all these samples, as the detector gives it.
        live = log.recorder.live()
        if state is State.SETTLED:
            live = replace(live, since_steady_utc_ns=live.run_started_utc_ns + round(since_s * 1e9))
        if armed.is_time(live, log.current_value.why_not_settled()):
            due.append(recording.t_s())
            armed.taken(live)
    return due


def test_one_reading_a_span_once_it_has_lasted(log, recording):
    armed = HandsFreeTrigger(still_for_s=8.0)
    assert run(recording, log, armed, 10, State.CHANGING) == []
    start = recording.t_s()
    due = run(recording, log, armed, 100)
    assert len(due) == 1 and 8.0 <= due[0] - (start + 0.4) <= 8.4 + 1e-9


def test_the_next_spot_needs_a_new_span(log, recording):
    armed = HandsFreeTrigger(still_for_s=2.0)
    assert len(run(recording, log, armed, 20)) == 1
    run(recording, log, armed, 5, State.CHANGING)
    assert len(run(recording, log, armed, 20)) == 1


def test_armed_while_still_at_the_last_spot_it_waits_for_the_move(log, recording):
    recording.samples([0.3] * 5)
    live = log.recorder.live()
    armed = HandsFreeTrigger(still_for_s=1.0, not_from_ns=live.beat_steady_utc_ns)
    assert not armed.is_time(live, "") and armed.left_s(live) is None


def test_nothing_is_due_while_a_reason_stands_against_it(log, recording):
    recording.samples([0.3] * 50)
    armed = HandsFreeTrigger(still_for_s=1.0)
    assert armed.is_time(log.recorder.live(), "")
    assert not armed.is_time(log.recorder.live(), "The port is lost.")
    assert not armed.is_time(None, "")


def test_the_time_left_counts_down(log, recording):
    recording.samples([0.3] * 6)
    armed = HandsFreeTrigger(still_for_s=5.0)
    left_s = armed.left_s(log.recorder.live())
    assert left_s is not None and 2.9 < left_s <= 3.0 + 1e-9
