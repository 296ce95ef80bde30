"""The practice house with its switches: every switch with its state in a word, and the command that changes it.

In: the URL of a simulated house with a control file. The state follows that file, whoever wrote the commands, as the
house itself does; what is switched here is appended to it. Nothing else is touched, so that whoever reads the meter
cannot know that it is none.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum, auto
from pathlib import Path
from typing import Literal

from logger.errors import StillvoltError
from logger.meter.port import is_simulated_port
from logger.name_list import listed
from logger.simulation.house.commands import Act, parse_command
from logger.simulation.house.control import Control, send_command
from logger.simulation.house.house import House, ProbePlace, ReferenceKind
from logger.simulation.house.scene_run import Simulation
from logger.simulation.protocol_sim import parameters_of, scene_of
from logger.translation import marked, tr, tr_n

MOVE_AFTERWARDS = ("move",)
"""Whoever works at the rod has moved before the posture is taken up again."""


SwitchKind = Literal["switch", "place", "act"]
"""What a switch is: on or off; one of several places; something that is done and not taken back."""


@dataclass(frozen=True, slots=True)
class SwitchPosition:
    """One state of a switch and what changes it.

    `on` is None where it is neither on nor off: something that is done once, or a place to go to.
    """

    word: str
    on: bool | None
    commands: tuple[str, ...]
    """Appended to the control file when it is switched; none where it cannot be."""
    spoken: str = ""
    """What is said in place of the word where that leaves out what is seen beside it; empty for the word."""


@dataclass(frozen=True, slots=True)
class Switch:
    """A breaker, a cord, a place, a thing to do."""

    name: str
    main: SwitchPosition
    does: str
    """What a click does, in a sentence."""
    second: SwitchPosition | None = None
    """A cord's own switch; its plug is `main`."""
    number: str = ""
    """A breaker's."""
    heads_group: bool = False
    """Stands for the group that follows: all breakers, the meter."""
    kind: SwitchKind = "switch"


class GroupKind(Enum):
    """What a group of switches is of."""

    BREAKERS = auto()
    CORDS = auto()
    EARTH = auto()
    PERSON = auto()
    METER = auto()


_GROUP_NAMES = {
    GroupKind.BREAKERS: marked("Breakers"),
    GroupKind.CORDS: marked("Cords"),
    GroupKind.EARTH: marked("Earth"),
    GroupKind.PERSON: marked("Person"),
    GroupKind.METER: marked("Meter"),
}


@dataclass(frozen=True, slots=True)
class SwitchGroup:
    """Switches that belong together."""

    kind: GroupKind
    switches: tuple[Switch, ...]

    @property
    def name(self) -> str:
        """What it is called."""
        return tr(_GROUP_NAMES[self.kind])


def is_house(url: str) -> bool:
    """Whether a port is a simulated house."""
    return is_simulated_port(url)


def control_path_of(url: str) -> Path | None:
    """The control file in a simulated house's URL; None where there is none, so that nobody can switch in it."""
    if not is_house(url):
        return None
    try:
        given = parameters_of(url)
    except StillvoltError:
        return None
    return Path(given["control"]) if "control" in given else None


def display_name(url: str) -> str:
    """A port for people: a practice house's URL says nothing to them."""
    return tr("the practice house") if control_path_of(url) is not None else url


def url_of(control: Path) -> str:
    """The practice house in which that control file switches."""
    return f"sim://house?scene=practice&control={str(control).replace('%', '%25').replace('&', '%26')}"


def practice_url(visit: Path) -> str:
    """The practice house of a visit's own; its control file lies beside the visit log."""
    return url_of(visit.with_suffix(".control"))


def make_control_file(url: str) -> None:
    """Make the control file of a practice house where it is missing.

    Raises:
        StillvoltError: the folder takes no file.
    """
    path = control_path_of(url)
    if path is None:
        return
    try:
        path.touch()
    except OSError as error:
        raise StillvoltError(
            tr("The practice house cannot be opened: {file} cannot be written ({reason}).").format(
                file=path, reason=error.strerror
            ),
            next_step=tr("Begin a new visit in a folder that can be written."),
        ) from error


class PracticeHouse:
    """A house with its control file.

    Args:
        url: of the simulated house.

    Raises:
        StillvoltError: the URL or its scene is wrong, or it names no control file.
    """

    def __init__(self, url: str) -> None:
        path = control_path_of(url)
        if path is None:
            raise StillvoltError(
                tr("{url} has no control file: things happen in it by themselves.").format(url=url),
                next_step=tr("Record from a house with one: ./scripts/run brings it."),
            )
        self.url = url
        self._path = path
        self._control = Control(path)
        self._simulation = Simulation(scene_of(url))
        self.walks = False
        self.refresh()

    @property
    def house(self) -> House:
        """As it is switched now."""
        return self._simulation.house

    @property
    def spot(self) -> str:
        """Where the person is, or goes to."""
        return self._simulation.spot.name

    @property
    def bed(self) -> str:
        """Where somebody lies in a practice night: where the person lies, else the first place to lie down."""
        lying = [spot.name for spot in self.house.spots.values() if spot.posture == "lying"]
        return self.spot if self.spot in lying or not lying else lying[0]

    def refresh(self) -> bool:
        """Follow the control file; returns whether it held new lines."""
        lines = self._control.new_lines()
        for line in lines:
            try:
                act = parse_command(line, self.house).act
                self._simulation.restore(line)
            except StillvoltError:  # the house ignores it too
                continue
            if act in (Act.WALK, Act.LIE_STILL, Act.GO_TO):
                self.walks = act is Act.WALK
        return bool(lines)

    def switch(self, position: SwitchPosition) -> None:
        """Send the commands that change a switch.

        Raises:
            StillvoltError: the control file cannot be written.
        """
        for command in position.commands:
            send_command(self._path, command)
        self.refresh()

    def groups(self) -> list[SwitchGroup]:
        """All that can be done in the house, with its state now."""
        return [self._breakers(), self._cords(), self._earth(), self._person(), self._meter()]

    def _breakers(self) -> SwitchGroup:
        house = self.house
        off = [c for c in house.circuits.values() if not house.breakers[c.number]]
        may_go = [c for c in house.circuits.values() if not c.keep]
        all_off = len(may_go) > 0 and all(not house.breakers[c.number] for c in may_go)
        left = len(house.circuits) - len(off)
        spoken = ""
        if not off:
            word = tr("all on")
        elif all_off:
            word = tr_n("{n} stays on", "{n} stay on", left).format(n=left)
            staying = listed([c.name for c in house.circuits.values() if house.breakers[c.number]])
            spoken = tr("off, but these stay on: {names}").format(names=staying)
        else:
            word = tr("{n} off").format(n=len(off))
        # It is drawn as off as soon as one is off: from there it goes on.
        commands = (
            tuple(f"breaker {c.number} on" for c in off)
            if off
            else tuple(f"breaker {c.number} off" for c in may_go)
        )
        lead = Switch(
            tr("All breakers"),
            SwitchPosition(word, not off, commands, spoken),
            tr("Switches off every breaker that may go off; where any is off, it switches all on."),
            heads_group=True,
        )
        singles = [
            Switch(
                circuit.name,
                _two(house.breakers[number], tr("on"), tr("off"), f"breaker {number}"),
                tr("Switches this circuit off, or on again."),
                number=str(number),
            )
            for number, circuit in house.circuits.items()
        ]
        return SwitchGroup(GroupKind.BREAKERS, (lead, *singles))

    def _cords(self) -> SwitchGroup:
        found = []
        for name, state in self.house.cord_states.items():
            plug = SwitchPosition(
                tr("in") if state.plugged else tr("out"),
                state.plugged,
                (f"{name} {'unplug' if state.plugged else 'plug'}",),
            )
            own = SwitchPosition(
                tr("on") if state.on else tr("off"), state.on, (f"{name} {'off' if state.on else 'on'}",)
            )
            does = tr(
                "Pulls the plug, or plugs it in (Enter). The right-hand mark is its own switch: on or off "
                "(Shift+Enter)."
            )
            found.append(Switch(name[:1].upper() + name[1:], plug, does, own))
        return SwitchGroup(GroupKind.CORDS, tuple(found))

    def _earth(self) -> SwitchGroup:
        house = self.house
        rod = house.reference_kind is ReferenceKind.ROD
        reference = SwitchPosition(
            tr("earth rod") if rod else tr("building earth"),
            rod,
            (f"reference {'building earth' if rod else 'earth rod'}",),
        )
        place = self._simulation.probe
        in_hand = place is ProbePlace.HAND
        probe = SwitchPosition(
            tr("in hand")
            if in_hand
            else tr("on the wire")
            if place is ProbePlace.REFERENCE_WIRE
            else tr("on second rod"),
            in_hand,
            (f"probe {ProbePlace.REFERENCE_WIRE if in_hand else ProbePlace.HAND}",),
        )
        at_second = place is ProbePlace.SECOND_ROD
        second_rod = SwitchPosition(
            tr("probe on it") if at_second else tr("no probe"),
            at_second,
            (f"probe {ProbePlace.HAND if at_second else ProbePlace.SECOND_ROD}",),
        )
        wire = SwitchPosition(
            tr("elsewhere") if house.wire_moved else tr("as laid"),
            house.wire_moved,
            ("lay the wire back" if house.wire_moved else "move the wire", *MOVE_AFTERWARDS),
        )
        soil = SwitchPosition(
            tr("wet") if house.wet else tr("dry"),
            house.wet,
            () if house.wet else ("wet the soil", *MOVE_AFTERWARDS),
        )
        rods = SwitchPosition(tr("{n} in soil").format(n=house.rods), None, ("extra rod", *MOVE_AFTERWARDS))
        return SwitchGroup(
            GroupKind.EARTH,
            (
                Switch(
                    tr("Reference"),
                    reference,
                    tr("Changes the reference from earth rod to building earth, or back."),
                    heads_group=True,
                ),
                Switch(
                    tr("Probe"),
                    probe,
                    tr("Moves the probe into the hand, or onto the bare end of the reference wire."),
                ),
                Switch(
                    tr("Second rod"),
                    second_rod,
                    tr("Moves the probe onto a second rod, or back into the hand."),
                ),
                Switch(tr("Wire"), wire, tr("Lays the reference wire elsewhere, or back as it was.")),
                _act(tr("Wet the soil"), soil, tr("Waters the soil of the practice house. It stays wet.")),
                _act(tr("Extra rod"), rods, tr("Drives one more rod in beside the first and joins them.")),
            ),
        )

    def _person(self) -> SwitchGroup:
        here, words = self.spot, {self.bed: tr("sleeps here"), self.spot: tr("here")}
        walk = SwitchPosition(
            tr("walks") if self.walks else tr("is still"),
            not self.walks,
            ("lie still" if self.walks else "walk",),
        )
        places = [
            Switch(
                name,
                SwitchPosition(words.get(name, ""), name == here, (f"go to {name}",)),
                tr("The person goes there."),
                kind="place",
            )
            for name in self.house.spots
        ]
        return SwitchGroup(
            GroupKind.PERSON,
            (
                Switch(
                    tr("Person"), walk, tr("The person walks about, or lies still again."), heads_group=True
                ),
                *places,
            ),
        )

    def _meter(self) -> SwitchGroup:
        simulation = self._simulation
        charger = _two(self.house.charger, tr("plugged in"), tr("not in"), "charger")
        power = _two(simulation.meter_on, tr("on"), tr("off"), "meter")
        plugged = simulation.cable_in
        cable = SwitchPosition(
            tr("in") if plugged else tr("pulled"), plugged, ("pull cable" if plugged else "plug cable",)
        )
        return SwitchGroup(
            GroupKind.METER,
            (
                Switch(
                    tr("Meter"), power, tr("Switches the practice meter off, or on again."), heads_group=True
                ),
                Switch(
                    tr("Its cable"),
                    cable,
                    tr("Pulls the meter's cable out of the laptop, or plugs it in."),
                ),
                _act(
                    tr("Overload"),
                    SwitchPosition(tr("for 3 s"), None, ("overload",)),
                    tr("The meter is given more than it can show."),
                ),
                Switch(
                    tr("Laptop's charger"), charger, tr("Plugs the laptop's charger in, or pulls it out.")
                ),
            ),
        )


def _two(on: bool, yes: str, no: str, what: str) -> SwitchPosition:
    return SwitchPosition(yes if on else no, on, (f"{what} {'off' if on else 'on'}",))


def _act(name: str, position: SwitchPosition, does: str) -> Switch:
    return Switch(name, position, does, kind="act")


def find_switch(switches: Sequence[Switch], typed: str) -> int | None:
    """The switch that is meant by a few typed letters or digits; None where none begins like that.

    Several words are the beginning of a name first, with its breaker's number before it or without. A number alone goes
    next, then a whole word of a name, then its beginning, then that of a word in it. Blanks do not matter; a comma and
    other punctuation that was typed belongs to the name.
    """
    wanted = _plain(typed)
    if not wanted:
        return None
    if any(not (c.isalnum() or c.isspace()) for c in typed):
        return _find_as_written(switches, "".join(typed.casefold().split()))
    words = _words(typed)
    tests: tuple[Callable[[Switch], bool], ...] = (
        lambda s: len(words) > 1 and _begin(words, _words(s.name)),
        lambda s: len(words) > 1 and _begin(words, [s.number, *_words(s.name)]),
        lambda s: s.number == wanted,
        lambda s: s.number.startswith(wanted),
        lambda s: wanted in (_plain(word) for word in s.name.split()),
        lambda s: _plain(s.name).startswith(wanted),
        lambda s: any(_plain(s.name[at:]).startswith(wanted) for at in _word_starts(s.name)),
    )
    for test in tests:
        for index, switch in enumerate(switches):
            if test(switch):
                return index
    return None


def _find_as_written(switches: Sequence[Switch], wanted: str) -> int | None:
    """The switch whose name, or a word in it and what follows, begins with what was typed, without blanks."""
    beginnings: tuple[Callable[[Switch], list[str]], ...] = (
        lambda s: [s.name, s.number + s.name],
        lambda s: [s.name[at:] for at in _word_starts(s.name)],
    )
    for texts_of in beginnings:
        for index, switch in enumerate(switches):
            if any("".join(text.casefold().split()).startswith(wanted) for text in texts_of(switch)):
                return index
    return None


def _words(text: str) -> list[str]:
    return re.findall(r"\w+", text.casefold())


def _begin(typed: Sequence[str], words: Sequence[str]) -> bool:
    """Whether typed words are the first ones of a name, the last of them perhaps not whole."""
    *whole, last = typed
    return words[: len(whole)] == whole and len(words) > len(whole) and words[len(whole)].startswith(last)


def _plain(text: str) -> str:
    return "".join(c for c in text.casefold() if c.isalnum())


def _word_starts(name: str) -> list[int]:
    return [at for at in range(1, len(name)) if name[at].isalnum() and not name[at - 1].isalnum()]
