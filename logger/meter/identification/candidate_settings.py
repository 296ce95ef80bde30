"""The port settings and line ends that are tried, the likeliest first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from logger.meter.port import PortSettings

BAUDS = (9600, 19200, 115200, 2400, 4800, 38400, 57600, 1200, 600, 300)
FRAMINGS: tuple[tuple[int, str, float], ...] = (
    (8, "N", 1.0), (7, "E", 1.0), (7, "O", 1.0), (8, "E", 1.0), (8, "O", 1.0), (7, "N", 1.0), (7, "N", 2.0),
)  # fmt: skip
"""Data bits, parity, stop bits. A receiver of 8N1 reads 8N2 as well."""

LINE_ENDS = ("\n", "\r\n", "\r")
WIRE_LEVELS: tuple[tuple[bool, bool], ...] = ((True, False), (False, True))
"""Of DTR and RTS; both on is how a port is opened anyway. Optically coupled cables take their power from them."""


def other_settings(base: PortSettings) -> Iterator[PortSettings]:
    """All other rates and framings, the likeliest first."""
    for data_bits, parity, stop_bits in FRAMINGS:
        for baud in BAUDS:
            yield replace(base, baud=baud, data_bits=data_bits, parity=parity, stop_bits=stop_bits)


def ways_to_ask(first: PortSettings) -> Iterator[tuple[PortSettings, str]]:
    """Settings and line ends to ask with, the likeliest first."""
    for end in LINE_ENDS:
        yield first, end
    if has_wires(first):
        for baud in BAUDS:
            if baud != first.baud:
                yield replace(first, baud=baud), "\r\n"


def rate_and_framing(settings: PortSettings) -> tuple[int, int, str, float]:
    """Rate, data bits, parity and stop bits."""
    return settings.baud, settings.data_bits, settings.parity, settings.stop_bits


def has_wires(settings: PortSettings) -> bool:
    """Whether the settings of a serial line mean anything for this port."""
    return settings.url.split("://", 1)[0].lower() not in ("socket", "sim", "loop")
