"""Whether contradicting readings of a sweep are noticed, on simulated houses with known truth (houses.py).

    python scripts/bench/contradictions.py [HOUSES] [SEED] [--family numbers|couplings|hard] [-v]

Each kind of mistake is made in one sweep of each house; the readings that are asked for are those of the true house. A
suspect row that is far from the new reading of the same combination is taken out, as somebody does who reads again.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.sweep.solver.answer import SweepAnswer, solve_sweep
from logger.sweep.solver.readings import sweep_of_sets
from scripts.bench.houses import FAMILIES, BenchHouse
from scripts.bench.sources import ALLOWED_SHARE, ALLOWED_VOLTS, ClosedAnswer, HouseResult, optimum

Row = tuple[frozenset[str], float, float]

MAX_READINGS = 14
"""Readings after the sweep before it counts as still open."""

MIN_CHANGE_VOLTS = 0.1
"""A mistake changes a reading by more than this: by less it is no contradiction that matters."""

MAX_NAMED = 3

REFUTED_SIGMAS = 6.0
"""A new reading of the same refutes a row that is further from it than this, in standard uncertainties."""


@dataclass(frozen=True, slots=True)
class Mistaken:
    """A sweep with a mistake in it, and the indices of the rows that are wrong."""

    rows: list[Row]
    wrong: frozenset[int]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a sweep.

    Args:
        answer: the last one.
        extra: readings taken after the sweep.
        noticed: the readings were called inconsistent at some time.
        named: a wrong row was among at most three named at some time.
    """

    answer: SweepAnswer
    extra: int
    noticed: bool
    named: bool


def ten_times(house: BenchHouse, random: np.random.Generator) -> Mistaken | None:
    """A reading is written down ten times too high."""
    rows = house.sweep()
    able = [at for at, row in enumerate(rows) if 9 * row[1] > MIN_CHANGE_VOLTS]
    if not able:
        return None
    at = int(random.choice(able))
    live, volts, u_volts = rows[at]
    rows[at] = (live, 10 * volts, u_volts)
    return Mistaken(rows, frozenset({at}))


def exchanged(house: BenchHouse, random: np.random.Generator) -> Mistaken | None:
    """The readings of two circuits are written down in each other's place."""
    rows = house.sweep()
    alone = [at for at, row in enumerate(rows) if len(row[0] - house.never_off) == 1]
    pairs = [
        (a, b) for a in alone for b in alone if a < b and abs(rows[a][1] - rows[b][1]) > MIN_CHANGE_VOLTS
    ]
    if not pairs:
        return None
    a, b = pairs[int(random.integers(len(pairs)))]
    rows[a], rows[b] = (rows[a][0], *rows[b][1:]), (rows[b][0], *rows[a][1:])
    return Mistaken(rows, frozenset({a, b}))


def repeat_disagrees(house: BenchHouse, random: np.random.Generator) -> Mistaken | None:
    """A combination is read again, and the repeat is far off: by 0.1 to 1 V."""
    rows = house.sweep()
    live, volts, u_volts = rows[int(random.integers(len(rows)))]
    off = float(random.uniform(MIN_CHANGE_VOLTS, 1.0))
    rows.append((live, volts + off if random.random() < 0.5 or volts < off else volts - off, u_volts))
    return Mistaken(rows, frozenset({len(rows) - 1}))


def forgotten_on(house: BenchHouse, random: np.random.Generator) -> Mistaken | None:
    """The breaker of a circuit that matters was still on in the reading of another."""
    rows = house.sweep()
    pairs = [
        (at, name)
        for at, row in enumerate(rows)
        for name in house.names
        if name not in row[0] and abs(house.volts(row[0] | {name}) - house.volts(row[0])) > MIN_CHANGE_VOLTS
    ]
    if not pairs:
        return None
    at, name = pairs[int(random.integers(len(pairs)))]
    rows[at] = (rows[at][0], house.read(rows[at][0] | {name}), rows[at][2])
    return Mistaken(rows, frozenset({at}))


def sound(house: BenchHouse, _random: np.random.Generator) -> Mistaken | None:
    """No mistake."""
    return Mistaken(house.sweep(), frozenset())


KINDS: dict[str, Callable[[BenchHouse, np.random.Generator], Mistaken | None]] = {
    "ten times": ten_times,
    "exchanged": exchanged,
    "repeat": repeat_disagrees,
    "forgotten on": forgotten_on,
}


def is_refuted(rows: Sequence[tuple[Row, int]], at: int, plain: int) -> bool:
    """Whether the combination of a row was read again when that was asked for, and the newest reading disagrees.

    Args:
        rows: with their index in the order in which they were taken.
        at: index of the row.
        plain: number of readings before any was asked for.
    """
    (live, volts, u_volts), taken = rows[at]
    again = [row for row, number in rows if row[0] == live and number >= max(plain, taken + 1)]
    return bool(again) and abs(again[-1][1] - volts) > REFUTED_SIGMAS * (2 * u_volts**2) ** 0.5


def outcome(house: BenchHouse, mistaken: Mistaken) -> Outcome:
    """Read what is asked for until the answer is closed; take out suspect rows that a new reading refutes."""
    rows = [(row, at) for at, row in enumerate(mistaken.rows)]
    extra, noticed, named = 0, False, False
    while True:
        sweep = sweep_of_sets([row for row, _ in rows], house.names)
        answer = solve_sweep(sweep, house.supply, house.keep, house.target_volts)
        noticed |= not answer.consistent
        suspects = [rows[number - 1][1] for number in answer.suspects]
        named |= len(suspects) <= MAX_NAMED and bool(mistaken.wrong & set(suspects))
        if not answer.ambiguous or extra >= MAX_READINGS:
            return Outcome(answer, extra, noticed, named)
        refuted = [
            number - 1 for number in answer.suspects if is_refuted(rows, number - 1, len(mistaken.rows))
        ]
        if refuted:
            rows = [row for at, row in enumerate(rows) if at not in refuted]
            continue
        live = frozenset(answer.next_readings[0])
        rows.append((house.row(live), len(mistaken.rows) + extra))
        extra += 1


def wrong_about(house: BenchHouse, answer: SweepAnswer) -> list[str]:
    """In what an answer is wrong; empty where it is right."""
    true_volts = house.volts(frozenset(house.names) - set(answer.off_tonight))
    result = HouseResult(
        0,
        house,
        ClosedAnswer(answer, 0, 0.0, asked_essential_off=False),
        true_volts,
        *optimum(house),
        0,
        False,
    )
    dark = house.volts(house.never_off)
    allowed = max(ALLOWED_VOLTS, ALLOWED_SHARE * dark)
    if answer.background_volts is None or abs(answer.background_volts - dark) > allowed:
        return [*result.shortfalls(), "BACKGROUND"]
    return result.shortfalls()


def report_line(kind: str, outcomes: Sequence[tuple[BenchHouse, Outcome]]) -> str:
    """Sum up one kind of mistake."""
    n = max(len(outcomes), 1)
    closed = [(house, found) for house, found in outcomes if not found.answer.ambiguous]
    wrong = sum(bool(wrong_about(house, found.answer)) for house, found in closed)
    extra = [found.extra for _, found in outcomes]
    return (
        f"  {kind:13} {len(outcomes):4} sweeps: closed and wrong {wrong}, closed {len(closed)},"
        f" inconsistent {100 * sum(found.noticed for _, found in outcomes) / n:.1f} %,"
        f" right row named {100 * sum(found.named for _, found in outcomes) / n:.1f} %,"
        f" extra readings median {np.median(extra) if extra else 0:.0f}"
    )


def main() -> None:
    """Run the houses that the command line asks for."""
    parser = argparse.ArgumentParser()
    parser.add_argument("houses", type=int, nargs="?", default=40)
    parser.add_argument("first", type=int, nargs="?", default=3_000_000)
    parser.add_argument("--family", choices=list(FAMILIES), default="numbers")
    parser.add_argument(
        "-v", action="store_true", dest="verbose", help="describe what is not noticed or wrong"
    )
    given = parser.parse_args()
    print(f"{given.houses} houses of the family {given.family} from seed {given.first}")
    print(
        "  wanted: closed and wrong 0; right row named >= 75 %; sound ones inconsistent <= 2 %, extra median <= 2"
    )
    for kind, make in {"sound": sound, **KINDS}.items():
        outcomes = []
        for seed in range(given.first, given.first + given.houses):
            house = FAMILIES[given.family](seed)
            mistaken = make(house, np.random.default_rng(seed))
            if mistaken is None:
                continue
            found = outcome(house, mistaken)
            outcomes.append((house, found))
            wrong = [] if found.answer.ambiguous else wrong_about(house, found.answer)
            if given.verbose and (wrong or found.answer.ambiguous or found.named != bool(mistaken.wrong)):
                print(
                    f"    {kind} {seed} {house.supply}: wrong rows {sorted(at + 1 for at in mistaken.wrong)},"
                    f" suspects {found.answer.suspects}, noticed {found.noticed}, named {found.named},"
                    f" extra {found.extra}, open {found.answer.ambiguous}, {' '.join(wrong)}",
                    flush=True,
                )
        print(report_line(kind, outcomes), flush=True)


if __name__ == "__main__":
    main()
