"""Names that a visit log may have: those that every system can store, and that show what they are."""

from __future__ import annotations

import os
import re
import unicodedata
from itertools import count
from pathlib import Path

from logger.errors import StillvoltError
from logger.output_file import JOURNAL_SUFFIXES
from logger.translation import tr

MAX_NAME_BYTES = 200
"""Longest name of a visit log. File systems take 255 bytes; journals and reports append to the name."""

_DEVICES = frozenset(
    ("con", "prn", "aux", "nul", *(f"{port}{number}" for port in ("com", "lpt") for number in range(1, 10)))
)
"""Names of devices on Windows, with any suffix (Microsoft, "Naming Files, Paths, and Namespaces"; from memory)."""

_FORBIDDEN = frozenset('<>:"/\\|?*')
"""Characters that no file name has on Windows (same source, from memory)."""

_HIDDEN_CATEGORIES = frozenset(("Cc", "Cf", "Cs", "Zl", "Zp"))
"""Categories of characters that are not seen, or turn the writing around: a name would look like another one."""


_KEPT, _REST = "kept", "rest"
"""What is added in parentheses to the name of a visit log for what is kept of it in a file of its own."""

_ADDED = re.compile(rf"(?: \((?:{_KEPT}|{_REST})(?: \d+)?\))+$")


def free_kept_name(visit: Path) -> Path:
    """The name in which a visit log goes on beside its place, where it was deleted, replaced or overwritten.

    No file has it yet. A log that has such a name itself is counted up: one name stands for all of a visit.
    """
    return _free_name(visit.parent, visit, _KEPT)


def free_rest_name(folder: Path, visit: Path) -> Path:
    """The name in a folder for the lines that a visit log did not take; no file has it yet."""
    return _free_name(folder, visit, _REST)


def may_be_rest_of(path: Path, visit: Path) -> bool:
    """Whether a file has a name that `free_rest_name` gives for a visit log."""
    return path.name.startswith(f"{_first_stem(visit)} ({_REST}") and path.suffix == visit.suffix


def _free_name(folder: Path, visit: Path, word: str) -> Path:
    stem = _first_stem(visit)
    names = (f"{stem} ({word}{f' {number}' if number > 1 else ''}){visit.suffix}" for number in count(1))
    return next(free for name in names if not os.path.lexists(free := folder / name))


def _first_stem(visit: Path) -> str:
    """The name without its suffix, and without what was added to it before."""
    return _ADDED.sub("", visit.stem) or visit.stem


def refuse_unusable_name(path: Path) -> None:
    """Refuse a new visit log whose name another computer could not store, or that does not show what it is.

    Raises:
        StillvoltError: why the name cannot be used.
    """
    reason = _reason(path.name)
    if reason:
        raise StillvoltError(
            tr("{name} cannot be the name of a visit log: {reason}.").format(
                name=ascii(path.name), reason=reason
            ),
            tr("Nothing was written."),
            tr("Choose another name, so that the visit can be opened on every computer."),
        )


def _reason(name: str) -> str:
    hidden = next((c for c in name if unicodedata.category(c) in _HIDDEN_CATEGORIES), None)
    if hidden is not None:
        return tr("it has a character that is not seen (U+{code})").format(code=f"{ord(hidden):04X}")
    if len(name.encode("utf-8")) > MAX_NAME_BYTES:
        return tr("it is longer than {most} bytes").format(most=MAX_NAME_BYTES)
    if not name.strip(". "):
        return tr("it has only dots or blanks")
    if name[-1] in ". ":
        return tr("it ends with a dot or a blank")
    if name.casefold().endswith(JOURNAL_SUFFIXES):
        return tr("it is the name of the journal of another file, which would replace it")
    if name.split(".")[0].strip().casefold() in _DEVICES:
        return tr("it is the name of a device on Windows")
    forbidden = sorted(_FORBIDDEN.intersection(name))
    return tr("it has a {character}").format(character=forbidden[0]) if forbidden else ""


def is_file(path: Path) -> bool:
    """Whether there is a file; False too for a name that no file can have."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False
