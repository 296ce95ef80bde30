"""Every value that the meter sent, column by column: a night has hundreds of thousands."""

from __future__ import annotations

import numpy as np

from logger.report.export.table import ExportColumn, ExportTable, Values, rfc3339
from logger.visit.records.recording_records import Samples
from logger.visit.records.simulated_run import SIMULATED
from logger.visit.storage.visit_log import VisitLog


def _whole(_: VisitLog, values: list[object]) -> Values:
    """Take the one array that the getter returned."""
    (array,) = values
    return array  # type: ignore[return-value]


def _by_run(log: VisitLog, values: list[object]) -> Values:
    """Write for each of the one array's runs whether it was simulated."""
    run_ids: np.ndarray = _whole(log, values)  # type: ignore[assignment]
    return np.where(np.isin(run_ids, sorted(log.runs.simulated_ids())), "yes", "no")


SAMPLES: ExportTable[Samples] = ExportTable(
    "samples",
    "Every value that the meter sent.",
    lambda log: [log.samples.after()],
    (
        ExportColumn("line_id", "", "number of the meter's line", lambda s: s.line_id, _whole),
        ExportColumn("run_id", "", "stretch of recording, see runs", lambda s: s.run_id, _whole),
        ExportColumn("utc", "", "when, by the computer's clock", lambda s: rfc3339(s.utc_ns), _whole),
        ExportColumn(
            "steady_utc",
            "",
            "when, on the steady time line, which never goes back within a run",
            lambda s: rfc3339(s.steady_utc_ns),
            _whole,
        ),
        ExportColumn("volts", "V", "AC rms volts", lambda s: s.volts, _whole),
        ExportColumn(
            SIMULATED, "", "yes: no meter was there, and nothing was measured", lambda s: s.run_id, _by_run
        ),
    ),
)
"""One row of the getters is all samples."""
