"""Icons: each action's is drawn, in colours that are seen on either theme; the program has one of its own."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtGui import QIcon, QImage
from PySide6.QtWidgets import QApplication

from gui.actions.table import ACTIONS
from gui.widgets.icons import APPLICATION_SIZES, SHAPES, icon
from gui.widgets.theme import DARK, LIGHT, Theme
from tests.support.window_driver import Driver


def inks(picture: QImage) -> set[str]:
    """The colours of a picture where it is not seen through."""
    pixels = [picture.pixelColor(x, y) for x in range(picture.width()) for y in range(picture.height())]
    return {pixel.name().upper() for pixel in pixels if pixel.alpha() == 255}


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_every_icon_has_lines_in_the_colours_of_its_state(theme: Theme) -> None:
    for name in SHAPES:
        drawn = icon(name, theme)
        assert theme.text in inks(drawn.pixmap(24, 24).toImage()), name
        assert theme.pale in inks(drawn.pixmap(24, 24, QIcon.Mode.Disabled).toImage()), name


def test_the_table_names_icons_that_there_are_and_menus_show_them(open_window: Callable[[], Driver]) -> None:
    named = {spec.icon for spec in ACTIONS if spec.icon}
    assert named and named <= set(SHAPES)
    window = open_window().window
    for spec in ACTIONS:
        assert window.registry[spec.id].icon().isNull() is not bool(spec.icon), spec.id
    before = window.registry["file.open"].icon().cacheKey()
    window.registry.trigger("view.dark")
    assert window.registry["file.open"].icon().cacheKey() != before, "drawn anew in the other colours"


def test_the_program_has_an_icon() -> None:
    own = QApplication.windowIcon()
    assert {size.width() for size in own.availableSizes()} == set(APPLICATION_SIZES)
