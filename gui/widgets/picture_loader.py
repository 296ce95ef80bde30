"""Pictures that the visit log keeps, decoded beside the window: the trace goes on while they are.

In: bytes that a store of the log has checked, and the size that is wanted. Out: an image, with a signal once it is
there.
"""

from __future__ import annotations

from collections import OrderedDict
from concurrent.futures import Future, ThreadPoolExecutor
from functools import cache

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QObject, QSize, Qt, Signal
from PySide6.QtGui import QImage, QImageReader

MAX_KEPT = 60
"""So many small images are kept: those of fifteen spots with four photos each."""


class PictureLoader(QObject):
    """Decodes pictures one after the other in a thread of its own, and keeps the newest ones.

    Args:
        parent: ends with it.
    """

    loaded = Signal(object, QImage)
    """A picture was decoded: its key, and the image; a null image where it is damaged."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._images: OrderedDict[object, QImage] = OrderedDict()
        self._asked: dict[object, Future[None]] = {}
        self.loaded.connect(self._keep)

    def image(self, key: object) -> QImage | None:
        """The image of a key; None while there is none."""
        return self._images.get(key)

    def request(self, key: object, jpeg: bytes, size: QSize) -> None:
        """Have a picture decoded, unless it is or is asked for already.

        Args:
            key: says which one it is, and how large.
            jpeg: as a store of the log gives it.
            size: that it is to fit into, in pixels.
        """
        if key not in self._images and key not in self._asked:
            self._asked[key] = _thread().submit(self._decode, key, jpeg, size)

    def _decode(self, key: object, jpeg: bytes, size: QSize) -> None:
        image = fitting_image(jpeg, size)
        # The window may be gone meanwhile, and this object with it.
        try:
            self.loaded.emit(key, image)
        except RuntimeError:
            return

    def _keep(self, key: object, image: QImage) -> None:
        self._asked.pop(key, None)
        self._images[key] = image
        while len(self._images) > MAX_KEPT:
            self._images.popitem(last=False)


@cache
def _thread() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(1, "pictures")


def fitting_image(jpeg: bytes, size: QSize) -> QImage:
    """A JPEG decoded at the size that it fits into; a null image where it is damaged.

    Args:
        jpeg: as a store of the log gives it.
        size: in pixels.
    """
    buffer = QBuffer()
    buffer.setData(QByteArray(jpeg))
    buffer.open(QIODevice.OpenModeFlag.ReadOnly)
    reader = QImageReader(buffer, QByteArray(b"jpeg"))
    whole = reader.size()
    if not whole.isValid():
        return QImage()
    if whole.width() > size.width() or whole.height() > size.height():
        reader.setScaledSize(whole.scaled(size, Qt.AspectRatioMode.KeepAspectRatio).expandedTo(QSize(1, 1)))
    return reader.read()
