"""Icons: each action's is drawn, in colours that are seen on either theme; the program has one of its own."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtGui import QIcon, QImage
from PySide6.QtWidgets import QApplication, QToolButton
from pytestqt.qtbot import QtBot

from gui.actions.table import ACTIONS
from gui.widgets.file_dialog import ARROWS, Wanted, make_dialog
from gui.widgets.icons import APPLICATION_SIZES, SHAPES, icon
from gui.widgets.theme import DARK, LIGHT, Theme, colour_application
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


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_the_arrows_of_a_file_dialog_are_seen(qtbot: QtBot, theme: Theme, tmp_path: Path) -> None:
    before = QApplication.palette()
    colour_application(theme)
    dialog = make_dialog(Wanted.FILE, "Choose", tmp_path, "", None)
    qtbot.addWidget(dialog)
    QApplication.setPalette(before)
    arrows = [dialog.findChild(QToolButton, name) for name in ARROWS]
    assert all(arrows)
    for arrow in arrows:
        for mode, ink in (
            (QIcon.Mode.Normal, theme.text), (QIcon.Mode.Active, theme.text), (QIcon.Mode.Disabled, theme.pale),
        ):  # fmt: skip
            assert ink in inks(arrow.icon().pixmap(24, 24, mode).toImage())


def test_the_program_has_an_icon() -> None:
    own = QApplication.windowIcon()
    assert {size.width() for size in own.availableSizes()} == set(APPLICATION_SIZES)
