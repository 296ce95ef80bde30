"""What the picture of the trace asks the log for, and how one moves in it."""

from __future__ import annotations

from collections.abc import Callable
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from PySide6.QtGui import QColor

from gui.dev.demo import DemoRecorder
from gui.model.wording import day_and_time
from gui.trace.time_window import FIRST_SPAN_S, SPANS_S
from gui.trace.trace_canvas import EMPTY_TOP_VOLTS
from gui.trace.trace_plot import TracePlot
from gui.widgets.theme import BLUISH_GREEN, REDDISH_PURPLE, VERMILLION
from logger.clock import NS_PER_S, ManualClock
from logger.settling.events import Gap, Motion, Settled, Step
from logger.visit import VisitLog
from tests.support.drawn_text import drawn_texts
from tests.support.window_driver import Driver


@pytest.fixture
def demo(record: Callable[[], DemoRecorder]) -> DemoRecorder:
    demo = record()
    demo.still(0.27, 200)
    demo.still(0.44, 100)
    demo.move(0.44, 1.6, 5)
    demo.still(0.44, 40)
    return demo


@pytest.fixture
def driver(demo: DemoRecorder, open_window: Callable[[], Driver]) -> Driver:
    return open_window()


def colours_in(plot: TracePlot) -> set[str]:
    image = plot.grab().toImage()
    return {
        QColor(image.pixel(x, y)).name().upper()
        for x in range(image.width())
        for y in range(0, image.height(), 2)
    }


def test_follows_the_newest_value(driver: Driver, demo: DemoRecorder) -> None:
    trace = driver.window.trace
    before = trace.window_s()
    demo.still(0.44, 10)
    driver.window.refresh()
    after = trace.window_s()
    assert after[1] - before[1] == pytest.approx(10.0)
    assert after[1] >= driver.window.controller.snapshot.trace.end_s
    assert trace.view.viewRange()[0] == pytest.approx(after)


def test_spans_by_one_key(driver: Driver) -> None:
    trace = driver.window.trace
    assert trace.span_s == 120.0
    seen = []
    for _ in SPANS_S:
        driver.do("trace.next_stretch")
        seen.append(trace.span_s)
    assert seen == [600.0, None, 30.0, 120.0]


def test_looking_back_stays_where_it_is_until_asked_to_follow(driver: Driver, demo: DemoRecorder) -> None:
    trace = driver.window.trace
    driver.do("trace.pan_back")
    back = trace.window_s()
    assert not trace.following
    demo.still(0.44, 10)
    driver.window.refresh()
    assert trace.window_s() == pytest.approx(back)
    driver.do("trace.go_live")
    assert trace.following and trace.window_s()[1] > back[1]


def test_a_new_recording_is_followed_whatever_was_looked_at_before(
    driver: Driver, demo: DemoRecorder, record: Callable[[], DemoRecorder]
) -> None:
    trace = driver.window.trace
    trace.show_stretch(20.0, 30.0)
    demo.still(0.44, 5)
    driver.window.refresh()
    assert not trace.following and trace.span_s == 10.0, "the same recording goes on"
    demo.end()
    driver.window.refresh()
    assert not trace.following, "an ended recording is looked at in peace"
    record().still(0.3, 20)
    driver.window.refresh()
    assert trace.following and trace.span_s == FIRST_SPAN_S


def test_panning_stops_at_both_ends(driver: Driver) -> None:
    trace = driver.window.trace
    driver.do(*["trace.pan_back"] * 50)
    assert trace.window_s()[1] > 0, "part of the trace stays in sight"
    driver.do(*["trace.pan_forward"] * 50)
    assert trace.following


def test_zoom_is_bounded(driver: Driver) -> None:
    trace = driver.window.trace
    driver.do(*["trace.zoom_in"] * 30)
    start_s, end_s = trace.window_s()
    assert end_s - start_s == pytest.approx(1.0)
    driver.do(*["trace.zoom_out"] * 30)
    assert trace.span_s is None


def test_settled_level_step_and_motion_are_in_the_picture(driver: Driver) -> None:
    seen = colours_in(driver.window.trace)
    assert BLUISH_GREEN.upper() in seen, "the filled bar of a settled span"
    assert REDDISH_PURPLE.upper() not in seen, "the step is further back"
    assert VERMILLION.upper() in seen, "the label of the motion"
    driver.do("trace.next_stretch")
    assert REDDISH_PURPLE.upper() in colours_in(driver.window.trace)


def test_events_are_where_the_samples_are(driver: Driver) -> None:
    snapshot = driver.window.controller.snapshot
    (step,) = snapshot.events.between(Step, 0, 400)
    points = snapshot.trace.polyline(step.start_s + 1, step.start_s + 5, 1000)
    assert step.event.after_volts == pytest.approx(float(np.median(points.volts)), abs=0.01)
    (motion,) = snapshot.events.between(Motion, 0, 400)
    inside = snapshot.trace.polyline(motion.start_s, motion.end_s, 1000)
    assert motion.event.peak_volts == pytest.approx(float(inside.volts.max()), abs=0.01)


def test_readings_have_labels_before_steps_and_steps_with_a_label_before_the_others(
    demo: DemoRecorder, log: VisitLog, open_window: Callable[[], Driver]
) -> None:
    bed, lamp = log.spots.add("Bed"), log.circuits.add("cord", "Lamp")
    for at, volts in enumerate((0.9, 0.44, 0.9, 0.44, 0.9)):
        demo.still(volts, 12)
        if at in (0, 2):
            log.readings.take(bed.id, f"condition {at}")
    driver = open_window()
    steps = [placed.event for placed in driver.window.controller.snapshot.events_between(Step, 0.0, 1e4)]
    named, live = steps[-5], log.recorder.live()
    assert isinstance(named, Step) and live is not None
    log.step_labels.add(live.run_id, named, None, "on", lamp.id)
    driver.window.controller.refresh(force=True)
    trace = driver.window.trace
    trace.show_all()
    scale = trace.before.scale_in_sight
    assert scale is not None
    texts = [" ".join(label.lines) for label in trace.overlay.labels_at(scale).placed]
    assert texts[:2] == ["▼ Bed"] * 2 and "Lamp on" in texts[2]
    assert any("V" in text for text in texts[3:])


def test_a_run_of_an_earlier_day_is_parted_from_the_later_one_before_it_by_both_dates(
    demo: DemoRecorder,
    clock: ManualClock,
    record: Callable[[], DemoRecorder],
    open_window: Callable[[], Driver],
) -> None:
    demo.close()
    zone = ZoneInfo("Europe/Vienna")
    last = day_and_time(clock.utc_ns(), zone)
    clock.set_utc_ns(clock.utc_ns() - 40 * 3600 * NS_PER_S)
    first = day_and_time(clock.utc_ns(), zone)
    record().still(0.3, 60)
    trace = open_window().window.trace
    trace.show_all()
    scale = trace.before.scale_in_sight
    assert scale is not None
    jump = [
        label
        for label in trace.overlay.labels_at(scale).placed
        if label.lines[0].startswith(("to ", "from "))
    ]
    assert [label.lines for label in jump] == [(f"to {last}",), (f"from {first}",)]
    assert all(label.box.top() < scale.box.center().y() for label in jump), "the curve stays in sight"


def test_the_span_that_goes_on_is_in_sight_too(driver: Driver) -> None:
    snapshot = driver.window.controller.snapshot
    assert any(isinstance(placed.event, Settled) for placed in snapshot.open_events)
    newest = max(placed.end_s for placed in snapshot.open_events)
    assert newest == pytest.approx(snapshot.trace.end_s, abs=1.0)


def test_a_gap_is_not_bridged(driver: Driver, demo: DemoRecorder) -> None:
    demo.silence(10)
    demo.still(0.44, 5)
    driver.window.refresh()
    snapshot = driver.window.controller.snapshot
    (gap,) = snapshot.events.between(Gap, 0, 1e6)
    points = snapshot.trace.polyline(gap.start_s - 5, gap.end_s + 5, 1000)
    steps_s = np.diff(points.times_s)
    assert (steps_s > 5).sum() == 1, "there is one gap in the stretch"
    assert (steps_s < 1).sum() > 10, "and there are values on both sides"
    assert not points.joined[:-1][steps_s > 5].any() and points.joined[:-1][steps_s < 1].all()


def test_height_fits_the_still_levels_on_request(driver: Driver) -> None:
    trace = driver.window.trace
    top_volts = trace.view.viewRange()[1][1]
    assert top_volts >= 1.6
    driver.do("trace.fit")
    assert 0.44 < trace.view.viewRange()[1][1] < 1.0
    driver.do("trace.fit")
    assert trace.view.viewRange()[1][1] >= 1.6


def test_the_number_of_points_does_not_grow_with_the_log(
    log: VisitLog, record: Callable[[], DemoRecorder], open_window: Callable[[], Driver]
) -> None:
    demo = record()
    demo.still(0.27, 6000)
    driver = open_window()
    driver.do("trace.next_stretch", "trace.next_stretch")
    assert driver.window.trace.span_s is None
    assert len(driver.window.controller.snapshot.trace) == 30_000
    assert len(driver.window.trace.curve.getData()[0]) <= 3.2 * driver.window.trace.view.width()


def texts_in(driver: Driver) -> set[str]:
    """Every text that is drawn in the window's trace."""
    return {drawn.text for drawn in drawn_texts(driver.window.trace)}


def test_an_empty_visit_and_one_without_a_value_are_drawn(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder]
) -> None:
    driver = open_window()
    trace = driver.window.trace
    empty = "The trace appears here with the first value."
    assert trace.header.text == "", "nothing is in sight"
    assert empty in texts_in(driver) and trace.view.viewRange()[1] == [0.0, EMPTY_TOP_VOLTS]
    demo = record()
    demo.lines(b"OL", b"OL", b"OL")
    driver.window.refresh()
    assert empty in texts_in(driver)
    demo.still(0.3, 10)
    driver.window.refresh()
    driver.do("trace.next_stretch", "trace.pan_back", "trace.zoom_in", "trace.fit")
    assert empty not in texts_in(driver) and len(trace.curve.getData()[0]) > 10
