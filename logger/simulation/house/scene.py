"""A scene: a house, a meter, a person, and what happens when. Read from a TOML file or built in.

The script is text, one line an entry:

    at 12 s: lamp on
    every 41 min from 5 min: heating pad on
    every 41 min +- 2 min from 19 min: heating pad off

A mistake is named by file and line.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any

import msgspec
from msgspec import UNSET, Meta, UnsetType

from logger.errors import StillvoltError
from logger.simulation.house.body import BodyHabits
from logger.simulation.house.commands import Command, parse_command
from logger.simulation.house.house import House
from logger.simulation.house.house_file import HouseFile, read_house
from logger.simulation.house.meter_model import MeterModel, read_meter
from logger.toml_file import Text, TomlByTable, parse_by_table, read_text
from logger.translation import tr

BUILT_IN_SCENES = ("lively", "practice")
"""lively: things happen by themselves, over and over. practice: nothing happens unless commanded."""

BUILT_IN_HOUSE = "built-in"

CHANGEABLE = ("supply", "outside", "reference")
"""Tables of a house of which a scene may change single values."""

MIN_EVERY_S = 1.0
MAX_SCENE_S = 100 * 86400.0

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
    """All that a simulation starts from. A simulation changes its house: a scene serves one only."""

    title: str
    house: House
    meter: MeterModel
    habits: BodyHabits
    start_spot: str
    script: list[Entry]
    repeat_s: float = 0.0
    """The script begins anew after so long; 0 for never."""


class _SceneFile(msgspec.Struct, forbid_unknown_fields=True):
    title: Text = "a scene"
    start: Text | UnsetType = UNSET
    repeat_s: Annotated[float, Meta(ge=0.0, le=MAX_SCENE_S)] = 0.0
    script: Text | UnsetType = UNSET
    meter: dict[str, Any] = {}
    """As in `read_meter`."""
    body: BodyHabits = msgspec.field(default_factory=BodyHabits)


def load_scene(path: Path) -> Scene:
    """The scene in that TOML file.

    Raises:
        StillvoltError: names the file, the line or the key, and what is wrong.
    """
    return read_scene(read_text(path), str(path), path.parent)


def built_in_scene(name: str) -> Scene:
    """One of `BUILT_IN_SCENES`."""
    folder = files("logger.simulation.house")
    return read_scene(
        (folder / f"scene_{name}.toml").read_text(encoding="utf-8"),
        tr("built-in {scene}").format(scene=name),
        None,
    )


def default_house() -> House:
    """The invented household that scenes use unless they bring a house of their own."""
    return read_house(_default_document())


def _default_document() -> TomlByTable:
    text = (files("logger.simulation.house") / "practice_house.toml").read_text(encoding="utf-8")
    return parse_by_table(text, tr("the built-in house"))


def read_scene(text: str, where: str, folder: Path | None) -> Scene:
    """The scene in a TOML text.

    Args:
        text: the file's text.
        where: its name, for messages.
        folder: where its house file is looked for.

    Raises:
        StillvoltError: as `load_scene`.
    """
    document = parse_by_table(text, where)
    house, rest = _scene_house(document, folder)
    file = document.convert(_SceneFile, rest)
    meter = read_meter(document, file.meter, ("meter",))
    start_spot = next(iter(house.spots))
    if file.start is not UNSET:
        try:
            start_spot = house.find_spot(file.start.strip())
        except StillvoltError as error:
            raise document.mistake(
                ("start",), tr("is wrong: {why}").format(why=error.what.rstrip("."))
            ) from error
    script = [] if file.script is UNSET else _read_script(file.script.strip(), text, where, house)
    if file.repeat_s and any(entry.at_s >= file.repeat_s for entry in script):
        raise document.mistake(("repeat_s",), tr("is shorter than the script"))
    return Scene(file.title.strip(), house, meter, file.body, start_spot, script, file.repeat_s)


def _scene_house(document: TomlByTable, folder: Path | None) -> tuple[House, dict[str, Any]]:
    """The house of a scene, and what else the scene says."""
    rest = dict(document.values)
    if "spot" in rest:
        own = {key: rest.pop(key) for key in HouseFile.__struct_fields__ if key in rest}
        return read_house(TomlByTable(own, document.where)), rest
    name = document.convert(Text, rest.pop("house", BUILT_IN_HOUSE), ("house",)).strip()
    if name == BUILT_IN_HOUSE:
        base = _default_document()
    else:
        path = (folder or Path()) / name
        base = parse_by_table(read_text(path), str(path))
    changes = {key: rest.pop(key) for key in CHANGEABLE if key in rest}
    if not changes:
        return read_house(base), rest
    for source, tables in ((document, changes), (base, base.values)):
        for key in changes:
            if not isinstance(tables.get(key, {}), dict):
                raise source.mistake((key,), tr("must be a table"))
    merged = {key: base.values.get(key, {}) | values for key, values in changes.items()}
    where = tr("{scene}, changing {house}").format(scene=document.where, house=base.where)
    return read_house(TomlByTable(base.values | merged, where)), rest


def _read_script(script: str, text: str, where: str, house: House) -> list[Entry]:
    entries = []
    lines = text.splitlines()
    line_number = next((n for n, line in enumerate(lines, 1) if line.lstrip().startswith("script")), 1)
    for line in script.splitlines():
        entry_text = line.split("#", 1)[0].strip()
        if not entry_text:
            continue
        # The same text may stand on several lines; each is looked for after the one before.
        line_number = next(
            (n for n in range(line_number, len(lines) + 1) if entry_text in lines[n - 1]), line_number
        )
        try:
            entries.append(_read_entry(entry_text, house))
        except StillvoltError as error:
            text = tr("{file}, line {line}: {what}")
            raise StillvoltError(text.format(file=where, line=line_number, what=error.what)) from error
        line_number = min(line_number + 1, len(lines))
    return sorted(entries, key=lambda entry: entry.at_s)


def _read_entry(entry_text: str, house: House) -> Entry:
    plain = " ".join(entry_text.split())
    if match := _AT.fullmatch(plain):
        at_s = _seconds(match[1], match[2])
        return Entry(at_s, 0.0, 0.0, parse_command(match[3], house))
    if match := _EVERY.fullmatch(plain):
        every_s = _seconds(match[1], match[2])
        spread_s = _seconds(match[3], match[4]) if match[3] else 0.0
        at_s = _seconds(match[5], match[6]) if match[5] else 0.0
        if every_s < MIN_EVERY_S:
            raise StillvoltError(
                tr("“{text}” would happen more than once a second; once a second is the most.").format(
                    text=entry_text
                )
            )
        if 2 * spread_s >= every_s:
            raise StillvoltError(
                tr("“{text}” is spread over more than half its period.").format(text=entry_text)
            )
        return Entry(at_s, every_s, spread_s, parse_command(match[7], house))
    raise StillvoltError(
        tr("“{text}” is not of the form “{example}”.").format(
            text=entry_text[:60], example="at 12 s: lamp on"
        )
    )


def _seconds(number: str, unit: str) -> float:
    seconds = float(number) * _SECONDS[unit]
    if seconds > MAX_SCENE_S:
        raise StillvoltError(tr("{number} {unit} is more than 100 days.").format(number=number, unit=unit))
    return seconds
