"""What the practitioner keeps: the visit log, one SQLite file that explains itself."""

from __future__ import annotations

from logger.visit.log import VisitLog
from logger.visit.records.records import Line, Live, LoggedEvent, Mark, Notice, Reading, Run, Samples, Spot

__all__ = ["Line", "Live", "LoggedEvent", "Mark", "Notice", "Reading", "Run", "Samples", "Spot", "VisitLog"]
