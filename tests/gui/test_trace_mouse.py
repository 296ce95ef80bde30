"""What mouse and keyboard do on the live trace, and what it writes and says of itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations
from pathlib import Path

import numpy as np
import pyqtgraph as pg
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QImage, QMouseEvent, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from gui.dev.demo import DemoRecorder, evening
from gui.model.visit_controller import VisitController
from gui.model.wording import date_text, duration_text, value_text
from gui.trace.trace_plot import TracePlot
from gui.trace.trace_view_box import ZOOM_PER_NOTCH
from gui.widgets import theme
from gui.widgets.appearance import Appearance
from gui.widgets.theme import Sizes
from logger.clock import NS_PER_S, ManualClock
from logger.errors import StillvoltError
from logger.settling.events import Motion, Settled
from logger.visit import VisitLog
from logger.visit.storage.time_zone import local_time

SMALL_TEXT = 15
"""Pixels: the least height of a text, as on the smallest screen."""


class Hand:
    """A mouse on a trace, moved by shares of the picture."""

    def __init__(self, trace: TracePlot) -> None:
        self.trace = trace
        self.viewport = trace.plot.viewport()

    def at(self, across: float, up: float = 0.5) -> QPoint:
        box = self.trace.view.sceneBoundingRect()
        return QPoint(round(box.left() + across * box.width()), round(box.bottom() - up * box.height()))

    def axis_at(self, across: float) -> QPoint:
        return self.at(across) + QPoint(0, round(0.5 * self.trace.view.height()) + 8)

    def time_s(self, place: QPoint) -> float:
        return float(self.trace.view.mapSceneToView(QPointF(place)).x())

    def drag(
        self, start: QPoint, end: QPoint, held: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier
    ) -> None:
        left, none = Qt.MouseButton.LeftButton, Qt.MouseButton.NoButton
        steps = [(QEvent.Type.MouseButtonPress, start, left, left)]
        for share in (0.3, 0.6, 1.0):
            steps.append((QEvent.Type.MouseMove, start + (end - start) * share, none, left))
        steps.append((QEvent.Type.MouseButtonRelease, end, left, none))
        for kind, place, button, down in steps:
            at, on_screen = QPointF(place), QPointF(self.viewport.mapToGlobal(place))
            QApplication.sendEvent(self.viewport, QMouseEvent(kind, at, on_screen, button, down, held))
        QApplication.processEvents()

    def point(self, place: QPoint) -> None:
        # To the trace itself, whatever window of another test lies over it on the screen.
        at, on_screen, none = (
            QPointF(place),
            QPointF(self.viewport.mapToGlobal(place)),
            Qt.MouseButton.NoButton,
        )
        move = QMouseEvent(QEvent.Type.MouseMove, at, on_screen, none, none, Qt.KeyboardModifier.NoModifier)
        QApplication.sendEvent(self.viewport, move)
        QApplication.processEvents()

    def wheel(self, place: QPoint, notches: int) -> None:
        event = QWheelEvent(
            QPointF(place), QPointF(self.viewport.mapToGlobal(place)), QPoint(), QPoint(0, 120 * notches),
            Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
        )  # fmt: skip
        QApplication.sendEvent(self.viewport, event)


@pytest.fixture
def demo(log: VisitLog, clock: ManualClock) -> Iterator[DemoRecorder]:
    demo = evening(log, clock)
    yield demo
    demo.close()


@pytest.fixture
def make(log: VisitLog, clock: ManualClock, qtbot: QtBot) -> Callable[..., TracePlot]:
    """Shows the trace of the visit, at a size and a size of text."""

    def shown(width: int = 700, height: int = 400, small: int = SMALL_TEXT) -> TracePlot:
        controller = VisitController(log, clock)
        controller.refresh()
        sizes = Sizes(small, small + 2, 2 * small, 5 * small)
        trace = TracePlot(controller, Appearance(theme.LIGHT, sizes))
        qtbot.addWidget(trace)
        trace.resize(width, height)
        with qtbot.waitExposed(trace):
            trace.show()
        QApplication.processEvents()
        trace.refresh()
        return trace

    return shown


@pytest.fixture
def trace(demo: DemoRecorder, make: Callable[..., TracePlot]) -> TracePlot:
    del demo
    return make()


@pytest.fixture
def hand(trace: TracePlot, monkeypatch: pytest.MonkeyPatch) -> Hand:
    # A quick computer sends the moves of a drag closer together than the scene takes them.
    monkeypatch.setitem(pg.CONFIG_OPTIONS, "mouseRateLimit", 0)
    return Hand(trace)


def pixels_of_curve(trace: TracePlot) -> np.ndarray:
    """Points of the curve close together, shape (n, 2): worked out apart from the trace's own reckoning."""
    times_s, volts = trace.curve.getData()
    joined = trace.curve.opts["connect"]
    (left_s, right_s), (_, top) = trace.view.viewRange()
    box = trace.view.rect()
    x = (times_s - left_s) / (right_s - left_s) * box.width()
    y = box.height() - volts / top * box.height()
    share = np.linspace(0, 1, 40)[:, None]
    ends = np.flatnonzero(joined[:-1])
    along_x = x[ends] + share * (x[ends + 1] - x[ends])
    along_y = y[ends] + share * (y[ends + 1] - y[ends])
    return np.column_stack((along_x.ravel(), along_y.ravel()))


def covers(box: QRectF, points: np.ndarray) -> bool:
    inside = (points[:, 0] > box.left()) & (points[:, 0] < box.right())
    return bool((inside & (points[:, 1] > box.top()) & (points[:, 1] < box.bottom())).any())


@pytest.mark.parametrize("small", [SMALL_TEXT, round(1.5 * SMALL_TEXT)])
@pytest.mark.parametrize("size", [(430, 330), (660, 480), (1000, 800)])
def test_no_label_covers_the_curve_or_another(
    demo: DemoRecorder, make: Callable[..., TracePlot], size: tuple[int, int], small: int
) -> None:
    del demo
    trace = make(*size, small)
    hand = Hand(trace)
    labelled = 0
    for start_s, end_s in ((0, 190), (30, 90), (100, 130), (150, 190)):
        trace.show_stretch(start_s, end_s)
        trace.select(start_s + 10, start_s + 25)
        points = pixels_of_curve(trace)
        scale = trace.before.scale_in_sight
        assert scale is not None
        boxes = [label.box for label in trace.overlay.labels_at(scale).placed]
        labelled += len(boxes)
        for across in (0.1, 0.5, 0.9):
            hand.point(hand.at(across, 0.3))
            readout = trace.overlay.readout_box
            if not trace.pointer.isVisible():
                assert hand.time_s(hand.at(across)) > trace.controller.snapshot.now_s
            elif readout is None:
                assert trace.header.text == ", ".join(trace.pointer.lines)
            else:
                assert scale.box.contains(readout) and not covers(readout, points)
        assert not any(one.intersects(other) for one, other in combinations(boxes, 2))
        assert not any(covers(box, points) for box in boxes)
        assert all(scale.box.contains(box) for box in boxes)
    assert labelled >= 12


def test_the_readout_gives_time_value_and_state(hand: Hand) -> None:
    trace = hand.trace
    (motion, *_) = trace.controller.snapshot.events_between(Motion, 100, 190)
    trace.show_stretch(motion.start_s - 20, motion.end_s + 20)
    hand.point(hand.at(0.1))
    value, when = trace.pointer.lines[:2]
    assert trace.pointer.isVisible() and value.endswith("V, settled")
    assert "UTC" not in when and when.count(":") == 2, "the zone of this computer goes without saying"
    hand.point(hand.at(0.5))
    assert trace.pointer.lines[0].endswith("V, changing")
    QApplication.sendEvent(hand.viewport, QEvent(QEvent.Type.Leave))
    assert not trace.pointer.isVisible() and trace.overlay.readout_box is None


def test_dragging_on_the_time_axis_selects_a_still_stretch_with_the_detectors_value(hand: Hand) -> None:
    trace = hand.trace
    snapshot = trace.controller.snapshot
    span = snapshot.events_between(Settled, 130, 140)[0]
    assert isinstance(span.event, Settled)
    trace.show_stretch(span.start_s - 20, span.end_s + 20)
    width_s = span.end_s - span.start_s + 40
    # A few pixels beside the ends, which are taken to be meant.
    before, after = hand.axis_at(22 / width_s), hand.axis_at((width_s - 22) / width_s)
    assert hand.time_s(before) != pytest.approx(span.start_s, abs=1e-3)
    trace_before = trace.window_s()
    hand.drag(
        hand.axis_at(20 / width_s) + QPoint(5, 0), hand.axis_at((width_s - 20) / width_s) - QPoint(5, 0)
    )
    assert trace.window_s() == trace_before, "selecting does not pan"
    assert trace.selection.bounds_s == pytest.approx((span.start_s, span.end_s))
    value = trace.selection.value
    assert value is not None and value.budget is not None and value.mean_volts == span.event.volts
    assert trace.selection.lines()[1] == value_text(span.event.volts, value.budget.u_volts)
    hand.drag(before + QPoint(20, 0), after)
    assert trace.selection.value != value


def test_shift_selects_a_stretch_that_moved_and_gives_it_no_uncertainty(hand: Hand) -> None:
    trace = hand.trace
    trace.show_all()
    hand.drag(hand.at(0.2), hand.at(0.9), Qt.KeyboardModifier.ShiftModifier)
    assert trace.selection.bounds_s is not None
    state, value = trace.selection.lines()
    assert state.endswith("not settled") and value.startswith("mean ") and "±" not in trace.selection_text()
    QTest.mouseClick(hand.viewport, Qt.MouseButton.LeftButton, pos=hand.at(0.5))
    assert trace.selection.bounds_s is not None, "a click inside keeps it"
    QTest.qWait(QApplication.doubleClickInterval() // 100)
    trace.input._clicked(hand.time_s(hand.at(0.02)))
    assert trace.selection.bounds_s is None and trace.why_not_clear_selection()


def test_the_wheel_zooms_at_the_pointer(hand: Hand) -> None:
    trace = hand.trace
    place = hand.at(0.3)
    at_s, length_s = hand.time_s(place), trace.time_window.length_s
    hand.wheel(place, 2)
    assert trace.time_window.length_s == pytest.approx(length_s / ZOOM_PER_NOTCH**2)
    assert hand.time_s(place) == pytest.approx(at_s, abs=0.02)
    assert not trace.following
    for _ in range(20):
        hand.wheel(place, -1)
    all_s = trace.controller.snapshot.now_s
    assert trace.window_s()[0] <= 0.01 * all_s and trace.following, "all of it is in sight"
    recorded = duration_text(trace.controller.snapshot.run_length_s)
    assert trace.header.text == f"Live: all {recorded}", "as in the stage list: one length on one screen"
    assert trace.header._label.accessibleName() == "Live trace", "the seconds are no news to a screen reader"


def test_dragging_pans_and_a_double_click_fits_and_goes_back(hand: Hand) -> None:
    trace = hand.trace
    held_s = hand.time_s(hand.at(0.3))
    hand.drag(hand.at(0.3), hand.at(0.5))
    assert hand.time_s(hand.at(0.5)) == pytest.approx(held_s, abs=0.5)
    panned = trace.window_s()
    assert not trace.following
    QTest.mouseDClick(hand.viewport, Qt.MouseButton.LeftButton, pos=hand.at(0.5))
    trace.view.double_clicked.emit()
    assert trace.span_s is None
    trace.fit()
    trace.whole_s = lambda: (10.0, 40.0)  # as on the stage of the night
    trace.view.double_clicked.emit()
    assert trace.window_s() == pytest.approx((10.0, 40.0)) and not trace.following
    trace.fit()
    trace.whole_s = lambda: None
    assert trace.window_s() == pytest.approx(panned)


def test_go_live_is_in_sight_while_the_trace_is_paused(
    demo: DemoRecorder, make: Callable[..., TracePlot], zone: Callable[[str], None]
) -> None:
    zone("Europe/Vienna")
    for width, small in ((700, SMALL_TEXT), (430, round(1.5 * SMALL_TEXT))):
        trace = make(width, 330, small)
        header = trace.header
        assert not header.button.isVisible() and header.text.startswith("Live") and trace.why_not_go_live()
        height = trace.plot.height()
        trace.pan_back()
        QApplication.processEvents()
        assert header.button.isVisible() and header.text.startswith("Paused") and header.shows_whole_text
        assert header.rect().contains(header.button.geometry()) and header.button.accessibleDescription()
        zone("UTC")
        trace.show_header()
        QApplication.processEvents()
        for part in (header.zone_label, header.button):
            assert header.rect().contains(part.geometry()) and part.width() >= part.sizeHint().width()
        zone("Europe/Vienna")
        trace.show_header()
        assert trace.plot.height() == height, "nothing moves"
        demo.still(0.3, 5)
        trace.controller.refresh()
        trace.refresh()
        QTest.mouseClick(header.button, Qt.MouseButton.LeftButton)
        assert trace.following and not header.button.isVisible()


def test_the_right_button_asks_for_the_menu_of_what_is_under_it(hand: Hand) -> None:
    trace = hand.trace
    asked: list[tuple[float, float, QPoint]] = []
    trace.stretch_menu_requested.connect(lambda *what: asked.append(what))
    span = trace.controller.snapshot.events_between(Settled, 130, 140)[0]
    trace.show_stretch(span.start_s - 5, span.end_s + 5)
    QTest.mouseClick(hand.viewport, Qt.MouseButton.RightButton, pos=hand.at(0.5))
    assert asked[-1][:2] == pytest.approx((span.start_s, span.end_s))
    assert (asked[-1][2] - hand.viewport.mapToGlobal(hand.at(0.5))).manhattanLength() <= 2
    trace.select(span.start_s + 2, span.end_s - 2)
    QTest.mouseClick(hand.viewport, Qt.MouseButton.RightButton, pos=hand.at(0.45))
    assert asked[-1][:2] == pytest.approx((span.start_s + 2, span.end_s - 2))


def test_the_keyboard_moves_the_readout_and_selects(trace: TracePlot) -> None:
    trace.show_stretch(130, 150)
    trace.setFocus()
    QTest.keyClick(trace, Qt.Key.Key_Right)
    assert trace.pointer.isVisible()
    for _ in range(6):
        QTest.keyClick(trace, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    bounds_s = trace.selection.bounds_s
    assert bounds_s is not None
    pixels = (bounds_s[1] - bounds_s[0]) / 20 * trace.view.width()
    assert pixels == pytest.approx(6 * 4, abs=1)
    QTest.keyClick(trace, Qt.Key.Key_Left, Qt.KeyboardModifier.ShiftModifier)
    assert trace.selection.bounds_s == pytest.approx((bounds_s[0], bounds_s[1] - 4 * 20 / trace.view.width()))
    QTest.keyClick(trace, Qt.Key.Key_Escape)
    assert trace.selection.bounds_s is None


def test_words_for_a_screen_reader_come_at_most_once_a_second_and_with_each_look_elsewhere(
    trace: TracePlot, clock: ManualClock, demo: DemoRecorder
) -> None:
    assert trace.accessibleName()
    first = trace.accessibleDescription()
    assert "settled, 0.27 volts" in first and "Live: last 2 min" in first
    demo.move(0.4, 2.0, 0.3)
    trace.controller.refresh(force=True)
    trace.refresh()
    assert trace.accessibleDescription() == first
    clock.advance_ns(NS_PER_S)
    trace.refresh()
    assert trace.accessibleDescription() != first
    trace.pan_back()
    assert trace.header.text == "Paused: 2 min in sight"
    assert trace.header.text in trace.accessibleDescription(), "at once: no later news may come"


@pytest.mark.parametrize("suffix", [".png", ".svg"])
def test_a_picture_is_whole_and_names_the_visit(trace: TracePlot, tmp_path: Path, suffix: str) -> None:
    trace.show_stretch(100, 160)
    path = tmp_path / f"picture{suffix}"
    trace.save_picture(path)
    trace.save_picture(path)  # its own picture may be replaced
    if suffix == ".png":
        image = QImage(str(path))
        assert (image.width(), image.height()) == (1600, 900)
        assert image.text("Software") == "Stillvolt"
        return
    text = path.read_text("utf-8")
    when = trace.controller.snapshot.trace.utc_ns(100)
    for part in (
        "house",
        date_text(local_time(when, trace.controller.snapshot.zone)),
        "imulated",
        "0.0 V",
        "changing",
        "0.27 V",
        "</svg>",
    ):
        assert part in text, part


def test_a_picture_is_never_written_over_what_is_not_one(trace: TracePlot, tmp_path: Path) -> None:
    visit = trace.controller.log.path
    before = visit.read_bytes()
    other = tmp_path / "other.png"
    other.write_bytes(b"not a picture of this program")
    linked = tmp_path / "linked.svg"
    linked.symlink_to(visit)
    for path in (visit, linked, other, tmp_path / "picture.gif", tmp_path / "no folder" / "picture.png"):
        with pytest.raises(StillvoltError):
            trace.save_picture(path)
    for path in (visit, linked):
        with pytest.raises(StillvoltError):
            trace.save_picture(path, replace=True)
    assert visit.read_bytes() == before
    trace.save_picture(other, replace=True)
    assert not QImage(str(other)).isNull()
