"""The chart of a night's hours: what is left out is on its scale, or marked where it goes on above it."""

from __future__ import annotations

from datetime import UTC

import numpy as np
import pytest
from PySide6.QtGui import QColor, QImage

from gui.stages.night.hours_chart import HoursChart
from gui.widgets.appearance import Appearance
from gui.widgets.theme import LIGHT, Sizes
from logger.night.analysis.night_record import NightRecord
from logger.night.analysis.summary import summarise
from logger.night.night_edges import NOT_STEADY, EdgeCause, LeftOut, NightEdges
from logger.night.recorded_nights import Night
from logger.settling.events import Settled

HOUR_S = 3600.0


def night_after(outside_volts: float) -> Night:
    """Four hours at 0.3 V after two hours at another level that are left out."""
    times_s = np.arange(0.0, 4 * HOUR_S, 10.0)
    span = Settled(0.0, 4 * HOUR_S, 0.3, 0.001, 5.0, len(times_s))
    record = NightRecord(times_s, np.full(len(times_s), 0.3), (span,), 4 * HOUR_S)
    edges = NightEdges((-2 * HOUR_S, 4 * HOUR_S), 4 * HOUR_S, EdgeCause.STILL)
    middle_s = np.linspace(0.0, 2 * HOUR_S, 50)
    outline = [(middle_s, np.full(50, 0.8 * outside_volts), np.full(50, outside_volts))]
    part = LeftOut((-2 * HOUR_S, 0.0), NOT_STEADY, (0.8 * outside_volts, outside_volts), is_higher=True)
    return Night(1, (), 0, UTC, "UTC", record, edges=edges, outline=outline, left_out=(part,))


def rows_of(image: QImage, colour: str) -> list[int]:
    """The rows of a picture, in pixels, with that colour in its left third."""
    wanted, columns = QColor(colour).rgb(), range(image.width() // 6, image.width() // 3)
    return [y for y in range(image.height()) if any(image.pixel(x, y) == wanted for x in columns)]


@pytest.mark.parametrize(("outside_volts", "is_marked"), [(3.0, False), (40.0, True)])
def test_what_is_left_out_is_on_the_scale_or_marked(qapp, outside_volts: float, is_marked: bool) -> None:
    appearance = Appearance(LIGHT, Sizes.for_height(768))
    chart = HoursChart(appearance)
    night = night_after(outside_volts)
    chart.resize(600, 200)
    chart.show_night(night, summarise(night.record, 0.1), 0.1)
    image = chart.grab().toImage()
    top = rows_of(image, appearance.theme.plot)[0]
    assert (rows_of(image, appearance.theme.pale)[0] > top + 5) is not is_marked
    assert any(y < top + 8 for y in rows_of(image, appearance.theme.text)) is is_marked
    assert "higher than the night" in chart.accessibleName()
