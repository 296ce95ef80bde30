"""Finds out what a meter sends, in a thread of its own, so that the window stays alive."""

from __future__ import annotations

import threading
from collections.abc import Sequence

from PySide6.QtCore import QObject, Signal

from logger.clock import SystemClock
from logger.errors import StillvoltError
from logger.meter.identification import identify
from logger.meter.port import PortSettings

JOIN_S = 1.0
"""How long a stopped search may take to give the port back."""


class MeterSearch(QObject):
    """Identifies in a thread; its signals arrive in the thread of the window.

    Args:
        settings: the port.
        queries: what to ask the meter with, one after the other; none listens only.
    """

    progressed = Signal(object)
    ended = Signal(object)
    """An `IdentifiedMeter`, a `NotIdentified`, or a `StillvoltError`."""

    def __init__(self, settings: PortSettings, queries: Sequence[str]) -> None:
        super().__init__()
        self._settings = settings
        self._queries = tuple(queries)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="identify", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """End, and wait until the port is given back."""
        self._stop.set()
        self._thread.join(JOIN_S)

    def _run(self) -> None:
        try:
            outcome: object = identify(
                self._settings,
                SystemClock(),
                queries=self._queries,
                stop=self._stop,
                on_progress=self.progressed.emit,
            )
        except StillvoltError as error:
            outcome = error
        if not self._stop.is_set():
            self.ended.emit(outcome)
