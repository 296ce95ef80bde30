"""The practice house is shown in the language that holds; what it is told, and what a log keeps of it, is English."""

from __future__ import annotations

from pathlib import Path

import pytest

from logger.errors import StillvoltError
from logger.simulation.house.scene import read_scene
from logger.simulation.practice_switches import (
    PracticeHouse,
    Switch,
    SwitchGroup,
    SwitchPosition,
    display_name,
    url_of,
)
from logger.simulation.protocol_sim import parameters_of
from tests.support.other_language import OtherLanguage, speak, unspoken


def _shown(groups: list[SwitchGroup]) -> list[str]:
    switches = [switch for group in groups for switch in group.switches]
    words = [position.word for switch in switches for position in _positions(switch)]
    return [*(group.name for group in groups), *(switch.does for switch in switches), *words]


def _positions(switch: Switch) -> list[SwitchPosition]:
    return [switch.main, *filter(None, [switch.second])]


def _commands(groups: list[SwitchGroup]) -> list[tuple[str, ...]]:
    return [p.commands for group in groups for switch in group.switches for p in _positions(switch)]


def test_the_switches_are_shown_in_the_language_that_holds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    control = tmp_path / "control"
    house = PracticeHouse(url_of(control))
    in_english = _commands(house.groups())
    names = {*house.house.spots, *(c.name for c in house.house.circuits.values())}
    speak(monkeypatch, OtherLanguage())
    groups = house.groups()
    assert [text for text in _shown(groups) if unspoken(text)] == []
    assert _commands(groups) == in_english
    control.write_text(
        "breaker 1 off\nwalk\nmeter off\npull cable\nprobe in hand\nmove the wire\nwet the soil\n"
    )
    assert house.refresh()
    assert [text for text in _shown(house.groups()) if unspoken(text)] == []
    assert {s.name for g in house.groups() for s in g.switches} >= names, "what the house is made of is data"
    assert unspoken(display_name(house.url)) == []


@pytest.mark.parametrize(
    "scene",
    [
        'script = "at 1 s: fridge on"',
        'script = "every 0 s: walk"',
        "repeat_s = 1\nscript = 'at 5 s: walk'",
        "house = 3",
        'house = "no_such_house.toml"',
    ],
)
def test_a_mistake_in_a_scene_is_told_in_the_language_that_holds(
    scene: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    speak(monkeypatch, OtherLanguage())
    with pytest.raises(StillvoltError) as raised:
        read_scene(scene, "scene.toml", None)
    assert unspoken(str(raised.value)) == []


def test_a_key_that_no_house_has_is_refused_in_the_language_that_holds(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    speak(monkeypatch, OtherLanguage())
    with pytest.raises(StillvoltError) as raised:
        parameters_of("sim://house?sead=1")
    assert unspoken(str(raised.value)) == []
