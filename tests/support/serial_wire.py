"""A meter at the other end of a serial wire, level by level, in simulated time.

A receiver with other settings receives what a real one would.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import count

from logger.clock import NS_PER_S, ManualClock
from logger.meter.port import READ_TIMEOUT_S, PortSettings


def levels_of(data: bytes, settings: PortSettings) -> list[int]:
    """The levels of the wire, one a bit, sent without a pause (1: idle)."""
    out: list[int] = []
    for byte in data:
        bits = [byte >> place & 1 for place in range(settings.data_bits)]
        out += [0, *bits]
        if settings.parity != "N":
            out.append((sum(bits) + (settings.parity == "O")) % 2)
        out += [1] * round(settings.stop_bits)
    return out


def received(levels: list[int], sent_baud: int, settings: PortSettings) -> bytes:
    """What a receiver makes of the levels, as pyserial sets it up.

    Parity is not looked at (INPCK is off), and a character without a stop bit comes as NUL.

    Args:
        levels: of the wire, one for each bit of the sender.
        sent_baud: the sender's rate.
        settings: the receiver's.
    """
    step = sent_baud / settings.baud
    """Bits of the sender in one of the receiver."""

    def level(place: float) -> int:
        return levels[int(place)] if 0 <= place < len(levels) else 1

    out = bytearray()
    at = 0.0
    while at < len(levels):
        if level(at) or (at and not level(at - 0.01) and not level(at - step * 0.5)):
            at = int(at) + 1.0
            continue
        bits = [level(at + step * (1.5 + n)) for n in range(settings.data_bits)]
        has_parity = settings.parity != "N"
        stop = level(at + step * (1.5 + settings.data_bits + has_parity))
        out.append(sum(bit << place for place, bit in enumerate(bits)) if stop else 0)
        at += step * (1.5 + settings.data_bits + has_parity)
    return bytes(out)


class Wire:
    """A meter that sends `line()` by itself `rate_hz` times a second, or answers queries.

    Args:
        settings: how the meter sends.
        line: gives the next line, with its end; None: the meter is silent.
        answers: to queries (a whole line with its end), each after `delay_s`.
        power: the levels of DTR and RTS that its cable needs; None: any.
    """

    def __init__(
        self,
        settings: PortSettings,
        line: Callable[[], bytes] | None = None,
        *,
        rate_hz: float = 2.5,
        answers: dict[bytes, bytes] | None = None,
        delay_s: float = 0.05,
        power: tuple[bool, bool] | None = None,
    ) -> None:
        self.clock = ManualClock()
        self.opened: list[PortSettings] = []
        self.written = b""
        self._settings = settings
        self._line = line
        self._period_ns = round(NS_PER_S / rate_hz)
        self._answers = answers or {}
        self._delay_ns = round(delay_s * NS_PER_S)
        self._power = power
        self._at: PortSettings | None = None
        self._next = count(1)
        self._due_ns = self._period_ns
        self._coming: list[tuple[int, bytes]] = []
        self._here = b""
        self._asked = b""

    def open(self, settings: PortSettings) -> Wire:
        """Open the wire under these settings."""
        assert self._at is None, "one port at a time"
        self.opened.append(settings)
        self._at, self._here = settings, b""
        now = self.clock.steady_ns()
        while self._due_ns < now:
            self._due_ns += self._period_ns
        return self

    def close(self) -> None:
        """Give the wire back."""
        self._at = None

    @property
    def in_waiting(self) -> int:
        """Bytes that are there."""
        return len(self._here)

    def read(self, size: int = 1) -> bytes:
        """Up to so many bytes; time passes until the first."""
        if not self._here:
            self._wait()
        data, self._here = self._here[:size], self._here[size:]
        return data

    def write(self, data: bytes) -> int:
        """Send bytes to the meter, which may answer."""
        assert self._at is not None
        self.written += data
        self._asked += received(levels_of(data, self._at), self._at.baud, self._settings)
        for query, answer in self._answers.items():
            if query in self._asked:
                self._coming.append((self.clock.steady_ns() + self._delay_ns, answer))
                self._asked = b""
        return len(data)

    def _wait(self) -> None:
        """Until something comes, at most as long as a read waits."""
        assert self._at is not None
        now = self.clock.steady_ns()
        until = now + round(READ_TIMEOUT_S * NS_PER_S)
        if self._line is not None and self._due_ns <= until:
            self._coming.append((self._due_ns, self._line()))
            self._due_ns += self._period_ns
        if self._coming and min(self._coming)[0] <= until:
            first = min(self._coming)
            self._coming.remove(first)
            until = max(first[0], now)
            if self._power in (None, (self._at.dtr is not False, self._at.rts is not False)):
                self._here = received(levels_of(first[1], self._settings), self._settings.baud, self._at)
        self.clock.advance_ns(until - now)
