"""Whether a line that says nothing of it may be read as AC volts of this moment, in the light of other lines.

A voltage without a mark is AC only because the user has set the meter up so, and a line that says DC contradicts that:
one with a value for a while, since a meter may name the kind on some lines only; one of its own until a line says AC,
since a meter that announces what its knob or buttons do says it once. The same holds for HOLD, MAX, REL and LoZ on a
line of their own: what follows is not the body voltage of this moment.
"""

from __future__ import annotations

import re
from collections import deque

from logger.clock import NS_PER_S
from logger.meter.interpretation import OTHER_KIND_NOTES, PARTLY_AC_NOTES, LineFlag
from logger.meter.lines import CUT, LineReading, LineStatus, read_line
from logger.meter.recent_values import RecentValues
from logger.meter.stream_line import StreamLine
from logger.meter.tokens import Refused, decode
from logger.meter.vocabulary import Role, meaning_of
from logger.translation import kept_text

CONTRADICTED_S = 10.0
"""A line without a mark is not read for so long after one that said DC: a span that settles takes less, and a knob that
was turned from DC to AC costs no more than this."""

MIN_OTHER_LINES = 2
"""So many lines must have said DC within that time: one may be damaged in a way that reads so."""

REPEATED_LINES = 5
"""A line of its own that came so often comes with every value: that it stays away says something too."""

CONTRADICTED_NOTE = kept_text(
    "some lines of the meter say DC and others say neither AC nor DC; set it to AC volts alone, and wait 10 s"
)

MAX_STATE_BYTES = 40
"""A longer line is a sentence or a header, and says nothing of the display's state."""

_STATED = re.compile(rb"[^0-9]*|[^0-9+-]*[A-Z~][^0-9+-]*[0-9]{1,4}[^0-9.]*", re.IGNORECASE)
"""A line that announces what the meter is set to: words alone, or words and then the range, as in "VDC 600mV"."""

_FLAGS = {
    Role.HOLD: LineFlag.HOLD,
    Role.EXTREME: LineFlag.EXTREME,
    Role.RELATIVE: LineFlag.RELATIVE,
    Role.LOW_IMPEDANCE: LineFlag.LOW_IMPEDANCE,
}
_BESIDE = frozenset({Role.STATE_NAME, Role.VALUE_NAME, Role.NOTHING, Role.TRUE, Role.FALSE, *_FLAGS})
"""What every word of a line means that says HOLD, MAX, REL or LoZ of the display."""

LIVE_AGAIN_LINES = 2
"""So many values in a row with other digits than the first one after HOLD: the display is live."""


class CouplingCheck:
    """Follows the lines of one meter. Plain state."""

    def __init__(self) -> None:
        self._others_ns: deque[int] = deque(maxlen=MIN_OTHER_LINES)
        """When the latest lines came that say that their voltage is not AC."""
        self._stated_note = ""
        """What a line of its own said of the kind of the voltage; empty where none did, or one has said AC since."""
        self._stated_lines = 0
        """How many such lines came."""
        self._values = RecentValues()
        self._display = _Display()

    def check(self, line: StreamLine) -> StreamLine:
        """A line as it is to be read in the light of those before it."""
        reading = line.reading
        if reading is CUT:
            reading = reading_of_cut(line.raw)
        if _says_other_kind(reading):
            self._others_ns.append(line.t_ns)
            if _STATED.fullmatch(line.raw) and not self._values.may_be_damaged_one(line.raw):
                self._stated_note, self._stated_lines = reading.note, self._stated_lines + 1
            return line
        if reading.status is not LineStatus.VOLTS:
            if self._stated_note and names_ac(line.raw) and not any(map(_is_digit, line.raw)):
                self._forget()
            self._display.take_words(line.raw)
            return line
        self._values.take(line.raw)
        return self._display.check(self._check_kind(line))

    def _check_kind(self, line: StreamLine) -> StreamLine:
        if not self._others_ns:
            return line
        if names_ac(line.raw) and self._stated_note not in PARTLY_AC_NOTES:
            self._stated_note = ""
            return line
        is_recent = line.t_ns - self._others_ns[0] <= CONTRADICTED_S * NS_PER_S
        if self._stated_note and self._stated_lines >= REPEATED_LINES and not is_recent:
            self._forget()
        if self._stated_note:
            return line._replace(reading=LineReading(LineStatus.NOT_AC_VOLTS, note=self._stated_note))
        if len(self._others_ns) < MIN_OTHER_LINES or not is_recent:
            return line
        return line._replace(reading=LineReading(LineStatus.NOT_AC_VOLTS, note=CONTRADICTED_NOTE))

    def _forget(self) -> None:
        self._stated_note, self._stated_lines = "", 0
        self._others_ns.clear()


class _Display:
    """What lines of their own say of the display: that it is held, or shows an extreme or a difference."""

    def __init__(self) -> None:
        self._flag: LineFlag | None = None
        self._held = b""
        """The digits of the first value since HOLD."""
        self._other_lines = 0
        """How many values in a row had other digits than that."""

    def take_words(self, raw: bytes) -> None:
        """Take a line without a value.

        Args:
            raw: the line.
        """
        if len(raw) > MAX_STATE_BYTES or any(map(_is_digit, raw)):
            return
        try:
            text = decode(raw)
        except Refused:
            return
        if self._flag is LineFlag.LOW_IMPEDANCE and names_ac(raw):
            self._flag = None  # the knob was turned to AC volts
        roles = {meaning_of(word).role for word in "".join(c if c.isalpha() else " " for c in text).split()}
        if not roles or not roles <= _BESIDE:
            return
        flag = next((_FLAGS[role] for role in _FLAGS if role in roles), None)
        if flag is not None:
            self._flag, self._held, self._other_lines = (None if Role.FALSE in roles else flag), b"", 0
        elif "NORMAL" in text.upper():
            self._flag = None

    def check(self, line: StreamLine) -> StreamLine:
        """A line as it is to be read while the display is in the state that was announced.

        Args:
            line: one with a voltage.
        """
        if self._flag is None or line.reading.number_span is None:
            return line
        if self._flag is LineFlag.HOLD:
            digits = line.reading.split(line.raw)[1]
            self._held = self._held or digits
            self._other_lines = self._other_lines + 1 if digits != self._held else 0
            if self._other_lines >= LIVE_AGAIN_LINES:
                self._flag = None
                return line
        return line._replace(reading=line.reading._replace(flags=line.reading.flags | {self._flag}))


def reading_of_cut(raw: bytes) -> LineReading:
    """How a line is read that is not whole: it gives no value, but what is left of an announcement says DC.

    The first line of a network port may lack its beginning.

    Args:
        raw: what came of it.
    """
    return read_line(raw) if _STATED.fullmatch(raw) and _says_other_kind(read_line(raw)) else CUT


def _says_other_kind(reading: LineReading) -> bool:
    return reading.status is LineStatus.NOT_AC_VOLTS and reading.note in OTHER_KIND_NOTES


def _is_digit(byte: int) -> bool:
    return 0x30 <= byte <= 0x39


def names_ac(raw: bytes) -> bool:
    """Whether a line says anywhere that its voltage is AC."""
    return b"~" in raw or b"AC" in raw.upper()
