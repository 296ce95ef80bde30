"""Whether one mistaken reading of a small sweep leaves a wrong value within a narrow uncertainty.

    python scripts/bench/single_mistakes.py [HOUSES] [SEED] [--kind KIND ...] [-v]

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

Four more kinds are of the home, not of one reading (`CLAIMED`): the readings scatter as they claim and come in any
order. Of these it is counted in how many sweeps a stated uncertainty (k = 2) is exceeded by more than `FAILS` times
while nothing is said, and how wide the uncertainties are.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.metrology.supply import SupplyKey
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.solver.answer import SweepAnswer, solve_sweep
from logger.sweep.solver.contribution_doubts import contribution_doubts
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


FAILS = 1.5
"""An uncertainty fails where the truth is so many times further away."""

MAX_FOLLOWED = 8
"""Readings after the sweep of a claimed home before what is stated by then is judged."""

U_FLOOR_VOLTS, U_SHARES = 0.005, (0.005, 0.015)
"""Standard uncertainty of a reading of a claimed home, and one of the shares of the value beside it."""

MOVED = (1.3, 1.6)
"""A cord that is moved gives so many times as much."""

WRONG_SUPPLIES: tuple[tuple[SupplyKey, SupplyKey], ...] = (
    ("split", "single"), ("three", "single"), ("three", "split"), ("split", "three"),
)  # fmt: skip
"""What the supply is, and what was entered."""

OFF_DEGREES = (30.0, 75.0)
"""So far a circuit's phase is from that of its leg."""


@dataclass
class ClaimedHome:
    """A home whose readings scatter as they claim.

    Args:
        house: the circuits.
        entered: the supply that is entered.
        twice: each combination is read twice.
        u_share: of the value, in the uncertainty.
        random: draws the noise.
        moved: what the circuits give once a cord was moved; empty where none is.
        moved_at: number of readings before that.
        taken: number of readings so far.
    """

    house: SmallHouse
    entered: SupplyKey
    twice: bool
    u_share: float
    random: np.random.Generator
    moved: Mapping[str, complex] = field(default_factory=dict)
    moved_at: int = 0
    taken: int = 0

    def row(self, on: frozenset[str]) -> Row:
        """The next reading, with those circuits on."""
        is_moved = bool(self.moved) and self.taken >= self.moved_at
        now = replace(self.house, own=self.moved) if is_moved else self.house
        self.taken += 1
        volts = now.volts(on)
        u_volts = U_FLOOR_VOLTS + self.u_share * volts
        return on, float(abs(volts + u_volts * self.random.standard_normal())), u_volts

    def ratio(self, name: str, volts: float, u_volts: float) -> float:
        """How many of the expanded uncertainties a value is away from what the circuit gave at any time."""
        truths = [abs(own[name]) for own in (self.house.own, self.moved) if own]
        return min(abs(volts - truth) for truth in truths) / (COVERAGE_FACTOR * u_volts)


def claimed_home(kind: str, seed: int, random: np.random.Generator) -> ClaimedHome:
    """Draw a home of a kind of `CLAIMED`.

    Args:
        kind: one of them.
        seed: decides supply, repeats and uncertainty in turn.
        random: draws all else.
    """
    true: SupplyKey = SUPPLIES[seed % len(SUPPLIES)]
    entered = true
    if kind == "wrong supply":
        true, entered = WRONG_SUPPLIES[seed % len(WRONG_SUPPLIES)]
    house = SmallHouse.drawn(true, bool(seed // 2 % 2), random)
    u_share = U_SHARES[seed // 4 % len(U_SHARES)]
    if kind == "phases off":
        turned = {
            name: volts * np.exp(1j * np.radians(random.uniform(*OFF_DEGREES) * random.choice((-1.0, 1.0))))
            for name, volts in house.own.items()
        }
        house = replace(house, own=turned)
    home = ClaimedHome(house, entered, kind != "cord moved" and seed // 8 % 2 == 0, u_share, random)
    if kind == "cord moved":
        name = str(
            random.choice(
                [name for name in house.own if abs(house.own[name]) > MIN_CHANGE_VOLTS] or list(house.own)
            )
        )
        home.moved = {**house.own, name: house.own[name] * random.uniform(*MOVED)}
        home.moved_at = int(random.integers(1, len(house.own) + 2 + MAX_FOLLOWED // 2))
    return home


CLAIMED = ("as claimed", "cord moved", "wrong supply", "phases off")
"""Kinds of homes: undisturbed; one cord moved at any time; another supply entered, and phases that are no leg's, both
with each combination read twice in half of the homes."""


@dataclass
class Claims:
    """What became of the uncertainties stated in homes of one kind.

    Args:
        became: number of sweeps by what became of them.
        first_volts: expanded uncertainties in the first answers, V.
        last_volts: in the last answers, V.
        covered: whether each of the last answers holds.
        extra: number of readings after each sweep.
    """

    became: Counter[str] = field(default_factory=Counter)
    first_volts: list[float] = field(default_factory=list)
    last_volts: list[float] = field(default_factory=list)
    covered: list[bool] = field(default_factory=list)
    extra: list[int] = field(default_factory=list)

    def add(self, home: ClaimedHome) -> tuple[str, SweepAnswer, list[Row]]:
        """Read a home until the answer is closed; returns what became of it, the last answer and the rows."""
        names = list(home.house.own)
        sets = combinations_of("each alone", names) * (2 if home.twice else 1)
        rows = [home.row(sets[at]) for at in home.random.permutation(len(sets))]
        swept = len(rows)
        while True:
            answer = solve_sweep(sweep_of_sets(rows, names), home.entered)
            if len(rows) == swept:
                self.first_volts += _expanded_volts(answer)
            if not answer.consistent or not answer.ambiguous or len(rows) >= swept + MAX_FOLLOWED:
                break
            rows.append(home.row(frozenset(answer.next_readings[0])))
        self.extra.append(len(rows) - swept)
        word = _word(home, answer, rows)
        if answer.consistent:
            self.last_volts += _expanded_volts(answer)
            self.covered += [
                home.ratio(circuit.name, circuit.volts, circuit.u_volts) <= 1.0
                for circuit in answer.circuits
                if circuit.volts is not None and circuit.u_volts is not None
            ]
        self.became[word] += 1
        return word, answer, rows

    def line(self, kind: str) -> str:
        """Sum up as a line of text."""
        total = sum(self.became.values())
        silent = self.became["SILENT, closed"] + self.became["SILENT, open"]
        return (
            f"  {kind:12} {total:4} sweeps: silent {silent} ({100 * silent / total:.2f} %;"
            f" closed {self.became['SILENT, closed']}), {dict(self.became)};"
            f" ± median first {np.median(self.first_volts):.4f} V, last {np.median(self.last_volts):.4f} V,"
            f" covered {100 * np.mean(self.covered):.1f} %, readings asked for: mean {np.mean(self.extra):.2f}"
        )


def _expanded_volts(answer: SweepAnswer) -> list[float]:
    return [COVERAGE_FACTOR * circuit.u_volts for circuit in answer.circuits if circuit.u_volts is not None]


def _word(home: ClaimedHome, answer: SweepAnswer, rows: list[Row]) -> str:
    """What became of the uncertainties of an answer that rests on those rows of a home."""
    if not answer.consistent:
        return "contradictory"
    if answer.contradicting_repeats:
        return "repeats contradict"
    doubts = contribution_doubts(
        list(home.house.own),
        [row[0] for row in rows],
        answer.exchangeable,
        supply_in_doubt=bool(answer.better_supplies),
    )
    fails = [
        circuit.name
        for circuit in answer.circuits
        if circuit.volts is not None
        and circuit.u_volts is not None
        and home.ratio(circuit.name, circuit.volts, circuit.u_volts) > FAILS
    ]
    if not fails:
        return "holds"
    if doubts.keys() >= set(fails):
        return "called an estimate"
    return "SILENT, open" if answer.ambiguous else "SILENT, closed"


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
    parser.add_argument(
        "--kind", nargs="+", choices=[*KINDS, *CLAIMED], default=[*KINDS, *CLAIMED], help="only these kinds"
    )
    parser.add_argument("-v", action="store_true", dest="verbose", help="describe what is wrong")
    given = parser.parse_args()
    print(f"{given.houses} houses from seed {given.seed}")
    for number, (kind, make) in enumerate(KINDS.items()):
        if kind not in given.kind:
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
    for kind in CLAIMED:
        if kind in given.kind:
            show_claims(kind, range(given.seed, given.seed + given.houses), given.verbose)


def show_claims(kind: str, seeds: range, verbose: bool) -> None:
    """Run the homes of a kind of `CLAIMED` and print what became of what is stated.

    Args:
        kind: one of them.
        seeds: of the homes.
        verbose: describe what fails in silence.
    """
    claims = Claims()
    for seed in seeds:
        random = np.random.default_rng([seed, len(KINDS) + CLAIMED.index(kind)])
        home = claimed_home(kind, seed, random)
        word, answer, rows = claims.add(home)
        if verbose and word.startswith("SILENT"):
            truths = {name: round(float(abs(own)), 3) for name, own in home.house.own.items()}
            stated = {
                c.name: (round(c.volts, 3), round(COVERAGE_FACTOR * c.u_volts, 3))
                for c in answer.circuits
                if c.volts is not None and c.u_volts is not None
            }
            print(f"    {kind} {seed} {home.house.supply} as {home.entered}: {word}, {truths}, {stated}")
            for on, volts, u_volts in rows:
                print(f"        {'+'.join(sorted(on)):24} {volts:.3f} {u_volts:.3f}", flush=True)
    print(claims.line(kind), flush=True)


if __name__ == "__main__":
    main()
