"""What a table of the export is: rows, and columns that each say what they hold and how they get it from a row.

Times are RFC 3339 text in UTC with nanoseconds (`2026-01-05T20:15:00.123456789Z`): `utc` by the computer's clock,
`steady_utc` on the steady time line of the run, which does not jump when the clock is set. `local` is the same moment
where it was recorded, to the second, with its offset. Voltages are AC rms volts, uncertainties standard ones.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Generic, TypeVar

import numpy as np
import pandas as pd

from logger.clock import NS_PER_S
from logger.visit.records.simulated_run import SIMULATED
from logger.visit.storage.time_zone import zone_of
from logger.visit.storage.visit_log import VisitLog

JOINED_BY = "; "
"""Between names in one cell."""

Row = TypeVar("Row")
Values = Sequence[object] | np.ndarray | pd.api.extensions.ExtensionArray
"""The cells of a column, from above."""
Conversion = Callable[[VisitLog, list[object]], Values]
"""Turns what the getter of a column returned into its cells."""


def rfc3339(utc_ns: np.ndarray | int) -> np.ndarray:
    """Return RFC 3339 text in UTC, to the nanosecond, of UTC nanoseconds; shape as given."""
    return np.char.add(np.datetime_as_string(np.asarray(utc_ns, "datetime64[ns]"), unit="ns"), "Z")


def utc_texts(_: VisitLog, utc_ns: list[object]) -> list[str]:
    """Convert UTC nanoseconds to RFC 3339; an empty text where there is None."""
    texts = rfc3339(np.array([ns or 0 for ns in utc_ns], np.int64)).tolist()
    return ["" if ns is None else text for ns, text in zip(utc_ns, texts, strict=True)]


def local_texts(log: VisitLog, utc_ns: list[object]) -> list[str]:
    """Convert UTC nanoseconds to local time in the zone of the run; a time before the first run has that run's zone."""
    runs = log.runs.all()

    def text(ns: int) -> str:
        run = next((run for run in reversed(runs) if run.started_utc_ns <= ns), runs[0])
        return datetime.fromtimestamp(ns // NS_PER_S, UTC).astimezone(zone_of(run)).isoformat()

    return [text(ns) if runs and isinstance(ns, int) else "" for ns in utc_ns]


def integers(_: VisitLog, values: list[object]) -> pd.api.extensions.ExtensionArray:
    """Convert integers that may be missing."""
    numbers: list[int | None] = [value if isinstance(value, int) else None for value in values]
    return pd.array(numbers, "Int64")


def simulated_by_run(log: VisitLog, run_ids: list[object]) -> list[str]:
    """Convert ids of runs to whether these were simulated."""
    simulated_ids = log.runs.simulated_ids()
    return ["yes" if run in simulated_ids else "no" for run in run_ids]


def unchanged(_: VisitLog, values: list[object]) -> list[object]:
    """Leave values as they are."""
    return values


@dataclass(frozen=True, slots=True)
class ExportColumn(Generic[Row]):
    """A column.

    Args:
        name: as in the file.
        unit: empty for text, numbers without one, and times.
        meaning: what the column holds, for `about`.
        get: returns the value of a row.
        convert: turns the values of all rows into cells.
    """

    name: str
    unit: str
    meaning: str
    get: Callable[[Row], object]
    convert: Conversion = unchanged


@dataclass(frozen=True, slots=True)
class ExportTable(Generic[Row]):
    """A table.

    Args:
        name: of the file or the sheet.
        about: what it holds, for `about`.
        rows: reads its rows from the log.
        columns: in the order of the file.
    """

    name: str
    about: str
    rows: Callable[[VisitLog], Sequence[Row]]
    columns: tuple[ExportColumn[Row], ...]

    def frame(self, log: VisitLog) -> pd.DataFrame:
        """Read the table from an open log."""
        rows = self.rows(log)
        return pd.DataFrame(
            {column.name: column.convert(log, [column.get(row) for row in rows]) for column in self.columns}
        )


# Columns that several tables have.


def utc(get: Callable[[Row], int | None]) -> ExportColumn[Row]:
    """Build the column `utc`."""
    return ExportColumn("utc", "", "when, by the computer's clock", get, utc_texts)


def local(get: Callable[[Row], int | None]) -> ExportColumn[Row]:
    """Build the column `local`; `get` returns UTC nanoseconds."""
    return ExportColumn("local", "", "the same moment where it was recorded", get, local_texts)


def run_id(get: Callable[[Row], int | None], convert: Conversion = unchanged) -> ExportColumn[Row]:
    """Build the column `run_id`."""
    return ExportColumn("run_id", "", "stretch of recording, see runs", get, convert)


def reading_id(get: Callable[[Row], int]) -> ExportColumn[Row]:
    """Build the column `reading_id`."""
    return ExportColumn("reading_id", "", "see readings", get)


def spot(get: Callable[[Row], str]) -> ExportColumn[Row]:
    """Build the column `spot`."""
    return ExportColumn(
        "spot", "", "name of the spot as it is now; the log keeps the one it was read with", get
    )


def condition(get: Callable[[Row], str]) -> ExportColumn[Row]:
    """Build the column `condition`."""
    return ExportColumn("condition", "", "what was live, as stated", get)


def void_reason(get: Callable[[Row], str | None]) -> ExportColumn[Row]:
    """Build the column `void_reason`."""
    return ExportColumn("void_reason", "", "why it was declared mistaken; empty while it stands", get)


def simulated(get: Callable[[Row], bool | None]) -> ExportColumn[Row]:
    """Build the column `simulated`."""
    meaning = "yes: no meter was there, and nothing was measured"
    return ExportColumn(SIMULATED, "", meaning, lambda row: "yes" if get(row) else "no")


def start_steady_utc(get: Callable[[Row], int | None]) -> ExportColumn[Row]:
    """Build the column `start_steady_utc` of a value that rests on a stretch of the trace."""
    meaning = "beginning of the stretch it rests on, on the steady time line"
    return ExportColumn("start_steady_utc", "", meaning, get, utc_texts)


def end_steady_utc(get: Callable[[Row], int | None]) -> ExportColumn[Row]:
    """Build the column `end_steady_utc` of a value that rests on a stretch of the trace."""
    return ExportColumn("end_steady_utc", "", "end of that stretch", get, utc_texts)


def before_volts(get: Callable[[Row], float | None]) -> ExportColumn[Row]:
    """Build the column `before_volts` of a step."""
    return ExportColumn("before_volts", "V", "level before the step", get)


def after_volts(get: Callable[[Row], float | None]) -> ExportColumn[Row]:
    """Build the column `after_volts` of a step."""
    return ExportColumn("after_volts", "V", "level after the step", get)
