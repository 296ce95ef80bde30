"""How well the sources are found, on simulated houses with known truth (houses.py).

    python scripts/bench/sources.py [HOUSES] [SEED] [--family numbers|couplings|hard] [-v]

The readings are those of the plain sweep, then those that are asked for while the answer is ambiguous. Figures are in
fixtures/figures/sources.md.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.sweep.solver.answer import SweepAnswer, solve_sweep
from logger.sweep.solver.readings import sweep_of_sets
from scripts.bench.houses import FAMILIES, BenchHouse

MAX_EXTRA = 14
"""Readings after the sweep before the answer counts as still ambiguous."""

MIN_LEG_VOLTS = 1e-3
"""A true contribution below this has no leg that could be right or wrong."""

ALLOWED_VOLTS, ALLOWED_SHARE = 0.03, 0.05
"""What may be missing to the target, and by how much a prediction may be wrong."""

MAX_CANDIDATES = 12
"""The true optimum is sought among this many of the largest circuits."""


@dataclass(frozen=True, slots=True)
class ClosedAnswer:
    """The answer for a house once it is closed, or after `MAX_EXTRA` readings.

    Args:
        answer: the last answer.
        extra: number of readings after the sweep.
        slowest_s: processor time of the slowest answer, s.
        asked_essential_off: a reading was asked for with a circuit off that must stay on and was never off.
    """

    answer: SweepAnswer
    extra: int
    slowest_s: float
    asked_essential_off: bool


@dataclass(frozen=True, slots=True)
class HouseResult:
    """The answer for a house compared with the truth.

    Args:
        seed: of the house.
        house: the house.
        closed: its answer.
        true_volts: the true value with the answer's set switched off, V.
        optimum: the true smallest number of circuits to switch off; None where no set meets the target.
        lowest_volts: the lowest value that any set reaches, V.
        leg_pairs: number of pairs of circuits with a leg stated.
        has_wrong_leg: whether one of these pairs is wrong.
    """

    seed: int
    house: BenchHouse
    closed: ClosedAnswer
    true_volts: float
    optimum: int | None
    lowest_volts: float
    leg_pairs: int
    has_wrong_leg: bool

    @property
    def is_low_enough(self) -> bool:
        """Whether the true value meets the target, or is nearly the lowest where no set meets it."""
        if self.optimum is None:
            return self.true_volts <= self.lowest_volts + max(
                ALLOWED_VOLTS, ALLOWED_SHARE * self.lowest_volts
            )
        return self.true_volts <= self.house.target_volts + ALLOWED_VOLTS

    @property
    def is_small_enough(self) -> bool:
        """Whether the set has at most one circuit more than the true optimum."""
        return self.optimum is None or len(set(self.closed.answer.off_tonight)) <= self.optimum + 1

    @property
    def is_predicted(self) -> bool:
        """Whether the prediction is near the true value."""
        error = abs(self.closed.answer.predicted_volts - self.true_volts)
        return error <= max(ALLOWED_VOLTS, ALLOWED_SHARE * self.true_volts)

    def shortfalls(self) -> list[str]:
        """List in what the answer falls short."""
        checks = {
            "MISS": self.is_low_enough,
            "MANY": self.is_small_enough,
            "PREDICTED": self.is_predicted,
            "LEG": not self.has_wrong_leg,
        }
        return [word for word, passed in checks.items() if not passed]


def optimum(house: BenchHouse) -> tuple[int | None, float]:
    """Find the true smallest number to switch off (None where no set meets the target), and the lowest value, V."""
    order = np.argsort(-abs(house.contributions))
    able = [int(i) for i in order if house.names[i] not in house.keep][:MAX_CANDIDATES]
    bits = (np.arange(2 ** len(able))[:, None] >> np.arange(len(able))) & 1
    values = abs(house.background + house.contributions.sum() - bits @ house.contributions[able])
    met = values <= house.target_volts
    return (int(bits.sum(axis=1)[met].min()) if met.any() else None), float(values.min())


def closed_answer(house: BenchHouse) -> ClosedAnswer:
    """Read the sweep, then what is asked for until the answer is closed."""
    rows = house.sweep()
    slowest_s, extra, asked_essential_off = 0.0, 0, False
    while True:
        started = time.process_time()
        answer = solve_sweep(sweep_of_sets(rows, house.names), house.supply, house.keep, house.target_volts)
        slowest_s = max(slowest_s, time.process_time() - started)
        if not answer.ambiguous or extra >= MAX_EXTRA:
            return ClosedAnswer(answer, extra, slowest_s, asked_essential_off)
        live = frozenset(answer.next_readings[0])
        asked_essential_off |= not house.never_off <= live
        rows.append(house.row(live))
        extra += 1


def wrong_legs(house: BenchHouse, answer: SweepAnswer) -> tuple[int, bool]:
    """Return the number of pairs of circuits with a leg stated, and whether one of them is wrong."""
    stated = {c.name: c.leg for c in answer.circuits if c.leg}
    place = {name: i for i, name in enumerate(house.names)}
    real = [n for n in stated if abs(house.contributions[place[n]]) > MIN_LEG_VOLTS]
    pairs = list(combinations(real, 2))
    return len(pairs), any(
        (stated[a] == stated[b]) != (house.legs[place[a]] == house.legs[place[b]]) for a, b in pairs
    )


def result_of(seed: int, house: BenchHouse) -> HouseResult:
    """Find the sources of a house and compare the answer with the truth."""
    closed = closed_answer(house)
    true_volts = house.volts(frozenset(house.names) - set(closed.answer.off_tonight))
    return HouseResult(seed, house, closed, true_volts, *optimum(house), *wrong_legs(house, closed.answer))


def shortfall_lines(result: HouseResult) -> list[str]:
    """Describe each shortfall of a house in a line."""
    answer, house = result.closed.answer, result.house
    return [
        f"{word} {result.seed} {house.supply}: truth {result.true_volts:.3f},"
        f" predicted {answer.predicted_volts:.3f} ± {answer.u_predicted_volts:.3f},"
        f" off {sorted(answer.off_tonight)}, optimum {result.optimum} {result.lowest_volts:.3f},"
        f" target {house.target_volts}, {result.closed.extra} extra, ambiguous {answer.ambiguous}"
        for word in result.shortfalls()
    ]


def report(results: Sequence[HouseResult]) -> list[str]:
    """Sum up the results as lines of text."""
    n = len(results)
    met = [r for r in results if r.optimum is not None]
    unmet = [r for r in results if r.optimum is None]
    extra = [r.closed.extra for r in results]
    slowest_s = [r.closed.slowest_s for r in results]
    good = 100 * sum(r.is_low_enough for r in met) / max(len(met), 1)
    kept_off = sum(bool(r.house.keep & set(r.closed.answer.off_tonight)) for r in results)
    asked_off = sum(r.closed.asked_essential_off for r in results)
    stated = [r for r in results if r.leg_pairs]
    return [
        f"  true value at or under target + 0.03 V: {good:.1f} % of {len(met)}   asked >= 97 %",
        f"  where no set meets the target: as low as can be + max(0.03 V, 5 %) in"
        f" {sum(r.is_low_enough for r in unmet)} of {len(unmet)}",
        f"  at most one more than the true optimum: {100 * sum(r.is_small_enough for r in results) / n:.1f} %",
        f"  prediction within max(0.03 V, 5 %): {100 * sum(r.is_predicted for r in results) / n:.1f} %"
        "   asked >= 95 %",
        f"  extra readings: median {np.median(extra):.0f}, 95th percentile {np.percentile(extra, 95):.0f}"
        "   asked median <= 4",
        f"  a must-stay-on circuit switched off: {kept_off}; asked to be off for a reading: {asked_off}   asked 0",
        f"  a wrong leg stated: {sum(r.has_wrong_leg for r in results)} of {len(stated)} houses with legs stated"
        "   asked 0",
        f"  still ambiguous after {MAX_EXTRA} readings: {sum(r.closed.answer.ambiguous for r in results)};"
        f" slowest answer: median {np.median(slowest_s):.2f} s, longest {max(slowest_s):.2f} s of CPU",
    ]


def main() -> None:
    """Run the houses that the command line asks for, and print how well their sources are found."""
    parser = argparse.ArgumentParser()
    parser.add_argument("houses", type=int, nargs="?", default=200)
    parser.add_argument("first", type=int, nargs="?", default=1_000_000)
    parser.add_argument("--family", choices=list(FAMILIES), default="numbers")
    parser.add_argument(
        "-v", action="store_true", dest="verbose", help="describe each house that falls short"
    )
    given = parser.parse_args()
    results = []
    for seed in range(given.first, given.first + given.houses):
        results.append(result_of(seed, FAMILIES[given.family](seed)))
        if given.verbose:
            print("".join(f"{line}\n" for line in shortfall_lines(results[-1])), end="", flush=True)
    print(f"{given.houses} houses of the family {given.family} from seed {given.first}")
    print("\n".join(report(results)))


if __name__ == "__main__":
    main()
