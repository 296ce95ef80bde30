"""Whether the visit has a report: the files beside it answer that, also after a restart and in a second window."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from gui.model.visit_controller import VisitController
from logger.report.output_paths import report_path

HEAD_BYTES = 4096
"""The state of the visit stands within the first bytes of the page."""

_STATE = re.compile(rb'<meta name="stillvolt-state" content="(\d{1,18}) (\d{1,9})">')


@dataclass(frozen=True, slots=True)
class WrittenReport:
    """The report of a visit as it lies in the visit's folder.

    Args:
        files: the page and the PDF, as far as they exist; the page comes first.
        is_outdated: whether anything that it prints was entered or changed since, or another night was recorded; also
            where the page does not tell of which state of the visit it is.
    """

    files: tuple[Path, ...]
    is_outdated: bool


def written_report(controller: VisitController) -> WrittenReport | None:
    """Find the report of a visit; None where none was written."""
    page = report_path(controller.log.path.resolve())
    files = tuple(path for path in (page, page.with_suffix(".pdf")) if path.is_file())
    if not files:
        return None
    state, snapshot = _state_of(page), controller.snapshot
    is_outdated = state is None or state[0] != snapshot.newest_entry or state[1] < snapshot.night_count
    return WrittenReport(files, is_outdated)


def _state_of(page: Path) -> tuple[int, int] | None:
    """The newest entry and the number of nights that a page was written from; None where it does not say so."""
    try:
        return _read_state(page, page.stat().st_mtime_ns)
    except OSError:  # it went, or may not be read
        return None


@lru_cache(maxsize=4)
def _read_state(page: Path, _written_ns: int) -> tuple[int, int] | None:
    """Read it anew only where the page was written anew: a window asks with each redraw."""
    with page.open("rb") as file:
        found = _STATE.search(file.read(HEAD_BYTES))
    return None if found is None else (int(found[1]), int(found[2]))
