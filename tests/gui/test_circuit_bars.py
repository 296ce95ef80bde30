"""What the bars of circuits say where the supply that was entered is in doubt."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from gui.stages.sources import tonight_content
from gui.widgets.badge import UNCLEAR


def test_a_supply_in_doubt_marks_every_circuit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tonight_content, "contribution_doubt", lambda *_: "")
    monkeypatch.setattr(tonight_content, "stays_text", lambda _: "")
    given = SimpleNamespace(source=SimpleNamespace(id=1, name="Study"), volts=1.8, u_volts=0.02, leg="1")
    spot = SimpleNamespace(contributions=[given])
    (sure,) = tonight_content.circuit_bars(spot, {})  # type: ignore[arg-type]
    (doubtful,) = tonight_content.circuit_bars(spot, {}, supply_in_doubt=True)  # type: ignore[arg-type]
    assert (sure.value, sure.badge) == ("1.80 ± 0.04 V", None)
    assert (doubtful.value, doubtful.badge) == ("1.80 ± 0.04 V ?", UNCLEAR)
    assert doubtful.note == "not certain: check the supply, leg 1"
