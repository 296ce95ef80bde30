"""The body as a circuit, held against an independent circuit solver (ngspice) and textbook circuits."""

from __future__ import annotations

import random
import shutil
import subprocess
from math import pi, sqrt

import pytest

from logger.body_circuit import (
    PICO,
    CoupledSource,
    Impedance,
    lead_reference,
    meter_volts,
    phasor,
    total,
    volts_at_other_input,
)
from logger.meter.description import Accuracy, MeterDescription
from logger.metrology.setup import MeterFacts
from logger.metrology.uncertainty import ReferenceState, reading_budget
from logger.simulation.house.house import House
from logger.simulation.house.meter_model import USUAL_INPUT
from logger.simulation.house.scene import default_house
from logger.visit.results.input_correction import corrected_budget

JS001_FARADS = 100 * PICO
"""ANSI/ESDA/JEDEC JS-001, human body model: the body is a capacitor of 100 pF to earth."""

needs_ngspice = pytest.mark.skipif(
    shutil.which("ngspice") is None,
    reason="Debian's ngspice is not installed; scripts/test installs it as root",
)


def solve(netlist: list[str], frequency_hz: float, nodes: str) -> float:
    """The magnitude of the voltage between two nodes, by ngspice (AC analysis at one frequency)."""
    lines = [
        "a house",
        *netlist,
        ".control",
        "set numdgt=15",
        f"ac lin 1 {frequency_hz} {frequency_hz}",
        f"print mag({nodes})",
        ".endc",
        ".end",
    ]
    done = subprocess.run(
        ["ngspice", "-b"], input="\n".join(lines), capture_output=True, text=True, timeout=60, check=False
    )
    found = [line for line in done.stdout.splitlines() if line.startswith("mag(")]
    assert found, done.stdout + done.stderr
    return float(found[0].split("=")[1])


def parts(
    sources: list[tuple[float, float, float]], body_farads: float, meter: Impedance, low: str = "0"
) -> list[str]:
    """Netlist of a body: sources as (volts, degrees, farads), the body's capacitance, the meter down to `low`."""
    netlist = []
    for n, (volts, degrees, farads) in enumerate(sources):
        netlist.append(f"V{n} live{n} 0 DC 0 AC {volts!r} {degrees!r}")
        if farads:
            netlist.append(f"C{n} live{n} body {farads!r}")
    return [
        *netlist,
        f"Cbody body 0 {body_farads!r}",
        f"Rmeter body {low} {meter.ohms!r}",
        f"Cmeter body {low} {meter.farads!r}",
    ]


@needs_ngspice
@pytest.mark.parametrize("frequency_hz", [50.0, 60.0])
def test_formula_agrees_with_a_circuit_solver(frequency_hz: float) -> None:
    """Independent solver: ngspice (Debian). Divider of one source, JS-001 body, usual meter."""
    meter = Impedance(10e6, 30 * PICO)
    charge, coupling = total([CoupledSource(230 + 0j, 1.7 * PICO)])
    ours = meter_volts(charge, coupling, JS001_FARADS, meter, frequency_hz)
    theirs = solve(parts([(230.0, 0.0, 1.7 * PICO)], JS001_FARADS, meter), frequency_hz, "v(body)")
    assert ours == pytest.approx(theirs, rel=1e-9)


@needs_ngspice
@pytest.mark.parametrize("seed", range(6))
def test_any_house_agrees_with_a_circuit_solver(seed: int) -> None:
    """Independent solver: ngspice. Many sources of any phase, over a reference lifted by its own wire."""
    draw = random.Random(seed)
    frequency_hz = (50.0, 60.0)[seed % 2]
    sources = [
        (draw.choice([120.0, 230.0]), draw.uniform(0, 360), draw.uniform(0.01, 5) * PICO) for _ in range(12)
    ]
    body_farads = draw.uniform(100, 200) * PICO
    meter = Impedance(draw.choice([1e6, 10e6, 1e9]), draw.uniform(10, 100) * PICO)
    rod_ohms, lead_farads = draw.uniform(10, 50_000), draw.uniform(10, 500) * PICO
    netlist = parts(sources, body_farads, meter, low="earthlead")
    netlist += [f"Rrod earthlead 0 {rod_ohms!r}", f"Clead live0 earthlead {lead_farads!r}"]
    theirs = solve(netlist, frequency_hz, "v(body)-v(earthlead)")
    charge, coupling = total(
        [CoupledSource(phasor(volts, degrees), farads) for volts, degrees, farads in sources]
    )
    reference = lead_reference(rod_ohms, lead_farads, phasor(*sources[0][:2]), frequency_hz)
    ours = meter_volts(charge, coupling, body_farads, meter, frequency_hz, reference)
    assert ours == pytest.approx(theirs, rel=1e-9)


def practice_house_netlist(house: House, spot_name: str) -> list[str]:
    """The practice house as a netlist, from its description: breakers and plugs as they stand."""
    spot = house.spots[spot_name]
    degrees = {"split": (0, 180), "three": (0, 120, 240), "single": (0,)}[house.supply]
    sources = [(abs(house.outside_volts), 75.0, spot.coupling_farads["outside"][0])]
    for key, both in spot.coupling_farads.items():
        if key == "outside":
            continue
        if key.isdigit():
            circuit = house.circuits[int(key)]
            volts = house.leg_volts if house.breakers[circuit.number] else 0.0
            sources += [
                (volts, float(degrees[leg]), farads) for leg, farads in zip(circuit.legs, both, strict=False)
            ]
            continue
        cord, state = house.cords[key], house.cord_states[key]
        circuit = house.circuits[cord.circuit]
        volts = house.leg_volts if house.breakers[circuit.number] else 0.0
        share = 1.0 if state.on else {"live": 0.35, "neutral": 1.5}[cord.switch]
        if state.plugged:
            sources.append((volts, float(degrees[circuit.legs[cord.wire]]), both[0] * share))
    lead_volts = house.leg_volts if any(house.breakers.values()) else 0.0
    return [
        *parts(sources, spot.body_farads, USUAL_INPUT, low="earthlead"),
        f"Rrod earthlead 0 {house.rod.ohms!r}",
        f"Vlead leadlive 0 DC 0 AC {lead_volts!r} 0",
        f"Clead leadlive earthlead {house.rod.lead_farads!r}",
    ]


@needs_ngspice
@pytest.mark.parametrize("spot_name", ["Bed, left", "Desk", "Living room, centre"])
@pytest.mark.parametrize("breakers_off", [(), (1,), (2, 10), tuple(range(1, 13))])
def test_the_practice_house_agrees_with_a_circuit_solver(
    spot_name: str, breakers_off: tuple[int, ...]
) -> None:
    """Independent solver: ngspice."""
    house = default_house()
    for number in breakers_off:
        house.breakers[number] = False
    theirs = solve(practice_house_netlist(house, spot_name), house.frequency_hz, "v(body)-v(earthlead)")
    assert house.still_volts(house.spots[spot_name], USUAL_INPUT) == pytest.approx(theirs, rel=1e-9)


@needs_ngspice
@pytest.mark.parametrize("frequency_hz", [50.0, 60.0])
def test_restating_for_another_meter_agrees_with_a_circuit_solver(frequency_hz: float) -> None:
    """Independent solver: ngspice, the same body read by two meters one after the other."""
    sources = [(230.0, 0.0, 0.8 * PICO), (230.0, 120.0, 1.9 * PICO)]
    first, second = Impedance(10e6, 50 * PICO), Impedance(100e6, 15 * PICO)
    readings = [
        solve(parts(sources, 140 * PICO, meter), frequency_hz, "v(body)") for meter in (first, second)
    ]
    body_farads = (140 + 0.8 + 1.9) * PICO
    assert volts_at_other_input(readings[0], first, second, body_farads, frequency_hz) == pytest.approx(
        readings[1], rel=1e-9
    )
    assert readings[1] > 1.2 * readings[0]  # so that restating has something to do


@needs_ngspice
@pytest.mark.parametrize("body_pf", [100, 125, 160, 200])
def test_a_restated_budget_covers_what_the_other_meter_reads_on_any_usual_body(body_pf: float) -> None:
    """Independent solver: ngspice. Body of 100 pF (ANSI/ESDA/JEDEC JS-001) to 200 pF (common practice, no source)."""
    exact = (Accuracy(6.0, 0.0, 0.0, 0.001),)
    low = MeterFacts.of(
        MeterDescription("Low", accuracy=exact, input_resistance_ohm=1e6, input_capacitance_farad=50 * PICO)
    )
    usual = MeterFacts.of(
        MeterDescription(
            "Usual", accuracy=exact, input_resistance_ohm=10e6, input_capacitance_farad=30 * PICO
        )
    )
    read, other = (
        solve(
            parts([(230.0, 0.0, 1.5 * PICO)], (body_pf - 1.5) * PICO, Impedance(*m.inputs)), 50.0, "v(body)"
        )
        for m in (low, usual)
    )
    computed = corrected_budget(reading_budget(read, 0.0, exact[0], ReferenceState()), low, usual, 50.0)
    assert abs(computed.volts - other) <= computed.expanded_volts < 0.35 * other


def test_a_purely_capacitive_divider() -> None:
    """Textbook divider C1 / (C1 + C2): with no conductance, frequency does not matter."""
    meter = Impedance(1e30, 25 * PICO)
    charge, coupling = total([CoupledSource(230 + 0j, 2 * PICO)])
    for frequency_hz in (50.0, 60.0):
        shown = meter_volts(charge, coupling, JS001_FARADS, meter, frequency_hz)
        assert shown == pytest.approx(230 * 2 / (2 + 100 + 25), rel=1e-12)


def test_the_body_against_a_ten_megohm_meter_is_a_corner_of_known_frequency() -> None:
    """Textbook RC high-pass: at f = 1/(2 pi R C) the output is 1/sqrt(2) of that at high frequency.

    JS-001's 100 pF and 10 Mohm put it at 159.15 Hz.
    """
    meter = Impedance(10e6, 0.0)
    charge, coupling = total([CoupledSource(1 + 0j, 1e-9 * PICO)])
    corner_hz = 1 / (2 * pi * 10e6 * 100e-12)
    assert corner_hz == pytest.approx(159.155, abs=0.001)
    at_corner = meter_volts(charge, coupling, JS001_FARADS, meter, corner_hz)
    high = meter_volts(charge, coupling, JS001_FARADS, meter, 1e9)
    assert at_corner / high == pytest.approx(1 / sqrt(2), rel=1e-6)
