"""Contrast, text sizes, colours: measured, in both themes and at every size of the window."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from driving import Driver
from PySide6.QtGui import QFontInfo
from PySide6.QtWidgets import QLabel, QWidget

from gui import theme
from gui.demo import DemoRecorder
from gui.theme import DARK, LIGHT, Sizes, Theme, contrast, text_pairs


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#000000", "#FFFFFF", 21.0),
        ("#FFFFFF", "#FFFFFF", 1.0),
        ("#777777", "#FFFFFF", 4.48),
        ("#767676", "#FFFFFF", 4.54),
    ],
)
def test_contrast_ratio(one: str, other: str, ratio: float) -> None:
    # Source: W3C, WCAG 2.1 definition of contrast ratio (21:1 for black on white); #767676 as the lightest grey
    # that passes 4.5:1 on white and #777777 as the first that fails: from memory.
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize("shown", [LIGHT, DARK], ids=["light", "dark"])
def test_every_text_on_every_ground_has_contrast(shown: Theme) -> None:
    # Source: W3C, WCAG 2.1, success criterion 1.4.3: at least 4.5:1.
    weak = [
        (name, contrast(ink, ground))
        for name, ink, ground in text_pairs(shown)
        if contrast(ink, ground) < 4.5
    ]
    assert weak == []


@pytest.mark.parametrize("shown", [LIGHT, DARK], ids=["light", "dark"])
def test_the_curve_and_state_shapes_stand_out(shown: Theme) -> None:
    # Source: W3C, WCAG 2.1, success criterion 1.4.11: graphics at least 3:1.
    assert contrast(shown.curve, shown.plot) >= 3
    assert all(contrast(theme.ON_STATE, ground) >= 3 for ground in theme.STATE_COLOURS.values())


def test_hues_are_the_published_ones() -> None:
    # Source: Okabe and Ito, Color Universal Design (2008), the eight-colour palette, as RGB.
    palette = {"#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7"}
    used = {*theme.STATE_COLOURS.values(), theme.REDDISH_PURPLE, theme.BLUE} - {theme.GREY}
    assert used <= palette


@pytest.mark.parametrize("height", [540, 720, 1080, 1440])
def test_no_text_is_smaller_than_11_points(height: int) -> None:
    sizes = Sizes.for_height(height)
    points = min(sizes.small, sizes.normal, sizes.large, sizes.value) / theme._pixels_per_point()
    assert points >= 11.0


@pytest.mark.parametrize("size", [(960, 540), (1280, 720), (1920, 1080)])
def test_no_widget_shows_text_smaller_than_11_points(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], size: tuple[int, int]
) -> None:
    record().still(0.3, 10)
    driver = open_window()
    driver.window.resize(*size)
    driver.press("W")
    small = [
        (type(widget).__name__, QFontInfo(widget.font()).pixelSize())
        for widget in driver.window.findChildren(QWidget)
        if not isinstance(widget, QLabel) or widget.text()
        if QFontInfo(widget.font()).pixelSize() < 11 * theme._pixels_per_point() - 0.5
    ]
    assert small == []


@pytest.mark.parametrize("size", [(960, 540), (1280, 720), (1920, 1080)])
def test_the_value_is_at_least_8_percent_of_the_windows_height(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], size: tuple[int, int]
) -> None:
    """Measured in the picture: the rows of pixels that the digits' ink covers."""
    demo = record()
    demo.still(0.888, 20)
    driver = open_window()
    driver.window.resize(*size)
    driver.window.refresh()
    band = driver.window.band
    image = band.grab().toImage()
    ink = theme.LIGHT.text.lower()
    columns = range(round(band.width() * 0.25), round(band.width() * 0.45), 2)
    rows = [y for y in range(image.height()) if any(image.pixelColor(x, y).name() == ink for x in columns)]
    assert (max(rows) - min(rows) + 1) / driver.window.height() >= 0.08


def test_d_goes_to_dark_and_back(open_window: Callable[[], Driver]) -> None:
    driver = open_window()
    driver.press("D")
    assert driver.window.look.theme is DARK and driver.window.trace.look.theme is DARK
    driver.press("D")
    assert driver.window.look.theme is LIGHT
