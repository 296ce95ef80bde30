"""A picture becomes the logo of the report: read with bounds, made small, and written anew as a PNG.

In: a file that the user chose. Out: a PNG that `logger.visit.records.practitioner.check_logo` takes, or a sentence.
Writing it anew leaves out everything that is no picture, such as the place where a photograph was taken.
"""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QSize, Qt
from PySide6.QtGui import QImage, QImageReader, QPainter

from logger.metrology.rounding import fixed, grouped
from logger.translation import tr
from logger.visit.records.practitioner import MAX_LOGO_BYTES

MAX_FILE_BYTES = 20_000_000
"""A larger file is refused unread: no logo needs it, and a photograph of a telephone has less."""

MAX_PIXELS = 50_000_000
"""A picture with more is refused before it is unpacked: it would take over 200 MB of memory, however small its file."""

LOGO_SIZE = QSize(720, 200)
"""The logo fits into it, pixels: 60 mm by 16 mm of the report's head at 300 dots per inch."""

SHRINK = 0.7
"""A logo that is still too large as a PNG is made so much smaller again; a photograph needs it once or twice."""

FORMATS = ("png", "jpg", "jpeg", "bmp", "gif", "webp")
"""What is read: pictures made of pixels. A drawing could name other files, which would be fetched."""


def read_logo(path: Path) -> bytes:
    """Read a picture and make the logo of it.

    Args:
        path: the file.

    Raises:
        ValueError: it is none that can be used; the error is a sentence.
    """
    try:
        size = path.stat().st_size
        if size > MAX_FILE_BYTES:
            raise ValueError(
                tr("“{name}” has {size} MB; a logo may have {most} MB.").format(
                    name=path.name, size=fixed(size / 1e6, 0), most=fixed(MAX_FILE_BYTES / 1e6, 0)
                )
            )
        content = path.read_bytes()
    except OSError as error:
        raise ValueError(
            tr("“{name}” cannot be read ({reason}).").format(name=path.name, reason=error.strerror)
        ) from error
    return _as_png(_picture_in(content, path.name))


def picture_of(logo: bytes) -> QImage:
    """The picture of a logo, to be shown; empty where there is none."""
    return QImage.fromData(logo) if logo else QImage()


def _picture_in(content: bytes, name: str) -> QImage:
    buffer = QBuffer()
    buffer.setData(QByteArray(content))
    buffer.open(QIODevice.OpenModeFlag.ReadOnly)
    reader = QImageReader(buffer)
    reader.setAutoTransform(True)
    reader.setDecideFormatFromContent(True)
    kind = bytes(reader.format().data()).decode("ascii", "replace")
    if not reader.canRead() or kind not in FORMATS:
        raise ValueError(
            tr("“{name}” is no picture that can be used. Choose a {formats} file.").format(
                name=name, formats=", ".join(kind.upper() for kind in FORMATS if kind != "jpeg")
            )
        )
    size = reader.size()
    if size.isValid() and size.width() * size.height() > MAX_PIXELS:
        raise ValueError(
            tr(
                "“{name}” has {width} x {height} pixels, which is too large for a logo. Save it smaller first."
            ).format(name=name, width=grouped(size.width()), height=grouped(size.height()))
        )
    picture = reader.read()
    if picture.isNull():
        raise ValueError(tr("“{name}” is a damaged picture.").format(name=name))
    return picture


def _as_png(picture: QImage) -> bytes:
    size = LOGO_SIZE
    while True:
        smaller = picture
        if picture.width() > size.width() or picture.height() > size.height():
            smaller = picture.scaled(
                size.expandedTo(QSize(1, 1)),
                Qt.AspectRatioMode.KeepAspectRatio,
                Qt.TransformationMode.SmoothTransformation,
            )
            if smaller.isNull():  # a line of one pixel in width
                smaller = picture.scaled(size.expandedTo(QSize(1, 1)))
        # Drawn on a new one, so that nothing of the file but the picture is kept.
        clean = QImage(smaller.size(), QImage.Format.Format_ARGB32)
        clean.fill(Qt.GlobalColor.transparent)
        painter = QPainter(clean)
        painter.drawImage(0, 0, smaller)
        painter.end()
        out = QBuffer()
        out.open(QIODevice.OpenModeFlag.WriteOnly)
        clean.save(out, "PNG")  # type: ignore[call-overload]
        logo = bytes(out.data().data())
        if len(logo) <= MAX_LOGO_BYTES:
            return logo
        size = QSize(round(size.width() * SHRINK), round(size.height() * SHRINK))
