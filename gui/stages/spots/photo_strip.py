"""The photos of a spot, small and side by side; a click on one opens it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QIcon, QImage, QPixmap
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from gui.actions.spoken_text import set_spoken_name
from gui.widgets.picture_loader import PictureLoader
from logger.errors import StillvoltError
from logger.translation import tr
from logger.visit.records.photo import MAX_PHOTOS_OF_SPOT, PHOTO_KINDS, Photo


class PhotoStrip(QWidget):
    """Up to four photos.

    Args:
        picture: gives the picture of a photo, as the store of the log has checked it.
        height: of a photo, in pixels.
    """

    photo_opened = Signal(object)
    """A photo was clicked, or Enter was pressed on it."""

    def __init__(self, picture: Callable[[Photo], bytes], height: int) -> None:
        super().__init__()
        self._picture = picture
        self._size = QSize(height * 4 // 3, height)
        self._loader = PictureLoader(self)
        self._loader.loaded.connect(self._show_image)
        self._photos: list[Photo] = []
        self.buttons: list[QPushButton] = []
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(4)
        self._row.addStretch(1)

    def show_photos(self, photos: Sequence[Photo]) -> None:
        """Show photos in place of those before; of more than four the first ones.

        Args:
            photos: of one spot.
        """
        wanted = list(photos[:MAX_PHOTOS_OF_SPOT])
        if wanted == self._photos:
            return
        self._photos = wanted
        for button in self.buttons:
            self._row.removeWidget(button)
            button.hide()
            button.deleteLater()
        self.buttons = [self._button(photo) for photo in wanted]
        for at, button in enumerate(self.buttons):
            self._row.insertWidget(at, button)
        for photo in wanted:
            self._request(photo)

    def _button(self, photo: Photo) -> QPushButton:
        button = QPushButton()
        button.setProperty("role", "action")
        button.setAutoDefault(False)
        button.setIconSize(self._size)
        button.setFixedSize(self._size + QSize(8, 8))
        name = photo_name(photo)
        set_spoken_name(button, name)
        button.setToolTip(name)
        button.clicked.connect(lambda: self.photo_opened.emit(photo))
        return button

    def _request(self, photo: Photo) -> None:
        if (image := self._loader.image(photo.id)) is not None:
            self._show_image(photo.id, image)
            return
        ratio = self.devicePixelRatioF()
        try:
            self._loader.request(photo.id, self._picture(photo), self._size * ratio)
        except StillvoltError as error:
            self._show_damaged(photo, str(error))

    def _show_image(self, photo_id: object, image: QImage) -> None:
        for photo, button in zip(self._photos, self.buttons, strict=True):
            if photo.id != photo_id:
                continue
            if image.isNull():
                self._show_damaged(photo, tr("The picture is damaged."))
                continue
            pixmap = QPixmap.fromImage(image)
            pixmap.setDevicePixelRatio(self.devicePixelRatioF())
            button.setIcon(QIcon(pixmap))

    def _show_damaged(self, photo: Photo, why: str) -> None:
        button = self.buttons[self._photos.index(photo)]
        button.setText("?")
        button.setToolTip(why)
        set_spoken_name(button, why)


def photo_name(photo: Photo) -> str:
    """A photo in words: its caption, or that it is one."""
    kind = tr(PHOTO_KINDS[photo.kind])
    return tr("{kind}: {caption}").format(kind=kind, caption=photo.caption) if photo.caption else kind


def fitted(image: QImage, size: QSize) -> QPixmap:
    """An image as large as there is room for it, never larger than it is.

    Args:
        image: decoded already.
        size: of the room, in pixels.
    """
    if image.width() > size.width() or image.height() > size.height():
        image = image.scaled(
            size, Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
        )
    return QPixmap.fromImage(image)
