"""The words that change the simulated house, in scenes, in control files and in the practice window.

In: a line of text ("lamp on", "breaker 3 off", "go to bed"). Out: a `Command` whose names exist in the house.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from logger.errors import StillvoltError
from logger.simulation.house.house import House, ProbePlace
from logger.translation import tr

MAX_COMMAND = 200


class Act(StrEnum):
    """What a command does."""

    CORD = "cord"
    BREAKER = "breaker"
    EVERYTHING = "everything"
    WALK = "walk"
    LIE_STILL = "lie still"
    MOVE = "move"
    TURN_OVER = "turn over"
    GO_TO = "go to"
    CABLE = "cable"
    METER_POWER = "meter"
    METER_DC = "meter dc"
    OVERLOAD = "overload"
    CHARGER = "charger"
    PROBE = "probe"
    MOVE_WIRE = "move the wire"
    WET_SOIL = "wet the soil"
    EXTRA_ROD = "extra rod"
    REFERENCE = "reference"


@dataclass(frozen=True, slots=True)
class Command:
    """One change. `name` is a cord, a circuit's number or a spot; `word` is plug, unplug, on, off or a `ProbePlace`."""

    act: Act
    text: str
    name: str = ""
    word: str = ""

    @property
    def on(self) -> bool:
        """Whether it switches on or plugs in."""
        return self.word in ("on", "plug")


_FIXED: dict[str, tuple[Act, str]] = {
    "walk": (Act.WALK, ""),
    "lie still": (Act.LIE_STILL, ""),
    "sit still": (Act.LIE_STILL, ""),
    "stand still": (Act.LIE_STILL, ""),
    "move": (Act.MOVE, ""),
    "turn over": (Act.TURN_OVER, ""),
    "pull cable": (Act.CABLE, "off"),
    "plug cable": (Act.CABLE, "on"),
    "meter on": (Act.METER_POWER, "on"),
    "meter off": (Act.METER_POWER, "off"),
    "meter dc": (Act.METER_DC, "on"),
    "meter ac": (Act.METER_DC, "off"),
    "overload": (Act.OVERLOAD, "on"),
    "charger on": (Act.CHARGER, "on"),
    "charger off": (Act.CHARGER, "off"),
    **{f"probe {place}": (Act.PROBE, place.value) for place in ProbePlace},
    "move the wire": (Act.MOVE_WIRE, "on"),
    "lay the wire back": (Act.MOVE_WIRE, "off"),
    "wet the soil": (Act.WET_SOIL, "on"),
    "extra rod": (Act.EXTRA_ROD, "on"),
    "everything on": (Act.EVERYTHING, "on"),
    "everything off": (Act.EVERYTHING, "off"),
    "reference earth rod": (Act.REFERENCE, "on"),
    "reference building earth": (Act.REFERENCE, "off"),
}

_BREAKER = re.compile(r"breaker (.+) (on|off)")
_GO_TO = re.compile(r"go to (.+)")
_CORD = re.compile(r"(.+) (plug|unplug|on|off)")


def parse_command(text: str, house: House) -> Command:
    """The command that a line says; case and spaces do not matter.

    Raises:
        StillvoltError: it is no command, or names something that the house has not.
    """
    words = " ".join(text.split()).casefold()
    if len(words) > MAX_COMMAND:
        raise StillvoltError(tr("“{text}...” is too long for a command.").format(text=words[:40]))
    if words in _FIXED:
        act, word = _FIXED[words]
        return Command(act, words, word=word)
    if match := _BREAKER.fullmatch(words):
        return Command(Act.BREAKER, words, str(house.find_circuit(match[1])), match[2])
    if match := _GO_TO.fullmatch(words):
        return Command(Act.GO_TO, words, house.find_spot(match[1]))
    if match := _CORD.fullmatch(words):
        return Command(Act.CORD, words, house.find_cord(match[1]), match[2])
    raise StillvoltError(
        tr("“{text}” is not a command of the simulated house.").format(text=words or text.strip())
    )
