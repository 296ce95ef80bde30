"""The spans that wait to become final, and the approach that each keeps."""

from __future__ import annotations

import pytest

from logger.settling.events import Settled, Step
from logger.settling.level_uncertainty import LevelUncertainty
from logger.settling.limits import MAX_WAITING
from logger.settling.previous_spans import PreviousSpans
from logger.settling.signal_model import SignalModel
from logger.settling.span import Approach, OpenSpan, Rise, Route, SpanStatus
from logger.settling.transition import Transition


def learned() -> SignalModel:
    """A model of a meter with a noise of 1 mV that has sent a block every 0.4 s for 80 s, at 0.5 V."""
    model = SignalModel()
    for i in range(200):
        model.add_block(0.4 * i, 0.5, 0.5, 1)
    model.noise.add_window(1e-6, 1e-6, 20)
    return model


def crept_to(level_volts: float, start_block: int) -> OpenSpan:
    """A span of ten blocks that neither a motion nor a step led to."""
    start_s, end_s, end = 0.4 * start_block, 0.4 * (start_block + 9), start_block + 10
    approach = Approach(Route.CREEP)
    found_in = Transition(start_block, start_block, start_s)
    return OpenSpan(
        start_block, start_s, end, end_s, level_volts, 10, 10, start_s, start_block, end, found_in, approach,
        u_volts=0.001, reported=LevelUncertainty(0.001, 0.0, None),
    )  # fmt: skip


def test_only_so_many_spans_wait_and_then_all_become_final_in_their_order() -> None:
    previous = PreviousSpans(learned())
    # Up and down, never back to a level before: nothing is retracted.
    spans = [crept_to(level, 12 * i) for i, level in enumerate((0.5, 0.9, 0.7, 1.4, 1.1, 2.0))]
    emitted = [previous.add_ended(span) for span in spans]
    assert [len(events) for events in emitted] == [0] * (MAX_WAITING + 1) + [MAX_WAITING + 1, 0]
    assert [event.volts for event in emitted[-2] if isinstance(event, Settled)] == [0.5, 0.9, 0.7, 1.4]
    assert [event.volts for event in previous.events_so_far() if isinstance(event, Settled)] == [1.1, 2.0]


def test_a_span_that_is_kept_makes_those_before_it_final_with_what_led_to_them() -> None:
    previous = PreviousSpans(learned())
    first, second = crept_to(0.5, 0), crept_to(0.9, 12)
    step = Step(4.4, 0.5, 0.9, 0.002, 8.0)
    previous.add_ended(first)
    second.held_events = [step]
    assert previous.emit_until(second) == [first.as_event(), step]
    assert first.status is SpanStatus.EMITTED and second.held_events == []
    assert previous.emit_until(second) == []


def test_a_new_span_at_the_level_of_the_waiting_one_lets_that_go_on() -> None:
    previous = PreviousSpans(learned())
    first, second = crept_to(0.500, 0), crept_to(0.504, 12)
    previous.add_ended(first)
    joined = previous.rejoin(second)
    assert joined is first and previous.newest is None
    assert (joined.level_volts, joined.count, joined.end_block) == (pytest.approx(0.502), 20, 22)


def test_a_span_at_another_level_does_not_join() -> None:
    previous = PreviousSpans(learned())
    previous.add_ended(crept_to(0.5, 0))
    assert previous.rejoin(crept_to(0.6, 12)) is None


def test_the_way_to_a_span_is_rewritten_when_more_becomes_certain() -> None:
    crept = Approach(Route.CREEP, Rise.GRADUAL, is_blunt=True)
    assert crept.has_crept and crept.is_raised and crept.is_uncertain_rise
    stepped = crept.with_step()
    assert stepped.route is Route.CREEP_THEN_STEP and stepped.has_crept
    assert Approach(Route.EVENT).with_step().route is Route.EVENT
    merged = stepped.merged(is_first=False)
    assert (merged.route, merged.is_raised, merged.is_uncertain_rise) == (Route.EVENT, False, True)
    assert crept.merged(is_first=True).route is Route.FIRST
