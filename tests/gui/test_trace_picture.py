"""The still picture of what a value rests on: which stretch it asks for, what it marks, when it is painted anew."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtGui import QColor, QPaintEvent
from PySide6.QtWidgets import QApplication

from gui.dev.demo import DemoRecorder
from gui.model.visit_controller import VisitController
from gui.trace.reading_interval import MARGIN_S, ReadingInterval
from gui.trace.trace_picture import TracePicture
from gui.widgets.appearance import LIGHT, Appearance
from gui.widgets.theme import BLUISH_GREEN, REDDISH_PURPLE, VERMILLION, Sizes, _pixels_per_point, contrast
from logger.clock import ManualClock
from logger.visit import Reading, VisitLog
from logger.visit.trace import Polyline
from tests.support.drawn_text import drawn_texts
from tests.support.window_driver import Driver, raise_arm


@pytest.fixture
def demo(record: Callable[[], DemoRecorder]) -> DemoRecorder:
    return record()


@pytest.fixture
def controller(log: VisitLog, clock: ManualClock) -> VisitController:
    log.spots.add("Bed")
    log.spots.add("Desk")
    log.facts.set("condition", "everything on")
    return VisitController(log, clock)


class Counted(TracePicture):
    """Counts how often it is painted."""

    paintings = 0

    def paintEvent(self, event: QPaintEvent) -> None:
        self.paintings += 1
        super().paintEvent(event)


def taken(controller: VisitController) -> Reading:
    controller.refresh()
    reading = controller.readings.take()
    assert reading is not None, controller.message.text
    return reading


def picture_of(controller: VisitController, *readings: Reading) -> Counted:
    controller.snapshot.refresh(force=True)
    appearance = Appearance(LIGHT, Sizes.for_height(720))
    picture = Counted(controller, appearance)
    picture.set_appearance(appearance)
    picture.resize(360, 130)
    show(picture, *readings)
    return picture


def show(picture: TracePicture, *readings: Reading) -> None:
    of_all = (ReadingInterval.of_reading(picture.controller, reading, "on") for reading in readings)
    picture.show_values([rested for rested in of_all if rested is not None])


def count_of(picture: TracePicture, hue: str) -> int:
    """How many of the picture's pixels are purely of that colour."""
    image = picture.grab().toImage()
    wanted = QColor(hue).rgb()
    return sum(image.pixel(x, y) == wanted for x in range(image.width()) for y in range(image.height()))


def test_asks_for_the_stretch_and_its_margins_only(
    controller: VisitController, demo: DemoRecorder, monkeypatch: pytest.MonkeyPatch
) -> None:
    demo.still(0.5, 600)
    demo.move(0.5, 2.0, 4)
    demo.still(0.4, 40)
    reading = taken(controller)
    demo.move(0.4, 2.0, 4)
    demo.still(0.4, 600)
    picture = picture_of(controller, reading)
    asked: list[tuple[float, float, int]] = []
    trace = controller.snapshot.trace
    polyline = trace.polyline

    def noted(start_s: float, end_s: float, max_bins: int) -> Polyline:
        asked.append((start_s, end_s, max_bins))
        return polyline(start_s, end_s, max_bins)

    monkeypatch.setattr(trace, "polyline", noted)
    picture.grab()
    (rested,) = picture.intervals
    assert rested.end_s - rested.start_s == pytest.approx(40.0, abs=3.0)
    assert min(a for a, _, _ in asked) == pytest.approx(rested.start_s - MARGIN_S)
    assert max(b for _, b, _ in asked) == pytest.approx(rested.end_s + MARGIN_S)
    assert all(bins <= picture.width() for _, _, bins in asked)


def test_marks_the_stretch_motion_and_steps(controller: VisitController, demo: DemoRecorder) -> None:
    demo.still(0.4, 40)
    plain = taken(controller)
    still_only = picture_of(controller, plain)
    assert count_of(still_only, BLUISH_GREEN) > 0 and count_of(still_only, LIGHT.level) > 0
    assert count_of(still_only, VERMILLION) == count_of(still_only, REDDISH_PURPLE) == 0
    demo.move(0.4, 2.0, 6)
    demo.still(0.4, 30)
    demo.approach(0.4, 0.7, 0.6)
    demo.still(0.7, 40)
    reading = taken(controller)
    demo.move(0.7, 2.0, 6)
    demo.still(0.7, 40)
    after = picture_of(controller, reading)
    assert count_of(after, VERMILLION) > 0 and count_of(after, REDDISH_PURPLE) > 0


def test_says_values_and_names_to_a_screen_reader(controller: VisitController, demo: DemoRecorder) -> None:
    demo.still(0.4, 40)
    picture = picture_of(controller, taken(controller))
    assert picture.accessibleDescription() == "on: 0.40 V"


def test_a_value_by_hand_has_no_picture(controller: VisitController, demo: DemoRecorder) -> None:
    demo.still(0.4, 20)
    controller.refresh()
    by_hand = controller.log.readings.enter(controller.log.spots.all()[0].id, "everything on", 0.3, 0.01)
    picture = picture_of(controller, by_hand)
    assert picture.intervals == []
    picture.grab()


def test_is_painted_anew_only_when_something_in_sight_changed(
    controller: VisitController, demo: DemoRecorder
) -> None:
    demo.still(0.4, 40)
    reading = taken(controller)
    picture = picture_of(controller, reading)
    picture.show()
    QApplication.processEvents()

    def paintings_after(seconds: float) -> int:
        picture.paintings = 0
        demo.still(0.4, seconds)
        controller.snapshot.refresh(force=True)
        show(picture, reading)
        QApplication.processEvents()
        return picture.paintings

    assert paintings_after(5) == 1, "the margin after it fills"
    paintings_after(60)
    assert paintings_after(5) == 0
    picture.close()


@pytest.mark.parametrize("size", [(960, 540), (1280, 720), (1920, 1080)])
@pytest.mark.parametrize("is_dark", [False, True])
def test_texts_of_the_longest_check_in_doubt(
    demo: DemoRecorder, log: VisitLog, open_window: Callable[[], Driver], size: tuple[int, int], is_dark: bool
) -> None:
    demo.still(0.4, 20)
    driver = open_window()
    driver.window.resize(*size)
    driver.do("stage.check", *(["view.dark"] if is_dark else []))
    driver.press("Down", "Down")

    def take() -> None:
        driver.window.refresh()
        driver.press("Space")

    take()
    raise_arm(demo, log, take, up_volts=1.7)
    take()
    driver.press("Down", "Down")  # it has gone on to the zero check
    driver.window.refresh()
    page = driver.window.pages.check
    texts = drawn_texts(page)
    assert page.doubt.isVisible()
    assert page.picture.isVisible() == (size[1] > 540), "the lowest window has no room for it"
    for text in texts:
        assert text.pixels >= 11 * _pixels_per_point() - 0.5 and text.beyond <= 1
        # Dots on a button mean that a question follows.
        assert text.widget == "ActionButton" or not text.text.endswith("…"), text
        assert contrast(text.ink, text.ground) >= 4.5, text
    if page.picture.isVisible():
        of_picture = {text.text for text in texts if text.widget == "TracePicture"}
        assert of_picture >= {"background", "cord near", "cord away", "0.40 V", "0 s"}


def test_the_budget_shows_what_the_readings_rest_on(
    controller: VisitController, demo: DemoRecorder, log: VisitLog, open_window: Callable[[], Driver]
) -> None:
    demo.still(0.4, 40)
    driver = open_window()
    driver.do("stage.spots")
    driver.press("Space", "Up")  # the reading has gone on to the next spot
    driver.do("spots.budget")
    page = driver.window.pages.budget
    (rested,) = page.picture.intervals
    assert rested.name == "everything on" and rested.volts == log.readings.all()[0].volts
    assert page.picture.isVisible() and not page.doubt.isVisible()


def test_the_budget_says_what_was_found_later(
    controller: VisitController, demo: DemoRecorder, log: VisitLog, open_window: Callable[[], Driver]
) -> None:
    demo.still(0.4, 40)
    driver = open_window()
    driver.do("stage.spots")

    def take() -> None:
        driver.window.refresh()
        driver.press("Space", "Up")  # the reading has gone on to the next spot
        driver.do("spots.budget")

    raise_arm(demo, log, take)
    assert log.readings.all()[0].volts == pytest.approx(0.7, abs=0.02)
    driver.window.refresh()
    page = driver.window.pages.budget
    assert page.picture.intervals[0].in_doubt
    assert page.doubt.isVisible()
    assert page.doubt.text().startswith(
        "In doubt, take it again: everything on. The detector later found motion"
    )
