"""A line of a meter with its times, and what is compared of it."""

from __future__ import annotations

from typing import NamedTuple

from logger.meter.lines import LineReading
from logger.meter.number_layout import NumberLayout, layout_of

STEP = 3.0
"""From this ratio on, two values that follow each other are of two levels, with nothing to be expected between them."""

_TINY_VOLTS = 1e-9


class StreamLine(NamedTuple):
    """A line with its times, UTC and since the start of the run, and how it is read."""

    utc_ns: int
    t_ns: int
    raw: bytes
    reading: LineReading

    @property
    def is_compared(self) -> bool:
        """Whether it is a sample whose number can be compared with those of other lines."""
        return self.reading.is_live and self.reading.number_span is not None

    @property
    def layout(self) -> NumberLayout:
        """How its number is written; for a line that is compared."""
        return layout_of(self.raw, self.reading)

    @property
    def volts(self) -> float:
        """Its value; for a line that is compared."""
        assert self.reading.volts is not None
        return self.reading.volts


def is_step(before: float, after: float) -> bool:
    """Whether two values that follow each other are of two levels.

    Args:
        before: the first, volts.
        after: the second, volts.
    """
    return not 1 / STEP <= after / max(before, _TINY_VOLTS) <= STEP
