"""Who measured, as the report of a visit names it: name, firm, licence, telephone, e-mail and a logo.

In: texts and a PNG, which may come from somebody else's visit. Out: the same checked,
and as JSON: one fact, `practitioner`.
"""

from __future__ import annotations

import base64
import binascii
import json
import zlib
from dataclasses import dataclass

from logger.errors import StillvoltError
from logger.metrology.rounding import grouped
from logger.plain_text import visible
from logger.translation import tr
from logger.visit.records.kept_object import kept_object

MAX_LETTERS = 200
"""Longest name, firm or licence, telephone or e-mail: two lines of the report's head."""

MAX_LOGO_BYTES = 100_000
"""Largest logo; it is kept in the log and in each report. As base64 it stays below the longest text of a visit log."""

MAX_LOGO_PIXELS = 1000
"""Widest and highest logo: at the 60 mm that it has at most on paper, over 400 dots per inch."""

_PNG_START = b"\x89PNG\r\n\x1a\n"
_PNG_END = b"IEND"
_CHUNK_FRAME_BYTES = 12
"""Length, type and checksum around the data of a chunk. Source: PNG specification (ISO/IEC 15948), 5.3."""


_WORDS = ("name", "firm", "licence", "telephone", "email")
"""The parts that are a line each."""


@dataclass(frozen=True, slots=True)
class Practitioner:
    """Who measured; each part is empty where nobody has stated it.

    Args:
        name, firm, licence: in their own words, each a line.
        logo: a PNG that `check_logo` takes.
        telephone, email: as they are printed, each a line; nobody is called or written to by them.
    """

    name: str = ""
    firm: str = ""
    licence: str = ""
    logo: bytes = b""
    telephone: str = ""
    email: str = ""

    @property
    def is_stated(self) -> bool:
        """Whether anything is stated."""
        return self != NOT_STATED

    def lines(self) -> tuple[str, ...]:
        """What the report names, a line each: name, firm, licence, telephone and e-mail."""
        licence = tr("Licence: {licence}").format(licence=self.licence) if self.licence else ""
        telephone = tr("Telephone: {telephone}").format(telephone=self.telephone) if self.telephone else ""
        email = tr("E-mail: {email}").format(email=self.email) if self.email else ""
        return tuple(line for line in (self.name, self.firm, licence, telephone, email) if line)

    def to_json(self) -> str:
        """As JSON text; `from_json` is the way back."""
        logo = base64.b64encode(self.logo).decode("ascii")
        return json.dumps({**{key: getattr(self, key) for key in _WORDS}, "logo": logo})

    @classmethod
    def from_json(cls, text: str) -> Practitioner:
        """From what `to_json` gave; a part that no window would have written is left out."""
        data = kept_object(text)
        words = {
            key: value
            for key in _WORDS
            if isinstance(value := data.get(key), str) and not why_not_a_line(value)
        }
        return cls(**words, logo=_logo_of(data.get("logo")))


NOT_STATED = Practitioner()


def why_not_a_line(text: str, max_letters: int = MAX_LETTERS) -> str:
    """Why a text cannot be a line of the report, in a sentence; empty where it can.

    Args:
        text: what was typed, without blanks around it.
        max_letters: how long it may be.
    """
    if len(text) > max_letters:
        said = tr("This has {n} characters; at most {most} fit.")
        return said.format(n=grouped(len(text)), most=max_letters)
    if visible(text) != text or "\n" in text or "\t" in text:
        return tr("This has a character that cannot be seen, such as a line break or a mark of direction.")
    return ""


def check_logo(content: bytes) -> None:
    """Check that bytes are a whole PNG of bounded size. Source of the form: PNG specification (ISO/IEC 15948), 5.

    Raises:
        StillvoltError: they are not.
    """
    why = _why_no_logo(content)
    if why:
        raise StillvoltError(why)


def _why_no_logo(content: bytes) -> str:
    if len(content) > MAX_LOGO_BYTES:
        text = tr("The logo cannot be used: it has {n} bytes, and {most} are the most.")
        return text.format(n=grouped(len(content)), most=grouped(MAX_LOGO_BYTES))
    if not content.startswith(_PNG_START):
        return tr("The logo cannot be used: it is no PNG.")
    damaged = tr("The logo cannot be used: it is a damaged PNG.")
    kinds: list[bytes] = []
    at = len(_PNG_START)
    while at < len(content):
        length = int.from_bytes(content[at : at + 4])
        kind, data = content[at + 4 : at + 8], content[at + 8 : at + 8 + length]
        end = at + _CHUNK_FRAME_BYTES + length
        if end > len(content) or zlib.crc32(kind + data) != int.from_bytes(content[end - 4 : end]):
            return damaged
        if not kinds:
            width, height = int.from_bytes(data[:4]), int.from_bytes(data[4:8])
            if kind != b"IHDR" or not (width and height):
                return damaged
            if max(width, height) > MAX_LOGO_PIXELS:
                text = tr(
                    "The logo cannot be used: it has {width} x {height} pixels, and {most} is the most of each."
                )
                return text.format(width=width, height=height, most=MAX_LOGO_PIXELS)
        kinds.append(kind)
        at = end
    return "" if kinds and kinds[-1] == _PNG_END and kinds.count(_PNG_END) == 1 else damaged


def _logo_of(text: object) -> bytes:
    if not isinstance(text, str):
        return b""
    try:
        logo = base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        return b""
    return b"" if _why_no_logo(logo) else logo
