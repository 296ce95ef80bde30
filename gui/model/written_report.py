"""Whether the visit has a report: the files beside it answer that, also after a restart and in a second window."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from gui.model.visit_controller import VisitController
from logger.report.output_paths import report_path
from logger.visit import Reading


@dataclass(frozen=True, slots=True)
class WrittenReport:
    """The report of a visit as it lies in the visit's folder.

    Args:
        files: the page and the PDF, as far as they exist; the page comes first.
        is_outdated: whether a reading was taken, corrected or voided since the newest of them was written.
    """

    files: tuple[Path, ...]
    is_outdated: bool


def written_report(controller: VisitController) -> WrittenReport | None:
    """Find the report of a visit; None where none was written."""
    page = report_path(controller.log.path.resolve())
    files = tuple(path for path in (page, page.with_suffix(".pdf")) if path.is_file())
    if not files:
        return None
    written_ns = max(path.stat().st_mtime_ns for path in files)
    return WrittenReport(files, any(_changed_ns(r) > written_ns for r in controller.snapshot.readings))


def _changed_ns(reading: Reading) -> int:
    """When a reading was last taken, corrected or voided."""
    return max(reading.utc_ns, reading.void_utc_ns or 0, *(c.utc_ns for c in reading.corrections), 0)
