"""What the window remembers from one start to the next: its place, colours and sounds.

Kept as an INI file in the user's folder of settings. It is of no account for what is measured: where it cannot be read
or written the window does without.
"""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path

import platformdirs
from PySide6.QtCore import QByteArray, QSettings


class ColourScheme(StrEnum):
    """Which colours the window has."""

    SYSTEM = "system"
    """Whichever the system has."""
    LIGHT = "light"
    DARK = "dark"


def preferences_path() -> Path:
    """The file that the window's preferences are kept in."""
    return Path(platformdirs.user_config_dir("stillvolt", appauthor=False)) / "window.ini"


class Preferences:
    """The window's preferences; each change is kept at once.

    Args:
        path: the file that they are kept in; made when something is changed.
    """

    def __init__(self, path: Path) -> None:
        self.set_aside: Path | None = None
        """Where a file went that could not be read; None where it could."""
        self._settings = _open(path)
        if self._settings.status() is QSettings.Status.FormatError:
            self.set_aside = _set_aside(path)
            self._settings = _open(path)

    @property
    def colour_scheme(self) -> ColourScheme:
        """The colours; those of the system where nothing sensible is kept."""
        try:
            return ColourScheme(str(self._settings.value("colours", ColourScheme.SYSTEM)))
        except ValueError:
            return ColourScheme.SYSTEM

    @colour_scheme.setter
    def colour_scheme(self, scheme: ColourScheme) -> None:
        self._keep("colours", scheme.value)

    @property
    def sounds_on(self) -> bool:
        """Whether tones and voice are on."""
        return str(self._settings.value("sounds", "on")) != "off"

    @sounds_on.setter
    def sounds_on(self, on: bool) -> None:
        self._keep("sounds", "on" if on else "off")

    @property
    def window_place(self) -> QByteArray | None:
        """Where the window was, as `QWidget.saveGeometry` gives it; None where that is not known."""
        kept = self._settings.value("place")
        return kept if isinstance(kept, QByteArray) else None

    @window_place.setter
    def window_place(self, place: QByteArray) -> None:
        self._keep("place", place)

    def _keep(self, name: str, value: object) -> None:
        self._settings.setValue(name, value)
        self._settings.sync()


def _open(path: Path) -> QSettings:
    return QSettings(str(path), QSettings.Format.IniFormat)


def _set_aside(path: Path) -> Path:
    """Rename a file that cannot be read, so that nothing of it is lost."""
    aside = path.with_name(f"{path.name}.damaged")
    path.replace(aside)
    return aside
