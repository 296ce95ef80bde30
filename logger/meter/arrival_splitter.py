"""The arrivals of a port cut into lines, and a line refused whose parts came too far apart to be one line.

A serial line is sent in one go: its characters follow each other by the port's rate, and the adapter holds them back
for some milliseconds. "27", and "3 mV" seconds later, is a line that has lost its end and one that has lost its
beginning, and no 273 mV. A link that hands on what it has gathered (20 bytes at a time, say) pauses within most lines
for about as long: that is its rhythm, and only a longer pause is none of it.
"""

from __future__ import annotations

from collections import deque
from statistics import median

from logger.clock import NS_PER_S
from logger.meter.reader import Arrival
from logger.meter.splitter import LineSplitter

MIN_LONG_PAUSE_S = 0.3
"""No pause within a line of a serial port is as long: adapters hold bytes back by 16 ms, and a busy computer or a
network by some tens of milliseconds, up to a repeated packet after 0.2 s (common practice, no source)."""
LONG_PAUSE_CHARACTERS = 8
"""A pause in which so many characters could have been sent is none between two characters."""
BITS_OF_CHARACTER = 10
"""A start bit, eight bits and a stop bit."""

RHYTHM_LINES = 6
MIN_PAUSED_LINES = 4
"""Where so many of the newest lines pause alike, the link hands the lines on in parts."""
ALIKE = 1.5
"""Pauses are alike up to this ratio."""

_PROMPT = bytes([*range(0x21), 0x7F, *b">$=#:?"])
"""Of these characters a prompt may consist, which a meter sends when it is ready for the next question."""


class ArrivalSplitter:
    """Cuts the arrivals of one port into lines (`LineSplitter`), with an eye on the time between them.

    Args:
        baud: the port's rate; None where it is not known.
    """

    def __init__(self, baud: int | None = None) -> None:
        self._splitter = LineSplitter()
        character_s = BITS_OF_CHARACTER / baud if baud else 0.0
        self._long_pause_s = max(MIN_LONG_PAUSE_S, LONG_PAUSE_CHARACTERS * character_s)
        self._newest_ns = 0
        """When the newest bytes came."""
        self._pause_s = 0.0
        """The longest pause within the line that has not ended yet."""
        self._pauses_s: deque[float] = deque(maxlen=RHYTHM_LINES)
        """The longest pause within each of the newest lines."""

    def feed(self, item: Arrival) -> list[tuple[bytes, bool]]:
        """Take what came next; returns the lines that it completes, each with whether it is whole."""
        is_cut = False
        # A line end that comes late joins nothing.
        if self._splitter.rest.strip(_PROMPT) and item.data[:1] not in (b"\r", b"\n"):
            pause_s = (item.steady_ns - self._newest_ns) / NS_PER_S
            is_cut = pause_s > self._limit_s()
            self._pause_s = max(self._pause_s, pause_s)
        self._newest_ns = item.steady_ns
        lines = self._splitter.feed(item.data, item.starts_mid_line or is_cut)
        if ended := len(lines) - is_cut:  # what was held back of a line that was cut comes out as well
            self._pauses_s += [self._pause_s, *[0.0] * (ended - 1)]
            self._pause_s = 0.0
        return lines

    def flush(self) -> bytes:
        """Give what is held back of an unfinished line, and start anew (the port was lost or closed)."""
        self._pause_s = 0.0
        return self._splitter.flush()

    def _limit_s(self) -> float:
        """The longest pause that may be one within a line."""
        paused = [pause_s for pause_s in self._pauses_s if pause_s > self._long_pause_s]
        if not paused:
            return self._long_pause_s
        usual_s = median(paused)
        alike = [pause_s for pause_s in paused if usual_s / ALIKE <= pause_s <= ALIKE * usual_s]
        return ALIKE * usual_s if len(alike) >= MIN_PAUSED_LINES else self._long_pause_s
