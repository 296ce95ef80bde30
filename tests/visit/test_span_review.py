"""Whether what a value rests on still stands: by events made by hand, and end to end through a recorder."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import inf

import pytest

from gui.dev.demo import DemoRecorder
from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.frozen_value import MIN_FROZEN_S
from logger.report.export.tables.readings import READINGS
from logger.settling.events import Event, Gap, Motion, Overload, Settled, Step
from logger.visit import Reading, VisitLog
from logger.visit.records.reading_records import Span
from logger.visit.results.span_review import SpanReview, SpanUnderReview, decided_until_s, why_in_doubt

TAKEN = SpanUnderReview(run_id=1, start_s=20.0, end_s=30.0, volts=0.4, u_volts=0.001, samples=50)


def settled(start_s: float, end_s: float, volts: float = 0.4) -> Settled:
    return Settled(start_s, end_s, volts, 0.001, start_s + 3.0, round(5 * (end_s - start_s)))


def said(events: list[Event], stretch: SpanUnderReview = TAKEN) -> str:
    return why_in_doubt(stretch, events, decided_until_s(events))


@pytest.mark.parametrize("span", [settled(20.0, 60.0), settled(5.0, 31.0), settled(20.4, 31.0)])
def test_a_stretch_within_a_final_span_stands(span: Settled) -> None:
    assert said([span, Motion(span.end_s, 64.0, 2.0, 64.0)]) == ""


def test_what_was_found_instead_is_named() -> None:
    motion = Motion(18.0, 33.0, 0.9, 40.0)
    assert "found motion within the 10 s" in said([settled(0.0, 18.0), motion])
    step = Step(25.0, 0.3, 0.5, 0.01, 40.0)
    halves: list[Event] = [settled(20.0, 25.0), step, settled(25.0, 50.0)]
    assert "found a step within" in said(halves)
    assert "motion and a step" in said([settled(0.0, 18.0), motion, step])
    assert "8 s of the 10 s it rests on were not steady" in said([settled(28.0, 50.0, 0.42)]), (
        "a drift, told by nothing"
    )
    assert "a gap" in said([settled(20.0, 24.0), Gap(24.0, 40.0, 40.0)])


def test_only_what_the_detector_itself_leaves_out_is_allowed() -> None:
    end = Motion(31.0, 33.0, 0.9, 40.0)
    assert said([settled(22.4, 31.0, 0.42), end]) == ""
    assert "that 2.6 s of" in said([settled(22.6, 31.0, 0.42), end])
    long = SpanUnderReview(1, 0.0, 100.0, 0.4, 0.001, 500)
    assert said([settled(2.3, 101.0, 0.42)], long) == ""
    assert "that 2.6 s of" in said([settled(2.6, 101.0, 0.42)], long)
    slow = SpanUnderReview(1, 0.0, 100.0, 0.4, 0.001, 100)
    assert said([settled(11.9, 101.0, 0.42)], slow) == "", "a meter of one value a second"


def test_a_beginning_that_was_left_out_does_not_matter_where_the_value_is_the_same() -> None:
    assert said([settled(28.0, 50.0, 0.404)]) == ""
    assert "not steady" in said([settled(28.0, 50.0, 0.406)])
    assert "motion" in said([Motion(19.0, 28.0, 0.9, 32.0), settled(28.0, 50.0, 0.4)]), "whatever the value"


def test_nothing_is_said_before_it_is_decided() -> None:
    before: list[Event] = [settled(0.0, 15.0), Motion(15.0, 20.0, 0.9, 24.0)]
    assert said(before) == ""
    # An overload is told at once, before the span that led to it.
    assert said([*before, Overload(40.0, 50.0, 40.0)]) == ""
    assert why_in_doubt(TAKEN, before, inf) != "", "the run is over: no more will come"


@pytest.fixture
def demo(log: VisitLog, clock: ManualClock) -> Iterator[DemoRecorder]:
    demo = DemoRecorder(log, clock)
    yield demo
    demo.close()


def raised_pause(log: VisitLog, demo: DemoRecorder, take: Callable[[], Reading | Span]) -> Reading | Span:
    """Still, then an arm is raised slowly, held for about 6 s and lowered; a value is taken while it is held."""
    demo.still(0.4, 40)
    demo.approach(0.4, 0.7, 5)
    for _ in range(40):
        demo.still(0.7, 0.2)
        live = log.recorder.live()
        assert live is not None
        if not log.current_value.why_not_settled() and live.volts is not None and live.volts > 0.6:
            value = take()
            demo.approach(0.7, 0.4, 1)
            return value
    raise AssertionError("never called settled")


def standing(log: VisitLog) -> SpanReview:
    return SpanReview.of_log(log.events.after(), log.notices.after(), log.recorder.live())


def test_a_reading_whose_span_is_withdrawn(log: VisitLog, demo: DemoRecorder) -> None:
    spot = log.spots.add("Bed")
    reading = raised_pause(log, demo, lambda: log.readings.take(spot.id, "everything on"))
    assert isinstance(reading, Reading) and reading.volts == pytest.approx(0.7, abs=0.02)
    assert standing(log).of_reading(reading) == "", "not known yet"
    demo.still(0.4, 30)
    assert "motion within the" in standing(log).of_reading(reading)
    assert log.readings.all() == [reading], "it stays as it was recorded"


def test_a_check_value_whose_span_is_withdrawn_and_one_that_stands(log: VisitLog, demo: DemoRecorder) -> None:
    span = raised_pause(log, demo, log.current_value.settled_span)
    assert isinstance(span, Span)
    demo.still(0.4, 30)
    good = log.current_value.settled_span()
    demo.move(0.4, 2.0, 5)
    demo.still(0.4, 30)
    now = standing(log)
    assert "motion" in now.of_span(span) and now.of_span(good) == ""


def test_the_end_of_the_run_decides(log: VisitLog, demo: DemoRecorder, clock: ManualClock) -> None:
    spot = log.spots.add("Bed")
    reading = raised_pause(log, demo, lambda: log.readings.take(spot.id, "everything on"))
    assert isinstance(reading, Reading)
    demo.still(0.4, 6)
    as_it_goes = standing(log)
    assert as_it_goes.of_reading(reading) == ""
    demo.recorder.end("stopped")
    as_it_goes.append(log.events.after())
    as_it_goes.follow(log.recorder.live())
    assert "motion" in as_it_goes.of_reading(reading), "an answer that was not known is not kept"
    demo.close()
    clock.advance_ns(60 * NS_PER_S)
    next_run = DemoRecorder(log, clock)
    next_run.still(0.4, 20)
    assert "motion" in standing(log).of_reading(reading)
    next_run.close()


def test_values_that_never_claimed_to_be_settled(log: VisitLog, demo: DemoRecorder) -> None:
    spot = log.spots.add("Bed")
    by_hand = log.readings.enter(spot.id, "everything on", 0.4, 0.01)
    demo.still(0.4, 20)
    demo.move(0.4, 2.0, 3)
    with pytest.raises(StillvoltError):
        log.readings.take(spot.id, "everything on")
    override = log.readings.take(spot.id, "everything on", override=True)
    demo.still(0.4, 30)
    demo.recorder.end("stopped")
    assert override.taken == "override"
    assert standing(log).of_reading(by_hand) == standing(log).of_reading(override) == ""


def test_a_span_that_is_still_open_is_no_doubt(log: VisitLog, demo: DemoRecorder) -> None:
    spot = log.spots.add("Bed")
    demo.move(0.4, 2.0, 5)
    demo.still(0.4, 20)
    reading = log.readings.take(spot.id, "everything on")
    demo.still(0.4, 2)
    live = log.recorder.live()
    assert live is not None and live.growing_span is not None
    assert standing(log).of_reading(reading) == log.checks.doubts().get(0, "") == ""
    (row,) = READINGS.frame(log).to_dict("records")
    assert row["doubt"] == "", "an export while it is recorded"


def test_a_reading_on_a_display_that_proves_frozen_is_in_doubt_at_once_with_the_cause(
    log: VisitLog, demo: DemoRecorder
) -> None:
    spot = log.spots.add("Bed")
    demo.still(0.4, 30)
    good = log.readings.take(spot.id, "everything on")
    demo.move(0.4, 2.0, 5)
    frozen_s = 0.0
    while log.current_value.why_not_settled():
        demo.still(0.4, 1, noise_volts=0.0)
        frozen_s += 1
    reading = log.readings.take(spot.id, "everything on")
    as_it_goes = standing(log)
    assert as_it_goes.of_reading(reading) == ""
    demo.still(0.4, MIN_FROZEN_S + 1 - frozen_s, noise_volts=0.0)
    live = log.recorder.live()
    assert live is not None and live.frozen and not live.ended, "the recording goes on"
    assert live.growing_span is None, "what was measured before the display froze does not go on"
    override = log.readings.take(log.spots.add("Sofa").id, "everything on", override=True)
    as_it_goes.append_notices(log.notices.after())
    as_it_goes.follow(live)
    cause = "The display did not change for more than 60 s while this was read: the meter may be on HOLD."
    assert as_it_goes.of_reading(reading) == standing(log).of_reading(reading) == cause
    assert standing(log).of_reading(override) == cause, "it is no measurement either"
    assert standing(log).of_reading(good) == ""
    rows = READINGS.frame(log).to_dict("records")
    assert [row["doubt"] for row in rows] == ["", cause, cause]
    demo.still(0.4, 9, noise_volts=0.0)
    demo.still(0.41, 40)
    for_s = round(MIN_FROZEN_S + 10)
    ended = f"did not change for {for_s} s while this was read: the meter may be on HOLD."
    assert standing(log).of_reading(reading).endswith(ended)
    demo.recorder.end("stopped")
    assert standing(log).of_reading(reading).endswith(ended), "the cause comes before what the detector found"
    assert standing(log).of_reading(good) == ""
