"""What the comma of a stream is: settled by other lines, and never by one that may be damaged."""

from __future__ import annotations

import pytest

from logger.meter.decimal_comma import MIN_COMMA_LINES, DecimalComma
from logger.meter.lines import read_line

POINTS = ["0.273 V", "12.04 V"] * 3


def last_volts(*lines: str) -> float | None:
    stream = DecimalComma(read_line)
    return [stream.take(line.encode()) for line in lines][-1].volts


@pytest.mark.parametrize("part", ["1,", "487 V", "1487 V"])
def test_beside_an_open_comma_no_whole_number_is_read(part: str) -> None:
    assert last_volts("1,486 V", "1,488 V", part) is None
    assert last_volts("0,486 V", "1,488 V", "487 V") == 487.0
    assert last_volts("1,486 V", "OL", "OL", "OL", "487 V") == 487.0


@pytest.mark.parametrize(
    ("before", "volts"),
    [
        ([], None),
        (["0,273 V"], 1.234),
        (["1,234 V", "0,273 V"], None),
        (["1,234 V", *["0,273 V"] * MIN_COMMA_LINES], 1.234),
        ([*POINTS, "0,273 V"], None),
        ([*POINTS, "0,273 V", "0.273 V", "0,273 V", "0.273 V", "0,273 V"], None),
        ([*POINTS, *["0,273 V"] * MIN_COMMA_LINES], 1.234),
        (["0,273 V", *POINTS], None),
        (["0,273 V", *["0.273 V", "0,273 V"] * 9], 1.234),
        (["0,273 V", *["273 V"] * 9], 1.234),
    ],
)
def test_a_lone_comma_is_read_by_what_the_stream_has_shown(before: list[str], volts: float | None) -> None:
    assert last_volts(*before, "1,234 V") == volts
