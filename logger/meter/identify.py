"""Find out how a meter is connected and what its lines look like, by listening and, if it is silent, by asking.

In: a port. Out: `IdentifiedMeter` (settings, form of the lines, how certain and why) or `NotIdentified` (why,
and what to do).

Listening tries one setting after the other, the likeliest first. A setting is right when what comes is text with
line ends whose lines are read. At a wrong rate or framing bytes come as well, but they are no text; that shows
after the first burst, so most wrong settings cost no more than the time to the meter's next line. Seven data bits
with parity are recognised from what they look like to eight: the parity stands in the eighth.

A meter that sends nothing under any level of the control wires may be waiting for a question. Only lines that ask
for something are sent, and none that changes a setting but MEAS:VOLT:AC?, which is asked before READ? because its
answer is AC volts whatever the meter was set to.
"""

from __future__ import annotations

import contextlib
import math
import threading
from collections import Counter, deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import StrEnum
from typing import Protocol

from logger.clock import NS_PER_S, Clock
from logger.diagnostics import logged
from logger.errors import StillvoltError
from logger.meter.lines import LineReading, LineStatus, read_line
from logger.meter.port import PortSettings, open_port
from logger.meter.reader import MID_LINE_NS
from logger.meter.splitter import LineSplitter
from logger.meter.tokens import Refused, TokenKind, decode, tokens_of
from logger.meter.vocabulary import Quantity, Role, meaning_of, meanings_of_name

BAUDS = (9600, 19200, 115200, 2400, 4800, 38400, 57600, 1200)
FRAMINGS: tuple[tuple[int, str, float], ...] = (
    (8, "N", 1.0), (7, "E", 1.0), (7, "O", 1.0), (8, "E", 1.0), (8, "O", 1.0), (7, "N", 1.0), (7, "N", 2.0),
)  # fmt: skip
"""Data bits, parity, stop bits. A receiver of 8N1 reads 8N2 as well."""

IDENTITY_QUERY = "*IDN?"
"""IEEE 488.2 section 10.14: every instrument of that standard answers it."""
KNOWN_QUERIES = ("MEAS:VOLT:AC?", "READ?", "FETC?")
"""SCPI-1999 volume 2, measurement instructions."""

LINE_ENDS = ("\n", "\r\n", "\r")
LEVELS: tuple[tuple[bool, bool], ...] = ((True, False), (False, True))
"""Of DTR and RTS; both on is how a port is opened anyway. Optically coupled cables take their power from them."""

SILENT_S = 2.5
"""A meter that sends by itself sends within this time: the slowest send every two seconds."""
LEVEL_SILENT_S = 0.8
SETTING_SILENT_S = 2.5
"""How long a further setting waits for the meter's next line."""
ANSWER_S = 0.8
"""How long an unknown meter has for an answer, while it is being found out whether it understands the question."""
SLOW_ANSWER_S = 3.0
"""How long a meter has that is known to understand."""
LATE_S = 1.5
LISTEN_S = 4.0
"""How long the lines of a setting that looks right are listened to at most."""
ENOUGH_LINES = 5
FEW_LINES, FEW_LINES_AFTER_S = 3, 2.0
"""So many lines are enough after that time."""
BURST_NS = 60_000_000
"""A pause of this length ends a burst of bytes (see `reader.MID_LINE_NS`)."""
BURST_BYTES = 200
"""What never pauses is judged after so many bytes."""
JUDGED_BYTES = 5
"""Fewer bytes than this are too few to call them no text at once."""
NO_TEXT_S = 1.2
"""After this time a few bytes that are no text are enough."""

TEXT_SHARE = 0.9
"""Share of the bytes that are text, below which a setting is wrong: at a wrong rate it is about a third."""
READ_SHARE = 0.7
"""Share of the lines that are read, from which a setting is right: a loose plug may damage some."""

SHORTEST_QUERY_EVERY_S = 0.2
KEPT_LINES = 60
ASKED_LINES = 3
"""So many answers are taken before a query is called right."""


class IdentifyPort(Protocol):
    """What is needed of an open port."""

    @property
    def in_waiting(self) -> int:
        """Bytes that are there."""

    def read(self, size: int = 1, /) -> bytes:
        """Up to so many bytes; waits a moment for the first."""

    def write(self, data: bytes, /) -> int | None:
        """Send."""

    def close(self) -> None:
        """Give the port back."""


class Certainty(StrEnum):
    """How sure a finding is."""

    SURE = "sure"
    LIKELY = "likely"
    DOUBTFUL = "doubtful"


@dataclass(frozen=True, slots=True)
class SeenLine:
    """A line that came, and how it is read. The number stands at `reading.number_span` in `text`."""

    raw: bytes
    text: str
    reading: LineReading

    def read_as(self) -> str:
        """For the user: the volts to the last digit of the line, or in a word why there are none."""
        volts, span = self.reading.volts, self.reading.number_span
        if volts is None or span is None:
            return _READ_AS[self.reading.status]
        number = Decimal(self.text[slice(*span)].replace(" ", "").replace(",", "."))
        last_digit = number.as_tuple().exponent
        assert isinstance(last_digit, int)
        if number:
            last_digit += round((Decimal(repr(volts)) / number).log10())
        return f"{volts:.{min(max(-last_digit, 0), MAX_DECIMALS)}f} V"


_READ_AS = {
    LineStatus.OVERLOAD: "overload",
    LineStatus.NOT_AC_VOLTS: "not AC volts",
    LineStatus.UNREADABLE: "not read",
}
MAX_DECIMALS = 9


@dataclass(frozen=True, slots=True)
class IdentifyProgress:
    """What is going on; `doing` completes "Stillvolt is ...". `lines` are the newest of this setting."""

    elapsed_s: float
    doing: str
    settings: PortSettings
    lines: tuple[SeenLine, ...]


@dataclass(frozen=True, slots=True)
class IdentifiedMeter:
    """A meter.

    Args:
        settings: how to open the port, with the query if it has to be asked.
        lines: the newest lines, oldest first.
        rate_hz: lines a second; None for too few lines.
        unit: as it stands on the lines; empty if they have none.
        function_mark: what says that the value is AC (or something else); empty if nothing does.
        overload_mark: as seen; empty as long as no overload was seen.
        identity: what the meter answered to `*IDN?`.
        certainty, why: how sure, and a sentence for the user that says why and what to do about it.
        needs_teaching: the lines are text, but do not say which number is the value.
    """

    settings: PortSettings
    lines: tuple[SeenLine, ...]
    rate_hz: float | None
    unit: str
    function_mark: str
    overload_mark: str
    identity: str
    certainty: Certainty
    why: str
    needs_teaching: bool

    def form_says(self) -> str:
        """For the user: what stands on the lines beside the number."""
        return (
            f"Unit {self.unit or 'not given'}, function {self.function_mark or 'not given'}, "
            f"overload mark {self.overload_mark or 'not seen yet'}."
        )


class Reason(StrEnum):
    """Why nothing was found."""

    SILENT = "silent"
    GARBLED = "garbled"
    STOPPED = "stopped"


@dataclass(frozen=True, slots=True)
class NotIdentified:
    """No meter; `why` says so to the user and what can be done. `identity` as in `IdentifiedMeter`."""

    reason: Reason
    why: str
    sample: bytes = b""
    identity: str = ""


def identify(
    first: PortSettings,
    clock: Clock,
    *,
    queries: Sequence[str] = (),
    stop: threading.Event | None = None,
    tell: Callable[[IdentifyProgress], None] = lambda progress: None,
    open_: Callable[[PortSettings], IdentifyPort] = open_port,
) -> IdentifiedMeter | NotIdentified:
    """Find a meter's settings and the form of its lines.

    Args:
        first: the port, with the settings to try first.
        clock: injected time.
        queries: lines to ask a silent meter with, in order; none: only listen. A query without a line end is
            tried with each of `LINE_ENDS`. With `KNOWN_QUERIES`, `*IDN?` is asked before them.
        stop: set it to stop; the port is closed and `NotIdentified` returned within a fraction of a second.
        tell: is given what is going on, several times a second.
        open_: opens a port.

    Raises:
        StillvoltError: the port does not open.
    """
    search = _Search(first, clock, stop or threading.Event(), tell, open_)
    try:
        found = search.listen()
        if found is None and queries:
            found = search.ask(queries)
    except _Stopped:
        return NotIdentified(Reason.STOPPED, "Stopped before the meter was found.", search.sample)
    if found is not None:
        return found
    if search.sample:
        return NotIdentified(
            Reason.GARBLED,
            "Something comes from the port, but under no setting that is tried does it make lines of text. Look up "
            "rate and framing in the meter's manual.",
            search.sample,
        )
    if search.identity:
        return NotIdentified(
            Reason.SILENT,
            f"The meter answers {IDENTITY_QUERY} ({search.identity}), but none of the questions for a value. Look up "
            "its query in the manual.",
            identity=search.identity,
        )
    if queries:
        why = "Nothing comes, not even when asked. Is the meter on, its data output switched on, the cable right?"
    else:
        why = "Nothing comes from the port. Switch the meter's data output on, or let Stillvolt ask it."
    return NotIdentified(Reason.SILENT, why)


class _Stopped(Exception):
    pass


class _Verdict(StrEnum):
    SILENT = "silent"
    WRONG = "wrong"
    RIGHT = "right"


@dataclass(slots=True)
class _Heard:
    """What came under one setting."""

    settings: PortSettings
    data: bytearray = field(default_factory=bytearray)
    lines: deque[SeenLine] = field(default_factory=lambda: deque(maxlen=KEPT_LINES))
    times_ns: deque[int] = field(default_factory=lambda: deque(maxlen=KEPT_LINES))
    verdict: _Verdict = _Verdict.SILENT


class _Search:
    def __init__(
        self,
        first: PortSettings,
        clock: Clock,
        stop: threading.Event,
        tell: Callable[[IdentifyProgress], None],
        open_: Callable[[PortSettings], IdentifyPort],
    ) -> None:
        self._first = replace(first, query=None)
        self._clock = clock
        self._stop = stop
        self._tell = tell
        self._open = open_
        self._started_ns = clock.steady_ns()
        self.sample = b""
        """Of what came when nothing could be made of it."""
        self.identity = ""
        self._waited_long = False

    # Listening.

    def listen(self) -> IdentifiedMeter | None:
        """Try settings until one is right; None when all are silent or wrong."""
        heard = self._hear(self._first, SILENT_S, "listening")
        if heard.verdict is _Verdict.SILENT and _has_wires(self._first):
            for dtr, rts in LEVELS:
                settings = replace(self._first, dtr=dtr, rts=rts)
                doing = f"listening with DTR {_on(dtr)} and RTS {_on(rts)}"
                heard = self._hear(settings, LEVEL_SILENT_S, doing)
                if heard.verdict is not _Verdict.SILENT:
                    break
        if heard.verdict is _Verdict.WRONG:
            heard = self._scan(heard)
        return _found(heard, self.identity) if heard.verdict is _Verdict.RIGHT else None

    def _scan(self, heard: _Heard) -> _Heard:
        """Try the other rates and framings, after one under which bytes came that are no text."""
        base = heard.settings
        tried = {_framing(base)}
        waiting = deque(_others(base))
        while True:
            guess = _seven_bits(heard)
            if guess is not None:
                waiting.appendleft(guess)
            while waiting and _framing(waiting[0]) in tried:
                waiting.popleft()
            if not waiting:
                return heard
            settings = waiting.popleft()
            tried.add(_framing(settings))
            try:
                heard = self._hear(settings, SETTING_SILENT_S, f"listening at {settings.framing()}")
            except StillvoltError:
                continue  # this port cannot be set so; it opened before
            if heard.verdict is _Verdict.RIGHT:
                return heard

    def _hear(self, settings: PortSettings, patience_s: float, doing: str) -> _Heard:
        """Listen under one setting until it is clear whether it is right."""
        self._check_stop()
        heard = _Heard(settings)
        splitter = LineSplitter()
        opened_ns = self._clock.steady_ns()
        port = self._open(settings)
        told = -1
        try:
            first_ns = last_ns = None
            while True:
                self._check_stop()
                data = _read(port)
                now_ns = self._clock.steady_ns()
                if data:
                    is_first = first_ns is None
                    first_ns = first_ns or now_ns
                    last_ns = now_ns
                    mid_line = is_first and now_ns - opened_ns < MID_LINE_NS
                    self._take(heard, splitter, data, mid_line, now_ns)
                elif first_ns is None and now_ns - opened_ns > patience_s * NS_PER_S:
                    return heard
                if told != (told := len(heard.data) * 1000 + (now_ns - self._started_ns) // 250_000_000):
                    self._report(doing, heard)
                if first_ns is None or last_ns is None:
                    continue
                is_burst = now_ns - last_ns > BURST_NS or len(heard.data) >= BURST_BYTES
                verdict = _verdict(heard, (now_ns - first_ns) / NS_PER_S, is_burst)
                if verdict is not None:
                    heard.verdict = verdict
                    if verdict is _Verdict.WRONG:
                        self.sample = self.sample or bytes(heard.data[:80])
                    return heard
        finally:
            _close(port)

    def _take(
        self, heard: _Heard, splitter: LineSplitter, data: bytes, mid_line: bool, now_ns: int
    ) -> list[SeenLine]:
        heard.data += data
        new = [seen(raw) for raw, whole in splitter.feed(data, mid_line) if whole]
        heard.lines += new
        heard.times_ns += [now_ns] * len(new)
        return new

    # Asking.

    def ask(self, queries: Sequence[str]) -> IdentifiedMeter | None:
        """Try the queries; None when none is answered with a value."""
        for settings, end in _ways_to_ask(self._first):
            found = next(self._ask_under(settings, queries, end), None)
            if found is not None:
                return found
            if self.identity:
                return None  # it understands this setting
        return None

    def _ask_under(
        self, settings: PortSettings, queries: Sequence[str], end: str
    ) -> Iterator[IdentifiedMeter]:
        """Ask every query under one setting; yields what is found."""
        self._check_stop()
        try:
            port = self._open(settings)
        except StillvoltError:
            if settings == self._first:
                raise
            return
        try:
            patience_s = ANSWER_S if len(queries) > 1 else SLOW_ANSWER_S
            if set(queries) & set(KNOWN_QUERIES):
                answers = self._answers(port, settings, IDENTITY_QUERY, end, ANSWER_S)
                if answers and any(map(str.isalpha, answers[0].text)):
                    self.identity = answers[0].text.strip("\x00 ")[:100]
                    patience_s = SLOW_ANSWER_S
            yield from self._first_answered(port, settings, queries, end, patience_s)
            if patience_s < SLOW_ANSWER_S and self._says_something_late(port, settings):
                yield from self._first_answered(port, settings, queries, end, SLOW_ANSWER_S)
        finally:
            _close(port)

    def _first_answered(
        self, port: IdentifyPort, settings: PortSettings, queries: Sequence[str], end: str, patience_s: float
    ) -> Iterator[IdentifiedMeter]:
        """The first query that is answered with values."""
        for place, query in enumerate(queries):
            if not self._answers(port, settings, query, end, patience_s):
                continue
            # The answer may be a late one to the question before.
            for candidate in (query, *queries[max(place - 1, 0) : place]):
                heard = self._asked_again(port, settings, candidate, end)
                if heard is not None:
                    yield _found(heard, self.identity)
                    return

    def _says_something_late(self, port: IdentifyPort, settings: PortSettings) -> bool:
        """Whether a meter that works through one question after the other is still at it. Under the first setting
        only: it is the likeliest, and this costs as much time as two questions.
        """
        if settings != self._first or self._waited_long:
            return False
        self._waited_long = True
        heard = _Heard(settings)
        last_ns = self._clock.steady_ns()
        while (now_ns := self._clock.steady_ns()) - last_ns < LATE_S * NS_PER_S:
            self._check_stop()
            if data := _read(port):
                heard.data += data
                last_ns = now_ns
        return bool(heard.data)

    def _asked_again(self, port: IdentifyPort, settings: PortSettings, query: str, end: str) -> _Heard | None:
        """Ask often enough to be sure; None when this query gives no values."""
        heard = _Heard(settings)
        slowest_ns = 0
        _read(port)  # what is left of an answer before
        for _ in range(ASKED_LINES):
            asked_ns = self._clock.steady_ns()
            answers = self._answers(port, settings, query, end, SLOW_ANSWER_S, heard)
            if not answers:
                return None
            slowest_ns = max(slowest_ns, self._clock.steady_ns() - asked_ns)
        readings = [line.reading for line in heard.lines]
        are_values = sum(reading.status is not LineStatus.UNREADABLE for reading in readings)
        if are_values < READ_SHARE * len(readings) and not all(_has_digit(line) for line in heard.lines):
            return None  # an error message
        heard.verdict = _Verdict.RIGHT
        every_s = max(math.ceil(slowest_ns / NS_PER_S * 15) / 10, SHORTEST_QUERY_EVERY_S)
        own_end = "" if end == "\n" or query[-1:] in ("\r", "\n") else end
        heard.settings = replace(settings, query=query + own_end, query_every_s=every_s)
        return heard

    def _answers(
        self,
        port: IdentifyPort,
        settings: PortSettings,
        query: str,
        end: str,
        patience_s: float,
        heard: _Heard | None = None,
    ) -> list[SeenLine]:
        """Send a query, and return the lines of its answer."""
        heard = heard if heard is not None else _Heard(settings)
        splitter = LineSplitter()
        with logged(f"sending {query!r}"):  # a port that takes nothing is silent, and reading finds out more
            port.write(
                replace(settings, query=query + (end if query[-1:] not in "\r\n" else "")).query_bytes()
            )
        started_ns = last_ns = self._clock.steady_ns()
        out: list[SeenLine] = []
        told = -1
        while True:
            self._check_stop()
            data = _read(port)
            now_ns = self._clock.steady_ns()
            if data:
                last_ns = now_ns
                new = [seen(raw) for raw, whole in splitter.feed(data) if whole]
                new = [line for line in new if not _is_echo(line, query) and line.text.strip("\x00 >")]
                out += new
                heard.lines += new
                heard.times_ns += [now_ns] * len(new)
            if told != (told := (now_ns - self._started_ns) // 250_000_000) or out:
                self._report(f"asking {query} at {settings.framing()}", heard)
            if out and now_ns - last_ns >= BURST_NS:
                return out
            if now_ns - started_ns > patience_s * NS_PER_S:
                return out

    def _report(self, doing: str, heard: _Heard) -> None:
        elapsed_s = (self._clock.steady_ns() - self._started_ns) / NS_PER_S
        self._tell(IdentifyProgress(elapsed_s, doing, heard.settings, tuple(heard.lines)))

    def _check_stop(self) -> None:
        if self._stop.is_set():
            raise _Stopped


def _verdict(heard: _Heard, since_first_s: float, is_burst: bool) -> _Verdict | None:
    """Whether a setting is right; None when more has to be heard."""
    # A cable that has just got its power sends NULs.
    data = heard.data.lstrip(b"\x00")
    text = _text_share(data)
    if is_burst and len(data) >= JUDGED_BYTES and text < TEXT_SHARE:
        return _Verdict.WRONG
    if not heard.lines and since_first_s > NO_TEXT_S and text < TEXT_SHARE:
        return _Verdict.WRONG
    lines = len(heard.lines)
    enough = lines >= ENOUGH_LINES or (lines >= FEW_LINES and since_first_s >= FEW_LINES_AFTER_S)
    if not enough and since_first_s < LISTEN_S:
        return None
    if not lines or text < TEXT_SHARE:
        return _Verdict.WRONG
    read = sum(line.reading.status is not LineStatus.UNREADABLE for line in heard.lines)
    # Lines that do not say which number is the value are text with digits all the same.
    has_digits = sum(map(_has_digit, heard.lines))
    is_text = text == 1.0 and has_digits >= READ_SHARE * lines
    return _Verdict.RIGHT if read >= READ_SHARE * lines or is_text else _Verdict.WRONG


def _found(heard: _Heard, identity: str) -> IdentifiedMeter:
    """What the lines of the right setting say."""
    lines = tuple(heard.lines)
    statuses = Counter(line.reading.status for line in lines)
    read = len(lines) - statuses[LineStatus.UNREADABLE]
    needs_teaching = read < READ_SHARE * len(lines)
    unit, function = _marks(lines)
    overloads = [line for line in lines if line.reading.status is LineStatus.OVERLOAD]
    overload_mark = ""
    if overloads and overloads[-1].reading.number_span is not None:
        overload_mark = overloads[-1].text[slice(*overloads[-1].reading.number_span)]
    rate_hz = None
    if heard.settings.query is not None:
        rate_hz = 1 / heard.settings.query_every_s
    elif len(heard.times_ns) > 1 and heard.times_ns[-1] > heard.times_ns[0]:
        rate_hz = (len(heard.times_ns) - 1) * NS_PER_S / (heard.times_ns[-1] - heard.times_ns[0])
    certainty, why = _certainty(lines, statuses, needs_teaching, unit, function, heard.settings.query or "")
    return IdentifiedMeter(
        heard.settings,
        lines,
        rate_hz,
        unit,
        function,
        overload_mark,
        identity,
        certainty,
        why,
        needs_teaching,
    )


def _certainty(
    lines: tuple[SeenLine, ...],
    statuses: Counter[LineStatus],
    needs_teaching: bool,
    unit: str,
    function: str,
    query: str,
) -> tuple[Certainty, str]:
    count = len(lines)
    if needs_teaching:
        note = next(
            line.reading.note for line in reversed(lines) if line.reading.status is LineStatus.UNREADABLE
        )
        return Certainty.DOUBTFUL, f"The lines are text, but do not say which number is the value ({note})."
    if statuses[LineStatus.NOT_AC_VOLTS] > statuses[LineStatus.VOLTS]:
        note = next(
            line.reading.note for line in reversed(lines) if line.reading.status is LineStatus.NOT_AC_VOLTS
        )
        return Certainty.LIKELY, f"The settings are right, but {note}."
    if statuses[LineStatus.UNREADABLE]:
        damaged = statuses[LineStatus.UNREADABLE]
        return Certainty.LIKELY, f"{damaged} of {count} lines could not be read. Is the plug loose?"
    if not statuses[LineStatus.VOLTS]:
        return Certainty.LIKELY, "The meter shows overload; a lower voltage will show the form of its values."
    if count < FEW_LINES:
        return Certainty.LIKELY, f"Only {count} lines came. Compare the number with the display."
    if unit and function:
        return Certainty.SURE, f"All {count} lines are read and say AC volts."
    if query.upper().startswith("MEAS:VOLT:AC"):
        return Certainty.SURE, f"All {count} answers are read, and the question asks for AC volts."
    missing = "no unit" if not unit else "a unit, but not that it is AC"
    return (
        Certainty.LIKELY,
        f"All {count} lines are read; they give {missing}. Compare the number with the display.",
    )


def _marks(lines: tuple[SeenLine, ...]) -> tuple[str, str]:
    """The unit and the function mark as they stand on the lines."""
    units: Counter[str] = Counter()
    functions: Counter[str] = Counter()
    for line in lines:
        if line.reading.status is not LineStatus.VOLTS:
            continue
        with contextlib.suppress(Refused):
            for token in tokens_of(line.text):
                if token.kind not in (TokenKind.WORD, TokenKind.NAME):
                    continue
                is_name = token.kind is TokenKind.NAME
                meanings = meanings_of_name(token.text) if is_name else (meaning_of(token.text),)
                if any(m.role is Role.UNIT and m.quantity is Quantity.VOLTS for m in meanings):
                    units[token.text] += 1
                if any(m.kind is not None for m in meanings):
                    functions[token.text] += 1
    return _all_of(units), _all_of(functions)


def _all_of(words: Counter[str]) -> str:
    return ", ".join(word for word, _ in words.most_common(3))


def _text_share(data: bytes | bytearray) -> float:
    """Share of the bytes that are text: ASCII, line ends, NULs, and the signs of units beyond ASCII."""
    if not data:
        return 0.0
    good = sum(0x20 <= byte < 0x7F or byte in _BESIDE_TEXT for byte in data)
    with contextlib.suppress(UnicodeDecodeError):
        good += sum(len(char.encode()) for char in bytes(data).decode("utf-8") if ord(char) > 0x7F)
        return good / len(data)
    return (good + sum(byte in _UNIT_SIGNS for byte in data)) / len(data)


_BESIDE_TEXT = b"\r\n\t\x02\x03\x11\x13"
_UNIT_SIGNS = b"\xb5\xb0\xe6\xf8\xea"


def _seven_bits(heard: _Heard) -> PortSettings | None:
    """The framing of seven data bits that would look like this at eight without parity; None if it is none."""
    settings, data = heard.settings, bytes(heard.data)
    if (settings.data_bits, settings.parity) != (8, "N") or len(data) < JUDGED_BYTES:
        return None
    if not any(byte > 0x7F for byte in data) or _text_share(bytes(byte & 0x7F for byte in data)) < TEXT_SHARE:
        return None
    odd = sum(byte.bit_count() % 2 for byte in data) / len(data)
    if odd <= 1 - TEXT_SHARE:
        return replace(settings, data_bits=7, parity="E", stop_bits=1.0)
    if odd >= TEXT_SHARE:
        return replace(settings, data_bits=7, parity="O", stop_bits=1.0)
    # A first stop bit in the place of the eighth data bit.
    return replace(settings, data_bits=7, parity="N", stop_bits=2.0)


def _others(base: PortSettings) -> Iterator[PortSettings]:
    """All other rates and framings, the likeliest first."""
    for data_bits, parity, stop_bits in FRAMINGS:
        for baud in BAUDS:
            yield replace(base, baud=baud, data_bits=data_bits, parity=parity, stop_bits=stop_bits)


def _ways_to_ask(first: PortSettings) -> Iterator[tuple[PortSettings, str]]:
    """Settings and line ends to ask with, the likeliest first."""
    for end in LINE_ENDS:
        yield first, end
    if _has_wires(first):
        for baud in BAUDS:
            if baud != first.baud:
                yield replace(first, baud=baud), "\r\n"


def _framing(settings: PortSettings) -> tuple[int, int, str, float]:
    return settings.baud, settings.data_bits, settings.parity, settings.stop_bits


def _has_wires(settings: PortSettings) -> bool:
    """Whether the settings of a serial line mean anything for this port."""
    return settings.url.split("://", 1)[0].lower() not in ("socket", "sim", "loop")


def seen(raw: bytes, read: Callable[[bytes], LineReading] = read_line) -> SeenLine:
    """A line for people: its text, whatever it holds, and how it is read."""
    try:
        text = decode(raw)
    except Refused:
        text = raw.decode("latin-1")
    return SeenLine(raw, text, read(raw))


def _has_digit(line: SeenLine) -> bool:
    return any(char.isdigit() for char in line.text)


def _is_echo(line: SeenLine, query: str) -> bool:
    return line.text.strip("\x00 >") == query.strip()


def _read(port: IdentifyPort) -> bytes:
    data = port.read(1)
    while data and (waiting := port.in_waiting) and len(data) < 4096:
        more = port.read(waiting)
        if not more:
            break
        data += more
    return data


def _close(port: IdentifyPort) -> None:
    with logged("closing a port"):  # one that is gone cannot be closed either
        port.close()


def _on(level: bool) -> str:
    return "on" if level else "off"
