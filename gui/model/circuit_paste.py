"""A table of circuits as a spreadsheet copies it: what of it is added, what is changed, and what is told of the rest.

In: text of cells parted by tabs or semicolons, and what is on the list. Out: rows to enter, and sentences. Nothing is
entered here.
"""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from gui.model.circuit_entry import COLUMNS, OF_CORDS, CircuitEntry, Column, is_same
from gui.model.circuit_list_edits import Wanted, doubled_numbers
from gui.model.circuit_paste_headings import HEADINGS
from logger.errors import StillvoltError
from logger.metrology.rounding import grouped
from logger.name_list import joined, quoted
from logger.plain_text import visible
from logger.translation import tr, tr_n
from logger.visit.records.home_details import SourceDetails
from logger.visit.records.home_records import Source
from logger.visit.records.name_key import name_key
from logger.visit.records.practitioner import MAX_LETTERS

MAX_ROWS, MAX_COLUMNS = 300, 40
"""More than any panel of a home; more than that is another table, copied by mistake."""
MAX_TEXT = 200_000
"""So many letters are looked at."""
HEADING_WITHIN = 5
"""The heading is looked for in so many first rows: a title may stand above it."""

_NUMBER = re.compile(r"[A-Za-z]{0,2}[ .]?\d{1,4}([/+.-][A-Za-z]?\d{1,4})*")
_WORD = re.compile(r"[^\W\d_]{3}")
_RUN_AS_FORMULA = re.compile(r"^'(?=[=+\-@])")
"""What the export puts before a text that a spreadsheet would run."""

Placed = dict[Column, str]
"""The cells of a row that have a column."""


@dataclass(frozen=True, slots=True)
class PastePlan:
    """What a pasted table would do.

    Args:
        wanted: what is added, and what is changed.
        unchanged: how many rows say what is kept already.
        notes: sentences on what was not clear.
    """

    wanted: tuple[Wanted, ...]
    unchanged: int
    notes: tuple[str, ...]

    @property
    def added(self) -> int:
        """How many circuits are added."""
        return sum(row.source is None for row in self.wanted)

    @property
    def changed(self) -> int:
        """How many circuits and cords are changed."""
        return len(self.wanted) - self.added


def pasted_cells(text: str) -> list[list[str]]:
    """The cells of a text, row by row, without empty rows; each cell one clean line.

    Args:
        text: as the clipboard has it.

    Raises:
        StillvoltError: it is too long to be a table of circuits.
    """
    if len(text) > MAX_TEXT:
        raise _too_large()
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\0", "")
    mark = "\t" if "\t" in text else ";"
    lines: Iterable[Sequence[str]]
    if text.count('"') % 2 == 0:
        lines = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
    else:  # a quote that nothing closes would swallow the rest
        lines = (line.split(mark) for line in text.split("\n"))
    rows = []
    for line in lines:
        row = [_clean(cell) for cell in line]
        while row and not row[-1]:
            row.pop()
        if row:
            rows.append(row)
        if len(rows) > MAX_ROWS + HEADING_WITHIN or len(row) > MAX_COLUMNS:
            raise _too_large()
    return rows


def _too_large() -> StillvoltError:
    return StillvoltError(
        tr("What was copied is too large for a list of circuits: at most {rows} rows.").format(rows=MAX_ROWS),
        tr("Nothing was changed."),
        tr("In the spreadsheet, copy only the rows of the circuits, then paste again."),
    )


def _clean(cell: str) -> str:
    """A cell as one line, composed as names are, without what nobody can see."""
    line = unicodedata.normalize("NFC", " ".join(_RUN_AS_FORMULA.sub("", cell, count=1).split()))
    return "".join(letter for letter in line if visible(letter) == letter)


def paste_plan(text: str, sources: Sequence[Source], details: Mapping[int, SourceDetails]) -> PastePlan:
    """What a pasted table would do to the list.

    Args:
        text: as the clipboard has it.
        sources: the circuits and cords of the list.
        details: what is kept of them, by id.

    Raises:
        StillvoltError: it is no table of circuits.
    """
    cells = pasted_cells(text)
    rows, notes = _placed(cells)
    if not rows:
        raise StillvoltError(
            tr("The clipboard has no rows of circuits."),
            tr("Nothing was changed."),
            tr("Copy the table first."),
        )
    return _Matching(sources, details, notes).plan(rows)


# --- which column is which -------------------------------------------------------------------------------


def _placed(cells: Sequence[Sequence[str]]) -> tuple[list[Placed], list[str]]:
    """Give each cell its column, by a heading row or else by what the cells look like."""
    if not cells:
        return [], []
    at, columns = _heading(cells)
    notes = []
    if columns:
        unknown = [word for place, word in enumerate(cells[at]) if word and place not in columns]
        if unknown:
            notes.append(tr("Columns that are not taken over: {names}.").format(names=joined(unknown)))
        if at:
            notes.append(
                tr_n(
                    "{n} row above the heading is not taken over.",
                    "{n} rows above the heading are not taken over.",
                    at,
                ).format(n=at)
            )
        body = cells[at + 1 :]
    else:
        body, columns = cells, _guessed(cells)
        named = joined([column.shown for column in columns.values()])
        notes.append(tr("There is no heading row. The columns are taken as: {names}.").format(names=named))
    rows = [
        {column: row[place] if place < len(row) else "" for place, column in columns.items()} for row in body
    ]
    panel = ""
    for row in rows:
        if Column.PANEL in row:  # a merged cell comes as blanks below its text
            panel = row[Column.PANEL] = row[Column.PANEL] or panel
    return [
        row for row in rows if any(text for column, text in row.items() if column is not Column.PANEL)
    ], notes


def _heading(cells: Sequence[Sequence[str]]) -> tuple[int, dict[int, Column]]:
    """The place of the heading row, and which column is at which place; none where there is no heading."""
    for at, row in enumerate(cells[:HEADING_WITHIN]):
        found: dict[int, Column] = {}
        for place, word in enumerate(row):
            column = _column_named(word)
            if column is not None and column not in found.values():
                found[place] = column
        filled = sum(bool(word) for word in row)
        named = {Column.NAME, Column.NUMBER} & set(found.values())
        if named and (len(found) >= 2 or len(found) == filled) and 2 * len(found) >= filled:
            return at, found
    return 0, {}


def _column_named(heading: str) -> Column | None:
    word = heading.casefold().strip(" .:").replace(".", "")
    for column in COLUMNS:
        own = (column.value, column.shown)
        if word in (*HEADINGS[column], *(text.casefold().strip(" .") for text in own)):
            return column
    return None


def _guessed(cells: Sequence[Sequence[str]]) -> dict[int, Column]:
    """Which column is at which place, where no heading says it."""
    width = max(map(len, cells))
    by_place = [[row[place] if place < len(row) else "" for row in cells] for place in range(width)]
    wordy = [place for place, texts in enumerate(by_place) if _mostly(texts, _WORD.search)]
    name = wordy[0] if wordy else 0
    first = [text for text in by_place[name] if text]
    is_repeated = len(set(first)) < len(by_place[name])
    if (
        is_repeated
        and len(wordy) > 1
        and wordy[1] == name + 2
        and _mostly(by_place[name + 1], _NUMBER.fullmatch)
    ):
        name += 2  # the first one is a panel that has a word as its name
    after = dict(enumerate(COLUMNS[COLUMNS.index(Column.NAME) :], name))
    before = {name - 1: Column.NUMBER, name - 2: Column.PANEL}
    return {place: column for place, column in sorted((before | after).items()) if 0 <= place < width}


def _mostly(texts: Sequence[str], matches: object) -> bool:
    assert callable(matches)
    filled = [text for text in texts if text]
    return bool(filled) and 2 * sum(bool(matches(text)) for text in filled) > len(filled)


# --- which row is which circuit --------------------------------------------------------------------------


class _Matching:
    """Finds for each row the circuit or cord that it is about.

    Args:
        sources: the list.
        details: what is kept of them, by id.
        notes: sentences so far.
    """

    def __init__(
        self, sources: Sequence[Source], details: Mapping[int, SourceDetails], notes: Sequence[str]
    ) -> None:
        self._sources = sources
        self._details = details
        self._notes = list(notes)
        self._taken: set[int] = set()
        self._names = {name_key(source.name) for source in sources}
        self._renamed: list[str] = []
        self._unkept: list[str] = []
        self._nameless = self._numberless = self._unchanged = 0

    def plan(self, rows: Sequence[Placed]) -> PastePlan:
        """What the rows do."""
        wanted = [row for placed in rows if (row := self._wanted(placed)) is not None]
        after = {row.source.id: row.entry for row in wanted if row.source is not None}
        circuits = [s for s in self._sources if s.kind == "circuit"]
        kept = [after.get(s.id, CircuitEntry.of(s, self._details.get(s.id))) for s in circuits]
        entries = [*kept, *(row.entry for row in wanted if row.source is None)]
        notes = [*self._notes, *doubled_numbers((entry.name, entry.details) for entry in entries)]
        if self._numberless:
            notes.append(
                tr_n("{n} circuit has no number.", "{n} circuits have no number.", self._numberless).format(
                    n=grouped(self._numberless)
                )
            )
        if self._nameless:
            notes.append(
                tr_n(
                    "{n} row without a name is not taken over.",
                    "{n} rows without a name are not taken over.",
                    self._nameless,
                ).format(n=grouped(self._nameless))
            )
        if self._renamed:
            notes.append(
                tr("Each circuit needs a name of its own, so these were given one: {names}.").format(
                    names=joined(self._renamed)
                )
            )
        return PastePlan(tuple(wanted), self._unchanged, (*notes, *dict.fromkeys(self._unkept)))

    def _wanted(self, placed: Placed) -> Wanted | None:
        source = self._match(placed)
        name = placed.get(Column.NAME, "")
        if source is None and not name_key(name):
            self._nameless += 1
            return None
        before = (
            CircuitEntry.of(source, self._details.get(source.id)) if source is not None else CircuitEntry()
        )
        entry = before if source is not None else self._named(placed)
        for column, text in placed.items():
            is_there = column is Column.NAME and source is None
            if text and not is_there and (not entry.is_cord or column in OF_CORDS):
                entry = self._with_text(entry, column, text)
        if source is None:
            self._numberless += not entry.details.number
            return Wanted(entry)
        self._taken.add(source.id)
        if is_same(source, entry, before):
            self._unchanged += 1
            return None
        if name_key(entry.name) != name_key(source.name):
            if name_key(entry.name) in self._names:  # another one has it
                entry = replace(entry, name=source.name)
            self._names.add(name_key(entry.name))
        return Wanted(entry, source)

    def _match(self, placed: Placed) -> Source | None:
        """The circuit or cord of that name, else the circuit of that number at that panel."""
        name, number = placed.get(Column.NAME, ""), placed.get(Column.NUMBER, "")
        left = [source for source in self._sources if source.id not in self._taken]
        if name_key(name):
            named = [source for source in left if name_key(source.name) == name_key(name)]
            if named:
                return named[0]
        if not number:
            return None
        panel = placed.get(Column.PANEL, "").casefold()
        numbered = [
            source
            for source in left
            if source.kind == "circuit"
            and (kept := self._details.get(source.id)) is not None
            and kept.number.casefold() == number.casefold()
            and panel in ("", kept.panel.casefold())
        ]
        return numbered[0] if len(numbered) == 1 else None

    def _named(self, placed: Placed) -> CircuitEntry:
        """A new circuit with a name that no other has: a panel may have four that are called “Reserve”."""
        name = placed[Column.NAME][:MAX_LETTERS]
        own, number = name, placed.get(Column.NUMBER, "")
        tries = [f"{name} ({number})"] if number else []
        tries += [f"{name} {n}" for n in range(2, MAX_ROWS + len(self._names) + 2)]
        while name_key(own) in self._names:
            own = tries.pop(0)
        if own != name:
            self._renamed.append(quoted(own))
        self._names.add(name_key(own))
        return CircuitEntry(own)

    def _with_text(self, entry: CircuitEntry, column: Column, text: str) -> CircuitEntry:
        try:
            return entry.with_text(column, text[:MAX_LETTERS])
        except StillvoltError as error:
            self._unkept.append(error.what)
            return entry
