"""What came under one setting, and the verdict whether that setting is right."""

from __future__ import annotations

import contextlib
from collections import deque
from dataclasses import dataclass, field, replace
from enum import StrEnum

from logger.meter.lines import LineStatus
from logger.meter.port import PortSettings
from logger.meter.received_line import ReceivedLine
from logger.meter.unit_line import unit_line

ENOUGH_LINES = 5
FEW_LINES, FEW_LINES_AFTER_S = 3, 2.0
"""So many lines are enough after that time."""
LISTEN_S = 4.0
"""How long the lines of a setting that looks right are listened to at most."""
MIN_JUDGED_BYTES = 5
"""Fewer bytes than this are too few to call them no text at once."""
NO_TEXT_S = 1.2
"""After this time a few bytes that are no text are enough."""
KEPT_LINES = 60

TEXT_SHARE = 0.9
"""Share of the bytes that are text, below which a setting is wrong: at a wrong rate it is about a third."""
READ_SHARE = 0.7
"""Share of the lines that are read, from which a setting is right: a loose plug may damage some."""


class Verdict(StrEnum):
    """Whether a setting is right, by what came under it."""

    SILENT = "silent"
    WRONG = "wrong"
    RIGHT = "right"


@dataclass(slots=True)
class Capture:
    """What came under one setting.

    Args:
        settings: of the port.
        data: all bytes.
        lines: the newest lines.
        times_ns: when they came, steady time.
        verdict: whether the setting is right.
    """

    settings: PortSettings
    data: bytearray = field(default_factory=bytearray)
    lines: deque[ReceivedLine] = field(default_factory=lambda: deque(maxlen=KEPT_LINES))
    times_ns: deque[int] = field(default_factory=lambda: deque(maxlen=KEPT_LINES))
    verdict: Verdict = Verdict.SILENT

    def add(self, data: bytes, lines: list[ReceivedLine], now_ns: int) -> None:
        """Take what came just now.

        Args:
            data: the bytes.
            lines: those that they completed.
            now_ns: steady time.
        """
        self.data += data
        self.lines += lines
        self.times_ns += [now_ns] * len(lines)


def judge(capture: Capture, since_first_s: float, is_burst: bool) -> Verdict | None:
    """Judge whether a setting is right.

    Args:
        capture: what came under it.
        since_first_s: seconds since the first byte.
        is_burst: whether a burst of bytes has just ended.

    Returns:
        The verdict; None when more has to come.
    """
    # A cable that has just got its power sends NULs.
    data = capture.data.lstrip(b"\x00")
    text = text_share(data)
    if is_burst and len(data) >= MIN_JUDGED_BYTES and text < TEXT_SHARE:
        return Verdict.WRONG
    if not capture.lines and since_first_s > NO_TEXT_S and text < TEXT_SHARE:
        return Verdict.WRONG
    lines = len(capture.lines)
    enough = lines >= ENOUGH_LINES or (lines >= FEW_LINES and since_first_s >= FEW_LINES_AFTER_S)
    if not enough and since_first_s < LISTEN_S:
        return None
    if not lines or text < TEXT_SHARE:
        return Verdict.WRONG
    read = sum(line.reading.status is not LineStatus.UNREADABLE for line in capture.lines)
    # Lines that do not say which number is the value are text with digits all the same.
    has_digits = sum(has_digit(one) or unit_line(one.raw, one.reading) is not None for one in capture.lines)
    is_text = text == 1.0 and has_digits >= READ_SHARE * lines
    return Verdict.RIGHT if read >= READ_SHARE * lines or is_text else Verdict.WRONG


def text_share(data: bytes | bytearray) -> float:
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


def seven_bit_framing(capture: Capture) -> PortSettings | None:
    """The framing of seven data bits that would look like this at eight without parity; None if it is none."""
    settings, data = capture.settings, bytes(capture.data)
    if (settings.data_bits, settings.parity) != (8, "N") or len(data) < MIN_JUDGED_BYTES:
        return None
    if not any(byte > 0x7F for byte in data) or text_share(bytes(byte & 0x7F for byte in data)) < TEXT_SHARE:
        return None
    odd = sum(byte.bit_count() % 2 for byte in data) / len(data)
    if odd <= 1 - TEXT_SHARE:
        return replace(settings, data_bits=7, parity="E", stop_bits=1.0)
    if odd >= TEXT_SHARE:
        return replace(settings, data_bits=7, parity="O", stop_bits=1.0)
    # A first stop bit in the place of the eighth data bit.
    return replace(settings, data_bits=7, parity="N", stop_bits=2.0)


def has_digit(line: ReceivedLine) -> bool:
    """Whether there is any digit in a line."""
    return any(char.isdigit() for char in line.text)
