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
