"""What is described of the chosen spot, in one quiet line, with its photos beside it and the button to describe it."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QWidget

from gui.actions.action_buttons import ActionButtons
from gui.actions.registry import ActionRegistry
from gui.actions.spoken_text import set_spoken_name
from gui.model.visit_controller import VisitController
from gui.stages.spots.photo_strip import PhotoStrip
from gui.widgets.appearance import label
from logger.metrology.lengths import LengthUnit, length_text
from logger.translation import tr, tr_n
from logger.visit.records.home_records import Spot
from logger.visit.results.detail_words import short_spot_text

PHOTO_HEIGHT = 1.6
"""Of a photo on the page, in heights of a letter."""


class SpotCard(QWidget):
    """The chosen spot.

    Args:
        controller: the visit.
        actions: the actions of the window.
    """

    photo_opened = Signal(object)
    """A photo was clicked."""

    def __init__(self, controller: VisitController, actions: ActionRegistry) -> None:
        super().__init__()
        self._controller = controller
        self.has_content = False
        """Whether anything is described of the spot, or it has a photo."""
        self._whole = ""
        """What is said of the spot; as much of it as there is room for is in sight."""
        self.text = label("", "quiet", wrap=False)
        self.text.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.text.installEventFilter(self)
        self.strip = PhotoStrip(controller.photos.picture, round(PHOTO_HEIGHT * self.fontMetrics().height()))
        self.strip.photo_opened.connect(self.photo_opened)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.strip)
        row.addWidget(self.text, 1)
        self._button = ActionButtons(actions, "spots.describe")
        row.addWidget(self._button)

    def show_spot(self, spot: Spot | None) -> None:
        """Show a spot; nothing where none is chosen."""
        controller = self._controller
        text, photos = "", []
        if spot is not None:
            details, photos = controller.details.of(spot), controller.photos.of_spot(spot)
            text = short_spot_text(details, self._length) or tr("Not described yet.")
        self.has_content = bool(photos) or bool(spot and controller.details.of(spot).is_recorded)
        if text != self._whole:
            self._whole = text
            self.text.setToolTip(text)
            set_spoken_name(self.text, text)
            self._elide()
        self.strip.show_photos(photos)
        self.strip.setVisible(bool(photos))

    def tip_of(self, spot: Spot) -> str:
        """What is described of a spot and how many photos it has, for the tip of its row; empty for nothing."""
        photos = len(self._controller.photos.of_spot(spot))
        text = short_spot_text(self._controller.details.of(spot), self._length)
        counted = tr_n("{n} photo", "{n} photos", photos).format(n=photos) if photos else ""
        return " · ".join(filter(None, (text, counted)))

    def give_way(self) -> None:
        """Take little room: nothing where nothing is described, else no button, which the menus have too."""
        self._button.hide()
        self.setVisible(self.has_content)

    def take_room(self) -> None:
        """Show everything again."""
        self._button.show()
        self.setVisible(bool(self._whole))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Shorten the text anew where it has other room; see Qt."""
        if event.type() == QEvent.Type.Resize:
            self._elide()
        return super().eventFilter(watched, event)

    def _elide(self) -> None:
        room, metrics = self.text.width(), self.text.fontMetrics()
        shown = metrics.elidedText(self._whole, Qt.TextElideMode.ElideRight, room)
        # A part of the sentence that there is nothing yet says less than the button beside it.
        self.text.setText(shown if self.has_content or shown == self._whole else "")

    def content(self) -> tuple[str, int]:
        """What its height depends on: its text, and how many photos it has."""
        return self._whole, len(self.strip.buttons)

    def _length(self, metres: float) -> str:
        in_feet = metres in self._controller.typed_in_feet
        return length_text(metres, LengthUnit.FEET if in_feet else self._controller.length_unit)
