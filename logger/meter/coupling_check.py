"""Whether a line without a word for AC or DC may be read as AC volts: not while other lines of the meter say DC.

A meter that names the kind of its voltage on some lines and not on others leaves open which the others are. A voltage
without a mark is AC only because the user has set the meter up so, and a line that says DC contradicts that.
"""

from __future__ import annotations

from collections import deque

from logger.clock import NS_PER_S
from logger.meter.interpretation import OTHER_KIND_NOTES
from logger.meter.lines import LineReading, LineStatus
from logger.meter.stream_line import StreamLine

CONTRADICTED_S = 10.0
"""A line without a mark is not read for so long after one that said DC: a span that settles takes less, and a knob that
was turned from DC to AC costs no more than this."""

MIN_OTHER_LINES = 2
"""So many lines must have said DC within that time: one may be damaged in a way that reads so."""

CONTRADICTED_NOTE = (
    "some lines of the meter say DC and others say neither AC nor DC; set it to AC volts alone, and wait 10 s"
)


class CouplingCheck:
    """Follows the lines of one meter. Plain state."""

    def __init__(self) -> None:
        self._others_ns: deque[int] = deque(maxlen=MIN_OTHER_LINES)
        """When the latest lines came that say that their voltage is not AC."""

    def check(self, line: StreamLine) -> StreamLine:
        """A line as it is to be read in the light of those before it."""
        reading = line.reading
        if reading.status is LineStatus.NOT_AC_VOLTS and reading.note in OTHER_KIND_NOTES:
            self._others_ns.append(line.t_ns)
            return line
        if len(self._others_ns) < MIN_OTHER_LINES or reading.status is not LineStatus.VOLTS:
            return line
        if line.t_ns - self._others_ns[0] > CONTRADICTED_S * NS_PER_S or _names_ac(line.raw):
            return line
        return line._replace(reading=LineReading(LineStatus.NOT_AC_VOLTS, note=CONTRADICTED_NOTE))


def _names_ac(raw: bytes) -> bool:
    return b"~" in raw or b"AC" in raw.upper()
