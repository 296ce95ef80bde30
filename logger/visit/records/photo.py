"""A photo or sketch of a spot, and whether bytes are a picture as the log keeps them.

Source of the form: ITU-T T.81 (JPEG), annex B.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from logger.metrology.rounding import grouped
from logger.translation import marked, tr

PhotoKind = Literal["photo", "sketch"]

PHOTO_KINDS: dict[PhotoKind, str] = {"photo": marked("photo"), "sketch": marked("sketch")}
"""By what the log calls it; translated where it is shown."""

MAX_PHOTO_BYTES = 120_000
"""Largest photo that the log keeps; twenty of them make a report of 3 MB."""

MAX_PHOTO_PIXELS = 1200
"""Longest side of a photo: over 200 dots per inch across a page."""

MAX_PHOTOS_OF_SPOT = 4
"""So many are added to a spot, and shown of it: of more none is large enough to be recognised on a page."""

_START, _END = b"\xff\xd8", b"\xff\xd9"
_FRAME = 0xC0
_SCAN = 0xDA
_JFIF_HEADER = 0xE0
_OF_PICTURE = (0xC4, 0xDB, 0xDD, _JFIF_HEADER)
"""Segments besides frame and scan that say nothing but how the picture is drawn: Huffman tables, quantisation tables,
the restart interval (T.81, table B.1), and the JFIF header."""

_JFIF_BYTES = 18
"""Marker, length and content of a JFIF header without a thumbnail (ITU-T T.871, 10.1)."""

_COLOURS = (1, 3)
"""Components of a grey picture and of one in colour."""


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo or sketch without its picture, which `PhotoStore.picture` gives.

    Args:
        id: of the photo.
        utc_ns: when it was added, UTC ns.
        kind: photo or sketch.
        width, height: pixels.
        octets: size of the picture, bytes.
        caption: in the user's words; may be empty.
        entered_by: the practitioner's name; empty where it was not stated.
        spot_id: where it belongs; None while it is taken off.
    """

    id: int
    utc_ns: int
    kind: PhotoKind
    width: int
    height: int
    octets: int
    caption: str
    entered_by: str
    spot_id: int | None


def photo_size(jpeg: bytes) -> tuple[int, int] | None:
    """Width and height of a picture as the log keeps it, pixels; None where the bytes are none.

    Only a baseline JPEG of one scan counts that holds nothing but the picture: no place, device, remark or thumbnail.
    """
    if not (jpeg.startswith(_START) and jpeg.endswith(_END)):
        return None
    size, at = None, len(_START)
    while at + 4 <= len(jpeg) and jpeg[at] == 0xFF:
        marker, length = jpeg[at + 1], int.from_bytes(jpeg[at + 2 : at + 4])
        content = jpeg[at + 4 : at + 2 + length]
        if marker == _FRAME:
            if size is not None or len(content) < 6 or content[5] not in _COLOURS:
                return None
            size = int.from_bytes(content[3:5]), int.from_bytes(content[1:3])
        elif marker == _SCAN:
            return size if size and 0 not in size and _is_one_scan(jpeg, at + 2 + length) else None
        elif marker not in _OF_PICTURE or (marker == _JFIF_HEADER and length + 2 != _JFIF_BYTES):
            return None
        at += 2 + length
    return None


def photo_problem(jpeg: bytes, width: int | None = None, height: int | None = None) -> str:
    """What is wrong with a photo, in a sentence; empty where nothing is.

    Args:
        jpeg: the picture.
        width, height: as the log states them, pixels; None where nothing is stated.
    """
    if len(jpeg) > MAX_PHOTO_BYTES:
        text = tr("The picture has {n} bytes, and {most} are the most.")
        return text.format(n=grouped(len(jpeg)), most=grouped(MAX_PHOTO_BYTES))
    size = photo_size(jpeg)
    if size is None:
        return tr("The picture is damaged, or none that this program has kept.")
    if max(size) > MAX_PHOTO_PIXELS:
        text = tr("The picture has {width} x {height} pixels, and {most} is the most of each.")
        return text.format(width=size[0], height=size[1], most=MAX_PHOTO_PIXELS)
    if None not in (width, height) and size != (width, height):
        return tr("The picture has another size than is stated of it.")
    return ""


def _is_one_scan(jpeg: bytes, start: int) -> bool:
    """Whether nothing but the lines of a picture is between the head of a scan and the end of the file."""
    at = jpeg.find(b"\xff", start)
    while 0 <= at < len(jpeg) - 2:
        # Within a scan a byte 0xFF is followed by 0, or by the number of a restart (T.81, B.1.1.5).
        if jpeg[at + 1] != 0 and not 0xD0 <= jpeg[at + 1] <= 0xD7:
            return False
        at = jpeg.find(b"\xff", at + 2)
    return at == len(jpeg) - 2
