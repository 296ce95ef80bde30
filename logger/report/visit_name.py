"""The name by which what is written of a visit keeps which visit it is of."""

from __future__ import annotations

from logger.visit import VisitLog


def visit_name(log: VisitLog) -> str:
    """When the visit began; empty before any recording."""
    runs = log.runs.all()
    return f"begun {runs[0].started_utc_ns} ns UTC" if runs else ""
