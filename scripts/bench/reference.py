"""How often the stated uncertainty covers the body's true voltage, by what was checked of the rod.

    python scripts/bench/reference.py [--seed N] [--homes N]

Each home has a rod in what is left of the building's potential, with a wire that picks up voltage from other wiring;
their phasors have any angle to the body's. The checks of the rod are simulated step by step and judged by the program,
each reading gets the half-width that they leave, and what it states is held against the body's voltage to true earth.
A second table has rods that are off by 48 mV, at any angle: what a check without a change does not show. A third has a
second rod beside the first, where both share the soil's potential: what the voltage between them does not show.
"""

from __future__ import annotations

import argparse
import cmath
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import pi

import numpy as np

from logger.meter.description import Accuracy, MeterDescription
from logger.metrology.checks import CheckKind, CheckVerdict, Value, judge, seen_of_rod
from logger.metrology.reference_error import rod_error
from logger.metrology.setup import MeterFacts
from logger.metrology.uncertainty import ReferenceState, off_limits, reading_budget

METER = MeterFacts.of(MeterDescription("Good", accuracy=(Accuracy(6.0, 0.5, 3, 0.0001),), true_rms=True))
SCATTER_VOLTS = 0.0005
MAINS_HZ, LEG_VOLTS = 50.0, 230.0


@dataclass(frozen=True)
class Rod:
    """A rod with its wire.

    Args:
        soil: potential of the soil that it stands in.
        ohms: resistance to earth.
        farads: of the wire to wiring beside it.
        leg: potential of that wiring.
    """

    soil: complex
    ohms: float
    farads: float
    leg: complex

    @property
    def volts(self) -> complex:
        """What the meter calls zero, against true earth."""
        return self.soil + 2j * pi * MAINS_HZ * self.farads * self.leg * self.ohms


@dataclass(frozen=True)
class Home:
    """A body at a spot with everything on and off, its rod, and a second rod."""

    on: complex
    off: complex
    rod: Rod
    second: Rod


def any_angle(rng: np.random.Generator, volts: float) -> complex:
    """A phasor of that magnitude."""
    return cmath.rect(volts, rng.uniform(0, 2 * pi))


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """A number whose logarithm is uniform between those of the limits."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def home(rng: np.random.Generator) -> Home:
    """A home drawn at random."""
    building = any_angle(rng, rng.uniform(0.0, 0.3))
    radius_m, distance_m = rng.uniform(0.5, 1.5), rng.uniform(8.0, 20.0)
    farther_m = distance_m * rng.uniform(2.0, 3.0)
    legs = [cmath.rect(LEG_VOLTS, angle) for angle in rng.choice([0.0, 2 * pi / 3, 4 * pi / 3], 2)]
    rod, second = (
        Rod(
            building * radius_m / metres,
            log_uniform(rng, 50.0, 2000.0),
            rng.uniform(20e-12, 200e-12),
            leg,
        )
        for metres, leg in zip((distance_m, farther_m), legs, strict=True)
    )
    on, off = any_angle(rng, log_uniform(rng, 0.1, 3.0)), any_angle(rng, log_uniform(rng, 0.003, 0.3))
    return Home(on, off, rod, second)


def home_with_hidden_error(rng: np.random.Generator) -> Home:
    """A home whose rod is off by 48 mV by the soil alone, which wetting leaves as it is."""
    drawn = home(rng)
    soil = any_angle(rng, 0.048)
    return replace(
        drawn,
        rod=replace(drawn.rod, soil=soil, farads=0.0),
        second=replace(drawn.second, soil=soil / rng.uniform(2.0, 3.0), farads=0.0),
    )


def home_with_rods_side_by_side(rng: np.random.Generator) -> Home:
    """A home whose second rod stands beside the first, against what the check asks for: both share the soil's 30 mV."""
    drawn = home(rng)
    soil = any_angle(rng, 0.03)
    return replace(drawn, rod=replace(drawn.rod, soil=soil), second=replace(drawn.second, soil=soil * 0.9))


def read(rng: np.random.Generator, volts: complex, gain: float) -> Value:
    """What the meter shows of a voltage; the gain's error is the same in each reading of a home."""
    accuracy = METER.accuracy_at(abs(volts))
    counts_volts = rng.uniform(-1, 1) * accuracy.counts * accuracy.resolution_volts
    shown = abs(volts) * (1 + gain) + counts_volts + rng.normal(0, SCATTER_VOLTS)
    return max(float(shown), 0.0), SCATTER_VOLTS


Checks = Mapping[CheckKind, Sequence[Value]]


def no_check(_rng: np.random.Generator, _home: Home, _gain: float) -> Checks:
    """Nothing was checked."""
    return {}


def wetting(rng: np.random.Generator, home: Home, gain: float) -> Checks:
    """The value before and after the soil was wetted."""
    wet = replace(home.rod, ohms=home.rod.ohms * rng.uniform(0.3, 0.8))
    values = [read(rng, home.on - rod.volts, gain) for rod in (home.rod, wet)]
    return {CheckKind.REFERENCE: values}


def wire_moved(rng: np.random.Generator, home: Home, gain: float) -> Checks:
    """The value before and after the wire was laid by another route."""
    moved = replace(home.rod, farads=home.rod.farads * rng.uniform(0.1, 0.9))
    values = [read(rng, home.on - rod.volts, gain) for rod in (home.rod, moved)]
    return {CheckKind.LEAD: values}


def two_rods(rng: np.random.Generator, home: Home, gain: float) -> Checks:
    """The voltage between two rods, and again with the first one's wire by another route."""
    moved = replace(home.rod, farads=home.rod.farads * rng.uniform(0.1, 0.9))
    values = [read(rng, rod.volts - home.second.volts, gain) for rod in (home.rod, moved)]
    return {CheckKind.TWO_RODS: values}


def all_checks(rng: np.random.Generator, home: Home, gain: float) -> Checks:
    """Every check of the rod."""
    return {
        **wetting(rng, home, gain), **wire_moved(rng, home, gain), **two_rods(rng, home, gain)
    }  # fmt: skip


KINDS: dict[str, Callable[[np.random.Generator, Home, float], Checks]] = {
    "none": no_check,
    "wetting": wetting,
    "wire moved": wire_moved,
    "two rods": two_rods,
    "all three": all_checks,
}


@dataclass
class Tally:
    """What was counted of one kind of check."""

    homes: int = 0
    passed: int = 0
    covered_on: int = 0
    covered_off: int = 0
    covered_passed: int = 0
    below_at_most: int = 0
    below_reading: int = 0
    expanded_volts: list[float] = field(default_factory=list)

    def count(self, rng: np.random.Generator, home: Home, kind: str) -> None:
        """Do the checks of a home, read it on and off, and count what holds.

        Args:
            rng: of the draws.
            home: the home.
            kind: a key of `KINDS`.
        """
        gain = rng.uniform(-1, 1) * METER.accuracy[0].percent_of_reading / 100
        checks = KINDS[kind](rng, home, gain)
        verdicts = [judge(check, values, METER).verdict for check, values in checks.items()]
        rod = rod_error(seen_of_rod(checks, METER))
        state = ReferenceState(rod_volts=rod.volts, rod_proved=rod.by_second_rod)
        covered = []
        for true in (home.on, home.off):
            volts, u_volts = read(rng, true - home.rod.volts, gain)
            budget = reading_budget(volts, u_volts, METER.accuracy_at(volts), state)
            covered.append(abs(volts - abs(true)) <= budget.expanded_volts)
        plain = reading_budget(volts, u_volts, METER.accuracy_at(volts), ReferenceState())
        passed = all(verdict is CheckVerdict.PASSED for verdict in verdicts)
        self.homes += 1
        self.passed += passed
        self.covered_on += covered[0]
        self.covered_off += covered[1]
        self.covered_passed += passed and covered[0]
        self.below_at_most += abs(home.off) <= off_limits(budget).high_volts
        self.below_reading += abs(home.off) <= volts + plain.expanded_volts
        self.expanded_volts.append(budget.expanded_volts)


def table(title: str, draw: Callable[[np.random.Generator], Home], seed: int, homes: int) -> None:
    """Print the coverage of each kind of check.

    Args:
        title: of the table.
        draw: draws a home.
        seed: of the draws.
        homes: of each kind.
    """
    rng = np.random.default_rng(seed)
    errors = sorted(abs(draw(rng).rod.volts) for _ in range(2000))
    print(f"{title}: rod off by {errors[1000] * 1e3:.0f} mV (median), {errors[1900] * 1e3:.0f} mV (95 %)\n")
    print(
        "| checked | passed | on covered | on, passed | off covered | off at most | reading alone | U median |"
    )
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    for kind in KINDS:
        tally = Tally()
        for _ in range(homes):
            tally.count(rng, draw(rng), kind)
        shares = [
            tally.passed / homes, tally.covered_on / homes, tally.covered_passed / max(tally.passed, 1),
            tally.covered_off / homes, tally.below_at_most / homes, tally.below_reading / homes,
        ]  # fmt: skip
        cells = " | ".join(f"{share:.1%}" for share in shares)
        print(f"| {kind} | {cells} | {np.median(tally.expanded_volts) * 1e3:.0f} mV |")
    print()


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--homes", type=int, default=1000)
    options = parser.parse_args()
    table("Homes at random", home, options.seed, options.homes)
    table("A rod off by 48 mV", home_with_hidden_error, options.seed, options.homes)
    table("Rods side by side, which no check shows", home_with_rods_side_by_side, options.seed, options.homes)
    print(
        "on, passed: of those whose checks all passed. off at most: the true value is at most what is said of a value "
        "read with everything off. reading alone: it is at most the reading and the meter's uncertainty, as if the "
        "reference's error only added."
    )


if __name__ == "__main__":
    main()
