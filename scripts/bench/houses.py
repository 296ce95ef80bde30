"""Three independent families of simulated houses with known truth, for scripts/bench/sources.py.

- `numbers`: contributions drawn as numbers; every circuit read alone; the plain sweep.
- `couplings`: wires at 120 or 230 V that couple to a body through capacitances, read by a meter (logger.body_circuit);
  10 to 42 circuits, up to 8 V, an outside field of up to 0.3 V, up to 5 circuits that must stay on and in half of the
  houses are never off, circuits that were not read alone, repeats, uncertainties stated too large or too small by up to
  a factor of 2, noise of 2 to 10 mV, a target of 0.05 to 0.5 V.
- `hard`: made to mislead: circuits that nearly cancel each other, that are equal, that give twice the background in the
  opposite direction; two-pole breakers that feed both legs; a large background.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from logger.body_circuit import LEG_DEGREES, PICO, CoupledSource, Impedance, meter_volts, phasor, total
from logger.metrology.supply import SupplyKey
from logger.sweep.solver.sweep_fit import DIRECTIONS

Live = frozenset[str]


@dataclass
class BenchHouse:
    """A house, the truth about it, and how it is read.

    Args:
        supply: of the house.
        names: of the circuits.
        background: complex value with everything off, V.
        contributions: complex contribution of each circuit, V, shape (n,).
        legs: index of each circuit's leg, shape (n,).
        keep: circuits that must stay on.
        step_volts: resolution of the meter, V.
        noise_volts: standard deviation of a reading, V.
        rng: for the noise.
        target_volts: of the sweep, V.
        stated_u_share: the uncertainty stated with a reading over the true one.
        never_off: circuits that are on in every reading.
        not_alone: circuits that were not read alone.
        repeats: number of repeated readings in the sweep.
        wires: the circuits as coupled sources, for families that have them.
    """

    supply: SupplyKey
    names: list[str]
    background: complex
    contributions: np.ndarray
    legs: np.ndarray
    keep: Live
    step_volts: float
    noise_volts: float
    rng: np.random.Generator
    target_volts: float = 0.1
    stated_u_share: float = 1.0
    never_off: Live = frozenset()
    not_alone: Live = frozenset()
    repeats: int = 0
    wires: list[CoupledSource] = field(default_factory=list)

    def volts(self, live: Live) -> float:
        """Return the true value with these circuits on, V."""
        on = np.array([name in live for name in self.names])
        return float(abs(self.background + self.contributions[on].sum()))

    def read(self, live: Live) -> float:
        """Take a reading: noise is added, then the meter rounds, V."""
        noisy = self.volts(live) + self.noise_volts * self.rng.standard_normal()
        return max(0.0, round(noisy / self.step_volts) * self.step_volts)

    @property
    def u_volts(self) -> float:
        """The standard uncertainty that is stated with a reading, V."""
        return float(np.hypot(self.step_volts / 12**0.5, self.noise_volts)) * self.stated_u_share

    def row(self, live: Live) -> tuple[Live, float, float]:
        """Take one reading as a row of the sweep: what is live, volts, standard uncertainty."""
        return live, self.read(live), self.u_volts

    def sweep(self) -> list[tuple[Live, float, float]]:
        """Take the readings of the plain sweep, as far as it is done in this house."""
        singles = [
            self.never_off | {name}
            for name in self.names
            if name not in self.never_off and name not in self.not_alone
        ]
        sets = [self.never_off, *singles, frozenset(self.names)]
        sets += [sets[i] for i in self.rng.integers(0, len(sets), self.repeats)]
        return [self.row(live) for live in sets]


def _named(count: int) -> list[str]:
    return [f"C{i + 1}" for i in range(count)]


def _chosen(rng: np.random.Generator, names: list[str], max_count: int) -> Live:
    return frozenset(rng.permutation(names)[: rng.integers(0, max_count + 1)].tolist())


def _one_of(rng: np.random.Generator, *supplies: SupplyKey) -> SupplyKey:
    return supplies[rng.choice(len(supplies))]


def numbers(seed: int) -> BenchHouse:
    """Make a house of drawn contributions: 0.08 to 3 V for what matters, up to 0.02 V for the rest."""
    rng = np.random.default_rng(seed)
    supply = _one_of(rng, "split", "split", "single", "three")
    count = int(rng.integers(10, 25))
    matter = rng.permutation(count)[: rng.integers(2, 7)]
    sizes = rng.uniform(0.0, 0.02, count) * (rng.random(count) < 0.5)
    sizes[matter] = 10 ** rng.uniform(np.log10(0.08), np.log10(3.0), len(matter))
    legs = rng.integers(0, len(DIRECTIONS[supply]), count)
    background = rng.choice([0.0, 0.02, 0.05, 0.1]) * rng.random() * np.exp(2j * np.pi * rng.random())
    names = _named(count)
    keep = _chosen(rng, names, 3)
    step = float(rng.choice([0.005, 0.01]))
    return BenchHouse(
        supply, names, background, sizes * DIRECTIONS[supply][legs], legs, keep, step, 0.003, rng
    )


def couplings(seed: int) -> BenchHouse:
    """Make a house of coupled wires: a few strong capacitances (0.1 to 6 pF), the rest weak."""
    rng = np.random.default_rng(seed + 7_000_000)
    supply = _one_of(rng, "split", "single", "three")
    leg_volts, frequency_hz = (120.0, 60.0) if supply == "split" else (230.0, 50.0)
    count = int(rng.integers(10, 43))
    farads = 10 ** rng.uniform(-3.5, -1.9, count) * PICO
    strong = rng.permutation(count)[: rng.integers(2, 7)]
    farads[strong] = 10 ** rng.uniform(-0.9, 0.8, len(strong)) * PICO
    legs = rng.integers(0, len(LEG_DEGREES[supply]), count)
    body_farads = rng.uniform(100, 200) * PICO
    meter = Impedance(float(rng.choice([10e6, 10e6, 100e6])), rng.uniform(20, 80) * PICO)
    outside = CoupledSource(
        phasor(400.0, rng.uniform(0, 360)), rng.choice([0.0, 0.01, 0.05, 0.25]) * rng.random() * PICO
    )
    wires = [
        CoupledSource(phasor(leg_volts, LEG_DEGREES[supply][leg]), float(f))
        for leg, f in zip(legs, farads, strict=True)
    ]
    _, coupling = total([outside, *wires])
    # The meter's answer is linear in each wire's charge: one gain for all, whose phase is the same.
    gain = meter_volts(1e-12 + 0j, coupling, body_farads, meter, frequency_hz) / 1e-12
    names = _named(count)
    keep = _chosen(rng, names, 5)
    loose = [name for name in names if name not in keep]
    return BenchHouse(
        supply,
        names,
        complex(outside.volts * outside.farads * gain),
        np.array([w.volts * w.farads * gain for w in wires]),
        legs,
        keep,
        float(rng.choice([0.001, 0.005, 0.01])),
        float(rng.uniform(0.002, 0.010)),
        rng,
        float(rng.choice([0.05, 0.1, 0.2, 0.5])),
        float(2 ** rng.uniform(-1, 1)),
        keep if rng.random() < 0.5 else frozenset(),
        frozenset(rng.permutation(loose)[: rng.integers(0, 4)].tolist())
        if rng.random() < 0.4
        else frozenset(),
        int(rng.integers(0, 6)),
        wires,
    )


def hard(seed: int) -> BenchHouse:
    """Make a house that misleads: near cancellation, equal sizes, circuits that the background hides."""
    rng = np.random.default_rng(seed + 9_000_000)
    supply = _one_of(rng, "split", "split", "three")
    directions = DIRECTIONS[supply]
    count = int(rng.integers(10, 31))
    background = rng.uniform(0.02, 0.3) * np.exp(2j * np.pi * rng.random())
    sizes = np.abs(rng.normal(0.0, 0.006, count))
    legs = rng.integers(0, len(directions), count)
    order = rng.permutation(count)
    base = rng.uniform(0.1, 2.0)
    sizes[order[:2]] = base, base + rng.normal(0.0, 0.02)
    legs[order[1]] = (legs[order[0]] + 1) % len(directions)
    sizes[order[2]] = base if rng.random() < 0.3 else rng.uniform(0.05, 1.0)
    if rng.random() < 0.7:
        # Alone it reads like nothing.
        leg = int(np.argmin((background * np.conj(directions)).real))
        legs[order[3]] = leg
        sizes[order[3]] = abs(-2 * (background * np.conj(directions[leg])).real + rng.normal(0.0, 0.004))
    if supply == "split" and rng.random() < 0.5:
        # A two-pole breaker: what it gives is the difference of its legs.
        both = rng.uniform(0.05, 1.5, 2)
        sizes[order[4]], legs[order[4]] = abs(both[0] - both[1]), int(both[1] > both[0])
    sizes[order[5]] = rng.uniform(0.03, 0.2)
    names = _named(count)
    keep = _chosen(rng, names, 4)
    return BenchHouse(
        supply, names, background, sizes * directions[legs], legs, keep, 0.005, float(rng.uniform(0.002, 0.006)), rng,
        float(rng.choice([0.1, 0.2])), 1.0, keep if rng.random() < 0.3 else frozenset(),
    )  # fmt: skip


FAMILIES: dict[str, Callable[[int], BenchHouse]] = {"numbers": numbers, "couplings": couplings, "hard": hard}
