"""The small traces of the report: their scale is where its marks say."""

from __future__ import annotations

import re

import numpy as np
import pytest

from logger.report.document.figures.trace import NARROW, WIDE, trace_svg
from logger.report.document.report_data import Excerpt


@pytest.mark.parametrize("shape", [WIDE, NARROW])
def test_a_level_stands_where_the_marks_of_its_scale_say(shape: tuple[float, float]) -> None:
    times_s = np.arange(0.0, 20.0, 0.4)
    excerpt = Excerpt(times_s, np.full(len(times_s), 0.5), (5.0, 15.0), 0.5)
    svg = trace_svg("t", "A trace", excerpt, 2.0, shape)
    lines = [
        tuple(map(float, found)) for found in re.findall(r'd="M(\S+) (\S+)L(\S+) ([^"]+)" stroke="#', svg)
    ]
    level_lines = [(x2 - x1, y1) for x1, y1, x2, y2 in lines if y1 == y2]
    top, bottom = sorted(y for length, y in level_lines if length < 4)
    axis = max(y for length, y in level_lines if length > 50)
    (level,) = (y for length, y in level_lines if length > 50 and y != axis)
    assert bottom == pytest.approx(axis), "the lower end of the scale is the line that it seems to be"
    assert (bottom - level) / (bottom - top) == pytest.approx(0.25, abs=0.01)


@pytest.mark.parametrize("shape", [WIDE, NARROW])
@pytest.mark.parametrize("highest_volts", [0.004, 0.0235, 0.11, 0.37, 1.0, 2.6, 14.0])
def test_the_lowest_line_is_nought_and_the_highest_mark_is_at_its_number(
    highest_volts: float, shape: tuple[float, float]
) -> None:
    """Levels of a quarter, of nothing and of the whole scale stand where its two numbers say."""
    times_s = np.arange(0.0, 20.0, 0.4)
    places = []
    for share in (0.0, 0.25, 1.0):
        volts = share * highest_volts
        svg = trace_svg(
            "t", "A trace", Excerpt(times_s, np.full(50, volts), (5.0, 15.0), volts), highest_volts, shape
        )
        low, high = re.findall(r'text-anchor="end">([\d.]+)(?: V)?<', svg)[:2]
        lines = [
            tuple(map(float, found)) for found in re.findall(r'd="M(\S+) (\S+)L(\S+) ([^"]+)" stroke="#', svg)
        ]
        top, bottom = sorted(y for x1, y, x2, y2 in lines if y == y2 and x2 - x1 < 4)
        level = lines[-1][1]
        assert float(low) == 0.0
        assert (bottom - level) / (bottom - top) * float(high) == pytest.approx(volts, abs=0.01 * float(high))
        places.append(level)
    assert places == sorted(places, reverse=True)
