"""Brings what is remembered into a window and its visit, and what is chosen there back into the file.

What a visit says of itself is never changed by settings alone: a new visit takes over target and practitioner, one
that already names them keeps them until the user asks for another in the dialog.
"""

from __future__ import annotations

import contextlib
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QByteArray

from gui.model.visit_controller import VisitController
from gui.settings.preferences import (
    COLOURS,
    HANDS_FREE_S,
    HOUSE_PLACE,
    LAST_METER,
    LAST_PORT,
    LENGTHS,
    PHOTO_FOLDER,
    PLACE,
    SOUNDS,
    SOURCE_OF_TARGET,
    SPEECH,
    SPOTS_PERMILLE,
    TARGET,
    TEXT_PERCENT,
    ColourScheme,
    Preferences,
)
from gui.sound.sounds import Sounds
from gui.stages.spots.spots_page import SpotsPage
from gui.widgets import theme
from gui.widgets.appearance import Appearance
from gui.widgets.theme import Sizes, Theme
from logger.errors import StillvoltError
from logger.meter.description_folder import load
from logger.meter.port import PortInfo, PortSettings, is_simulated_port
from logger.metrology.setup import Setup

_THEMES: dict[ColourScheme, Theme | None] = {
    ColourScheme.SYSTEM: None,
    ColourScheme.LIGHT: theme.LIGHT,
    ColourScheme.DARK: theme.DARK,
}
"""By choice; None follows the system."""


class Remembered:
    """What is remembered, as far as it concerns one window.

    Args:
        preferences: what is remembered.
        controller: the visit of the window.
        sounds: plays the tones.
    """

    def __init__(self, preferences: Preferences, controller: VisitController, sounds: Sounds) -> None:
        self.preferences = preferences
        self._controller = controller
        self._sounds = sounds

    def begin(self) -> None:
        """Take everything over into the window and a new visit, and listen to what is chosen from now on."""
        controller, preferences = self._controller, self.preferences
        self.apply()
        controller.hands_free.on_chosen = lambda seconds: preferences.set(HANDS_FREE_S, seconds)
        controller.recording.before_start.append(self._recording_begins)
        if self._visit_is_new():
            self._state_target()
            self.state_practitioner()

    def apply(self) -> None:
        """Take over what can be chosen at any time."""
        preferences, controller = self.preferences, self._controller
        self._sounds.on = preferences.get(SOUNDS)
        self._sounds.speech_on = preferences.get(SPEECH)
        controller.hands_free.still_for_s = preferences.get(HANDS_FREE_S)
        controller.length_unit = preferences.get(LENGTHS)

    def appearance(self, height: int) -> Appearance:
        """Colours and sizes for the window.

        Args:
            height: of the window in pixels.
        """
        chosen = _THEMES[self.preferences.get(COLOURS)]
        return Appearance(
            chosen or theme.current(), Sizes.for_height(height, self.preferences.get(TEXT_PERCENT))
        )

    def keep_place(self, place: QByteArray, house_place: bytes = b"") -> None:
        """Remember where the window is, as `QWidget.saveGeometry` gives it.

        Args:
            place: of the window.
            house_place: of the practice house, where it is a window of its own.
        """
        self.preferences.set(PLACE, bytes(place.data()))
        self.preferences.set(HOUSE_PLACE, house_place)

    def last_port(self, present: list[PortInfo]) -> PortSettings | None:
        """The port that was last recorded from, with its meter, for a visit that was never recorded; else None.

        Args:
            present: the ports that are there; one that is not is never chosen by itself.
        """
        url = self.preferences.get(LAST_PORT)
        if self._controller.log.runs.all() or all(port.url != url for port in present):
            return None
        name = self.preferences.get(LAST_METER)
        with contextlib.suppress(StillvoltError):  # it may have been deleted since
            return load(name).settings(url) if name else PortSettings(url)
        return PortSettings(url)

    def place_border(self, page: SpotsPage) -> None:
        """Bring the border between spots and readings to where the user dragged it, and remember that from now on."""
        permille = self.preferences.get(SPOTS_PERMILLE)
        if permille is not None:
            page.place_border(permille)
        page.border_dragged.connect(lambda dragged: self.preferences.set(SPOTS_PERMILLE, dragged))

    def photo_folder(self) -> Path:
        """The folder in which photos were chosen last; the user's own before that."""
        return Path(self.preferences.get(PHOTO_FOLDER) or Path.home())

    def keep_photo_folder(self, folder: Path) -> None:
        """Remember in which folder photos were chosen."""
        with contextlib.suppress(ValueError):  # a name with a line break: it is not remembered
            self.preferences.set(PHOTO_FOLDER, str(folder))

    def state_practitioner(self) -> None:
        """State who measures, in a visit that names nobody yet; where it cannot be written, the report names nobody."""
        log, practitioner = self._controller.log, self.preferences.practitioner
        with contextlib.suppress(StillvoltError):
            if practitioner.is_stated and not log.practitioner.current().is_stated:
                log.practitioner.set(practitioner)

    def _recording_begins(self, settings: PortSettings) -> None:
        if not is_simulated_port(settings.url):
            with contextlib.suppress(ValueError):  # such as a URL with a line break
                self.preferences.set(LAST_PORT, settings.url)
                self.preferences.set(LAST_METER, settings.meter or "")
        self.state_practitioner()

    def _visit_is_new(self) -> bool:
        log = self._controller.log
        stated = log.setup.current() != Setup()
        return not (stated or log.runs.all() or log.spots.all() or log.readings.all())

    def _state_target(self) -> None:
        setup, preferences = self._controller.log.setup.current(), self.preferences
        wanted = replace(
            setup,
            target_volts=preferences.get(TARGET),
            target_source=preferences.get(SOURCE_OF_TARGET),
        )
        with contextlib.suppress(StillvoltError):  # a log that cannot be written keeps the usual target
            if wanted != setup:
                self._controller.log.setup.set(wanted)
                self._controller.snapshot.refresh(force=True)
