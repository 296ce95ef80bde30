"""Whether the visit has a report: the files beside it answer that, also after a restart and in a second window."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from gui.model.visit_controller import VisitController
from logger.report.output_paths import report_path


@dataclass(frozen=True, slots=True)
class WrittenReport:
    """The report of a visit as it lies in the visit's folder.

    Args:
        files: the page and the PDF, as far as they exist; the page comes first.
        is_outdated: whether something that is printed in it was entered since the newest of them was written.
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
    return WrittenReport(files, controller.log.newest_entry_utc_ns() > written_ns)
