"""A house: supply, circuits, cords, spots, reference, and what is switched and plugged now.

What couples to a body depends on the spot: every spot lists its capacitance to each circuit's wiring, each cord and
the field from outside. The state (breakers, plugs, switches, reference) is changed by methods; `sources` gives what
the body feels at a spot.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from logger import body_circuit
from logger.body_circuit import CoupledSource, Impedance, Reference, phasor
from logger.errors import StillvoltError
from logger.name_list import listed
from logger.translation import tr

OUTSIDE = "outside"
"""Name, in a spot's couplings, of the field from outside the home's own wiring."""

OFF_AT_LIVE_SHARE = 0.35
"""Part of a cord's coupling that is left when its switch opens the live wire: the piece before the switch."""

OFF_AT_NEUTRAL_SHARE = 1.5
"""A switch in the neutral leaves cord and lamp live throughout: it couples more than when lit, since then the
neutral wire beside the live one is near earth."""

WETTING_SHARE = 0.4
"""Wet soil leaves this part of a rod's resistance to earth; further wetting does nothing."""

WIRE_MOVED_SHARE = 0.1
"""A wire that was laid off walls and cables keeps this part of its capacitance to live wiring. A second rod's wire is
laid so from the start."""

BUILDING_EARTH_OHMS = 1.0


class ReferenceKind(StrEnum):
    """What the meter's other lead is connected to."""

    ROD = "earth rod"
    BUILDING = "building earth"


class ProbePlace(StrEnum):
    """Where the meter's probe is."""

    HAND = "in hand"
    REFERENCE_WIRE = "on reference wire"
    SECOND_ROD = "on second rod"
    """On the wire of a rod that is twice as far from the building: the meter lies between both rods."""


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
    wire_moved: bool = False

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
            found = self._rod_reference(ohms, self.wire_moved)
        if self.charger:
            found = Reference(found.volts + self.charger_volts, found.ohms)
        return found

    def _rod_reference(self, ohms: float, wire_moved: bool) -> Reference:
        live = any(self.breakers.values())
        lead_farads = self.rod.lead_farads * (WIRE_MOVED_SHARE if wire_moved else 1.0)
        return body_circuit.lead_reference(
            ohms, lead_farads, self.leg_phasor(0) if live else 0j, self.frequency_hz
        )

    def volts_to_second_rod(self, meter: Impedance) -> float:
        """What a perfect meter with that input shows between the reference and a second, independent rod."""
        first, second = self.reference(), self._rod_reference(self.rod.ohms, wire_moved=True)
        load = 1 + meter.siemens(self.frequency_hz) * (first.ohms + second.ohms)
        return float(abs((second.volts - first.volts) / load))

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
        wanted = words.casefold().strip()
        short = wanted.removeprefix("lamp ").removeprefix("cord ").removeprefix("appliance ").strip()
        for candidate in (wanted, short):
            if candidate in names:
                return names[candidate]
        text = (
            tr("There is no cord “{name}” in this house; there are {names}.")
            if self.cords
            else tr("There is no cord “{name}” in this house; there are none.")
        )
        raise StillvoltError(text.format(name=words, names=listed(list(self.cords))))

    def find_circuit(self, words: str) -> int:
        """The circuit of that number or name.

        Raises:
            StillvoltError: there is none.
        """
        wanted = words.casefold().strip()
        for circuit in self.circuits.values():
            if wanted in (str(circuit.number), circuit.name.casefold()):
                return circuit.number
        text = (
            tr("There is no breaker “{name}” in this house; there are {names}.")
            if self.circuits
            else tr("There is no breaker “{name}” in this house; there are none.")
        )
        raise StillvoltError(text.format(name=words, names=listed([str(number) for number in self.circuits])))

    def find_spot(self, words: str) -> str:
        """The spot of that name.

        Raises:
            StillvoltError: there is none.
        """
        wanted = words.casefold().strip()
        for name in self.spots:
            if name.casefold() == wanted:
                return name
        raise StillvoltError(
            tr("There is no spot “{name}” in this house; there are {names}.").format(
                name=words, names=listed(list(self.spots))
            )
        )
