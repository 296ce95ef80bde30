"""What the window remembers, and what it does where that cannot be read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QSize
from PySide6.QtWidgets import QApplication

from gui.app import WindowSwitcher
from gui.model.visit_controller import VisitController
from gui.sound.sounds import Sounds
from gui.widgets import theme
from gui.window import Window
from gui.window.preferences import ColourScheme, Preferences
from gui.window.window import FRAME_SIZE
from logger.visit import VisitLog
from tests.support.window_driver import Driver


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "settings" / "window.ini"


def test_what_was_chosen_is_there_at_the_next_start(path: Path) -> None:
    first = Preferences(path)
    assert (first.colour_scheme, first.sounds_on, first.window_place) == (ColourScheme.SYSTEM, True, None)
    first.colour_scheme = ColourScheme.DARK
    first.sounds_on = False
    again = Preferences(path)
    assert (again.colour_scheme, again.sounds_on) == (ColourScheme.DARK, False)


def test_colours_sounds_and_place_are_kept_and_taken_over(
    path: Path, log: VisitLog, show_window: Callable[[Window], Driver]
) -> None:
    driver = show_window(
        Window(VisitController(log), sounds=Sounds(), polls=False, preferences=Preferences(path))
    )
    was_dark = driver.window.appearance.theme is theme.DARK
    driver.press("D", "S")
    driver.window.setGeometry(40, 50, 1000, 600)
    driver.window.may_close = True
    driver.window.close()
    kept = Preferences(path)
    again = show_window(Window(VisitController(log), polls=False, preferences=kept)).window
    assert (again.appearance.theme is theme.DARK) is not was_dark and not kept.sounds_on
    assert again.size() == QSize(1000, 600)


def test_another_visit_in_the_same_window_keeps_the_colours(
    path: Path, log: VisitLog, tmp_path: Path, show_window: Callable[[Window], Driver]
) -> None:
    preferences = Preferences(path)
    preferences.colour_scheme = ColourScheme.DARK
    window = show_window(Window(VisitController(log), polls=False, preferences=preferences)).window
    switcher = WindowSwitcher(window)
    assert switcher.window.appearance.theme is theme.DARK
    assert (
        Window(VisitController(log), polls=False, preferences=window.preferences).appearance.theme
        is theme.DARK
    )


@pytest.mark.parametrize("content", [b"\x00\xff[[[", b"[General]\ncolours=mauve\nsounds=7\nplace=nowhere\n"])
def test_a_damaged_file_gives_what_a_first_start_gives(path: Path, content: bytes) -> None:
    path.parent.mkdir()
    path.write_bytes(content)
    read = Preferences(path)
    assert (read.colour_scheme, read.sounds_on, read.window_place) == (ColourScheme.SYSTEM, True, None)
    if read.set_aside is not None:
        assert read.set_aside.read_bytes() == content


def test_the_window_opens_inside_its_screen(
    log: VisitLog, qapp: QApplication, show_window: Callable[[Window], Driver]
) -> None:
    window = show_window(Window(VisitController(log), polls=False)).window
    room = qapp.primaryScreen().availableSize() - FRAME_SIZE
    assert window.width() <= max(room.width(), window.minimumWidth())
    assert window.height() <= max(room.height(), window.minimumHeight())
