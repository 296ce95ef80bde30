"""Searches a folder of visits by household, date, room, spot and text.

A visit that cannot be read (not a visit log, damaged, from a newer version) is listed with the reason and not changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from logger.errors import StillvoltError
from logger.report.archive.entry import ArchiveEntry, read_entry
from logger.translation import tr
from logger.visit.records.name_key import name_key
from logger.visit.storage.visit_folder import is_visit


@dataclass(frozen=True, slots=True)
class UnreadableVisit:
    """A file that cannot be read, and why."""

    path: Path
    reason: str


@dataclass(frozen=True, slots=True)
class Archive:
    """The visits that were found, the newest first."""

    visits: tuple[ArchiveEntry, ...]
    refused: tuple[UnreadableVisit, ...]
    visit_count: int
    """Number of visits that could be read, found or not."""


@dataclass(frozen=True, slots=True)
class Search:
    """What is looked for: all of it must hold, and what is empty holds for every visit.

    Case and the form of accents do not matter, and a part of a name is enough.

    Args:
        household: a part of its name.
        room: a part of the name of one of its rooms.
        spot: a part of the name of one of its spots.
        text: words; each is a part of anything that was typed in the visit.
        first_day: local date; one of the recordings or readings lies on that day or later.
        last_day: likewise, on that day or earlier: the same one, where both are given.
        open_remedies: only homes with remedies that are planned, or done and not read again: their newest visits.
    """

    household: str = ""
    room: str = ""
    spot: str = ""
    text: str = ""
    first_day: date | None = None
    last_day: date | None = None
    open_remedies: bool = False

    def matches(self, entry: ArchiveEntry) -> bool:
        """Return whether a visit is one of those that are looked for."""
        anything = (entry.household, entry.path.stem, *entry.rooms, *entry.spots, *entry.texts)
        return (
            _within(self.household, (entry.household,))
            and _within(self.room, entry.rooms)
            and _within(self.spot, entry.spots)
            and all(_within(word, anything) for word in self.text.split())
            and self._has_day(entry)
            and (not self.open_remedies or entry.open_remedies > 0)
        )

    def _has_day(self, entry: ArchiveEntry) -> bool:
        """Whether one of its recordings or readings lies between the two days; a planned visit lies nowhere."""
        if self.first_day is None and self.last_day is None:
            return True
        first_day, last_day = self.first_day or date.min, self.last_day or date.max
        return any(began <= last_day and ended >= first_day for began, ended in entry.stretches)


def search(folder: Path, wanted: Search = Search()) -> Archive:
    """Search a folder and the folders in it.

    Args:
        folder: of visit logs.
        wanted: which of them; all if not given.

    Raises:
        StillvoltError: there is no such folder, or it cannot be read; or the first day is later than the last.
    """
    if wanted.first_day and wanted.last_day and wanted.first_day > wanted.last_day:
        raise StillvoltError(
            tr("No day is from {first} to {last}: the first is the later one.").format(
                first=wanted.first_day.isoformat(), last=wanted.last_day.isoformat()
            ),
            next_step=tr("Exchange the two."),
        )
    if not _is_folder(folder):
        raise StillvoltError(
            tr("There is no folder {folder}.").format(folder=folder),
            next_step=tr("See whether the name is right."),
        )
    found: list[ArchiveEntry] = []
    refused: list[UnreadableVisit] = []
    visit_count = 0
    continued: set[tuple[str, str]] = set()
    try:
        # A folder of such a name is searched like any other; a visit log under another name is one by its content.
        # What has no content to look at (a pipe, a device, a link to nothing) may be one, and is listed.
        paths = sorted(
            path for path in folder.rglob("*") if is_visit(path) or not (path.is_dir() or path.is_file())
        )
    except OSError as error:
        raise StillvoltError(
            tr("{file} cannot be read ({error}).").format(file=folder, error=error.strerror),
            tr("Nothing was changed."),
        ) from error
    for path in paths:
        if not path.is_file():
            refused.append(UnreadableVisit(path, _why_no_file(path)))
            continue
        try:
            entry = read_entry(path)
        except StillvoltError as error:
            refused.append(UnreadableVisit(path, error.what))
            continue
        visit_count += 1
        continued.add((entry.household, entry.continues))
        if wanted.matches(entry):
            found.append(entry)
    if wanted.open_remedies:
        # What was open then is open, or closed, in the visit that took it over.
        found = [entry for entry in found if (entry.household, entry.path.name) not in continued]
    found.sort(key=lambda entry: (entry.day or date.min, entry.path.name), reverse=True)
    return Archive(tuple(found), tuple(refused), visit_count)


def _why_no_file(path: Path) -> str:
    if path.is_symlink() and not path.exists():
        return tr("It is a link to nothing that can be read.")
    return tr("It is no file on a disk, but a pipe, a device or another special file.")


def _is_folder(path: Path) -> bool:
    """Whether there is a folder; False too for a name that none can have."""
    try:
        return path.is_dir()
    except (OSError, ValueError):
        return False


def _within(wanted: str, texts: Sequence[str]) -> bool:
    return not wanted or any(name_key(wanted) in name_key(text) for text in texts)


def read_day(text: str) -> date:
    """Read a date as typed: 2026-05-16.

    Raises:
        StillvoltError: it is no date.
    """
    try:
        return date.fromisoformat(text.strip())
    except ValueError as error:
        raise StillvoltError(
            tr("{typed} is not a date.").format(typed=repr(text)), next_step=tr("Type it like 2026-05-16.")
        ) from error
