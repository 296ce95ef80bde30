"""The visit log as the window and the command line use it: what was recorded, stated, planned, taken.

Every function is one short transaction. Other processes (the recorder, a second window) may write between any
two calls.
"""

from __future__ import annotations

from pathlib import Path

from logger.clock import Clock, SystemClock
from logger.visit.storage import connection as _connection
from logger.visit.storage.checksum import Checksummed
from logger.visit.storage.circuit_store import CircuitStore
from logger.visit.storage.reading_store import ReadingStore
from logger.visit.storage.spot_store import SpotStore


class VisitLog(SpotStore, CircuitStore, ReadingStore, Checksummed):
    """An open visit log."""

    @classmethod
    def create(cls, path: Path | str, clock: Clock | None = None) -> VisitLog:
        """Make a new visit log; raises StillvoltError as `logger.visit.storage.connection.create` does."""
        path = Path(path)
        return cls(path, _connection.create(path), clock or SystemClock())

    @classmethod
    def open(cls, path: Path | str, clock: Clock | None = None) -> VisitLog:
        """Open one that exists; raises StillvoltError as `logger.visit.storage.connection.open_existing` does."""
        path = Path(path)
        return cls(path, _connection.open_existing(path), clock or SystemClock())
