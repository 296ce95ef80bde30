"""Makes text that may come from somebody else harmless where it is shown: no character of it steers or hides anything.

`visible` is for whatever leaves the program as text, `one_line` for a value within a line, `isolated` for pages,
`inert_cell` for a cell that a spreadsheet shows.
"""

from __future__ import annotations

import errno
import io
import os
import re
import sys
from typing import Any

_STEERING = re.compile(
    # Controls but tab and line feed; those of Latin-1, which some terminals obey as escapes; marks, embeddings and
    # isolates of direction (Unicode Standard Annex 9, 2); separators of lines and paragraphs; the sign that an editor
    # hides; tags.
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff\ufff9-\ufffb\U000e0000-\U000e007f]"
)

FORMULA_BEGINS = ("=", "+", "-", "@", "\t")
"""A cell that begins so is run as a formula by usual spreadsheets (OWASP, "CSV Injection"; from memory). A return,
which they name too, is made visible before."""

_A_VALUE = re.compile(r"[+-]\d[\d.,]*([eE][+-]?\d+)?[ \w%~µΩ]*")
"""A signed number with its unit, such as a line of a meter: no formula."""

_LINE_BREAKS = re.compile(r"[\t\n]+")

_RIGHT_TO_LEFT = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc\U00010800-\U00010fff\U0001e800-\U0001efff"
"""Blocks of the scripts that are written from right to left (Unicode, DerivedBidiClass)."""

_RIGHT_TO_LEFT_RUN = re.compile(f"[{_RIGHT_TO_LEFT}]+(?: +[{_RIGHT_TO_LEFT}]+)*")

_FOLDERS = re.compile(
    # Of a path from the root: /home/anna/My visits/, C:\Users\Anna\, \\server\share\. Devices keep theirs.
    r"(?:(?<![\w/:.<])|(?<=://))/(?!dev/)(?:[^/\s?&](?:[^/\n?&]*[^/\s?&])?/)+"
    r"|(?<!\w)(?:[A-Za-z]:[\\/]|\\\\)(?:[^\\/\s](?:[^\\/\n]*[^\\/\s])?[\\/])*"
    # The same in the query of a URL.
    r"|(?<==)(?:[A-Za-z]%3A)?(?:%2F|%5C)(?:[^&\s]*(?:%2F|%5C))?",
    re.IGNORECASE,
)

_ISOLATE, _END_OF_ISOLATE = "\u2068", "\u2069"


def visible(text: str) -> str:
    r"""The text with each character that a terminal or a page would obey, and nobody sees, as an escape: `\x1b`."""
    return _STEERING.sub(_escape, text)


def one_line(text: str) -> str:
    """The text as a part of a line: also without line feeds and tabs, which would make lines of their own."""
    return visible(_LINE_BREAKS.sub(" ", text))


def inert_cell(value: Any) -> Any:
    r"""Make a text inert that a spreadsheet or a terminal would run when it shows a CSV file.

    A character that steers a terminal becomes its escape, `\x1b`, and an apostrophe stands before what would be a
    formula. Whoever reads the file by program takes an apostrophe away before one of `= + - @` or a tab.
    """
    if isinstance(value, str):
        value = visible(value)
    if isinstance(value, str) and value[:1] in FORMULA_BEGINS and not _A_VALUE.fullmatch(value):
        return f"'{value}"
    return value


def without_folders(text: str) -> str:
    """The text for somebody else: of each path from the root of a disk only the file's name.

    Folders hold the names of users and households.
    """
    return _FOLDERS.sub("", text)


def isolated(text: str) -> str:
    """The text for a page: `visible`, and what is written from right to left cannot turn round what is beside it.

    Each such run is put between the characters that isolate it, which works in texts, attributes and pictures alike.
    """
    return _RIGHT_TO_LEFT_RUN.sub(lambda run: f"{_ISOLATE}{run[0]}{_END_OF_ISOLATE}", visible(text))


class VisibleTextStream(io.TextIOWrapper):
    """A stream of text whose every character is `visible`; letters that it cannot encode are escapes as well."""

    failure: OSError | None = None
    """Why it took nothing more: nobody reads it, or the disk behind it is full."""

    def write(self, text: str) -> int:
        """Write text; returns how many characters were given. Raises OSError, which is kept as `failure`."""
        try:
            super().write(visible(text))
        except OSError as error:
            self.failure = error
            raise
        return len(text)


class ClosedStream(io.TextIOBase):
    """Stands for a standard output that was closed before the start; without it, `print` would say nothing of that."""

    failure: OSError | None = None
    """Why what was written went nowhere; None while nothing was written."""

    def write(self, text: str) -> int:
        """Lose a text and keep that it was lost; returns how many characters were given."""
        self.failure = OSError(errno.EBADF, os.strerror(errno.EBADF))
        return len(text)


def make_output_visible() -> None:
    """Let everything that the program prints, whoever prints it, go through `visible`."""
    if sys.stdout is None:
        sys.stdout = ClosedStream()
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        # A stream that is none (a window without a console), or that a test has put there, stays.
        if type(stream) is io.TextIOWrapper:
            encoding, newline = stream.encoding, "\r\n" if sys.platform == "win32" else "\n"
            line_buffering = name == "stderr" or stream.line_buffering
            write_through = stream.write_through
            setattr(
                sys,
                name,
                VisibleTextStream(
                    stream.detach(),
                    encoding,
                    "backslashreplace",
                    newline,
                    line_buffering,
                    write_through,
                ),
            )


def _escape(character: re.Match[str]) -> str:
    return character[0].encode("unicode_escape").decode("ascii")
