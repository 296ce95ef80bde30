"""Look at a meter's lines as they come, before anything is recorded: to compare them with its display.

In: a port. Out: the newest lines, each with how it is read. Nothing is kept.
"""

from __future__ import annotations

import queue
from collections import deque
from collections.abc import Callable

from logger.clock import Clock
from logger.meter.arrival_splitter import ArrivalSplitter
from logger.meter.decimal_comma import DecimalComma
from logger.meter.lines import LineReading, read_line
from logger.meter.port import PortSettings
from logger.meter.reader import Arrival, PortItem, PortLost, PortReader
from logger.meter.received_line import ReceivedLine, receive_line
from logger.translation import tr_kept

KEPT_LINES = 60


class LiveLines:
    """The newest lines of a port, read by a thread until stopped.

    Args:
        settings: the port.
        clock: injected time.
    """

    def __init__(self, settings: PortSettings, clock: Clock) -> None:
        self.lines: deque[ReceivedLine] = deque(maxlen=KEPT_LINES)
        self.trouble = ""
        """Why nothing comes just now, for the user."""
        self._items: queue.SimpleQueue[PortItem] = queue.SimpleQueue()
        self._reader = PortReader(settings, clock, self._items)
        self._splitter = ArrivalSplitter(settings.baud)
        self._read: Callable[[bytes], LineReading] = DecimalComma(read_line).take

    def start(self) -> None:
        """Open the port and begin.

        Raises:
            StillvoltError: the port does not open.
        """
        self._reader.open()
        self._reader.start()

    def poll(self) -> bool:
        """Take over what has come; returns whether anything has."""
        changed = False
        while not self._items.empty():
            item = self._items.get()
            changed = True
            if isinstance(item, Arrival):
                whole = (line for line, whole in self._splitter.feed(item) if whole)
                self.lines += [receive_line(line, self._read) for line in whole]
            else:
                self._splitter.flush()
                self.trouble = tr_kept(item.reason) if isinstance(item, PortLost) else ""
        return changed

    def set_reader(self, read: Callable[[bytes], LineReading]) -> None:
        """Read the lines by another function from now on, also those that are there."""
        self._read = read = DecimalComma(read).take
        self.lines = deque((receive_line(line.raw, read) for line in self.lines), KEPT_LINES)

    def stop(self) -> None:
        """Give the port back."""
        self._reader.stop()
