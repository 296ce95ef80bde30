"""A visit as CSV files that any program reads: samples, events, readings,
lines that were no sample, marks, notices.

Each file has one header line with the units in the names. Times are RFC 3339 in UTC with nanoseconds
(`2026-01-05T20:15:00.123456789Z`), once by the computer's clock (`utc`) and, where it matters, on the steady
time line of the run (`steady_utc`), which does not jump when the clock is set.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from logger.errors import StillvoltError
from logger.still.events import Event
from logger.visit.log import VisitLog

if TYPE_CHECKING:
    import pandas as pd


def rfc3339(utc_ns: np.ndarray | int) -> np.ndarray:
    """RFC 3339 text in UTC, to the nanosecond, of UTC nanoseconds; shape as given."""
    return np.char.add(np.datetime_as_string(np.asarray(utc_ns, "datetime64[ns]"), unit="ns"), "Z")


def export(visit: Path, folder: Path) -> list[Path]:
    """Write every table of a visit as one CSV file.

    Args:
        visit: the visit log; a recorder may be at work on it.
        folder: made if missing; files of the same names are replaced only once the new ones are whole.

    Returns:
        The files written.

    Raises:
        StillvoltError: the log cannot be read or the folder cannot be written.
    """
    log = VisitLog.open(visit)
    try:
        tables: dict[str, Callable[[VisitLog], pd.DataFrame]] = {
            "samples": samples_table,
            "events": events_table,
            "readings": readings_table,
            "refused_lines": refused_lines_table,
            "marks": marks_table,
            "notices": notices_table,
        }
        written = []
        try:
            folder.mkdir(parents=True, exist_ok=True)
            for name, table in tables.items():
                path = folder / f"{name}.csv"
                unfinished = folder / f".{name}.csv.part"
                table(log).to_csv(unfinished, index=False, lineterminator="\n")
                unfinished.replace(path)
                written.append(path)
        except OSError as error:
            raise StillvoltError(
                f"{folder} cannot be written ({error.strerror}).",
                "The visit log was not changed.",
                "Choose another folder, or make room on the disk.",
            ) from error
        return written
    finally:
        log.close()


def samples_table(log: VisitLog) -> pd.DataFrame:
    """One row a sample: line_id, run_id, utc, steady_utc, volts (AC rms V)."""
    import pandas as pd

    samples = log.samples_after()
    return pd.DataFrame(
        {
            "line_id": samples.line_id,
            "run_id": samples.run_id,
            "utc": rfc3339(samples.utc_ns),
            "steady_utc": rfc3339(samples.steady_utc_ns),
            "volts": samples.volts,
        }
    )


def events_table(log: VisitLog) -> pd.DataFrame:
    """One row an event. Columns that a kind of event does not have are empty."""
    import pandas as pd

    events = log.events_after()
    return pd.DataFrame(
        {
            "event_id": [e.id for e in events],
            "run_id": [e.run_id for e in events],
            "kind": [e.event.kind for e in events],
            "start_steady_utc": rfc3339(np.array([e.start_utc_ns for e in events], np.int64)),
            "end_steady_utc": rfc3339(np.array([e.end_utc_ns for e in events], np.int64)),
            **{
                name: [_field(e.event, name) for e in events]
                for name in ("volts", "u_volts", "peak_volts", "before_volts", "after_volts")
            },
        }
    )


def _field(event: Event, name: str) -> float | None:
    value: float | None = getattr(event, name, None)
    return value


def readings_table(log: VisitLog) -> pd.DataFrame:
    """One row a reading, voided ones too: `void_reason` is empty while a reading stands."""
    import pandas as pd

    readings = log.readings()
    return pd.DataFrame(
        {
            "reading_id": [r.id for r in readings],
            "utc": rfc3339(np.array([r.utc_ns for r in readings], np.int64)),
            "spot": [r.spot_name for r in readings],
            "condition": [r.condition for r in readings],
            "volts": [r.volts for r in readings],
            "u_volts": [r.u_volts for r in readings],
            "samples": [r.samples for r in readings],
            "taken": [r.taken for r in readings],
            "first_line_id": pd.array([r.first_line_id for r in readings], "Int64"),
            "last_line_id": pd.array([r.last_line_id for r in readings], "Int64"),
            "void_reason": [r.void_reason for r in readings],
        }
    )


def refused_lines_table(log: VisitLog) -> pd.DataFrame:
    """One row a line that was no sample, oldest first; `raw` as sent, bytes beyond ASCII as \\xNN."""
    import pandas as pd

    lines = log.refused_lines()[::-1]
    return pd.DataFrame(
        {
            "line_id": [line.id for line in lines],
            "run_id": [line.run_id for line in lines],
            "utc": rfc3339(np.array([line.utc_ns for line in lines], np.int64)),
            "status": [line.status for line in lines],
            "raw": [repr(line.raw)[2:-1] for line in lines],
        }
    )


def marks_table(log: VisitLog) -> pd.DataFrame:
    """One row a mark, voided ones too."""
    import pandas as pd

    marks = log.marks()
    return pd.DataFrame(
        {
            "mark_id": [m.id for m in marks],
            "utc": rfc3339(np.array([m.utc_ns for m in marks], np.int64)),
            "text": [m.text for m in marks],
            "void_reason": [m.void_reason for m in marks],
        }
    )


def notices_table(log: VisitLog) -> pd.DataFrame:
    """One row for each thing that happened to the recording itself."""
    import pandas as pd

    notices = log.notices_after()
    return pd.DataFrame(
        {
            "notice_id": [n.id for n in notices],
            "run_id": [n.run_id for n in notices],
            "utc": rfc3339(np.array([n.utc_ns for n in notices], np.int64)),
            "kind": [n.kind for n in notices],
            "message": [n.message for n in notices],
        }
    )
