"""How often a sweep without any mistake is called contradictory, by which combinations were read and by supply.

    python scripts/bench/sweep_designs.py [HOUSES] [SEED]

Houses have 3 to 5 circuits of 0.05 to 3.2 V on the legs of their supply. Readings scatter by 10 mV and state 10 mV and
0.5 %. Designs: everything off and on with each circuit alone, with each circuit off alone, or with each pair on.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.metrology.supply import SupplyKey
from logger.sweep.solver.consistency import check_consistency
from logger.sweep.solver.readings import sweep_of_sets
from logger.sweep.solver.sweep_fit import DIRECTIONS, NO_CORDS, fit_sweep

DESIGNS = ("each alone", "each off", "pairs")
MAX_BACKGROUND_VOLTS = 0.04
U_VOLTS, U_SHARE = 0.01, 0.005


def combinations_of(design: str, names: list[str]) -> list[frozenset[str]]:
    """What is on in each reading."""
    every = frozenset(names)
    between = {
        "each alone": [frozenset({name}) for name in names],
        "each off": [every - {name} for name in names],
        "pairs": [frozenset(pair) for pair in combinations(names, 2)],
    }[design]
    return list(dict.fromkeys([frozenset(), every, *between]))


@dataclass(frozen=True, slots=True)
class SmallHouse:
    """A house of few circuits.

    Args:
        supply: one of DIRECTIONS.
        own: complex contribution of each circuit, V.
        background: complex, V.
    """

    supply: SupplyKey
    own: Mapping[str, complex]
    background: complex

    @classmethod
    def drawn(cls, supply: SupplyKey, has_background: bool, random: np.random.Generator) -> SmallHouse:
        """Draw a house.

        Args:
            supply: one of DIRECTIONS.
            has_background: there is one.
            random: draws it.
        """
        names = [f"c{k}" for k in range(random.integers(3, 6))]
        sizes = 10 ** random.uniform(-1.3, 0.5, len(names)) * random.choice(DIRECTIONS[supply], len(names))
        background = (
            has_background
            * random.uniform(0.005, MAX_BACKGROUND_VOLTS)
            * np.exp(2j * np.pi * random.random())
        )
        return cls(supply, dict(zip(names, sizes, strict=True)), background)

    def volts(self, on: Iterable[str]) -> float:
        """True value with those circuits on."""
        return float(abs(self.background + sum(self.own[name] for name in on)))

    def row(self, on: frozenset[str], random: np.random.Generator) -> tuple[frozenset[str], float, float]:
        """A reading with those circuits on."""
        volts = abs(self.volts(on) + U_VOLTS * random.standard_normal())
        return on, float(volts), U_VOLTS + U_SHARE * float(volts)


def contradicts(design: str, supply: SupplyKey, has_background: bool, random: np.random.Generator) -> bool:
    """Whether the sweep of a random house is called contradictory.

    Args:
        design: one of DESIGNS.
        supply: one of DIRECTIONS.
        has_background: there is one.
        random: draws the house and the readings.
    """
    house = SmallHouse.drawn(supply, has_background, random)
    names = list(house.own)
    sweep = sweep_of_sets([house.row(on, random) for on in combinations_of(design, names)], names)
    return not check_consistency(sweep, fit_sweep(sweep, supply), NO_CORDS).consistent


def main() -> None:
    """Print the number of sweeps that are called contradictory."""
    parser = argparse.ArgumentParser()
    parser.add_argument("houses", nargs="?", type=int, default=100)
    parser.add_argument("seed", nargs="?", type=int, default=1)
    arguments = parser.parse_args()
    for design in DESIGNS:
        for supply in DIRECTIONS:
            random = np.random.default_rng(arguments.seed)
            counts = [
                sum(contradicts(design, supply, has, random) for _ in range(arguments.houses // 2))
                for has in (True, False)
            ]
            print(
                f"{design:10} {supply:6} contradictory: {counts[0]} of {arguments.houses // 2} with a background, "
                f"{counts[1]} without",
                flush=True,
            )


if __name__ == "__main__":
    main()
