"""The value of a stretch of the trace: the detector's where it is a span, none with an uncertainty where it moved."""

from __future__ import annotations

from pathlib import Path

import pytest

from gui.dev.demo import DemoRecorder
from logger.clock import ManualClock
from logger.metrology.context import Context
from logger.settling.events import Settled
from logger.visit import VisitLog
from logger.visit.results.stretch_value import StretchState, StretchValue, stretch_value
from logger.visit.trace import EventLine, Placed, Trace

LEVEL_VOLTS = 0.27


class Recorded:
    """A visit with two still stretches and a movement between them, as a trace with its spans."""

    def __init__(self, folder: Path) -> None:
        clock = ManualClock()
        self.log = VisitLog.create(folder / "stretch.visit", clock)
        demo = DemoRecorder(self.log, clock)
        demo.still(LEVEL_VOLTS, 60)
        demo.move(LEVEL_VOLTS, 1.4, 6)
        demo.still(0.44, 40)
        demo.end()
        self.trace = Trace()
        self.trace.append(self.log.samples.after())
        events = EventLine(self.trace)
        events.append(self.log.events.after())
        self.spans: list[Placed] = list(events.between(Settled, 0.0, 1e6))

    def value(self, start_s: float, end_s: float) -> StretchValue:
        return stretch_value(self.trace, self.spans, start_s, end_s, self.context_at)

    def context_at(self, run_id: int, utc_ns: int) -> Context:
        return self.log.checks.context_at(utc_ns, run_id)


@pytest.fixture
def recorded(tmp_path: Path) -> Recorded:
    return Recorded(tmp_path)


def test_a_whole_span_has_the_value_that_the_detector_gives(recorded: Recorded) -> None:
    span = recorded.spans[0]
    assert isinstance(span.event, Settled)
    found = recorded.value(span.start_s, span.end_s)
    assert found.state is StretchState.SETTLED and found.budget is not None
    assert found.mean_volts == span.event.volts
    expected = recorded.context_at(1, recorded.trace.utc_ns(span.end_s))
    assert found.budget.u_volts >= expected.budget(span.event.volts, span.event.u_volts).u_volts * 0.999


def test_a_part_of_a_span_covers_its_level_and_is_no_better_known_than_the_whole(recorded: Recorded) -> None:
    span = recorded.spans[0]
    assert isinstance(span.event, Settled)
    whole = recorded.value(span.start_s, span.end_s)
    part = recorded.value(span.start_s + 5, span.start_s + 15)
    assert part.state is StretchState.SETTLED and part.budget is not None and whole.budget is not None
    assert part.mean_volts == pytest.approx(LEVEL_VOLTS, abs=0.01)
    assert part.mean_volts != whole.mean_volts
    assert part.budget.u_volts >= whole.budget.u_volts


def test_a_stretch_that_moved_has_a_mean_and_no_uncertainty(recorded: Recorded) -> None:
    first, second = recorded.spans
    for start_s, end_s in (
        (first.end_s - 10, second.start_s + 10),
        (first.end_s - 10, first.end_s + 1),
        (first.end_s + 0.5, second.start_s - 0.5),
    ):
        found = recorded.value(start_s, end_s)
        assert found.state is StretchState.UNSETTLED and found.budget is None
        times_s, volts = recorded.trace.samples_between(start_s, end_s)
        assert found.samples == len(times_s) > 0
        assert found.mean_volts == pytest.approx(float(volts.mean()))


def test_a_still_stretch_that_is_too_short_has_no_uncertainty(recorded: Recorded) -> None:
    start_s = recorded.spans[0].start_s + 10
    found = recorded.value(start_s, start_s + 2)
    assert found.state is StretchState.SHORT and found.budget is None


def test_a_stretch_without_a_sample_has_no_value(recorded: Recorded) -> None:
    end_s = recorded.trace.end_s
    found = recorded.value(end_s + 5, end_s + 10)
    assert found.state is StretchState.EMPTY and found.mean_volts is None and found.budget is None


def test_a_second_run_has_its_own_times_of_day(tmp_path: Path) -> None:
    clock = ManualClock()
    log = VisitLog.create(tmp_path / "runs.visit", clock)
    for _ in range(2):
        demo = DemoRecorder(log, clock)
        demo.still(LEVEL_VOLTS, 20)
        demo.end()
        clock.advance_ns(-5_000_000_000)  # the clock is set back: the second run is moved behind the first
    trace = Trace()
    samples = log.samples.after()
    trace.append(samples)
    runs = sorted(set(samples.run_id.tolist()))
    for run_id in runs:
        of_run = samples.steady_utc_ns[samples.run_id == run_id]
        at_s = trace.seconds(int(of_run[10]), run_id)
        assert trace.run_at(at_s) == run_id
        assert trace.utc_ns(at_s) == pytest.approx(int(of_run[10]), abs=1000)
