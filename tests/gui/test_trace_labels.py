"""Labels of the trace: few rows at vertical lines, and a motion is labelled only where its peak is in sight."""

from __future__ import annotations

from datetime import datetime
from types import SimpleNamespace

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QApplication

from gui.trace.labels import FROM_OTHER_LINE, MAX_STACKED, Labels
from gui.trace.trace_axes import ClockAxis, VoltsAxis
from gui.trace.trace_marks import Scale, StepLine, label_motion, paint_step_lines
from gui.trace.trace_overlay import TraceOverlay
from gui.widgets.appearance import LIGHT, Appearance
from gui.widgets.theme import Sizes
from logger.clock import NS_PER_S
from logger.settling.events import Motion, Step
from logger.visit.trace import Placed, Polyline, Trace

SMALL = 15
BOX = QRectF(0, 0, 600, 400)
MOTION = Motion(10.0, 20.0, 2.3, 20.0)


@pytest.fixture(autouse=True)
def application(qapp: QApplication) -> QApplication:
    return qapp


def test_labels_at_one_place_are_no_tower_and_the_rest_is_counted() -> None:
    labels = Labels(SMALL, BOX)
    for at in range(14):
        labels.put_along(f"step {at}", 10.0 + at, "#FFFFFF", "#000000")
    labels.put_along("alone", 400.0, "#FFFFFF", "#000000")
    rows = {label.box.top() for label in labels.placed}
    assert len(rows) <= MAX_STACKED
    placed = len(labels.placed)
    labels.put_counts("#FFFFFF", "#000000")
    (count,) = labels.placed[placed:]
    assert count.lines == (f"{15 - placed} more",)
    assert max(label.box.bottom() for label in labels.placed) < 0.25 * BOX.height()


def test_a_step_that_nobody_saw_is_drawn_over_the_hole_and_not_in_its_middle() -> None:
    """Half of a minute without lines: from 1.5 V to 0.6 V at some time of it."""
    scale = Scale(BOX, 0.0, 60.0, 2.0)
    step = Step(30.0, 1.5, 0.6, 0.01, 45.0)

    def painted(line: StepLine) -> list[int]:
        """How many rows of pixels are coloured at the start, in the middle and at the end of the hole."""
        image = QImage(600, 400, QImage.Format.Format_ARGB32)
        image.fill(0)
        painter = QPainter(image)
        paint_step_lines(painter, scale, [line])
        painter.end()
        return [sum(image.pixelColor(x, y).alpha() > 0 for y in range(400)) for x in (150, 300, 450)]

    assert painted(StepLine(step, 30.0)) == [0, 400, 0]
    start, middle, end = painted(StepLine(step, 30.0, (15.0, 45.0)))
    assert start and end and middle < 10


def test_a_label_stands_at_its_own_line_and_at_no_other() -> None:
    """Four steps, of which one is just where the label of the one before would end."""
    labels, texts = Labels(SMALL, BOX), ["+0.57 V", "+0.56 V Bedside lamp on", "−0.57 V", "−1.61 V"]
    width, _ = labels.size(texts[:1])
    lines = dict(zip(texts, (200.0, 220.0, 200.0 + width, 580.0), strict=True))
    labels.expect_lines(lines.values(), "#FFFFFF")
    for text in reversed(texts):
        labels.put_along(text, lines[text], "#FFFFFF", "#000000")
    assert len(labels.placed) == 4
    for label in labels.placed:
        own = lines[label.lines[0].replace("…", "")] if label.lines[0] in lines else lines[texts[1]]
        edges = label.box.left(), label.box.right()
        assert own in edges
        free = edges[1] if own == edges[0] else edges[0]
        assert min(abs(free - line) for line in lines.values() if line != own) >= FROM_OTHER_LINE


@pytest.mark.parametrize("height", [40, 60, 120, 400])
def test_the_words_of_the_axis_of_volts_do_not_overprint(height: int) -> None:
    axis = VoltsAxis(Appearance(LIGHT, Sizes.for_height(600)))
    marks = sorted(volts for _, values in axis.tickValues(0.0, 0.1, height)[:2] for volts in values)
    assert marks
    least = np.diff(marks).min(initial=0.1) / 0.1 * height
    assert least >= 1.2 * Sizes.for_height(600).small or len(marks) == 1


def motion_labels(start_s: float, end_s: float, *, is_open: bool = False) -> list[QRectF]:
    """The labels of a motion from 10 to 20 s with its peak at 12 s, with that stretch in sight."""
    times_s = np.arange(0.0, 14.0 if is_open else 40.0, 0.1)
    volts = 0.3 + 2.0 * np.exp(-((times_s - 12.0) ** 2))
    seen = (times_s >= start_s) & (times_s <= end_s)
    line = Polyline(times_s[seen], volts[seen], np.ones(int(seen.sum()), np.bool_))
    scale = Scale(BOX, start_s, end_s, 4.0)
    labels = Labels(SMALL, BOX, scale.envelope(line))
    label_motion(labels, scale, line, Placed(10.0, 20.0, MOTION), MOTION)
    return [label.box for label in labels.placed]


def test_a_motion_is_labelled_at_its_peak_and_not_where_the_peak_is_out_of_sight() -> None:
    (box,) = motion_labels(0.0, 40.0)
    assert box.center().x() == pytest.approx(12.0 / 40.0 * BOX.width(), abs=2)
    assert motion_labels(14.0, 40.0) == []


def test_each_run_has_its_own_times_and_a_new_day_is_named() -> None:
    """A night that was practised ends in the future, at 06:30; the run after it goes on in the evening before."""
    night, evening = datetime(2026, 11, 27, 6, 29, 0), datetime(2026, 11, 26, 21, 5, 28)

    class TwoRuns(Trace):
        def utc_ns(self, time_s: float) -> int:
            begun = night if time_s < 60.0 else evening
            return round((begun.timestamp() + time_s % 60.0) * NS_PER_S)

        def run_starts_between(self, start_s: float, end_s: float) -> list[float]:
            return [at for at in (60.0,) if start_s < at < end_s]

    trace = TwoRuns()
    trace.origin_utc_ns = trace.utc_ns(0.0)
    visit = SimpleNamespace(snapshot=SimpleNamespace(trace=trace, zone=None))
    axis = ClockAxis(visit, Appearance(LIGHT, Sizes.for_height(768)))  # type: ignore[arg-type]
    ((spacing, values),) = axis.tickValues(0.0, 120.0, 1200)
    texts = axis.tickStrings(values, 1.0, spacing)
    shown = [text for text in texts if text]
    assert "06:29:00" in texts and shown[-1].startswith("21:06")
    (day,) = [text for text in texts if text.startswith("26 Nov 21:05:")]
    assert all(texts[texts.index(day) + beside] == "" for beside in (-1, 1))
    assert all(int(text[-2:]) % spacing == 0 for text in shown), "round times also after the jump"


def test_a_peak_at_the_edge_has_no_label_over_what_is_beside_it() -> None:
    assert motion_labels(0.0, 12.5, is_open=True) == []


def test_of_a_night_the_largest_steps_are_drawn_and_the_others_are_counted() -> None:
    """Twenty steps of eight hours: the whole has room for a few; half an hour shows all."""
    steps = [Step(600.0 + 1400.0 * i, 0.5, 0.5 + 0.01 * (i + 1), 0.002, 0.0) for i in range(20)]
    placed = [Placed(step.time_s, step.time_s, step) for step in steps]

    def between(_: object, start_s: float, end_s: float) -> list[Placed]:
        return [p for p in placed if start_s <= p.start_s <= end_s]

    snapshot = SimpleNamespace(
        known_steps=list,
        events_between=between,
        events=SimpleNamespace(count=lambda *of: len(between(*of))),
    )
    overlay = TraceOverlay(snapshot, None, (None, None), Appearance(LIGHT, Sizes.for_height(768)))  # type: ignore[arg-type]

    def drawn(end_s: float) -> tuple[list[float], int]:
        scale = Scale(BOX, 0.0, end_s, 2.0)
        shown = overlay._steps_in_sight(scale, Labels(SMALL, BOX))
        return [step.start_s for step, _ in shown], len(overlay._smaller_steps_s)

    few, left_out = drawn(28800.0)
    assert placed[-1].start_s in few and few == sorted(few) and 3 <= len(few) <= 10
    assert len(few) + left_out == 20
    assert drawn(1800.0) == ([600.0], 0)
