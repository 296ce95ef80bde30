"""A scene: a house, a meter, a person, and what happens when. Read from a TOML file or built in.

The script is text, one line an entry:

    at 12 s: lamp on
    every 41 min from 5 min: heating pad on
    every 41 min +- 2 min from 19 min: heating pad off

Mistakes are told with file and line.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from logger.errors import StillvoltError
from logger.simulation.house.body import BodyHabits, read_habits
from logger.simulation.house.commands import Command, parse_command
from logger.simulation.house.house import House, read_house
from logger.simulation.house.meter_model import MeterModel, read_meter
from logger.simulation.house.table import Table, parse_toml, read_text

BUILT_IN_SCENES = ("lively", "practice")
"""lively: things happen by themselves, over and over. practice: nothing happens unless told."""

CHANGEABLE = ("supply", "outside", "reference")
"""Tables of a house of which a scene may change single values."""

SHORTEST_EVERY_S = 1.0
LONGEST_SCENE_S = 100 * 86400.0

_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}
_TIME = r"([0-9]+(?:\.[0-9]+)?) ?(s|min|h)"
_AT = re.compile(rf"at {_TIME} ?: ?(.+)")
_EVERY = re.compile(rf"every {_TIME}(?: \+- {_TIME})?(?: from {_TIME})? ?: ?(.+)")


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the script.

    Args:
        at_s: first time, in seconds since the start.
        every_s: again after so long; 0 for once.
        spread_s: each time earlier or later by up to this.
        command: what happens.
    """

    at_s: float
    every_s: float
    spread_s: float
    command: Command


@dataclass
class Scene:
    """All that a simulation starts from. The house in it is used up by one simulation."""

    title: str
    house: House
    meter: MeterModel
    habits: BodyHabits
    start_spot: str
    script: list[Entry]
    repeat_s: float = 0.0
    """The script begins anew after so long; 0 for never."""


def load_scene(path: Path) -> Scene:
    """The scene in that TOML file.

    Raises:
        StillvoltError: names the file, the line or the key, and what is wrong.
    """
    return read_scene(read_text(path), str(path), path.parent)


def built_in_scene(name: str) -> Scene:
    """One of `BUILT_IN_SCENES`."""
    folder = files("logger.simulation.house")
    return read_scene((folder / f"{name}.toml").read_text(encoding="utf-8"), f"built-in {name}", None)


def default_house() -> House:
    """The invented household that scenes use unless they bring a house of their own."""
    return read_house(_default_table())


def _default_table() -> Table:
    text = (files("logger.simulation.house") / "home.toml").read_text(encoding="utf-8")
    return parse_toml(text, "the built-in house")


def read_scene(text: str, where: str, folder: Path | None) -> Scene:
    """The scene in a TOML text.

    Args:
        text: the file's text.
        where: its name, for messages.
        folder: where its house file is looked for.

    Raises:
        StillvoltError: as `load_scene`.
    """
    table = parse_toml(text, where)
    title = table.text("title", "a scene")
    house = _scene_house(table, folder)
    start_spot = next(iter(house.spots))
    if table.has("start"):
        said = table.text("start")
        try:
            start_spot = house.find_spot(said)
        except StillvoltError as error:
            raise table.refuse("start", f"is wrong: {error.what.rstrip('.')}") from error
    repeat_s = table.number("repeat_s", 0.0, 0.0, LONGEST_SCENE_S)
    meter = read_meter(table.table("meter"))
    habits = read_habits(table.table("body"))
    script_text = table.text("script", " - ") if table.has("script") else ""
    table.finish()
    script = _read_script(script_text, text, where, house)
    if repeat_s and any(entry.at_s >= repeat_s for entry in script):
        raise table.refuse("repeat_s", "is shorter than the script")
    return Scene(title, house, meter, habits, start_spot, script, repeat_s)


def _scene_house(table: Table, folder: Path | None) -> House:
    if table.has("spot"):
        return read_house(table)
    name = table.text("house", "built-in")
    if name == "built-in":
        base = _default_table()
    else:
        path = (folder or Path()) / name
        base = parse_toml(read_text(path), str(path))
    where = base.where
    if any(table.has(key) for key in CHANGEABLE):
        base.where = f"{table.where}, changing {where}"
        for key in CHANGEABLE:
            base.overlay(key, table)
    house = read_house(base)
    base.finish()
    return house


def _read_script(script: str, text: str, where: str, house: House) -> list[Entry]:
    entries = []
    lines = text.splitlines()
    line_number = next((n for n, line in enumerate(lines, 1) if line.lstrip().startswith("script")), 1)
    for line in script.splitlines():
        said = line.split("#", 1)[0].strip()
        if not said:
            continue
        # The same text may stand on several lines; each is looked for after the one before.
        line_number = next(
            (n for n in range(line_number, len(lines) + 1) if said in lines[n - 1]), line_number
        )
        try:
            entries.append(_read_entry(said, house))
        except StillvoltError as error:
            raise StillvoltError(f"{where}, line {line_number}: {error.what}") from error
        line_number = min(line_number + 1, len(lines))
    return sorted(entries, key=lambda entry: entry.at_s)


def _read_entry(said: str, house: House) -> Entry:
    plain = " ".join(said.split())
    if match := _AT.fullmatch(plain):
        at_s = _seconds(match[1], match[2])
        return Entry(at_s, 0.0, 0.0, parse_command(match[3], house))
    if match := _EVERY.fullmatch(plain):
        every_s = _seconds(match[1], match[2])
        spread_s = _seconds(match[3], match[4]) if match[3] else 0.0
        at_s = _seconds(match[5], match[6]) if match[5] else 0.0
        if every_s < SHORTEST_EVERY_S:
            raise StillvoltError(f'"{said}" repeats more than once a second.')
        if 2 * spread_s >= every_s:
            raise StillvoltError(f'"{said}" is spread over more than half its period.')
        return Entry(at_s, every_s, spread_s, parse_command(match[7], house))
    raise StillvoltError(f'"{said[:60]}" is not of the form "at 12 s: lamp on".')


def _seconds(number: str, unit: str) -> float:
    seconds = float(number) * _SECONDS[unit]
    if seconds > LONGEST_SCENE_S:
        raise StillvoltError(f"{number} {unit} is more than 100 days.")
    return seconds
