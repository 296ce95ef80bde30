"""Where the report, the form and the data of a visit go by default: next to the visit log."""

from __future__ import annotations

from pathlib import Path


def report_path(visit: Path) -> Path:
    """Return the path of the report as a page; a PDF of it has the same name."""
    return visit.with_name(f"{visit.stem} report.html")


def plan_path(visit: Path) -> Path:
    """Return the path of the plan alone as a page; a PDF of it has the same name."""
    return visit.with_name(f"{visit.stem} plan.html")


def form_path(visit: Path) -> Path:
    """Return the path of the blank form."""
    return visit.with_name(f"{visit.stem} form.html")


def comparison_path(visit: Path) -> Path:
    """Return the path of the comparison with another visit."""
    return visit.with_name(f"{visit.stem} comparison.txt")


def export_folder(visit: Path) -> Path:
    """Return the folder of the exported files."""
    return visit.with_name(f"{visit.stem} data")
