"""Whether one mistaken reading of a small sweep leaves a wrong value within a narrow uncertainty.

    python scripts/bench/single_mistakes.py [HOUSES] [SEED] [--kind KIND] [-v]

Houses and readings are those of sweep_designs.py: 3 to 5 circuits, each supply in turn, each circuit read alone or each
read off alone. One mistake is made in each sweep; then what is asked for is read rightly until the answer is closed,
the readings are called contradictory, or `MAX_READINGS` were taken. What counts is then:

- named: the readings are called contradictory, and a wrong one is among at most three that are to be read again
- noticed: they are called contradictory, others are named
- harmless: every circuit is within its stated uncertainty (k = 2)
- beyond: a circuit is not, by at most `WRONG_VOLTS`; of 3 to 5 circuits one is so in some sound sweeps too
- stated: a circuit is further beyond it than that, and the answer names the two mistaken readings among those whose
  exchange would not show
- wrong: a circuit is further beyond it than that, and nothing says so; in brackets those of answers that are closed
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.metrology.supply import SupplyKey
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.solver.answer import SweepAnswer, solve_sweep
from logger.sweep.solver.readings import sweep_of_sets
from scripts.bench.sweep_designs import SmallHouse, combinations_of

Row = tuple[frozenset[str], float, float]
Made = tuple[list[Row], frozenset[frozenset[str]]]
"""The rows of a sweep, and the combinations whose readings are wrong."""

SUPPLIES: tuple[SupplyKey, ...] = ("split", "single", "three")
DESIGNS = ("each alone", "each off")

MAX_READINGS = 6
"""Readings after the sweep before what is stated by then is judged."""

MIN_CHANGE_VOLTS = 0.1
"""A mistake changes a reading by more than this."""

WRONG_VOLTS = 0.03
"""What a circuit may be beyond its stated uncertainty: as much as a prediction may be off (sources.py)."""

MAX_NAMED = 3

FACTORS = (0.1, 0.5, 1.3, 2.0, 10.0)
"""By which a reading is written down too low or too high."""


def sound(rows: list[Row], _house: SmallHouse, _random: np.random.Generator) -> Made | None:
    """No mistake."""
    return rows, frozenset()


def forgotten(rows: list[Row], house: SmallHouse, random: np.random.Generator) -> Made | None:
    """A breaker was not in the position that was stated.

    Args:
        rows: of the sound sweep.
        house: that it was read in.
        random: draws the mistake.
    """
    able = [
        (at, other[0])
        for at, row in enumerate(rows)
        for name in house.own
        if (other := house.row(row[0] ^ {name}, random))
        and abs(house.volts(other[0]) - house.volts(row[0])) > MIN_CHANGE_VOLTS
    ]
    return _changed(rows, able, lambda on: house.row(on, random)[1:], random)


def wrong_value(rows: list[Row], _house: SmallHouse, random: np.random.Generator) -> Made | None:
    """A reading is written down too low or too high."""
    able = [
        (at, factor)
        for at, row in enumerate(rows)
        for factor in FACTORS
        if abs(factor - 1.0) * row[1] > MIN_CHANGE_VOLTS
    ]
    if not able:
        return None
    at, factor = able[int(random.integers(len(able)))]
    wrong = rows[at][0], factor * rows[at][1], rows[at][2]
    return [*rows[:at], wrong, *rows[at + 1 :]], frozenset({rows[at][0]})


def exchanged(rows: list[Row], _house: SmallHouse, random: np.random.Generator) -> Made | None:
    """Two readings are written down in each other's place."""
    able = [
        (one, other)
        for one in range(len(rows))
        for other in range(one)
        if abs(rows[one][1] - rows[other][1]) > MIN_CHANGE_VOLTS
    ]
    if not able:
        return None
    one, other = able[int(random.integers(len(able)))]
    wrong = list(rows)
    wrong[one], wrong[other] = (rows[one][0], *rows[other][1:]), (rows[other][0], *rows[one][1:])
    return wrong, frozenset({rows[one][0], rows[other][0]})


def _changed(
    rows: list[Row],
    able: list[tuple[int, frozenset[str]]],
    value: Callable[[frozenset[str]], tuple[float, float]],
    random: np.random.Generator,
) -> Made | None:
    """The rows with one of them read with other circuits on than was stated; None where none matters.

    Args:
        rows: of the sound sweep.
        able: indices of rows, and what may have been on in truth.
        value: volts and standard uncertainty of what was on in truth.
        random: draws the mistake.
    """
    if not able:
        return None
    at, truly_on = able[int(random.integers(len(able)))]
    return [*rows[:at], (rows[at][0], *value(truly_on)), *rows[at + 1 :]], frozenset({rows[at][0]})


KINDS: dict[str, Callable[[list[Row], SmallHouse, np.random.Generator], Made | None]] = {
    "sound": sound,
    "forgotten": forgotten,
    "wrong value": wrong_value,
    "exchanged": exchanged,
}


def answered(made: Made, house: SmallHouse, random: np.random.Generator) -> tuple[list[SweepAnswer], str]:
    """The answers from the first to the last one, and what became of the mistake.

    Args:
        made: the sweep.
        house: what is asked for is read in it.
        random: draws the noise.
    """
    rows, wrong = list(made[0]), made[1]
    answers: list[SweepAnswer] = []
    while True:
        answer = solve_sweep(sweep_of_sets(rows, list(house.own)), house.supply)
        answers.append(answer)
        if not answer.consistent:
            named = answer.suspects[:MAX_NAMED]
            return answers, "named" if wrong & {rows[number - 1][0] for number in named} else "noticed"
        if not answer.ambiguous or len(answers) > MAX_READINGS:
            break
        rows.append(house.row(frozenset(answer.next_readings[0]), random))
    # A circuit without a value claims nothing.
    beyond = max(
        (
            abs(circuit.volts - abs(house.own[circuit.name])) - COVERAGE_FACTOR * circuit.u_volts
            for circuit in answer.circuits
            if circuit.volts is not None and circuit.u_volts is not None
        ),
        default=0.0,
    )
    if beyond <= 0.0:
        return answers, "harmless"
    if beyond <= WRONG_VOLTS:
        return answers, "beyond"
    exchangeable = [{rows[number - 1][0] for number in pair} for pair in answer.exchangeable or ()]
    if any(wrong == pair for pair in exchangeable):
        return answers, "stated"
    return answers, "wrong, open" if answer.ambiguous else "wrong, closed"


def report_line(kind: str, became: Counter[str], expanded_volts: list[float], extra: list[int]) -> str:
    """Sum up one kind of mistake.

    Args:
        kind: which.
        became: number of sweeps by what became of the mistake.
        expanded_volts: expanded uncertainty of every circuit in the first answers, V.
        extra: number of readings after each sweep.
    """
    total = max(sum(became.values()), 1)
    wrong = became["wrong, open"] + became["wrong, closed"]
    parts = [
        f"{word} {100 * became[word] / total:.1f} %"
        for word in ("named", "noticed", "harmless", "beyond", "stated")
    ]
    return (
        f"  {kind:12} {total:4} sweeps: {', '.join(parts)}, wrong {100 * wrong / total:.1f} %"
        f" ({100 * became['wrong, closed'] / total:.1f} %); first ± median {np.median(expanded_volts):.4f} V,"
        f" readings asked for: mean {np.mean(extra):.2f}, median {np.median(extra):.1f}"
    )


def main() -> None:
    """Run the houses that the command line asks for."""
    parser = argparse.ArgumentParser()
    parser.add_argument("houses", type=int, nargs="?", default=60)
    parser.add_argument("seed", type=int, nargs="?", default=1)
    parser.add_argument("--kind", choices=list(KINDS), help="only this kind of mistake")
    parser.add_argument("-v", action="store_true", dest="verbose", help="describe what is wrong")
    given = parser.parse_args()
    print(f"{given.houses} houses from seed {given.seed}")
    for number, (kind, make) in enumerate(KINDS.items()):
        if given.kind not in (None, kind):
            continue
        became: Counter[str] = Counter()
        expanded_volts: list[float] = []
        extra: list[int] = []
        for seed in range(given.seed, given.seed + given.houses):
            random = np.random.default_rng([seed, number])
            house = SmallHouse.drawn(SUPPLIES[seed % len(SUPPLIES)], bool(seed % 2), random)
            design = DESIGNS[seed // len(SUPPLIES) % len(DESIGNS)]
            made = make(
                [house.row(on, random) for on in combinations_of(design, list(house.own))], house, random
            )
            if made is None:
                continue
            answers, word = answered(made, house, random)
            became[word] += 1
            extra.append(len(answers) - 1)
            expanded_volts += [
                COVERAGE_FACTOR * circuit.u_volts
                for circuit in answers[0].circuits
                if circuit.u_volts is not None
            ]
            if given.verbose and word not in ("named", "harmless"):
                circuits = {
                    c.name: (round(c.volts, 3), round(COVERAGE_FACTOR * c.u_volts, 3))
                    for c in answers[-1].circuits
                    if c.volts is not None and c.u_volts is not None
                }
                print(f"    {kind} {seed} {house.supply} {design}: {word}, {circuits}", flush=True)
        print(report_line(kind, became, expanded_volts, extra), flush=True)


if __name__ == "__main__":
    main()
