"""A house: supply, circuits, cords, spots, reference, and what is switched and plugged now.

What couples to a body depends on the spot: every spot lists its capacitance to each circuit's wiring, each cord and
the field from outside. The state (breakers, plugs, switches, reference) is changed by methods; `sources` gives what
the body feels at a spot.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from logger import body_circuit
from logger.body_circuit import PICO, CoupledSource, Impedance, Reference, phasor
from logger.errors import StillvoltError
from logger.simulation.house.table import Table

OUTSIDE = "outside"
"""Name, in a spot's couplings, of the field from outside the home's own wiring."""

OFF_AT_LIVE_SHARE = 0.35
"""Part of a cord's coupling that is left when its switch opens the live wire: the piece before the switch."""

OFF_AT_NEUTRAL_SHARE = 1.5
"""A switch in the neutral leaves cord and lamp live throughout: it couples more than when lit, since then the
neutral wire beside the live one is near earth."""

WETTING_SHARE = 0.4
"""Wet soil leaves this part of a rod's resistance to earth; further wetting does nothing."""

BUILDING_EARTH_OHMS = 1.0


class ReferenceKind(StrEnum):
    """What the meter's other lead is connected to."""

    ROD = "earth rod"
    BUILDING = "building earth"


@dataclass(frozen=True, slots=True)
class SimulatedCircuit:
    """A circuit behind a breaker. `legs` counts from 0; two of them for a two-pole breaker."""

    number: int
    name: str
    legs: tuple[int, ...]
    keep: bool
    """Must stay on, most probably: refrigerator, alarm, medical device."""


@dataclass(frozen=True, slots=True)
class SimulatedCord:
    """A cord, lamp or appliance plugged into a circuit."""

    name: str
    circuit: int
    switch: str
    """Which wire its switch opens: live or neutral."""
    wire: int
    """Which of the circuit's legs it is connected to."""


@dataclass(frozen=True, slots=True)
class SimulatedSpot:
    """A place and posture. Couplings are keyed by circuit number (as text), name of a cord, or `outside`."""

    name: str
    room: str
    posture: str
    body_farads: float
    coupling_farads: dict[str, tuple[float, float]]


@dataclass(frozen=True, slots=True)
class EarthRod:
    """The rod in the soil and the wire from it, which runs along live wiring (`lead_farads` to the first leg)."""

    ohms: float
    lead_farads: float


@dataclass
class CordState:
    """What the household does with a cord."""

    plugged: bool
    on: bool


@dataclass
class House:
    """A house and its present state."""

    name: str
    supply: str
    leg_volts: float
    frequency_hz: float
    outside_volts: complex
    rod: EarthRod
    building_volts: complex
    """What the building's protective earth carries against the soil."""
    charger_volts: complex
    """What a charger at the laptop adds to the reference through a link that is not isolated."""
    circuits: dict[int, SimulatedCircuit]
    cords: dict[str, SimulatedCord]
    spots: dict[str, SimulatedSpot]
    breakers: dict[int, bool]
    cord_states: dict[str, CordState]
    charger: bool = False
    reference_kind: ReferenceKind = ReferenceKind.ROD
    wet: bool = False
    rods: int = 1

    def leg_phasor(self, leg: int) -> complex:
        """Potential of a leg against earth."""
        return phasor(self.leg_volts, body_circuit.LEG_DEGREES[self.supply][leg])

    def sources(self, spot: SimulatedSpot) -> list[CoupledSource]:
        """All that couples to a body at the spot; dead wiring too, which is at earth potential."""
        found = [CoupledSource(self.outside_volts, spot.coupling_farads.get(OUTSIDE, (0.0, 0.0))[0])]
        for key, both in spot.coupling_farads.items():
            if key == OUTSIDE:
                continue
            if key.isdigit():
                circuit = self.circuits[int(key)]
                live = self.breakers[circuit.number]
                for leg, farads in zip(circuit.legs, both, strict=False):
                    found.append(CoupledSource(self.leg_phasor(leg) if live else 0j, farads))
            else:
                found.append(self._cord_source(self.cords[key], both[0]))
        return found

    def _cord_source(self, cord: SimulatedCord, farads: float) -> CoupledSource:
        state = self.cord_states[cord.name]
        if not state.plugged:
            return CoupledSource(0j, 0.0)
        circuit = self.circuits[cord.circuit]
        volts = self.leg_phasor(circuit.legs[cord.wire]) if self.breakers[cord.circuit] else 0j
        share = 1.0
        if not state.on:
            share = OFF_AT_NEUTRAL_SHARE if cord.switch == "neutral" else OFF_AT_LIVE_SHARE
        return CoupledSource(volts, farads * share)

    def reference(self) -> Reference:
        """What the meter calls zero, with all that is wrong with it."""
        if self.reference_kind is ReferenceKind.BUILDING:
            found = Reference(self.building_volts, BUILDING_EARTH_OHMS)
        else:
            ohms = self.rod.ohms * (WETTING_SHARE if self.wet else 1.0) / self.rods
            live = any(self.breakers.values())
            lead_volts = self.leg_phasor(0) if live else 0j
            found = body_circuit.lead_reference(ohms, self.rod.lead_farads, lead_volts, self.frequency_hz)
        if self.charger:
            found = Reference(found.volts + self.charger_volts, found.ohms)
        return found

    def still_volts(self, spot: SimulatedSpot, meter: Impedance) -> float:
        """What a perfect meter with that input shows while the body lies still at the spot."""
        charge, coupling = body_circuit.total(self.sources(spot))
        return body_circuit.meter_volts(
            charge, coupling, spot.body_farads, meter, self.frequency_hz, self.reference()
        )

    def find_cord(self, words: str) -> str:
        """The cord of that name, whatever its case, with or without "lamp", "cord" or "appliance" before it.

        Raises:
            StillvoltError: there is none.
        """
        names = {name.casefold(): name for name in self.cords}
        said = words.casefold().strip()
        short = said.removeprefix("lamp ").removeprefix("cord ").removeprefix("appliance ").strip()
        for candidate in (said, short):
            if candidate in names:
                return names[candidate]
        raise StillvoltError(
            f'There is no cord "{words}" in this house; there are {", ".join(self.cords) or "none"}.'
        )

    def find_circuit(self, words: str) -> int:
        """The circuit of that number or name.

        Raises:
            StillvoltError: there is none.
        """
        said = words.casefold().strip()
        for circuit in self.circuits.values():
            if said in (str(circuit.number), circuit.name.casefold()):
                return circuit.number
        numbers = ", ".join(str(number) for number in self.circuits)
        raise StillvoltError(f'There is no breaker "{words}" in this house; there are {numbers}.')

    def find_spot(self, words: str) -> str:
        """The spot of that name.

        Raises:
            StillvoltError: there is none.
        """
        said = words.casefold().strip()
        for name in self.spots:
            if name.casefold() == said:
                return name
        raise StillvoltError(f'There is no spot "{words}" in this house; there are {", ".join(self.spots)}.')


def read_house(table: Table) -> House:
    """The house described in the tables supply, outside, reference, circuit, cord and spot of `table`."""
    name = table.text("house_name", "a house")
    supply = table.table("supply")
    kind = supply.choice("kind", "split", tuple(body_circuit.LEG_DEGREES))
    leg_volts = supply.number("volts", 120.0 if kind == "split" else 230.0, 50.0, 500.0)
    frequency_hz = supply.number("frequency_hz", 60.0 if kind == "split" else 50.0, 10.0, 500.0)
    supply.finish()
    outside = _read_phasor(table.table("outside"), leg_volts, 1e6)
    reference = table.table("reference")
    rod = EarthRod(
        reference.number("rod_ohms", 300.0, 0.1, 1e6),
        reference.number("lead_pf", 40.0, 0.0, 10_000.0) * PICO,
    )
    building_volts = phasor(
        reference.number("building_volts", 0.45, 0.0, 50.0),
        reference.number("building_degrees", 40.0, -360, 360),
    )
    charger_volts = phasor(
        reference.number("charger_volts", 0.6, 0.0, 50.0),
        reference.number("charger_degrees", 15.0, -360, 360),
    )
    reference.finish()
    circuits: dict[int, SimulatedCircuit] = {}
    breakers: dict[int, bool] = {}
    for entry in table.tables("circuit"):
        circuit, on = _read_circuit(entry, len(body_circuit.LEG_DEGREES[kind]))
        if circuit.number in circuits:
            raise entry.refuse("number", f"{circuit.number} is used twice")
        circuits[circuit.number] = circuit
        breakers[circuit.number] = on
    cords: dict[str, SimulatedCord] = {}
    cord_states: dict[str, CordState] = {}
    for entry in table.tables("cord"):
        cord, state = _read_cord(entry, circuits)
        if cord.name.casefold() in (known.casefold() for known in cords):
            raise entry.refuse("name", f'"{cord.name}" is used twice')
        cords[cord.name] = cord
        cord_states[cord.name] = state
    spots: dict[str, SimulatedSpot] = {}
    for entry in table.tables("spot"):
        spot = _read_spot(entry, circuits, cords)
        if spot.name.casefold() in (known.casefold() for known in spots):
            raise entry.refuse("name", f'"{spot.name}" is used twice')
        spots[spot.name] = spot
    if not spots:
        raise table.refuse("spot", "is missing: a house needs at least one [[spot]]")
    return House(
        name, kind, leg_volts, frequency_hz, outside, rod, building_volts, charger_volts,
        circuits, cords, spots, breakers, cord_states,
    )  # fmt: skip


def _read_phasor(table: Table, volts: float, most_volts: float) -> complex:
    found = phasor(
        table.number("volts", volts, 0.0, most_volts), table.number("degrees", 75.0, -360.0, 360.0)
    )
    table.finish()
    return found


def _read_circuit(entry: Table, legs: int) -> tuple[SimulatedCircuit, bool]:
    number = entry.number("number", None, 1, 999)
    if number != int(number):
        raise entry.refuse("number", f"must be a whole number, not {number:g}")
    name = entry.text("name", f"circuit {number:g}")
    poles = entry.pair("leg", 0, legs)
    if poles[0] == 0 or any(leg != int(leg) for leg in poles):
        raise entry.refuse("leg", f"must be a whole number from 1 to {legs}, or two of them in a list")
    if poles[0] == poles[1]:
        raise entry.refuse("leg", "names the same leg twice")
    used = tuple(int(leg) - 1 for leg in poles if leg)
    circuit = SimulatedCircuit(int(number), name, used, entry.flag("keep", False))
    on = entry.flag("on", True)
    entry.finish()
    return circuit, on


def _read_cord(entry: Table, circuits: dict[int, SimulatedCircuit]) -> tuple[SimulatedCord, CordState]:
    name = entry.text("name")
    if name.isdigit() or name.casefold() == OUTSIDE:
        raise entry.refuse("name", f'cannot be "{name}"')
    number = entry.number("circuit", None, 1, 999)
    if number not in circuits:
        raise entry.refuse("circuit", f"{number:g} is not the number of a [[circuit]]")
    circuit = circuits[int(number)]
    wire = entry.number("wire", 1, 1, len(circuit.legs))
    cord = SimulatedCord(
        name, circuit.number, entry.choice("switch", "live", ("live", "neutral")), int(wire) - 1
    )
    state = CordState(entry.flag("plugged", True), entry.flag("on", True))
    entry.finish()
    return cord, state


def _read_spot(
    entry: Table, circuits: dict[int, SimulatedCircuit], cords: dict[str, SimulatedCord]
) -> SimulatedSpot:
    name = entry.text("name")
    room = entry.text("room", "the house")
    posture = entry.choice("posture", "sitting", ("standing", "sitting", "lying"))
    body_farads = entry.number("body_pf", 150.0, 20.0, 1000.0) * PICO
    table = entry.table("coupling_pf")
    entry.finish()
    by_case = {cord.casefold(): cord for cord in cords}
    couplings: dict[str, tuple[float, float]] = {}
    for key in table.names():
        first, second = table.pair(key, 0.0, 100.0)
        known = (
            key
            if key == OUTSIDE or (key.isdecimal() and int(key) in circuits)
            else by_case.get(key.casefold())
        )
        if known is None:
            raise table.refuse(key, f"is neither a circuit's number, nor a cord's name, nor {OUTSIDE}")
        known = str(int(known)) if known.isdecimal() else known
        poles = len(circuits[int(known)].legs) if known.isdecimal() else 1
        if second and poles == 1:
            raise table.refuse(key, "has one live wire only, so one number")
        couplings[known] = (first * PICO, second * PICO)
    return SimulatedSpot(name, room, posture, body_farads, couplings)
