"""Parts of a line that came too far apart are no line; a link that hands lines on in parts has a rhythm of its own."""

from __future__ import annotations

import pytest

from logger.clock import NS_PER_S
from logger.meter.arrival_splitter import ArrivalSplitter
from logger.meter.reader import Arrival


def split(*arrivals: tuple[float, bytes], baud: int | None = 9600) -> list[tuple[bytes, bool]]:
    splitter = ArrivalSplitter(baud)
    items = [Arrival(0, round(time_s * NS_PER_S), data) for time_s, data in arrivals]
    return [line for item in items for line in splitter.feed(item)]


@pytest.mark.parametrize("pause_s", [0.5, 3.0, 100.0])
def test_a_number_that_a_pause_cuts_is_not_joined(pause_s: float) -> None:
    got = split((1.0, b"27"), (1.0 + pause_s, b"3 mV\r\n"), (1.3 + pause_s, b"274 mV\r\n"))
    assert got == [(b"27", False), (b"3 mV", False), (b"274 mV", True)]


@pytest.mark.parametrize(
    ("baud", "arrivals"),
    [
        (9600, [(1.0, b"27"), (1.05, b"3 mV\r\n")]),
        (110, [(1.0, b"27"), (1.4, b"3 mV\r\n")]),  # 11 characters a second
        (9600, [(1.0, b"273 mV"), (2.0, b"\r\n")]),  # the line end comes with the next line
        (9600, [(1.0, b"> "), (2.0, b"273 mV\r\n")]),  # a prompt, and the answer to the next question
    ],
)
def test_what_a_serial_port_does_is_whole(baud: int, arrivals: list[tuple[float, bytes]]) -> None:
    ((line, whole),) = split(*arrivals, baud=baud)
    assert whole and line.endswith(b"273 mV")


def test_a_link_that_hands_on_what_it_has_gathered_has_its_rhythm() -> None:
    data = b"".join(b"0.%03d V AC\r\n" % number for number in range(200, 260))
    pieces = [(place * 0.6, data[place * 12 - 5 : place * 12 + 7]) for place in range(1, 60)]
    got = split(*pieces)
    assert all(whole for _, whole in got[-50:])
    assert len({line for line, _ in got[-50:]}) == 50
    late = [(time_s + 5.0, data) for time_s, data in pieces[30:]]
    assert [whole for _, whole in split(*pieces[:30], *late)[-40:]].count(False) == 2, (
        "a pause beyond the rhythm"
    )
