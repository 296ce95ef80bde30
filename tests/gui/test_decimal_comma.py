"""Where the language has a decimal comma, each number in the window has one; what is typed with it is read as it is."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from gui.model.quantity_entry import METRES, OHMS, PERCENT, VOLTS, read_quantity
from gui.model.wording import value_text
from gui.settings.range_table import RangeTable
from gui.trace.axis_labels import volts_marks
from gui.trace.trace_axes import VoltsAxis
from gui.widgets import theme
from gui.widgets.appearance import Appearance
from gui.widgets.bar_chart import BarChart
from gui.widgets.bar_painter import Bar
from logger import translation
from logger.meter.description import ASSUMED_ACCURACY
from logger.metrology.lengths import LengthUnit, length_text
from logger.translation import set_language
from logger.typed_number import as_typed
from tests.support.drawn_text import drawn_texts


@pytest.fixture
def german(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(translation, "_chosen", list(translation._chosen))
    set_language("de")
    yield


def test_axes_of_a_trace(german: None) -> None:
    axis = VoltsAxis(Appearance(theme.LIGHT, theme.Sizes.for_height(768)))
    assert axis.tickStrings([0.0, 0.25], 1.0, 0.05)[-1] == "0,25 V"
    assert [text for _, text in volts_marks(0.5)] == ["0 V", "0,25 V", "0,5 V"]


def test_bars(german: None) -> None:
    chart = BarChart(Appearance(theme.LIGHT, theme.Sizes.for_height(768)), "Spots", whole=True)
    chart.show_bars([Bar("Bed", value_text(0.52, 0.01), 0.52, 0.02)], None, 0.1, 0.05)
    chart.resize(700, chart.sizeHint().height())
    chart.show()
    shown = " ".join(drawn.text for drawn in drawn_texts(chart))
    assert {"0,52", "0,1", "0,05", "0,6"} <= set(shown.split()) and "." not in shown


def test_fields_are_filled_with_what_they_read(german: None) -> None:
    table = RangeTable()
    table.show_ranges(ASSUMED_ACCURACY)
    item = table.table.item(0, 3)
    assert item is not None and item.text() == "0,001 V"
    ranges, mistakes = table.read()
    assert not mistakes and ranges[0]["resolution_volts"] == ASSUMED_ACCURACY[0].resolution_volts
    assert length_text(7.5, LengthUnit.METRES) == "7,5 m"
    for number, units, unit in (
        (1.125, VOLTS, "V"), (1.125, OHMS, "ohm"), (1234.0, METRES, "m"), (0.5, PERCENT, "%"), (1e-5, VOLTS, "V")
    ):  # fmt: skip
        typed = as_typed(number, unit)
        assert "." not in typed and read_quantity(typed, units, unit) == number
    with pytest.raises(ValueError, match="1,5 mV oder 1500 mV"):
        read_quantity("1,500 mV", VOLTS)


def test_a_number_with_three_decimals_is_filled_so_that_it_is_read() -> None:
    assert as_typed(1.125, "Mohm") == "1.1250 Mohm" and as_typed(1.125, "V") == "1.125 V"
    assert read_quantity(as_typed(1.125, "Mohm"), OHMS) == 1.125e6
