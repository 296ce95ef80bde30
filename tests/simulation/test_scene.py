"""Scene and house files: what is wrong in one is told in one sentence with file, line or key."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from logger.errors import StillvoltError
from logger.simulation.house.commands import Act, parse_command
from logger.simulation.house.scene import (
    BUILT_IN_SCENES,
    Scene,
    built_in_scene,
    default_house,
    load_scene,
    read_scene,
)
from logger.simulation.house.scene_run import Simulation

SCENES = Path(__file__).resolve().parents[2] / "fixtures" / "scenes"

HOUSE = """
[[circuit]]
number = 1
leg = 1
[[cord]]
name = "fan"
circuit = 1
[[spot]]
name = "stool"
[spot.coupling_pf]
1 = 1.0
fan = 2.0
"""


@pytest.mark.parametrize("name", ["first_minute", "evening", "quiet_night"])
def test_the_scenes_that_ship_are_sound(name: str) -> None:
    scene = load_scene(SCENES / f"{name}.toml")
    assert scene.script
    assert Simulation(scene).advance(1.0)


@pytest.mark.parametrize("name", BUILT_IN_SCENES)
def test_the_built_in_scenes_are_sound(name: str) -> None:
    assert Simulation(built_in_scene(name)).advance(1.0)


def test_a_scene_can_bring_its_own_house() -> None:
    scene = read_scene(HOUSE + '[supply]\nkind = "three"\n', "mine", None)
    assert scene.house.supply == "three"
    assert scene.start_spot == "stool"
    assert Simulation(scene).still_volts() > 1.0


def test_a_scene_can_name_a_house_file_beside_it(tmp_path: Path) -> None:
    (tmp_path / "house.toml").write_text(HOUSE)
    (tmp_path / "scene.toml").write_text('house = "house.toml"\nscript = "at 1 s: fan off"\n')
    assert load_scene(tmp_path / "scene.toml").start_spot == "stool"


def test_a_scene_may_change_single_values_of_the_house() -> None:
    scene = read_scene("[reference]\nrod_ohms = 9000\n[supply]\nfrequency_hz = 50", "mine", None)
    assert (scene.house.rod.ohms, scene.house.frequency_hz, scene.house.leg_volts) == (9000, 50, 120)
    with pytest.raises(
        StillvoltError, match=r"mine, changing the built-in house \[reference\]: rod_ohms must"
    ):
        read_scene("[reference]\nrod_ohms = -1", "mine", None)


def test_a_mistake_in_the_script_is_told_with_its_line() -> None:
    path = SCENES / "broken.toml"
    with pytest.raises(StillvoltError) as error:
        load_scene(path)
    assert str(error.value).startswith(f"{path}, line 8: There is no cord “chandelier”")


def test_the_same_words_on_two_lines_are_told_apart() -> None:
    text = 'script = """\nat 1 s: lamp on\nat 2 s: lamp off\nat 1 s: lamp on # again\nat 3 s: sing\n"""\n'
    with pytest.raises(StillvoltError, match="line 5"):
        read_scene(text, "mine", None)
    twice = 'script = """\nat 3 s: sin\nat 3 s: sin\n"""'
    with pytest.raises(StillvoltError, match="line 2"):
        read_scene(twice, "mine", None)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("title = ", "not readable as TOML"),
        ("titel = 'x'", "titel is not known"),
        ("start = 'attic'", "start is wrong: There is no spot “attic”"),
        ("[meter]\nrate_hz = 0", "[meter]: rate_hz must be a number from 0.2 to 200, not 0"),
        ("[meter]\nrate_hz = 'fast'", "rate_hz must be a number"),
        ("[meter]\nrate_hz = nan", "rate_hz must be a number"),
        ("[meter]\nformat = 'roman'", "format must be one of plain"),
        ("[meter]\nbits = 3", "bits is not known"),
        ("meter = 3", "meter must be a table"),
        ("[body]\nstrength = true", "strength must be a number"),
        ("script = 5", "script must be a text"),
        ("script = 'lamp on'", "line 1: “lamp on” is not of the form “at 12 s: lamp on”"),
        ("script = 'at noon: lamp on'", "line 1: "),
        ("script = 'at 5 s: sing'", "line 1: “sing” is not a command"),
        ("\n\nscript = 'every 0.1 s: walk'", "line 3: "),
        ("script = 'every 10 s +- 5 s: walk'", "half its period"),
        ("script = 'at 99999999 h: walk'", "more than 100 days"),
        ("repeat_s = 5\nscript = 'at 9 s: walk'", "repeat_s is shorter than the script"),
        ("house = 'nowhere.toml'", "nowhere.toml cannot be read"),
        ("spot = 3", "spot must be written as [[spot]]"),
        ("[[spot]]\nname = 'a'\n[[spot]]\nname = 'A'", "name “A” is used twice"),
        ("[[spot]]\nname = 'a'\n[spot.coupling_pf]\n7 = 1", "7 is neither a circuit's number"),
        ("[[circuit]]\nnumber = 1\nleg = 3\n[[spot]]\nname = 'a'", "leg must be a number from 0 to 2"),
        ("[[circuit]]\nnumber = 1\nleg = [1, 1]\n[[spot]]\nname = 'a'", "names the same leg twice"),
        ("[[cord]]\nname = 'x'\ncircuit = 4\n[[spot]]\nname = 'a'", "4 is not the number of a [[circuit]]"),
        (HOUSE.replace("fan = 2.0", "fan = [1, 2]"), "one live wire only"),
        (HOUSE.replace("number = 1\n", ""), "number is missing"),
    ],
)
def test_what_is_wrong_is_told_in_one_sentence(text: str, message: str) -> None:
    with pytest.raises(StillvoltError) as error:
        read_scene(text, "my.toml", Path("/nonexistent"))
    assert message in str(error.value)
    assert "my.toml" in str(error.value) or "nowhere.toml" in str(error.value)
    assert "\n" not in str(error.value)


def test_files_that_are_no_text_or_not_there(tmp_path: Path) -> None:
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00\x01")
    for path in (tmp_path / "bytes.toml", tmp_path / "missing.toml", tmp_path, Path("nul\0byte")):
        with pytest.raises(StillvoltError):
            load_scene(path)


WORDS = ["lamp", "on", "off", "breaker", "1", "go", "to", "walk", "meter", "dc"]
BITS = st.sampled_from(
    [
        *(
            "[[spot]]",
            "[meter]",
            "name = 'a'",
            "leg = ",
            "[1, 2]",
            "1",
            "-1",
            "nan",
            "'x'",
            "script = ",
            "at 5 s: ",
        ),
        *(
            "=",
            '"""',
            "every 1 min",
            "+- 2 s",
            "lamp on",
            "1e400",
            "99999999999999999999",
            "{}",
            "[]",
            "²",
            "\n",
        ),
        *HOUSE.split(),
    ]
)


def assert_runs(scene: Scene) -> None:
    """A scene that was read has lines with finite voltages behind them."""
    lines = Simulation(scene).advance(0.5)
    assert all(line.data and np.isfinite((line.still_volts, line.true_volts)).all() for line in lines)


@given(st.lists(BITS, max_size=30).map(" ".join) | st.text(max_size=60))
@example("[[circuit]]\nnumber = 1\nleg = 1\n[[spot]]\nname='a'\n[spot.coupling_pf]\n'\u0661' = 1")
@example("[[spot]]\nname='a'\n[spot.coupling_pf]\n'\u00b2' = 1")
@example("[" * 5000)
def test_no_text_crashes_the_scene_reader(text: str) -> None:
    try:
        scene = read_scene(text, "any", Path("/nonexistent"))
    except StillvoltError as error:
        assert error.what.endswith(".")
        return
    assert_runs(scene)


@given(st.integers(0, 10_000), st.text(max_size=5))
def test_no_damage_to_a_good_scene_crashes_it(at: int, insert: str) -> None:
    text = (SCENES / "evening.toml").read_text() + HOUSE
    at %= len(text)
    try:
        scene = read_scene(text[:at] + insert + text[at + len(insert) :], "damaged", None)
    except StillvoltError as error:
        assert error.what.endswith(".")
        return
    assert_runs(scene)


@given(st.text(max_size=250) | st.lists(st.sampled_from(WORDS)).map(" ".join))
def test_no_text_crashes_the_command_reader(text: str) -> None:
    simulation = Simulation(built_in_scene("practice"))
    try:
        command = parse_command(text, simulation.house)
    except StillvoltError:
        with pytest.raises(StillvoltError):
            simulation.command(text)
        return
    simulation.command(text)
    silences = command.act in (Act.CABLE, Act.METER_POWER) and not command.on
    assert bool(simulation.advance(0.2)) is not silences


@pytest.mark.parametrize(
    ("text", "same"),
    [
        ("  LAMP   On ", "lamp on"),
        ("lamp lamp on", "lamp on"),
        ("cord heating pad plug", "heating pad plug"),
        ("breaker bedroom outlets off", "breaker 1 off"),
        ("Go To BED, LEFT", "go to bed, left"),
        ("meter DC", "meter dc"),
    ],
)
def test_other_ways_to_say_a_command(text: str, same: str) -> None:
    house = default_house()
    first, second = parse_command(text, house), parse_command(same, house)
    assert (first.act, first.name, first.word) == (second.act, second.name, second.word)


def test_the_practice_house_is_what_the_window_needs() -> None:
    house = default_house()
    assert len(house.spots) == 9
    assert len({spot.room for spot in house.spots.values()}) == 3
    assert any(circuit.keep for circuit in house.circuits.values())
    assert any(len(circuit.legs) == 2 for circuit in house.circuits.values())
