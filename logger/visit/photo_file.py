"""A picture file becomes a photo as the visit log keeps it: read with bounds, made small, and drawn anew as a JPEG.

In: a file that the user chose. Out: the bytes for `PhotoStore.add`. Drawing it anew leaves out everything that is no
picture: the place and time it was taken at, the device, remarks, thumbnails, colour profiles.
"""

from __future__ import annotations

import io
import stat
import struct
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import BinaryIO

from PIL import Image, ImageCms, ImageFile, ImageOps, UnidentifiedImageError

from logger.errors import StillvoltError
from logger.metrology.rounding import fixed, grouped
from logger.plain_text import one_line
from logger.translation import marked, tr
from logger.visit.records.photo import MAX_PHOTO_PIXELS, photo_problem

MAX_FILE_BYTES = 50_000_000
"""A larger file is refused unread: a photo of a telephone has 3 to 20 MB."""

MAX_PIXELS = 50_000_000
"""Most pixels of a picture that is unpacked whole: about 400 MB of memory while it is drawn anew."""

MAX_JPEG_PIXELS = 85_000_000
"""Most of a JPEG, which is unpacked at a part of its size."""

TARGET_BYTES = 80_000
"""A kept photo is smaller than this, bytes, so that twenty of them leave a report that can be sent."""

QUALITIES = (85, 75, 65, 55, 45, 35)
"""Tried in this order until the photo is small enough; below the last one it is made smaller instead."""

SHRINK = 0.75
"""So much smaller, each way, is a photo made whose worst quality is still too large: one of gravel or leaves."""

FORMATS = ("JPEG", "PNG", "WEBP", "BMP", "TIFF", "HEIF")
"""What is read, by Pillow's names."""

_JPEGS = ("JPEG", "MPO")
"""What Pillow calls a JPEG once it is open; MPO is one with a second picture, as some telephones make it."""

_HEIC_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
"""After the length and `ftyp` at the start of a HEIC file (ISO/IEC 23008-12, from memory)."""

_SMALLER = marked("Make the photo smaller, or choose another one.")

_WHITE = "#ffffff"


def kept_photo(path: Path) -> bytes:
    """Make the photo that is kept of a file; the file stays as it is.

    Args:
        path: a JPEG, HEIC, PNG, WebP, BMP or TIFF.

    Returns:
        A JPEG of at most 1200 pixels each way and below 80,000 bytes, with nothing in it but the picture.

    Raises:
        StillvoltError: the file cannot be read, is no picture, is damaged or is too large.
    """
    name = one_line(path.name)
    with _opened(path, name) as file:
        picture = _drawn_anew(file, name)
    jpeg = _as_small_jpeg(picture)
    assert not photo_problem(jpeg)
    return jpeg


@contextmanager
def _opened(path: Path, name: str) -> Iterator[BinaryIO]:
    """Open a file of bounded size; a pipe or a device is not waited for."""
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise _refused(tr("“{name}” is a folder or a device, and no file.").format(name=name))
        if status.st_size > MAX_FILE_BYTES:
            text = tr("“{name}” has more than {most} MB, and is too large for a photo.")
            raise _refused(text.format(name=name, most=fixed(MAX_FILE_BYTES / 1e6, 0)), tr(_SMALLER))
        file = path.open("rb")
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        reason = getattr(error, "strerror", None) or error
        raise _refused(tr("“{name}” cannot be read ({reason}).").format(name=name, reason=reason)) from error
    with file:
        yield file


def _refused(what: str, next_step: str = "") -> StillvoltError:
    return StillvoltError(what, tr("Nothing was added."), next_step or tr("Choose another file."))


def _drawn_anew(file: BinaryIO, name: str) -> Image.Image:
    """The picture in a file, upright, in sRGB and of the size that is kept, with nothing else in it."""
    can_read_heic = _can_read_heic()
    is_heic = _is_heic(file)
    if is_heic and not can_read_heic:
        raise _refused(
            tr("“{name}” is a HEIC picture, which this installation cannot read.").format(name=name),
            tr("Save it as a JPEG, then choose that."),
        )
    try:
        with (
            _whole_pictures_only(),
            Image.open(file, formats=FORMATS if can_read_heic else FORMATS[:-1]) as opened,
        ):
            _refuse_many_pixels(opened, name)
            if opened.format in _JPEGS:
                opened.draft(None, (MAX_PHOTO_PIXELS, MAX_PHOTO_PIXELS))
            opened.load()
            profile = opened.info.get("icc_profile")
            upright = ImageOps.exif_transpose(opened)
            small = _in_colour(upright)
            small.thumbnail((MAX_PHOTO_PIXELS, MAX_PHOTO_PIXELS))
            return _on_white(_in_srgb(small, profile))
    except UnidentifiedImageError as error:
        raise _refused(
            tr("“{name}” is no picture that can be read here, whatever its name says.").format(name=name),
            tr("Choose a JPEG, HEIC, PNG, WebP, BMP or TIFF."),
        ) from error
    except Image.DecompressionBombError as error:
        raise _too_many_pixels(name, MAX_PIXELS) from error
    except (
        OSError, ValueError, SyntaxError, TypeError, KeyError, IndexError, OverflowError, struct.error, EOFError,
        RuntimeError, ZeroDivisionError, AttributeError,
    ) as error:  # fmt: skip
        # What a decoder raises on a damaged picture depends on where the damage is.
        raise _refused(
            tr("“{name}” is a damaged picture: it cannot be read to its end.").format(name=name)
        ) from error
    except MemoryError as error:
        raise _too_many_pixels(name, MAX_PIXELS) from error


@contextmanager
def _whole_pictures_only() -> Iterator[None]:
    """Refuse pictures that end too early, also where another library (the PDF's) has told Pillow to fill them up."""
    before, ImageFile.LOAD_TRUNCATED_IMAGES = ImageFile.LOAD_TRUNCATED_IMAGES, False
    try:
        yield
    finally:
        ImageFile.LOAD_TRUNCATED_IMAGES = before


def _refuse_many_pixels(picture: Image.Image, name: str) -> None:
    most = MAX_JPEG_PIXELS if picture.format in _JPEGS else MAX_PIXELS
    if picture.width * picture.height > most:
        raise _too_many_pixels(name, most)


def _too_many_pixels(name: str, most: int) -> StillvoltError:
    return _refused(
        tr("“{name}” has more than {most} pixels, too many to be drawn here.").format(
            name=name, most=grouped(most)
        ),
        tr(_SMALLER),
    )


def _is_heic(file: BinaryIO) -> bool:
    head = file.read(12)
    file.seek(0)
    return head[4:8] == b"ftyp" and head[8:12] in _HEIC_BRANDS


@cache
def _can_read_heic() -> bool:
    """Whether pictures of telephones can be read that are no JPEG; what reads them is not on every computer."""
    with suppress(ImportError):
        import pillow_heif  # noqa: PLC0415  is optional

        pillow_heif.register_heif_opener()
        return True
    return False


def _in_colour(picture: Image.Image) -> Image.Image:
    """The picture with red, green, blue and, where it has holes, their share."""
    if picture.mode.startswith(("I", "F")):  # grey in 16 bits; conversion would cut it to white
        picture = picture.convert("F").point(lambda value: value * (1 / 256)).convert("L")
    has_holes = picture.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in picture.info
    wanted = "RGBA" if has_holes else "RGB"
    return picture.copy() if picture.mode == wanted else picture.convert(wanted)


def _in_srgb(picture: Image.Image, profile: object) -> Image.Image:
    """The picture in the colours that every screen takes a picture without a profile for."""
    if not isinstance(profile, bytes) or not profile:
        return picture
    with suppress(
        ImageCms.PyCMSError, OSError, ValueError, TypeError
    ):  # a profile of other colours, or damaged
        given = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        converted = ImageCms.profileToProfile(picture, given, ImageCms.createProfile("sRGB"))
        if converted is not None:
            return converted
    return picture


def _on_white(picture: Image.Image) -> Image.Image:
    """A picture of its own, so that nothing that was read besides the pixels comes along."""
    clean = Image.new("RGB", picture.size, _WHITE)
    clean.paste(picture, mask=picture.getchannel("A") if picture.mode == "RGBA" else None)
    return clean


def _as_small_jpeg(picture: Image.Image) -> bytes:
    while True:
        for quality in QUALITIES:
            written = io.BytesIO()
            picture.save(written, "JPEG", quality=quality, optimize=True, progressive=False)
            if written.tell() < TARGET_BYTES:
                return written.getvalue()
        width, height = (max(1, int(side * SHRINK)) for side in picture.size)
        picture = picture.resize((width, height), Image.Resampling.LANCZOS)
