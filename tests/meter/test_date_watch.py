"""Lines that carry another date than today's are named once, whatever the order of day and month."""

from __future__ import annotations

from datetime import datetime

import pytest

from logger.clock import NS_PER_S
from logger.meter.date_watch import DateWatch

NOON = round(datetime(2026, 11, 27, 12).timestamp()) * NS_PER_S


def messages(*lines: bytes) -> list[str]:
    watch = DateWatch()
    return [draft.message for line in lines for draft in watch.on_line(line, NOON)]


@pytest.mark.parametrize(
    "line",
    [
        b"2026-11-20 22:00:%02d,0.9,V",
        b"20.11.2026 22:00:%02d 0.9 V",
        b"11/20/2026,22:00:%02d,0.9,V",
        b"20261120T2200%02d 0.9",
        b"20/11/26 22:00:%02d 0.9 V",
        b"22:00:%02d 20.11.2026 0.9 V",
        b'{"date":"2026-11-20","time":"22:00:%02d","v_ac":0.9}',
    ],
)
def test_another_date_is_named_once(line: bytes) -> None:
    (message,) = messages(*(line % second for second in range(9)))
    assert "today is 2026-11-27" in message and "stored values" in message
    assert messages(line % 1, line % 2) == [], "two lines may be damaged"


@pytest.mark.parametrize(
    "line",
    [
        b"2026-11-27 22:00:01,0.9,V",
        b"2026-11-28T01:00:01 0.9 V",
        b"27/11/2026 0.9 V",
        b"11/27/26 0.9 V",
        b"26/11/27 0.9 V",
        b"0.9 V",
        b"2026-13-45 0.9 V",
        b"22:00:01 0.912 V",
        b"1.20.2026.4 0.9 V",
    ],
)
def test_the_date_of_today_of_a_neighbouring_zone_or_none_is_no_news(line: bytes) -> None:
    assert messages(*[line] * 9) == []


@pytest.mark.parametrize(
    "line",
    [
        b"0.9%02d V AC 2025-03-01",
        b"CAL 2025-03-01 0.9%02d V",
        b"20:15:%02d 0.9 V, calibrated 2025-03-01",
        b"CAL 2025-03-01, 2026-11-27 22:00:%02d, 0.9 V",
        b"2025-03-01 00:00:00 0.9%02d V",
    ],
)
def test_a_date_that_never_moves_is_no_time_stamp_also_where_a_line_is_damaged(line: bytes) -> None:
    lines = [line % second for second in range(30)]
    for place, day in ((7, b"2025-03-07"), (15, b"2025-03-04"), (22, b"2025-03-21")):
        lines[place] = lines[place].replace(b"2025-03-01", day)
    assert messages(*lines) == []
