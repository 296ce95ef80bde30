"""Brings what can be read of a damaged or foreign visit log into a new one, and counts what was lost.

In: a file. Out: a new visit log of this version, with the same ids, and a `Salvage`. Rows are read table by table;
where a page is damaged, reading goes on behind it and page by page (`damaged_visit`). A row that the new log refuses (a
missing value, a wrong type, more than a visit can hold), or that the program could not read from it, is lost; a field
that an older version left empty is emptied instead (`decoded_fields`). Where a run, a spot or a circuit is lost that
others refer to, another takes its place (`placeholder_rows`); any other link to a lost row is emptied where it may be.
The new log keeps for good that it was salvaged and what is not known since (`records.salvage_record`).
"""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from logger.clock import Clock, SystemClock
from logger.errors import StillvoltError
from logger.output_file import refuse_outputs
from logger.translation import in_language, kept_text, tr, tr_kept
from logger.visit.records.fact_names import SALVAGED_FROM
from logger.visit.records.salvage_record import LOST_SEPARATOR, MAX_LOST_CHARACTERS, SalvageRecord
from logger.visit.storage import connection as _connection
from logger.visit.storage.content_limits import (
    MAX_LINE_BYTES,
    MAX_LINES,
    MAX_ROWS,
    MAX_TABLE_BYTES,
    MAX_TEXT_BYTES,
    expected_columns,
    usual_value,
)
from logger.visit.storage.damaged_visit import DamagedVisit
from logger.visit.storage.decoded_fields import readable_row
from logger.visit.storage.entry_checksum import ENTRY_TABLES, entry_differences, restart_chain
from logger.visit.storage.placeholder_rows import (
    PARENTS,
    is_possible_id,
    restore_circuits,
    restore_runs,
    restore_spots,
)
from logger.visit.storage.run_checksum import changed_lines
from logger.visit.storage.schema import USER_VERSION
from logger.visit.storage.table_pages import Row
from logger.visit.storage.verification import verify
from logger.visit.storage.visit_log import VisitLog

TABLES = (
    "fact", "run", "run_end", "spot", "source", "line", "event", "notice", "check_result", "reading", "reading_void",
    "reading_correction", "mark", "mark_void", "step_name", "spot_detail", "source_detail", "photo", "photo_place",
    "reference_correction", "remedy", "remedy_entry", "remedy_baseline", "live", "entry_checksum", "entry_chain",
)  # fmt: skip
"""In an order in which each row comes after those that it refers to; requests to a recorder are not brought over."""

_UNREADABLE = kept_text("1 stretch could not be read."), kept_text("{n} stretches could not be read.")
_FROM_PAGES = (
    kept_text("1 of the rows was found page by page."),
    kept_text("{n} of the rows were found page by page."),
)
_REFUSED = kept_text("1 row damaged."), kept_text("{n} rows damaged.")
_ORPHANS = (
    kept_text("1 row belonged to one that is lost."),
    kept_text("{n} rows belonged to one that is lost."),
)
_LINKS_LOST = kept_text("1 row lost a link."), kept_text("{n} rows lost a link.")
_EMPTIED = (
    kept_text("1 row lost a field that cannot be read."),
    kept_text("{n} rows lost a field that cannot be read."),
)
"""What became of rows of a table: of one, and of several."""

_CHECKSUM_TABLES = ("entry_checksum", "entry_chain")

_MAX_KEPT = {**MAX_ROWS, "line": MAX_LINES, "fact": MAX_ROWS["fact"] - 1}
"""Rows of each table that are brought over: what a visit can have, with room for the fact that it was salvaged."""


@dataclass(frozen=True, slots=True)
class TableSalvage:
    """What became of a table.

    Args:
        table: its name.
        kept: rows in the new log.
        refused: rows that were read and that the new log refuses.
        orphans: rows that were read and belong to one that is lost.
        links_lost: rows that were kept without a link to a row that is lost.
        emptied: rows that were kept without a field that could not be read.
        unreadable: stretches of rows that could not be read in their order.
        from_pages: of the kept rows, those that were found page by page.
        reason: why the table could not be read as one, in a sentence that is kept; else empty.
        cut: whether there were more rows than a visit can have, which were not read.
    """

    table: str
    kept: int = 0
    refused: int = 0
    orphans: int = 0
    links_lost: int = 0
    emptied: int = 0
    unreadable: int = 0
    from_pages: int = 0
    reason: str = ""
    cut: bool = False

    @property
    def complete(self) -> bool:
        """Whether every row came over, as far as can be known."""
        return not (self.refused or self.unreadable or self.reason or self.cut)

    @property
    def whole(self) -> bool:
        """Whether nothing was lost, as far as can be known."""
        return self.complete and not (self.links_lost or self.orphans or self.emptied)

    def sentences(self) -> tuple[str, ...]:
        """What became of it, as the new log keeps it: in English, and shown by `tr_kept`."""
        if self.reason and not self.kept:
            return kept_text("{table}: nothing could be read.").format(table=self.table), self.reason
        one, many = kept_text("{table}: 1 row kept."), kept_text("{table}: {n} rows kept.")
        out = [(one if self.kept == 1 else many).format(table=self.table, n=self.kept)]
        if self.reason:
            out += kept_text("The table could not be read as one."), self.reason
        for count, (one, many) in (
            (self.unreadable, _UNREADABLE),
            (self.from_pages, _FROM_PAGES),
            (self.refused, _REFUSED),
            (self.orphans, _ORPHANS),
            (self.links_lost, _LINKS_LOST),
            (self.emptied, _EMPTIED),
        ):
            if count:
                out.append((one if count == 1 else many).format(n=count))
        if self.cut:
            out.append(kept_text("There were more than a visit can have."))
        return tuple(out)

    def in_words(self) -> str:
        """What became of it, for a person."""
        return " ".join(map(tr_kept, self.sentences()))


@dataclass(frozen=True, slots=True)
class Salvage:
    """What was brought over.

    Args:
        tables: what became of each.
        remarks: sentences on the file as a whole, kept in English; empty where there is nothing to note.
        restored: sentences on the rows that take the place of lost ones, likewise.
        record: what the new log keeps of it.
    """

    tables: tuple[TableSalvage, ...]
    remarks: tuple[str, ...]
    restored: tuple[str, ...]
    record: SalvageRecord

    @property
    def whole(self) -> bool:
        """Whether nothing was lost, as far as can be known."""
        return not self.remarks and not self.restored and all(table.whole for table in self.tables)


def salvage(path: Path, out: Path, clock: Clock | None = None) -> Salvage:
    """Make a new visit log of what can be read.

    Args:
        path: the damaged or foreign file; it and its folder stay as they are.
        out: the new visit log; must not exist.
        clock: injected time.

    Raises:
        StillvoltError: nothing can be read at all, or the new log cannot be made; then none is left.
    """
    refuse_outputs([out], [path])
    with (
        tempfile.TemporaryDirectory(prefix="stillvolt-") as folder,
        closing(DamagedVisit(path, Path(folder))) as source,
    ):
        log = VisitLog.create(out, clock or SystemClock())
        try:
            with closing(log):
                found = _salvaged(source, path, out)
                log.facts.set(SALVAGED_FROM, found.record.as_fact())
        except BaseException as error:
            for suffix in ("", "-wal", "-shm"):
                out.with_name(out.name + suffix).unlink(missing_ok=True)
            if isinstance(error, sqlite3.OperationalError | OSError):
                raise StillvoltError(
                    tr("The visit log {path} could not be made ({reason}).").format(path=out, reason=error),
                    tr("Nothing was kept under that name."),
                    tr("See whether the disk is full."),
                ) from error
            raise
    return found


def _salvaged(source: DamagedVisit, path: Path, out: Path) -> Salvage:
    with closing(_connection.open_existing(out)) as target:
        # Lines may come before the run that takes the place of theirs; each link is looked at here instead.
        target.execute("PRAGMA foreign_keys = OFF")
        # The chain of the damaged log takes the place of that of the new one, which is empty.
        target.execute("DELETE FROM entry_chain")
        tables = tuple(_brought_over(source, target))
        if not any(table.kept for table in tables):
            reasons = [*source.remarks] or [tables[0].reason or kept_text("It holds no rows.")]
            raise StillvoltError(
                tr("Nothing could be read of {path} ({reason}); it may be no visit log.").format(
                    path=path, reason=" ".join(map(tr_kept, reasons)).rstrip(".")
                ),
                tr("It was not changed."),
                tr("Look for a copy of it."),
            )
        with _connection.transaction(target):
            differing = _differing_entries(target) if source.keeps_checksums() else ()
            runs, spots, circuits = restore_runs(target), restore_spots(target), restore_circuits(target)
            restart_chain(target)
        remarks = tuple(filter(None, (*source.remarks, changed_lines(target), *differing)))
    if not (remarks or runs or spots or circuits) and all(table.whole for table in tables):
        remarks = _doubt(path)
    restored = tuple(
        (one if len(ids) == 1 else many).format(n=len(ids))
        for ids, (one, many) in (
            (runs, _RUNS_RESTORED),
            (spots, _SPOTS_RESTORED),
            (circuits, _CIRCUITS_RESTORED),
        )
        if ids
    )
    by_table = {table.table: table for table in tables}
    lost = [sentence for table in tables if not table.whole for sentence in table.sentences()]
    record = SalvageRecord(
        path.name,
        LOST_SEPARATOR.join((*remarks, *lost, *restored))[:MAX_LOST_CHARACTERS],
        by_table["reading_void"].complete,
        by_table["check_result"].complete
        and not (source.list_replaced and by_table["check_result"].kept == 0),
        by_table["fact"].complete,
        runs,
        by_table["reading_correction"].complete,
    )
    return Salvage(tables, remarks, restored, record)


_RUNS_RESTORED = (
    kept_text(
        "1 run that others refer to was lost: times are those of the lines, port and settings are not known."
    ),
    kept_text(
        "{n} runs that others refer to were lost: times are those of the lines, port and settings are not known."
    ),
)
_SPOTS_RESTORED = (
    kept_text(
        "1 spot that others refer to was lost: the name is that of the readings, room and reminder are not known."
    ),
    kept_text(
        "{n} spots that others refer to were lost: the name is that of the readings, room and reminder are not known."
    ),
)
_CIRCUITS_RESTORED = (
    kept_text("1 circuit that others refer to was lost: names are not known."),
    kept_text("{n} circuits that others refer to were lost: names are not known."),
)


def _differing_entries(target: sqlite3.Connection) -> tuple[str, ...]:
    """What of the checksums did not hold, in sentences that are kept; empty where all did."""
    found = entry_differences(target)
    out = [
        (one if len(entries) == 1 else many).format(n=len(entries))
        for entries, (one, many) in (
            (
                found.changed,
                (
                    kept_text("It holds 1 entry not as written (the checksum differs)."),
                    kept_text("It holds {n} entries not as written (the checksum differs)."),
                ),
            ),
            (
                found.unknown,
                (
                    kept_text("It holds 1 entry without a checksum, which nothing confirms."),
                    kept_text("It holds {n} entries without a checksum, which nothing confirms."),
                ),
            ),
        )
        if entries
    ]
    if out:
        out.append(kept_text("They may be of another visit that was copied onto this file: look at each."))
    return tuple(filter(None, (*out, found.chain)))


@in_language("en")
def _doubt(path: Path) -> tuple[str, ...]:
    """A sentence on damage that cost nothing which is known of, to be kept; none where `verify` finds none."""
    try:
        problems = verify(path).problems
    except StillvoltError as error:
        problems = (error.what,)
    if not problems:
        return ()
    text = kept_text(
        "The file is damaged all the same, so that what was read must be looked at with care: {problem}"
    )
    return (text.format(problem=problems[0]),)


def _brought_over(source: DamagedVisit, target: sqlite3.Connection) -> Iterator[TableSalvage]:
    for table in TABLES:
        if table in _CHECKSUM_TABLES and not source.keeps_checksums():
            continue
        with _connection.transaction(target):
            yield _TableCopy(source, target, table).result()


class _TableCopy:
    """Copies one table.

    Args:
        source: where rows come from.
        target: the new log, inside a transaction.
        table: its name.
    """

    def __init__(self, source: DamagedVisit, target: sqlite3.Connection, table: str) -> None:
        self._source, self._target, self._table = source, target, table
        self._insert = _insert(table)
        self._links = _links(target, table)
        self._is_checksums = table == "entry_checksum"
        self._kept = self._refused = self._orphans = self._links_lost = self._emptied = self._octets = 0

    def result(self) -> TableSalvage:
        """Copy it; returns what became of it."""
        reason = self._source.missing(self._table)
        unreadable, cut = 0, False
        if not reason:
            for row in self._source.rows(self._table):
                if row is None:
                    unreadable += 1
                elif self._is_full(row):
                    cut = True
                    break
                else:
                    self._keep(row)
        in_order = self._kept
        if not cut and (reason or unreadable or self._source.remarks):
            for row in self._source.rows_of_pages(self._table):
                if self._is_full(row):
                    cut = True
                    break
                self._keep(row, may_be_there=True)
        return TableSalvage(
            self._table, self._kept, self._refused, self._orphans, self._links_lost, self._emptied, unreadable,
            self._kept - in_order, reason, cut,
        )  # fmt: skip

    def _is_full(self, row: Row) -> bool:
        """Whether the new log can't take another row of the table."""
        self._octets += sum(len(value) for value in row if isinstance(value, str | bytes))
        return self._kept == _MAX_KEPT[self._table] or (
            self._table in MAX_ROWS and self._octets > MAX_TABLE_BYTES
        )

    def _keep(self, row: Row, *, may_be_there: bool = False) -> None:
        """Insert a row, or count why it was not.

        Args:
            row: in full columns.
            may_be_there: a row of its id may have come over already, and is the better one.
        """
        if may_be_there and self._is_there(row[0]):
            return
        readable = readable_row(self._table, row)
        if readable is None:
            self._refused += 1
            return
        values, emptied = list(readable[0]), readable[1]
        if self._is_checksums and not self._has_entry(values[1], values[2]):
            self._orphans += 1
            return
        lost_tables = {
            link.parent for link in self._links if not self._leads_somewhere(link, values[link.index])
        }
        if any(link.required and link.parent in lost_tables for link in self._links):
            self._orphans += 1
            return
        for link in self._links:
            # The first line of a stretch means nothing without the last one.
            if link.parent in lost_tables:
                values[link.index] = None
        try:
            inserted = self._target.execute(self._insert, values).rowcount
        except (sqlite3.IntegrityError, sqlite3.DataError, OverflowError, UnicodeEncodeError):
            inserted = 0
        if not inserted:
            self._refused += 1
            return
        self._kept += 1
        self._links_lost += bool(lost_tables)
        self._emptied += emptied

    def _is_there(self, row_id: object) -> bool:
        return self._has_row(self._table, row_id)

    def _leads_somewhere(self, link: _Link, value: object) -> bool:
        if value is None:
            return True
        if link.parent in PARENTS:
            return is_possible_id(link.parent, value)
        return self._has_row(link.parent, value)

    def _has_entry(self, table: object, entry_id: object) -> bool:
        return isinstance(table, str) and table in ENTRY_TABLES and self._has_row(table, entry_id)

    def _has_row(self, table: str, row_id: object) -> bool:
        if not isinstance(row_id, int) or abs(row_id) > _LAST_ID:
            return False
        found = self._target.execute(f"SELECT 1 FROM {table} WHERE rowid = ?", (row_id,)).fetchone()
        return found is not None


@dataclass(frozen=True, slots=True)
class _Link:
    """A column that refers to a row of another table.

    Args:
        index: of the column.
        parent: the other table.
        required: whether it may not be empty.
    """

    index: int
    parent: str
    required: bool


def _links(target: sqlite3.Connection, table: str) -> list[_Link]:
    columns = expected_columns(USER_VERSION)[table]
    index = {name: number for number, (name, _, _) in enumerate(columns)}
    return [
        _Link(index[row["from"]], row["table"], columns[index[row["from"]]][2])
        for row in target.execute(f"PRAGMA foreign_key_list({table})")
    ]


def _insert(table: str) -> str:
    """The statement that inserts a row if each of its values is one that a visit can hold."""
    columns = expected_columns(USER_VERSION)[table]
    given = ", ".join(f"? AS {name}" for name, _, _ in columns)
    usual = [
        usual_value(*column, max_bytes=MAX_TEXT_BYTES if table in MAX_ROWS else MAX_LINE_BYTES)
        for column in columns
    ]
    if table == "line":
        usual.append(f"id BETWEEN 1 AND {MAX_LINES:d}")
    names = ", ".join(name for name, _, _ in columns)
    return f"INSERT INTO {table} ({names}) SELECT {names} FROM (SELECT {given}) WHERE {' AND '.join(usual)}"


_LAST_ID = 2**63 - 1
