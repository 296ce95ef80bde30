"""The journal beside a visit log, and what a file shows that was copied without it.

In: the path of a visit log. Out: whether a journal stands beside it; a sentence on pages that the file lacks.
"""

from __future__ import annotations

from pathlib import Path

from logger.translation import kept_text, tr

NOT_WHOLE = kept_text(
    "{name} is not whole: it has {there} of its {all} pages. The others are in its journal {name}-wal, which was not "
    "copied with it, as after a full disk; or the file was cut off."
)
"""Filled with the name of the file and numbers of pages, and shown by `tr_kept`."""

_HEADER_BYTES = 100
_LEAST_PAGE_BYTES = 512


def journal_of(path: Path, kind: str) -> Path:
    """The path of a file that SQLite keeps beside a log.

    Args:
        path: the log.
        kind: wal, the journal; or shm, its index.
    """
    return path.with_name(f"{path.name}-{kind}")


def has_journal(path: Path) -> bool:
    """Whether there is a journal beside a file, with something in it."""
    try:
        return journal_of(path, "wal").stat().st_size > 0
    except OSError:
        return False


def why_not_whole(path: Path) -> str:
    """That a file without a journal lacks pages at its end, in a sentence that is kept in English; empty where not.

    The header counts the pages. It comes into the file before those that are added, where a full disk ends the
    taking in of the journal: they are in the journal alone then, and SQLite calls the file without it malformed, as
    it does one that was cut off.

    Source: SQLite's file format (page size at byte 16, number of pages at 28, which counts where 24 and 92 are the
    same; from memory).

    Args:
        path: a file that SQLite calls damaged.
    """
    try:
        with path.open("rb") as file:
            head = file.read(_HEADER_BYTES)
        size = path.stat().st_size
    except OSError:
        return ""
    page_bytes, pages = int.from_bytes(head[16:18], "big"), int.from_bytes(head[28:32], "big")
    if page_bytes < _LEAST_PAGE_BYTES or head[24:28] != head[92:96] or size >= pages * page_bytes:
        return ""
    if has_journal(path):
        return ""
    return NOT_WHOLE.format(name=path.name, there=size // page_bytes, all=pages)


def copy_again(path: Path) -> str:
    """What to do about a file that lacks pages.

    Args:
        path: it.
    """
    return tr(
        "Copy {name} and {name}-wal again, together, from the computer where it was recorded. With room on its disk it "
        "is enough to open the visit there: it then takes its journal in."
    ).format(name=path.name)
