"""The tables of a house file: supply, outside, reference, circuit, cord, spot. In: a document. Out: a `House`."""

from __future__ import annotations

from typing import Annotated, Any, Literal

import msgspec
from msgspec import UNSET, Meta, UnsetType

from logger import body_circuit
from logger.body_circuit import PICO, phasor
from logger.simulation.house.house import (
    OUTSIDE,
    CordState,
    EarthRod,
    House,
    SimulatedCircuit,
    SimulatedCord,
    SimulatedSpot,
)
from logger.toml_file import Text, TomlByTable
from logger.translation import shown_number, tr

MAX_COUPLING_PF = 100.0
DEFAULT_LEG_VOLTS = {"split": 120.0, "single": 230.0, "three": 230.0}
DEFAULT_FREQUENCY_HZ = {"split": 60.0, "single": 50.0, "three": 50.0}

_Degrees = Annotated[float, Meta(ge=-360.0, le=360.0)]
_Volts = Annotated[float, Meta(ge=0.0, le=50.0)]
_CircuitNumber = Annotated[float, Meta(ge=1, le=999)]


class _SupplyTable(msgspec.Struct, forbid_unknown_fields=True):
    kind: Literal["single", "split", "three"] = "split"
    volts: Annotated[float, Meta(ge=50.0, le=500.0)] | UnsetType = UNSET
    frequency_hz: Annotated[float, Meta(ge=10.0, le=500.0)] | UnsetType = UNSET


class _OutsideTable(msgspec.Struct, forbid_unknown_fields=True):
    volts: Annotated[float, Meta(ge=0.0, le=1e6)] | UnsetType = UNSET
    degrees: _Degrees = 75.0


class _ReferenceTable(msgspec.Struct, forbid_unknown_fields=True):
    rod_ohms: Annotated[float, Meta(ge=0.1, le=1e6)] = 300.0
    lead_pf: Annotated[float, Meta(ge=0.0, le=10_000.0)] = 40.0
    building_volts: _Volts = 0.45
    building_degrees: _Degrees = 40.0
    charger_volts: _Volts = 0.6
    charger_degrees: _Degrees = 15.0


class _CircuitTable(msgspec.Struct, forbid_unknown_fields=True):
    number: _CircuitNumber
    leg: Any
    """A number, or two in a list for a two-pole breaker; how many there are depends on the supply."""
    name: Text | UnsetType = UNSET
    keep: bool = False
    on: bool = True


class _CordTable(msgspec.Struct, forbid_unknown_fields=True):
    name: Text
    circuit: _CircuitNumber
    wire: Any = 1
    """Which of its circuit's legs."""
    switch: Literal["live", "neutral"] = "live"
    plugged: bool = True
    on: bool = True


class _SpotTable(msgspec.Struct, forbid_unknown_fields=True):
    name: Text
    room: Text = "the house"
    posture: Literal["standing", "sitting", "lying"] = "sitting"
    body_pf: Annotated[float, Meta(ge=20.0, le=1000.0)] = 150.0
    coupling_pf: dict[str, Any] = {}
    """By a circuit's number, a cord's name, or `OUTSIDE`: a number, or two in a list for a two-pole breaker."""


class HouseFile(msgspec.Struct, forbid_unknown_fields=True):
    """What stands in a house file."""

    house_name: Text = "a house"
    supply: _SupplyTable = msgspec.field(default_factory=_SupplyTable)
    outside: _OutsideTable = msgspec.field(default_factory=_OutsideTable)
    reference: _ReferenceTable = msgspec.field(default_factory=_ReferenceTable)
    circuit: list[_CircuitTable] = []
    cord: list[_CordTable] = []
    spot: list[_SpotTable] = []


def read_house(document: TomlByTable) -> House:
    """The house that a document describes.

    Raises:
        StillvoltError: something in it is wrong; file, table and key are named.
    """
    file = document.convert(HouseFile)
    kind = file.supply.kind
    leg_volts = DEFAULT_LEG_VOLTS[kind] if file.supply.volts is UNSET else file.supply.volts
    hertz = DEFAULT_FREQUENCY_HZ[kind] if file.supply.frequency_hz is UNSET else file.supply.frequency_hz
    outside_volts = leg_volts if file.outside.volts is UNSET else file.outside.volts
    reference = file.reference
    circuits = _circuits(document, file)
    cords = _cords(document, file, circuits)
    if not file.spot:
        raise document.mistake(("spot",), tr("is missing: a house needs at least one [[spot]]"))
    return House(
        name=file.house_name.strip(),
        supply=kind,
        leg_volts=leg_volts,
        frequency_hz=hertz,
        outside_volts=phasor(outside_volts, file.outside.degrees),
        rod=EarthRod(reference.rod_ohms, reference.lead_pf * PICO),
        building_volts=phasor(reference.building_volts, reference.building_degrees),
        charger_volts=phasor(reference.charger_volts, reference.charger_degrees),
        circuits=circuits,
        cords=cords,
        spots=_spots(document, file, circuits, cords),
        breakers={int(entry.number): entry.on for entry in file.circuit},
        cord_states={entry.name.strip(): CordState(entry.plugged, entry.on) for entry in file.cord},
    )


def _circuits(document: TomlByTable, file: HouseFile) -> dict[int, SimulatedCircuit]:
    legs = len(body_circuit.LEG_DEGREES[file.supply.kind])
    circuits: dict[int, SimulatedCircuit] = {}
    for index, entry in enumerate(file.circuit):
        place = ("circuit", index)
        number = int(entry.number)
        if number != entry.number:
            given = shown_number(f"{entry.number:g}")
            raise document.mistake(
                (*place, "number"), tr("must be a whole number, not {value}").format(value=given)
            )
        poles = document.pair(entry.leg, (*place, "leg"), 0, legs)
        if poles[0] == 0 or any(leg != int(leg) for leg in poles):
            raise document.mistake(
                (*place, "leg"),
                tr("must be a whole number from 1 to {high}, or two of them in a list").format(high=legs),
            )
        if poles[0] == poles[1]:
            raise document.mistake((*place, "leg"), tr("names the same leg twice"))
        if number in circuits:
            raise document.mistake((*place, "number"), tr("{number} is used twice").format(number=number))
        name = f"circuit {number}" if entry.name is UNSET else entry.name.strip()
        circuits[number] = SimulatedCircuit(
            number, name, tuple(int(leg) - 1 for leg in poles if leg), entry.keep
        )
    return circuits


def _cords(
    document: TomlByTable, file: HouseFile, circuits: dict[int, SimulatedCircuit]
) -> dict[str, SimulatedCord]:
    cords: dict[str, SimulatedCord] = {}
    for index, entry in enumerate(file.cord):
        place = ("cord", index)
        name = entry.name.strip()
        if name.isdigit() or name.casefold() == OUTSIDE:
            raise document.mistake((*place, "name"), tr("cannot be “{name}”").format(name=name))
        if entry.circuit not in circuits:
            given = shown_number(f"{entry.circuit:g}")
            raise document.mistake(
                (*place, "circuit"), tr("{number} is not the number of a [[circuit]]").format(number=given)
            )
        circuit = circuits[int(entry.circuit)]
        wire = document.number(entry.wire, (*place, "wire"), 1, len(circuit.legs))
        if name.casefold() in (known.casefold() for known in cords):
            raise document.mistake((*place, "name"), tr("“{name}” is used twice").format(name=name))
        cords[name] = SimulatedCord(name, circuit.number, entry.switch, int(wire) - 1)
    return cords


def _spots(
    document: TomlByTable,
    file: HouseFile,
    circuits: dict[int, SimulatedCircuit],
    cords: dict[str, SimulatedCord],
) -> dict[str, SimulatedSpot]:
    spots: dict[str, SimulatedSpot] = {}
    for index, entry in enumerate(file.spot):
        place = ("spot", index)
        name = entry.name.strip()
        couplings = _couplings(document, index, entry, circuits, cords)
        if name.casefold() in (known.casefold() for known in spots):
            raise document.mistake((*place, "name"), tr("“{name}” is used twice").format(name=name))
        spots[name] = SimulatedSpot(name, entry.room.strip(), entry.posture, entry.body_pf * PICO, couplings)
    return spots


def _couplings(
    document: TomlByTable,
    index: int,
    entry: _SpotTable,
    circuits: dict[int, SimulatedCircuit],
    cords: dict[str, SimulatedCord],
) -> dict[str, tuple[float, float]]:
    """What couples to a body at a spot, in farads, by circuit number (as text), name of a cord, or `OUTSIDE`."""
    by_case = {cord.casefold(): cord for cord in cords}
    couplings: dict[str, tuple[float, float]] = {}
    for key, value in entry.coupling_pf.items():
        place = ("spot", index, "coupling_pf", key)
        first, second = document.pair(value, place, 0.0, MAX_COUPLING_PF)
        is_circuit = key.isdecimal() and int(key) in circuits
        known = key if key == OUTSIDE or is_circuit else by_case.get(key.casefold())
        if known is None:
            raise document.mistake(
                place, tr("is neither a circuit's number, nor a cord's name, nor {key}").format(key=OUTSIDE)
            )
        known = str(int(known)) if known.isdecimal() else known
        poles = len(circuits[int(known)].legs) if known.isdecimal() else 1
        if second and poles == 1:
            raise document.mistake(place, tr("has one live wire only, so one number"))
        couplings[known] = (first * PICO, second * PICO)
    return couplings
