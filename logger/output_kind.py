"""Recognises by its content a file that this program has written, which a new one of its kind may replace.

In: an existing file. Out: whether it is a report or form, a table, a spreadsheet, a columnar file, a PDF, a picture or
a list of events or the comparison of two visits of this program. What it does not recognise belongs to somebody else.
"""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

GENERATOR = "Stillvolt"
"""Stands in each HTML file as its generator, and in each spreadsheet as its author."""

PICTURE_AUTHOR_KEY = "Software"
"""The text of a PNG file under which the program that has drawn it is named; an SVG file describes itself so."""

PDF_MARK = f"% {GENERATOR}\n".encode()
"""A comment at the end of each PDF file: its own fields are compressed."""

JPEG_MARK = f"{GENERATOR}\n".encode()
"""After the end of each JPEG file, where every reader has stopped."""

TEXT_TITLE = f"Two visits compared by {GENERATOR}"
"""The first line of each text."""

KNOWN_HEADERS: set[tuple[str, ...]] = set()
"""Header rows of the CSV files that this program writes, added by what writes them."""

_BEGIN_BYTES = 4096
_END_BYTES = 1 << 16
_HTML_MARKS = (f'<meta name="generator" content="{GENERATOR}"'.encode(), b"<title>Body voltage ")
"""The second stands in files of older versions."""

_EVENT = {"kind", "known_at_s"}


def is_own_output(path: Path) -> bool:
    """Whether this program has written a file, or nothing is in it; raises OSError where it cannot be read."""
    size = path.stat().st_size
    if not size:
        return True
    with path.open("rb") as there:
        begin = there.read(_BEGIN_BYTES)
        there.seek(max(size - _END_BYTES, 0))
        end = there.read()
    if begin.startswith(b"PK"):
        return _is_own_workbook(path)
    if begin.startswith(b"PAR1"):
        return any(all(name.encode() in end for name in header) for header in KNOWN_HEADERS)
    if begin.startswith(b"\x89PNG\r\n"):
        return f"{PICTURE_AUTHOR_KEY}\0{GENERATOR}".encode() in begin
    if begin.startswith(b"\xff\xd8\xff"):
        return end.endswith(JPEG_MARK)
    if begin.startswith((b"<?xml", b"<svg")):
        return f"<desc>{PICTURE_AUTHOR_KEY}: {GENERATOR}</desc>".encode() in begin
    if begin.startswith(b"%PDF"):
        return end.endswith(PDF_MARK)
    return any(mark in begin for mark in _HTML_MARKS) or _is_own_text(begin)


def _is_own_text(begin: bytes) -> bool:
    first = begin.split(b"\n", 1)[0].decode("utf-8", "replace").strip()
    if first == TEXT_TITLE:
        return True
    header = tuple(first.split(","))
    # A file of an older version has some of the columns.
    if any(header[0] == known[0] and set(header) <= set(known) and 2 * len(header) > len(known)
           for known in KNOWN_HEADERS):  # fmt: skip
        return True
    try:
        event = json.loads(first)
    except ValueError:
        return False
    return isinstance(event, dict) and event.keys() >= _EVENT


def _is_own_workbook(path: Path) -> bool:
    try:
        with zipfile.ZipFile(path) as book:
            names = set(book.namelist())
            if not {"docProps/core.xml", "xl/workbook.xml"} <= names:
                return False
            # Those of older versions have no author, and the same first sheet.
            sheets = book.read("xl/workbook.xml")
            return GENERATOR.encode() in book.read("docProps/core.xml") or (
                b'name="about"' in sheets and b'name="readings"' in sheets and b'name="samples"' in sheets
            )
    except (zipfile.BadZipFile, KeyError):
        return False
