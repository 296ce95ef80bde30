"""One photo, large: its caption, the spot that it belongs to, and taking it off."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QImage, QResizeEvent
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from gui.model.visit_controller import VisitController
from gui.settings.form import choice_field, dialog_buttons, text_field
from gui.shell.announcer import announce_at
from gui.stages.spots.photo_strip import fitted, photo_name
from gui.widgets.appearance import label
from gui.widgets.picture_loader import PictureLoader
from gui.widgets.window_size import fit_dialog
from logger.errors import StillvoltError
from logger.translation import tr
from logger.visit.records.home_records import Spot
from logger.visit.records.photo import MAX_PHOTO_PIXELS, Photo

LETTERS = QSize(46, 34)
"""Usual width and height of the dialog, in heights of a letter."""


class PhotoDialog(QDialog):
    """Shows a photo; each change of it is kept at once, and can be undone.

    Args:
        controller: the visit.
        photo: the photo.
        parent: the window that it belongs to.
    """

    def __init__(self, controller: VisitController, photo: Photo, parent: QWidget) -> None:
        super().__init__(parent)
        self._controller, self._photo = controller, photo
        self._image = QImage()
        spot = self._own_spot()
        self.setWindowTitle(tr("Photo of “{spot}”").format(spot=spot.name) if spot else photo_name(photo))
        self.setModal(True)
        self.picture = QLabel(alignment=Qt.AlignmentFlag.AlignCenter)
        self.picture.setMinimumSize(80, 60)
        self.picture.setAccessibleName(photo_name(photo))
        self.caption = text_field(photo.caption, tr("Caption, such as: seen from the door"))
        self.caption.setAccessibleName(tr("Caption"))
        self.keep = QPushButton(tr("&Keep the caption"))
        self.spot = choice_field([(spot.name, spot) for spot in controller.snapshot.spots], self._own_spot())
        self.spot.setAccessibleName(tr("Spot that it belongs to"))
        self.move_it = QPushButton(tr("&Move it to this spot"))
        self.take_off = QPushButton(tr("&Take it off"))
        self.error = label("", "error")
        self.error.hide()
        kinds = QDialogButtonBox.StandardButton
        self.buttons = dialog_buttons((kinds.Close, tr("Close")))
        self.buttons.rejected.connect(self.reject)
        self.buttons.addButton(self.take_off, QDialogButtonBox.ButtonRole.ActionRole)
        for button in (self.keep, self.move_it, self.take_off):
            button.setAutoDefault(False)
        self.keep.clicked.connect(self._keep_caption)
        self.caption.returnPressed.connect(self._keep_caption)
        self.move_it.clicked.connect(self._move)
        self.take_off.clicked.connect(lambda: self._done(controller.photos.take_off(photo)))
        self.spot.currentIndexChanged.connect(lambda _: self._enable())
        column = QVBoxLayout(self)
        column.addWidget(self.picture, 1)
        for parts in ((self.caption, self.keep), (self.spot, self.move_it)):
            row = QHBoxLayout()
            row.addWidget(parts[0], 1)
            row.addWidget(parts[1])
            column.addLayout(row)
        column.addWidget(self.error)
        column.addWidget(self.buttons)
        self._enable()
        self._loader = PictureLoader(self)
        self._loader.loaded.connect(self._show_image)
        fit_dialog(self, LETTERS)
        try:
            jpeg = controller.photos.picture(photo)
        except StillvoltError as error:
            self._show_error(str(error))
            return
        self._loader.request(photo.id, jpeg, QSize(MAX_PHOTO_PIXELS, MAX_PHOTO_PIXELS))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """See Qt; the picture takes the room that there is."""
        super().resizeEvent(event)
        self._fit()

    def _show_image(self, _: object, image: QImage) -> None:
        self._image = image
        if image.isNull():
            self._show_error(tr("The picture is damaged."))
        self._fit()

    def _fit(self) -> None:
        if not self._image.isNull():
            self.picture.setPixmap(fitted(self._image, self.picture.size()))

    def _own_spot(self) -> Spot | None:
        spots = self._controller.snapshot.spots
        return next((spot for spot in spots if spot.id == self._photo.spot_id), None)

    def _enable(self) -> None:
        chosen = self.spot.currentData()
        self.move_it.setEnabled(chosen is not None and chosen.id != self._photo.spot_id)

    def _keep_caption(self) -> None:
        self._done(self._controller.photos.set_caption(self._photo, self.caption.text()))

    def _move(self) -> None:
        self._done(self._controller.photos.move(self._photo, self.spot.currentData()))

    def _done(self, is_done: bool) -> None:
        """Close once something is done; where it was refused, say why and stay."""
        if is_done:
            self.accept()
        else:
            self._show_error(self._controller.message.text)

    def _show_error(self, text: str) -> None:
        self.error.setText(text)
        self.error.setVisible(bool(text))
        announce_at(self, text)
