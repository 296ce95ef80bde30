"""What the bars of circuits show: what switching has confirmed before the model, and a supply in doubt."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from pytestqt.qtbot import QtBot

from gui.stages.sources import tonight_content
from gui.widgets import theme
from gui.widgets.appearance import Appearance
from gui.widgets.badge import UNCLEAR
from gui.widgets.bar_chart import BarChart
from gui.widgets.bar_painter import Bar
from logger.sweep.confirmation import SwitchedStep, effect_of


def test_a_supply_in_doubt_marks_every_circuit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tonight_content, "contribution_doubt", lambda *_: "")
    monkeypatch.setattr(tonight_content, "stays_text", lambda _: "")
    given = SimpleNamespace(source=SimpleNamespace(id=1, name="Study"), volts=1.8, u_volts=0.02, leg="1")
    spot = SimpleNamespace(contributions=[given], exchangeable=())
    (sure,) = tonight_content.circuit_bars(spot, {})  # type: ignore[arg-type]
    (doubtful,) = tonight_content.circuit_bars(spot, {}, supply_in_doubt=True)  # type: ignore[arg-type]
    assert (sure.value, sure.badge) == ("1.80 ± 0.04 V", None)
    assert (doubtful.value, doubtful.badge) == ("1.80 ± 0.04 V ?", UNCLEAR)
    assert doubtful.note == "not certain: check the supply, leg 1"


def test_what_switching_has_confirmed_stands_in_place_of_a_wider_value(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(tonight_content, "stays_text", lambda _: "")
    given = SimpleNamespace(
        source=SimpleNamespace(id=1, name="Lamp"), volts=0.58, u_volts=0.26, leg="1", doubt=""
    )
    spot = SimpleNamespace(contributions=[given], exchangeable=())
    steps = [SwitchedStep(on, 0.57 if on else -0.57, 0.002) for on in (True, False)]
    (bar,) = tonight_content.circuit_bars(spot, {1: effect_of(steps)})  # type: ignore[arg-type]
    assert bar.value == "0.57 ± 0.11 V"


def test_the_row_that_was_read_last_stays_in_sight_beside_the_marked_one(qtbot: QtBot) -> None:
    chart = BarChart(Appearance(theme.LIGHT, theme.Sizes.for_height(600)), "Breakers")
    qtbot.addWidget(chart)
    chart.resize(300, 190)
    bars = [Bar(f"Circuit {n}", "0.2 V", 0.2, 0.05) for n in range(14)]
    for marked, newest in ((6, 3), (3, 6), (13, 10), (0, 3), (7, 6), (6, 6)):
        chart.show_bars(bars, marked, 0.1, newest=newest)
        in_sight = {chart._row_at(y) for y in range(190)} - {None}
        assert {marked, newest} <= in_sight
        lowest = min(max(marked, newest) + 1, 13)
        assert lowest in in_sight or abs(marked - newest) + 2 > len(in_sight), (
            "the next one too where there is room"
        )
    chart.show_bars(bars, 1, 0.1, newest=12)
    assert chart._row_at(2) in (0, 1), "the marked one where there is no room for both"
