"""How often the readings of a sweep speak against the supply that was entered, on simulated homes with known truth.

    python scripts/bench/supplies.py [HOMES] [SEED]

Homes of 3 to 9 circuits, read with 7 % for the posture (as readings of a visit claim it) until the answer is closed.
How postures really scatter is one of three: anew in each reading, anew in one of four, or hardly at all (lying still).
Figures are in fixtures/figures/sources.md.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.metrology.supply import SupplyKey
from logger.sweep.solver.answer import SweepAnswer, solve_sweep
from logger.sweep.solver.readings import sweep_of_sets
from logger.sweep.solver.sweep_fit import DIRECTIONS

POSTURE_SHARE, STILL_SHARE, NOISE_VOLTS = 0.07, 0.003, 0.002
MAX_EXTRA = 8
POSTURES = {"anew each time": 1.0, "anew one time in four": 0.25, "lying still": 0.0}
"""How often the posture is another one."""

CASES: tuple[tuple[SupplyKey, SupplyKey], ...] = (
    ("single", "single"), ("split", "split"), ("three", "three"),
    ("split", "single"), ("three", "single"), ("three", "split"), ("split", "three"),
)  # fmt: skip
"""What the supply is, and what was entered."""


def home(seed: int, supply: SupplyKey, changes: float) -> tuple[list[str], Callable[[frozenset[str]], float]]:
    """Make a home; returns the names of its circuits and what reads it, V.

    Args:
        seed: of the home.
        supply: of the home.
        changes: how often the posture is another one.
    """
    rng = np.random.default_rng(seed)
    names = [f"C{i + 1}" for i in range(rng.integers(3, 10))]
    sizes = rng.uniform(0.0, 0.02, len(names)) * (rng.random(len(names)) < 0.5)
    matter = rng.permutation(len(names))[: rng.integers(2, 6)]
    sizes[matter] = 10 ** rng.uniform(np.log10(0.08), np.log10(3.0), len(matter))
    contributions = sizes * DIRECTIONS[supply][rng.integers(0, len(DIRECTIONS[supply]), len(names))]
    background = rng.choice([0.0, 0.03, 0.07, 0.15]) * rng.random() * np.exp(2j * np.pi * rng.random())
    posture = 1.0

    def read(live: frozenset[str]) -> float:
        nonlocal posture
        if rng.random() < changes:
            posture = 1.0 + POSTURE_SHARE * rng.standard_normal()
        on = np.array([name in live for name in names])
        volts = (
            abs(background + contributions[on].sum()) * posture * (1.0 + STILL_SHARE * rng.standard_normal())
        )
        return max(0.0, float(volts + NOISE_VOLTS * rng.standard_normal()))

    return names, read


def closed(seed: int, true: SupplyKey, entered: SupplyKey, changes: float) -> SweepAnswer:
    """Read a home until the answer is closed; the arguments are those of `home`, with what was entered."""
    names, read = home(seed, true, changes)
    rows = []

    def take(live: frozenset[str]) -> None:
        volts = read(live)
        rows.append((live, volts, float(np.hypot(POSTURE_SHARE * volts, NOISE_VOLTS))))

    for live in (frozenset[str](), *(frozenset({name}) for name in names), frozenset(names)):
        take(live)
    for _ in range(MAX_EXTRA):
        answer = solve_sweep(replace(sweep_of_sets(rows, names), understated=1.0), entered)
        if not answer.ambiguous:
            return answer
        take(frozenset(answer.next_readings[0]))
    return solve_sweep(replace(sweep_of_sets(rows, names), understated=1.0), entered)


def main(homes: int, seed: int) -> None:
    """Print for each case how many homes are said to have another supply."""
    for true, entered in CASES:
        for words, changes in POSTURES.items():
            answers = [closed(seed + i, true, entered, changes) for i in range(homes)]
            said = [answer.better_supplies for answer in answers]
            right = sum(true in better for better in said)
            print(
                f"{true}, entered {entered}, posture {words}: {sum(map(bool, said))} of {homes} in doubt"
                + (f", {right} name the right one" if true != entered else ""),
                flush=True,
            )


if __name__ == "__main__":
    main(*(int(argument) for argument in (*sys.argv[1:3], *("20", "1")[len(sys.argv[1:3]) :])))
