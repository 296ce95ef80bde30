"""Labels of the trace: few rows at vertical lines, and a motion is labelled only where its peak is in sight."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtWidgets import QApplication

from gui.trace.labels import MAX_STACKED, Labels
from gui.trace.trace_marks import Scale, label_motion
from logger.settling.events import Motion
from logger.visit.trace import Placed, Polyline

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
    assert count.lines == (f"+{15 - placed}",)
    assert max(label.box.bottom() for label in labels.placed) < 0.25 * BOX.height()


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


def test_a_peak_at_the_edge_has_no_label_over_what_is_beside_it() -> None:
    assert motion_labels(0.0, 12.5, is_open=True) == []
