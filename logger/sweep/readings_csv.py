r"""The readings of a breaker sweep from a CSV file, and what is wrong with a file that cannot be answered.

In: a file with the header `on,volts,u_volts`, in UTF-8 or in UTF-16 with its mark. `on` names the circuits that were
live, joined by `+`; empty is everything off, `*` alone is everything on. A `+` or a `*` in a name is written `\+` or
`\*`, and a name that has a comma makes the cell one in double quotes, as in every CSV file. A fourth column `simulated`
marks readings of a simulation. Out: a `ReadingsFile`. A file with a mistake is refused as a whole, with each line and
reason, since a row left out silently changes the answer; so is one that mixes simulated and measured readings.
"""

from __future__ import annotations

import codecs
import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from io import StringIO
from math import isfinite
from pathlib import Path

from logger.errors import StillvoltError
from logger.meter.point_watch import MAX_METER_VOLTS
from logger.metrology.rounding import plain
from logger.sweep.solver.readings import EVERYTHING, HEADER, Sweep, sweep_of_sets
from logger.translation import marked, tr, tr_n
from logger.visit.records.name_key import name_key
from logger.visit.records.simulated_run import SIMULATED, is_mark
from logger.visit.results.typed_value import UNLIKELY_VOLTS

MARKED_HEADER = [*HEADER, SIMULATED]

MAX_LISTED_MISTAKES = 5
"""So many lines with a mistake are named in one message."""

MIN_EQUAL_ROWS = 3
"""So many different combinations that all read the same suggest a meter that shows a held value, or no input."""

ESCAPE, JOINT = "\\", "+"

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
"""Byte order marks with their encodings; that of UTF-32 begins with that of UTF-16."""


@dataclass(frozen=True, slots=True)
class ReadingsFile:
    """What a file holds.

    Args:
        sweep: its readings, in their order.
        remarks: whole sentences on what may be a mistake, although it can be answered.
        simulated: whether its readings are marked as simulated.
    """

    sweep: Sweep
    remarks: tuple[str, ...]
    simulated: bool = False


@dataclass(frozen=True, slots=True)
class _Row:
    """A row whose numbers are good.

    Args:
        line: in the file.
        on: the names that were live; None: everything.
        volts: the value, V.
        u_volts: its standard uncertainty, V.
        simulated: whether it is marked as simulated.
    """

    line: int
    on: tuple[str, ...] | None
    volts: float
    u_volts: float
    simulated: bool


NOTHING_DONE = marked("Nothing was worked out, and the file is as it was.")


class _Mistake(Exception):
    """What is wrong with one row, as the end of the sentence 'FILE, line N: ...', in the language that holds."""


def read_readings(path: Path, circuits: Sequence[str] = ()) -> ReadingsFile:
    """Read the file of a sweep.

    Args:
        path: of the CSV file.
        circuits: all names on the panel; without it, those that the rows name.

    Raises:
        StillvoltError: the file cannot be read, or a row has a mistake; it names file, line and reason.
    """
    rows, mistakes = _rows(path)
    panel = _Panel(path, circuits)
    sets: list[frozenset[str]] = []
    for row in rows:
        try:
            sets.append(panel.live(row))
        except _Mistake as mistake:
            mistakes.append((row.line, str(mistake)))
    if mistakes:
        raise _refusal(path, sorted(mistakes))
    if not rows:
        raise StillvoltError(
            tr("{path} has no reading below its header.").format(path=path),
            next_step=tr("Begin with everything off."),
        )
    _check_one_kind(path, rows)
    names = panel.names
    if not names:
        raise StillvoltError(
            tr("{path} names no circuit.").format(path=path),
            next_step=tr("Name the circuits of the panel in its rows, or all of them with --circuits."),
        )
    live = [frozenset(names) if row.on is None else on for row, on in zip(rows, sets, strict=True)]
    sweep = sweep_of_sets([(on, row.volts, row.u_volts) for on, row in zip(live, rows, strict=True)], names)
    return ReadingsFile(sweep, (*panel.remarks, *_remarks(path, rows, live)), rows[0].simulated)


class _Panel:
    """The circuits by the names that the file has for them.

    Args:
        path: of the file, for messages.
        circuits: all names on the panel; where there is none, each new name of a row is a circuit.

    Raises:
        StillvoltError: a name is listed twice.
    """

    def __init__(self, path: Path, circuits: Sequence[str]) -> None:
        self._path = path
        self._is_listed = bool(circuits)
        self._by_key: dict[str, str] = {}
        self.remarks: list[str] = []
        for name in circuits:
            if name_key(name) in self._by_key:
                raise StillvoltError(
                    tr("The circuit {name} is named twice among the circuits of the panel.").format(
                        name=repr(name)
                    ),
                    next_step=tr("Give each circuit a name of its own."),
                )
            self._by_key[name_key(name)] = name

    @property
    def names(self) -> list[str]:
        """All circuits, in the order of the panel or of their first row."""
        return list(self._by_key.values())

    def live(self, row: _Row) -> frozenset[str]:
        """Which circuits a row has live; of a row with everything on, none."""
        found = [self._named(name, row.line) for name in row.on or ()]
        for name in found:
            if found.count(name) > 1:
                raise _Mistake(tr("{name} is named twice in one row.").format(name=repr(name)))
        return frozenset(found)

    def _named(self, name: str, line: int) -> str:
        known = self._by_key.get(name_key(name))
        if known is None and self._is_listed:
            like = get_close_matches(name, self.names, 1)
            text = (
                tr("{name} is not among the circuits of the panel. Is {other} meant?")
                if like
                else tr("{name} is not among the circuits of the panel.")
            )
            raise _Mistake(text.format(name=repr(name), other="".join(map(repr, like))))
        if known is None:
            self._by_key[name_key(name)] = name
            return name
        if known != name:
            self.remarks.append(
                tr("{path}, line {line}: {name} counts as {other}.").format(
                    path=self._path, line=line, name=repr(name), other=repr(known)
                )
            )
        return known


def _refusal(path: Path, mistakes: Sequence[tuple[int, str]]) -> StillvoltError:
    shown = [
        tr("{path}, line {line}: {what}").format(path=path, line=line, what=what)
        for line, what in mistakes[:MAX_LISTED_MISTAKES]
    ]
    more = len(mistakes) - len(shown)
    if more:
        shown.append(
            tr_n("{n} more line has a mistake.", "{n} more lines have a mistake.", more).format(n=more)
        )
    return StillvoltError("\n".join(shown), f"\n{tr(NOTHING_DONE)}", tr("Correct it and run this again."))


# --- text and rows --------------------------------------------------------------------------------------------


def _text(path: Path) -> str:
    """The text of the file; raises StillvoltError where it is none."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise StillvoltError(
            tr("{path} cannot be read ({why}).").format(path=path, why=error.strerror)
        ) from error
    encoding = next((name for mark, name in _MARKS if data.startswith(mark)), "utf-8")
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise StillvoltError(
            tr("{path}, line {line}: this is not {encoding} text.").format(
                path=path, line=line, encoding=encoding.upper().removesuffix("-SIG")
            ),
            next_step=tr("Save the file as CSV in UTF-8."),
        ) from error
    if "\0" in text:
        raise StillvoltError(
            tr("{path} is not a text file, or UTF-16 without its mark.").format(path=path),
            next_step=tr("Save it as CSV in UTF-8."),
        )
    return text


def _rows(path: Path) -> tuple[list[_Row], list[tuple[int, str]]]:
    """The good rows of the file, and the line and mistake of each other one."""
    text = _text(path)
    rows: list[_Row] = []
    mistakes: list[tuple[int, str]] = []
    lines = csv.reader(StringIO(text, newline=""), strict=True)
    try:
        header = [cell.strip() for cell in next(lines, [])]
        _check_header(path, header, text)
        before = lines.line_num
        for cells in lines:
            line, before = before + 1, lines.line_num
            if any(cell.strip() for cell in cells):
                try:
                    rows.append(_row(line, cells, header))
                except _Mistake as mistake:
                    mistakes.append((line, str(mistake)))
    except csv.Error as error:
        raise StillvoltError(
            tr("{path}, line {line}: the quotes of this row do not match ({why}).").format(
                path=path, line=lines.line_num, why=error
            ),
            tr(NOTHING_DONE),
        ) from error
    return rows, mistakes


def _check_header(path: Path, cells: Sequence[str], text: str) -> None:
    wanted = ",".join(HEADER)
    if cells in (HEADER, MARKED_HEADER):
        return
    first = next(iter(text.splitlines()), "")
    for mark, text in (
        (";", marked("{path}, line 1: the columns are separated by semicolons, not by commas.")),
        ("\t", marked("{path}, line 1: the columns are separated by tabs, not by commas.")),
    ):
        if [cell.strip() for cell in first.split(mark)] == HEADER:
            raise StillvoltError(
                tr(text).format(path=path),
                next_step=tr("Save it with commas between the columns and points in the numbers."),
            )
    what = (
        tr("{path}, line 1: it does not start with the header {header}, but with {first}.")
        if first
        else tr("{path}, line 1: it does not start with the header {header}: the file is empty.")
    )
    raise StillvoltError(
        what.format(path=path, header=wanted, first=repr(first[:60])),
        next_step=tr("Put {header} in the first line.").format(header=wanted),
    )


def _check_one_kind(path: Path, rows: Sequence[_Row]) -> None:
    """Raise StillvoltError where only some readings are simulated: they are of two homes."""
    simulated = [row.line for row in rows if row.simulated]
    if simulated and len(simulated) < len(rows):
        listed = ", ".join(str(line) for line in simulated[:MAX_LISTED_MISTAKES])
        if len(simulated) > MAX_LISTED_MISTAKES:
            text = tr("{path}, lines {lines} and more: simulated, while other readings are not.")
        elif len(simulated) > 1:
            text = tr("{path}, lines {lines}: simulated, while other readings are not.")
        else:
            text = tr("{path}, line {lines}: simulated, while other readings are not.")
        raise StillvoltError(
            text.format(path=path, lines=listed),
            tr(NOTHING_DONE),
            tr("Keep the simulated readings in a file of their own."),
        )


def _row(line: int, cells: Sequence[str], header: Sequence[str]) -> _Row:
    """One row; raises _Mistake.

    Args:
        line: in the file.
        cells: of the row.
        header: names of the columns.
    """
    if len(cells) != len(header):
        raise _Mistake(
            tr_n(
                "it has {n} column, not {wanted} ({header}). A cell with a comma in it has to be in double quotes.",
                "it has {n} columns, not {wanted} ({header}). A cell with a comma in it has to be in double quotes.",
                len(cells),
            ).format(n=len(cells), wanted=len(header), header=",".join(header))
        )
    on = _live_names(cells[0])
    volts, u_volts = _number("volts", cells[1]), _number("u_volts", cells[2])
    if volts < 0.0:
        raise _Mistake(
            tr("volts is {cell}, but an AC voltage is not negative.").format(cell=cells[1].strip())
        )
    if u_volts <= 0.0:
        raise _Mistake(
            tr(
                "u_volts is {cell}, but it must be more than zero. If you know nothing better, enter half of the "
                "display's last digit, such as 0.005 where it shows 0.01 V."
            ).format(cell=cells[2].strip())
        )
    simulated = len(cells) > len(HEADER) and is_mark(cells[len(HEADER)])
    return _Row(line, on, volts, u_volts, simulated)


def _number(column: str, cell: str) -> float:
    text = cell.strip()
    if not text:
        raise _Mistake(tr("{column} is empty.").format(column=column))
    try:
        number = float(text) if "_" not in text else float("nan")
    except ValueError:
        raise _Mistake(
            tr("{column} is {cell}, which is not a number in volts such as 0.27.").format(
                column=column, cell=repr(text)
            )
        ) from None
    if not isfinite(number):
        raise _Mistake(
            tr("{column} is {cell}, which is not a voltage.").format(column=column, cell=repr(text))
        )
    if abs(number) > MAX_METER_VOLTS:
        raise _Mistake(
            tr("{column} is {cell}, above {limit} V: the unit or the decimal place is wrong.").format(
                column=column, cell=text, limit=plain(MAX_METER_VOLTS)
            )
        )
    return number


def _live_names(cell: str) -> tuple[str, ...] | None:
    """The names in the first cell; None where it is everything on. Raises _Mistake."""
    if not cell.strip():
        return ()
    if cell.strip() == EVERYTHING:
        return None
    parts = list(_parts(cell))
    if any(not name for name, _ in parts):
        raise _Mistake(
            tr("{cell} has a + without a name beside it. A + in a name is written {written}.").format(
                cell=repr(cell.strip()), written=f"{ESCAPE}{JOINT}"
            )
        )
    if any(name == EVERYTHING and not escaped for name, escaped in parts):
        raise _Mistake(
            tr("{cell} joins {everything} (everything on) with names. Write one of them.").format(
                cell=repr(cell.strip()), everything=EVERYTHING
            )
        )
    return tuple(name for name, _ in parts)


def _parts(cell: str) -> Iterator[tuple[str, bool]]:
    """The names of a cell with blanks made one, and whether a character of each was escaped."""
    name, escaped, at = "", False, 0
    while at < len(cell):
        if cell[at] == ESCAPE and cell[at + 1 : at + 2] in (JOINT, EVERYTHING, ESCAPE):
            name, escaped, at = name + cell[at + 1], True, at + 2
        elif cell[at] == JOINT:
            yield " ".join(name.split()), escaped
            name, escaped, at = "", False, at + 1
        else:
            name, at = name + cell[at], at + 1
    yield " ".join(name.split()), escaped


# --- remarks --------------------------------------------------------------------------------------------------


def _remarks(path: Path, rows: Sequence[_Row], live: Sequence[frozenset[str]]) -> Iterator[str]:
    """What may be a mistake although it can be answered.

    Args:
        path: of the file.
        rows: of the file.
        live: what was live in each of them.
    """
    first: dict[tuple[frozenset[str], float, float], int] = {}
    for row, on in zip(rows, live, strict=True):
        same = first.setdefault((on, row.volts, row.u_volts), row.line)
        if same != row.line:
            yield tr(
                "{path}, line {line}: the same as line {other}. It counts as a second reading; take it out if it was "
                "copied."
            ).format(path=path, line=row.line, other=same)
    values = {row.volts for row in rows}
    if max(values) >= UNLIKELY_VOLTS:
        line = next(row.line for row in rows if row.volts == max(values))
        yield tr(
            "{path}, line {line}: {volts} V is high for a body voltage in a home. Where the display showed millivolts, "
            "convert all values to volts."
        ).format(path=path, line=line, volts=plain(max(values)))
    if len(values) == 1 and len(set(live)) >= MIN_EQUAL_ROWS:
        (volts,) = values
        text = (
            tr(
                "{path}: every reading is {volts} V, whatever was live. Is the meter connected, and on AC volts?"
            )
            if volts == 0.0
            else tr("{path}: every reading is {volts} V, whatever was live. Was HOLD pressed on the meter?")
        )
        yield text.format(path=path, volts=plain(volts))
