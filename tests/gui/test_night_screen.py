"""The night screen: dim by measure, quiet, marks from the bed, problems in words and shape."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import wcag_contrast_ratio
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from gui.dev.demo import DemoRecorder
from gui.model.computer_resources import ComputerResources
from gui.stages.night.night_screen import GROUND, INK, PROBLEM, NightScreen
from gui.window import Window
from logger.clock import NS_PER_S, ManualClock
from logger.recording.watch.power import Power
from logger.visit import VisitLog
from tests.support.drawn_text import drawn_texts
from tests.support.window_driver import Driver, Heard


def ratio(one: str, other: str) -> float:
    """Contrast by wcag-contrast-ratio (PyPI), an implementation of WCAG 2.x by others."""
    one_rgb, other_rgb = (tuple(int(c[i : i + 2], 16) / 255 for i in (1, 3, 5)) for c in (one, other))
    return float(wcag_contrast_ratio.rgb(one_rgb, other_rgb))


@pytest.fixture
def demo(record: Callable[[], DemoRecorder]) -> DemoRecorder:
    demo = record()
    demo.still(0.27, 30)
    return demo


@pytest.fixture
def night(open_window: Callable[[], Driver], demo: DemoRecorder, log: VisitLog) -> Driver:
    driver = open_window()
    driver.do("stage.night", "night.screen")
    assert driver.window.night_screen.is_shown
    return driver


def rendered(driver: Driver) -> NightScreen:
    driver.window.refresh()
    return driver.window.night_screen


def light(screen: NightScreen) -> np.ndarray:
    """Relative luminance of every pixel (WCAG 2.1), shape (height, width)."""
    image = screen.grab().toImage().convertToFormat(screen.grab().toImage().Format.Format_RGB32)
    flat = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine())
    bgr = flat[:, : 4 * image.width()].reshape(image.height(), image.width(), 4)[..., :3] / 255
    linear = np.where(bgr <= 0.04045, bgr / 12.92, ((bgr + 0.055) / 1.055) ** 2.4)
    return np.asarray(linear @ np.array([0.0722, 0.7152, 0.2126]))


def test_text_has_just_the_contrast_that_large_text_needs() -> None:
    # Source: W3C, WCAG 2.1, 1.4.3: large text at least 3:1. The window's own rule, 4.5, would be too bright at night.
    assert 3.0 <= ratio(INK, GROUND) <= 3.2
    assert 3.0 <= ratio(PROBLEM, GROUND) <= 3.5


def test_nothing_in_the_picture_is_brighter_and_nearly_all_of_it_is_black(
    night: Driver, demo: DemoRecorder
) -> None:
    for happens in (lambda: None, lambda: demo.move(0.3, 2.0, 6), lambda: demo.pull_cable(5)):
        happens()
        shown = light(rendered(night))
        assert shown.max() <= 0.05 * 3.5 - 0.05 + 1e-6, "the luminance that a contrast of 3.5 has on black"
        assert shown.mean() < 0.01 and (shown == 0).mean() > 0.85


def test_text_is_large_enough_for_two_metres(night: Driver) -> None:
    """12 mm of cap height at 2 m (20 minutes of arc, ISO 9241-303, from memory) on a screen of 294 mm, 1280 wide."""
    night.window.showNormal()
    night.window.resize(1280, 720)
    texts = drawn_texts(rendered(night))
    at = {text.text: text.pixels for text in texts}
    cap = 0.73  # of the font's size
    assert at["STILL"] * cap * 294 / 1280 >= 12 and at["0.27 V"] == at["STILL"]
    assert min(at.values()) >= 0.05 * 720 - 1
    assert {text.ink.upper() for text in texts} <= {INK, PROBLEM} and all(t.beyond <= 1 for t in texts)


def test_it_says_still_and_moving_with_the_last_settled_value(night: Driver, demo: DemoRecorder) -> None:
    shown = rendered(night).night_status()
    assert (shown.word, shown.value, shown.is_problem) == ("STILL", "0.27 V", False)
    demo.move(0.27, 2.0, 6)
    shown = rendered(night).night_status()
    assert (shown.word, shown.value) == ("CHANGING", "0.27 V"), "what is read while moving is no value"
    demo.pull_cable(5)
    shown = rendered(night).night_status()
    assert (shown.word, shown.value, shown.is_problem) == ("PORT LOST", "", True), (
        "no old value passes for one of now"
    )


def test_space_marks_the_moment(night: Driver, log: VisitLog, clock: ManualClock) -> None:
    night.press("Space")
    (mark,) = log.marks.all()
    live = log.recorder.live()
    assert (
        live is not None
        and mark.text == "marked from the bed"
        and mark.steady_utc_ns == live.beat_steady_utc_ns
    )
    assert rendered(night).answer().startswith("marked at ")
    clock.advance_ns(6 * NS_PER_S)
    assert rendered(night).answer() == ""


def test_a_click_and_any_other_key_leave_and_do_nothing_else(night: Driver, log: VisitLog) -> None:
    before = log.marks.all(), log.spots.all()
    QTest.mouseClick(night.window.night_screen, Qt.MouseButton.LeftButton)
    assert not night.window.night_screen.is_shown
    for key in ("Esc", "r", "4", "Return", "F5", "Ctrl+M"):
        night.do("night.screen")
        night.press(key)
        assert night.asked == "" and not night.window.night_screen.is_shown, key
        assert night.window.page is night.window.pages.night, key
        assert (log.marks.all(), log.spots.all()) == before, key


def test_it_is_silent_and_sounds_are_as_they_were_afterwards(
    open_window: Callable[[], Driver], demo: DemoRecorder, heard: Heard
) -> None:
    driver = open_window()
    driver.do("stage.night")
    for on in (True, False):
        heard.on = on
        heard.tones.clear()
        driver.do("night.screen")
        demo.move(0.27, 2.0, 6)
        rendered(driver)
        assert heard.tones == [] and not heard.on
        driver.press("Esc")
        assert heard.on is on


def test_text_wanders_a_little_each_minute_and_comes_by_far_places(night: Driver, clock: ManualClock) -> None:
    screen = rendered(night)
    places = []
    for _ in range(120):
        places.append(screen.wander())
        clock.advance_ns(60 * NS_PER_S)
    moves = [(b - a).manhattanLength() for a, b in pairwise(places)]
    assert min(moves) > 0 and max(moves) < 0.04 * screen.width()
    assert max(p.x() for p in places) - min(p.x() for p in places) > 0.08 * screen.width()


def test_the_dot_moves_with_the_recorder_and_stands_still_without(night: Driver, demo: DemoRecorder) -> None:
    before = rendered(night).dot()
    demo.still(0.27, 3)
    after = rendered(night).dot()
    assert before != after and abs(after - before) < 0.4, "slowly"
    demo.close()
    assert rendered(night).dot() == after


@pytest.mark.parametrize(
    ("power", "free", "words"),
    [
        (Power(False, 81.0, None), 10**10, []),
        (Power(False, 12.0, None), 10**10, ["BATTERY 12 %"]),
        (Power(True, 12.0), 10**10, []),
        (None, 6_500_000, ["DISK ONLY 14 min"]),
        (None, 5_000_000, ["DISK FULL"]),
    ],
)
def test_disk_and_battery_in_a_few_words(power: Power | None, free: int, words: list[str]) -> None:
    supplies = ComputerResources(Path(), ManualClock(), lambda: power, lambda _: free)
    supplies.poll()
    assert supplies.problems() == words
    assert ("battery" in supplies.battery_text()) == (power is not None and not power.plugged_in)


def test_it_fills_screen_and_window_and_the_window_is_as_before_afterwards(night: Driver) -> None:
    window: Window = night.window
    assert window.isFullScreen()
    window.resize(1500, 800)
    assert window.night_screen.geometry() == window.rect()
    night.press("Esc")
    assert not window.isFullScreen()
