"""The form of a meter's lines: what stays the same whatever the value, the range and the states of the meter.

Another form in mid-run is most likely another meter.
"""

from __future__ import annotations

import re

from logger.meter.lines import LineReading
from logger.meter.notice_draft import NoticeDraft
from logger.meter.vocabulary import Quantity, Role, meaning_of
from logger.translation import kept_text

LEARNED_LINES = 10
"""So many lines of a form in a row make it the meter's."""
OTHER_LINES = 5
"""So many lines in a row make it another."""
MAX_KNOWN_FORMS = 16
"""A meter whose lines have more forms than this has none."""
SHOWN_S = 300.0
"""For so long the window shows that the form is another."""
MAX_EXAMPLE = 40

HELD_PROBLEM = kept_text(
    "Since the port was lost the lines have another form than before. Nothing is settled: if another meter is at the "
    "port, stop, and start the recording again with its settings."
)
OTHER_METER_NOTE = kept_text("after the port was lost the lines have another form, as another meter's have")
"""Why a line is no sample that has another form than those before the port was lost."""

_STATES = frozenset(
    {
        Role.NOTHING, Role.HOLD, Role.EXTREME, Role.RELATIVE, Role.LOW_IMPEDANCE, Role.LOW_BATTERY, Role.LOW,
        Role.BATTERY, Role.TRUE, Role.FALSE,
    }
)  # fmt: skip
_PIECE = re.compile(rb"[A-Za-z]+|[0-9]+|\s+|.", re.DOTALL)


def form_of(raw: bytes, reading: LineReading) -> bytes:
    """The form of a line that gives volts: values, counters, prefixes of units and states of the meter left out.

    Args:
        raw: the line.
        reading: how it is read; its number's place is known.
    """
    front, number, behind = reading.split(raw)
    value = b"<E>" if b"E" in number.upper() else b"<,>" if b"," in number else b"<>"
    return _form_of_text(front) + value + _form_of_text(behind)


def _form_of_text(text: bytes) -> bytes:
    out = []
    for piece in _PIECE.findall(text):
        if piece.isdigit():
            out.append(b"0")
        elif piece.isalpha():
            meaning = meaning_of(piece.decode())
            if meaning.role is Role.UNIT and meaning.quantity is Quantity.VOLTS:
                out.append(b"V" + (meaning.kind.value.encode() if meaning.kind else b""))
            elif meaning.role not in _STATES:
                out.append(piece.upper())
        elif piece.strip(b" \t\x00"):
            out.append(piece)
    return b"".join(out)


class LineFormWatch:
    """Notices when a meter's lines have another form for good. Constant memory."""

    def __init__(self) -> None:
        self._known: set[bytes] = set()
        self._form = b""
        self._run = 0
        self._example = b""
        """A line of the known form."""
        self._shown_until_s: float | None = None
        self._problem = ""
        self._other_form = b""
        """The form of which the window shows that it is another."""
        self._before_loss: frozenset[bytes] = frozenset()
        """The forms of the meter that the port was lost to, while lines may be of another; empty while they may not."""
        self._is_held = False

    def on_port_back(self) -> None:
        """Take note that the port was lost and is back: another device may answer at it now."""
        self._before_loss = self._before_loss or frozenset(self._known)

    @property
    def no_sample_note(self) -> str:
        """Why the newest line is no sample; empty where it may be one."""
        return OTHER_METER_NOTE if self._is_held else ""

    def problem(self, time_s: float) -> str:
        """What the window shows of it at a time; empty for nothing."""
        if self._is_held:
            return HELD_PROBLEM
        return self._problem if self._shown_until_s is not None and time_s < self._shown_until_s else ""

    def on_line(self, time_s: float, raw: bytes, reading: LineReading) -> list[NoticeDraft]:
        """Take a line that gives volts; returns what is new.

        Args:
            time_s: when it came.
            raw: the line.
            reading: how it is read.
        """
        if reading.number_span is None:
            return []
        form = form_of(raw, reading)
        self._is_held = bool(self._before_loss) and form not in self._before_loss
        self._run = self._run + 1 if form == self._form else 1
        self._form = form
        if form in self._known:
            self._example = raw
            if form != self._other_form and self._run >= OTHER_LINES and not self._is_held:
                self._shown_until_s = None  # the form before has returned
            return []
        if len(self._known) >= MAX_KNOWN_FORMS or self._run < (OTHER_LINES if self._known else LEARNED_LINES):
            return []
        before, self._example = self._example, raw
        is_first = not self._known
        self._known.add(form)
        if is_first:
            return []
        self._shown_until_s, self._other_form = time_s + SHOWN_S, form
        self._problem = kept_text("The meter's lines have another form than before. Is it another meter?")
        message = (
            kept_text(
                "The lines have another form: {before} before, {now} now. The port was lost in between, so it may be "
                "another device: nothing is settled. Stop, and start the recording again with the settings of the "
                "meter that is at the port."
            )
            if self._is_held
            else kept_text(
                "The lines have another form: {before} before, {now} now. If this is another meter, stop, and record "
                "with its own description."
            )
        )
        return [NoticeDraft("line form", message.format(before=_example(before), now=_example(raw)))]


def _example(raw: bytes) -> str:
    text = "".join(char if char.isprintable() else "·" for char in raw.decode("latin-1")).strip()
    return f'"{text if len(text) <= MAX_EXAMPLE else text[: MAX_EXAMPLE - 1] + "…"}"'
