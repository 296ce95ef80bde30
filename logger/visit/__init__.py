"""What the practitioner keeps: the visit log, one SQLite file that explains itself."""

from __future__ import annotations

from logger.visit.records.home_records import Spot
from logger.visit.records.reading_records import Mark, Reading
from logger.visit.records.recording_records import Line, Live, LoggedEvent, Notice, Run, Samples
from logger.visit.storage.visit_log import VisitLog

__all__ = ["Line", "Live", "LoggedEvent", "Mark", "Notice", "Reading", "Run", "Samples", "Spot", "VisitLog"]
