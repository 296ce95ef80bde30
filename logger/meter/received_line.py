"""A line that came from a meter, for people: its text and how it is read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from logger.meter.lines import LineReading, LineStatus, read_line
from logger.meter.tokens import Refused, decode
from logger.translation import marked, shown_number, tr

MAX_DECIMALS = 9

_STATUS_TEXTS = {
    LineStatus.OVERLOAD: marked("overload"),
    LineStatus.NOT_AC_VOLTS: marked("not AC volts"),
    LineStatus.UNREADABLE: marked("cannot be read"),
}


@dataclass(frozen=True, slots=True)
class ReceivedLine:
    """A line as it came, and how it is read. The number stands at `reading.number_span` in `text`."""

    raw: bytes
    text: str
    reading: LineReading

    def describe_value(self) -> str:
        """For the user: the volts to the last digit of the line, or in a word why there are none."""
        volts, span = self.reading.volts, self.reading.number_span
        if volts is None or span is None:
            return tr(_STATUS_TEXTS[self.reading.status])
        number = Decimal(self.text[slice(*span)].replace(" ", "").replace(",", "."))
        last_digit = number.as_tuple().exponent
        assert isinstance(last_digit, int)
        if number:
            last_digit += round((Decimal(repr(volts)) / number).log10())
        return shown_number(f"{volts:.{min(max(-last_digit, 0), MAX_DECIMALS)}f} V")


def receive_line(raw: bytes, read: Callable[[bytes], LineReading] = read_line) -> ReceivedLine:
    """A line with its text, whatever it holds, and how it is read.

    Args:
        raw: the line without its terminator.
        read: what reads it.
    """
    try:
        text = decode(raw)
    except Refused:
        text = raw.decode("latin-1")
    return ReceivedLine(raw, text, read(raw))
