"""Where a visit's report and data go that were given no other place: beside the visit."""

from __future__ import annotations

from pathlib import Path


def report_path(visit: Path) -> Path:
    """The report as a page; a PDF of it has the same name."""
    return visit.with_name(f"{visit.stem} report.html")


def export_folder(visit: Path) -> Path:
    """The data as files."""
    return visit.with_name(f"{visit.stem} data")
