"""What the practitioner keeps: the visit log, one SQLite file that explains itself."""

from __future__ import annotations

from logger.visit.records.records import Line, Live, LoggedEvent, Mark, Notice, Reading, Run, Samples, Spot
from logger.visit.storage.visit_log import VisitLog

__all__ = ["Line", "Live", "LoggedEvent", "Mark", "Notice", "Reading", "Run", "Samples", "Spot", "VisitLog"]
