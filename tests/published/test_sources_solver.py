"""The sources of a house that an independent circuit solver reads: prediction and set held against the solver."""

from __future__ import annotations

import random
import shutil
import subprocess
from collections.abc import Sequence

import pytest

from logger.metrology.supply import SupplyKey
from logger.sweep.solver.answer import solve_sweep
from logger.sweep.solver.readings import sweep_of_sets

needs_ngspice = pytest.mark.skipif(
    shutil.which("ngspice") is None,
    reason="Debian's ngspice is not installed; scripts/test installs it as root",
)

PICO = 1e-12
DEGREES: dict[str, tuple[float, ...]] = {
    "split": (0.0, 180.0),
    "single": (0.0,),
    "three": (0.0, 120.0, 240.0),
}
"""ANSI C84.1: two legs 180 degrees apart; three-phase: 120 degrees apart."""


class NetlistHouse:
    """A house as a netlist: wires of circuits and a field from outside couple to a body that a meter reads."""

    def __init__(self, seed: int, supply: SupplyKey) -> None:
        draw = random.Random(seed)
        self.supply = supply
        self.names = [f"Circuit {n}" for n in range(1, 13)]
        strong = draw.sample(range(12), 4)
        self.legs = [draw.choice(DEGREES[supply]) for _ in self.names]
        self.picofarads = [
            draw.uniform(0.3, 2.5) if n in strong else draw.uniform(0.0, 0.01) for n in range(12)
        ]
        self.volts, self.frequency_hz = (120.0, 60.0) if supply == "split" else (230.0, 50.0)
        self.outside = (draw.uniform(0, 360), draw.uniform(0.0, 0.03))
        self.body_picofarads = draw.uniform(100, 200)

    def read(self, combinations: Sequence[frozenset[str]]) -> list[float]:
        """The magnitude at the meter in each combination, by ngspice; a circuit that is off is at zero volts."""
        lines = ["a house and who lies in it"]
        for n, farads in enumerate(self.picofarads):
            lines += [f"V{n} live{n} 0 DC 0 AC 0 0", f"C{n} live{n} body {farads * PICO + 1e-18!r}"]
        degrees, farads = self.outside
        lines += [f"Vout out 0 DC 0 AC 400 {degrees!r}", f"Cout out body {farads * PICO + 1e-18!r}"]
        lines += [
            f"Cbody body 0 {self.body_picofarads * PICO!r}",
            "Rmeter body 0 10meg",
            f"Cmeter body 0 {30 * PICO!r}",
        ]
        lines += [".control", "set numdgt=15"]
        for live in combinations:
            for n, name in enumerate(self.names):
                lines.append(f"alter V{n} acmag = {self.volts if name in live else 0.0!r}")
                lines.append(f"alter V{n} acphase = {self.legs[n]!r}")
            lines += [f"ac lin 1 {self.frequency_hz} {self.frequency_hz}", "print mag(v(body))"]
        lines += [".endc", ".end"]
        done = subprocess.run(
            ["ngspice", "-b"], input="\n".join(lines), capture_output=True, text=True, timeout=60, check=False
        )
        found = [line.split("=")[1] for line in done.stdout.splitlines() if line.startswith("mag(")]
        assert len(found) == len(combinations), done.stdout + done.stderr
        return [float(value) for value in found]


@needs_ngspice
@pytest.mark.parametrize("supply", ["split", "single", "three"])
@pytest.mark.parametrize("seed", [1, pytest.param(2, marks=pytest.mark.long)])
def test_what_is_predicted_is_what_a_circuit_solver_reads(supply: SupplyKey, seed: int) -> None:
    """Independent solver: ngspice (Debian). Readings rounded to 5 mV; the prediction within 0.03 V, legs as built."""
    house = NetlistHouse(seed, supply)
    sets = [frozenset[str](), *(frozenset({n}) for n in house.names), frozenset(house.names)]
    rows = [(s, round(v / 0.005) * 0.005, 0.003) for s, v in zip(sets, house.read(sets), strict=True)]
    for _ in range(10):
        found = solve_sweep(sweep_of_sets(rows, house.names), supply)
        if not found.ambiguous:
            break
        live = frozenset(found.next_readings[0])
        rows.append((live, round(house.read([live])[0] / 0.005) * 0.005, 0.003))
    (left,) = house.read([frozenset(house.names) - set(found.off_tonight)])
    assert found.predicted_volts == pytest.approx(left, abs=0.03)
    assert left <= 0.13
    (robust,) = house.read([frozenset(house.names) - set(found.off_robust)])
    assert found.predicted_robust_volts == pytest.approx(robust, abs=0.03)
    degrees = dict(zip(house.names, house.legs, strict=True))
    stated = {c.name: c.leg for c in found.circuits if c.leg and c.volts is not None and c.volts > 0.1}
    for one, leg in stated.items():
        for other, another in stated.items():
            assert (leg == another) == (degrees[one] == degrees[other])


@needs_ngspice
def test_the_netlist_honours_the_legs() -> None:
    """ANSI C84.1: equal couplings on opposite legs cancel in the solver, so that it tells legs apart at all."""
    house = NetlistHouse(1, "split")
    house.picofarads = [1.0, 1.0] + [0.0] * 10
    house.legs = [0.0, 180.0] + [0.0] * 10
    house.outside = (0.0, 0.0)
    both = frozenset(house.names[:2])
    alone, cancelled = house.read([frozenset(house.names[:1]), both])
    assert alone > 0.3 and cancelled < 1e-4
