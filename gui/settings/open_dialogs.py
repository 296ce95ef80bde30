"""What an action calls to show the settings or the kept meters over a window."""

from __future__ import annotations

from typing import TypeVar

from PySide6.QtWidgets import QDialog, QWidget

from gui.settings.meters_dialog import MetersDialog
from gui.settings.settings_dialog import SettingsDialog, SettingsWindow
from gui.widgets.keyboard_return import KeyboardReturn
from gui.widgets.window_size import fit_dialog

Shown = TypeVar("Shown", bound=QDialog)


def show_settings(window: SettingsWindow) -> SettingsDialog:
    """Show the settings over a window; where they are open already, that dialog comes to the front."""
    return _shown(_open(window, SettingsDialog) or SettingsDialog(window))


def show_meters(window: SettingsWindow) -> MetersDialog:
    """Show the kept meters over a window; where they are shown already, that dialog comes to the front."""
    return _shown(_open(window, MetersDialog) or MetersDialog(window))


def _open(window: SettingsWindow, kind: type[Shown]) -> Shown | None:
    assert isinstance(window, QWidget)
    return next((dialog for dialog in window.findChildren(kind) if dialog.isVisible()), None)


def _shown(dialog: Shown) -> Shown:
    if not dialog.isVisible():
        KeyboardReturn(dialog)
        fit_dialog(dialog)
        dialog.open()
    dialog.raise_()
    dialog.activateWindow()
    return dialog
