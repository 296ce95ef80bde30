"""What remedies would bring, and the set of least effort, on simulated homes with known truth (remedy_houses.py).

    python scripts/bench/remedies.py [HOUSES] [SEED] [--jobs N] [-v]

The plain sweep is read at each spot, then what is asked for, one reading a spot in each round, until the answer is
closed; a reading that a new one of the same refutes is taken out. Then the set of least effort is asked for; where its
prediction is not known well enough it is read, and where a cheaper set may do that one is tried and read, as the plan
says. Effort above the optimum is given before and after these trials. Figures are in fixtures/figures/remedies.md.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.plan.solver.least_effort import LeastEffort, least_effort
from logger.plan.solver.prediction import SpotPrediction, predict, taken
from logger.plan.solver.remedies import Remedy
from logger.plan.solver.remedy_problem import RemedyProblem, remedy_problem
from logger.sweep.solver.answer import MultiSpotAnswer, solve_spots
from logger.sweep.solver.readings import sweep_of_sets
from tests.support.remedy_houses import RemedyHouse, Row, optimum, remedies_of, remedy_house, sweeps_of

MAX_ROUNDS = 6
"""Rounds of readings after the sweeps, one reading a spot in each, before the answer counts as still open."""

MAX_SET_READINGS = 4
"""Times that the set of least effort is read before it counts as it is."""

MAX_TRIALS = 4
"""Cheaper sets that are tried and read at most."""

REFUTED_SIGMAS = 6.0
"""A new reading refutes an old one of the same that is farther off than this, in standard uncertainties."""

ALLOWED_VOLTS, ALLOWED_SHARE = 0.03, 0.05
"""What may be missing to the target, and by how much a prediction may be wrong."""

RANDOM_SETS = 3
"""Sets of remedies drawn at random in each home, whose predictions are held against the truth."""

SMALL_STEP = 2
"""One small thing more, in effort."""


@dataclass
class HomeRun:
    """A home, what was read in it, and what came of it.

    Args:
        seed: of the home.
        house: the truth.
        remedies: what can be done.
        mistake: that is hidden in its sweeps; empty for none.
        rows: readings at each spot, those that were taken out left away.
        extra: readings after the sweeps.
        contradicted: the readings were called contradictory at some time.
        answer: the last one.
        set_readings: how often the set of least effort had to be read.
        found: that set, once the cheaper ones that may do were tried.
        untried_effort: effort of the set before any of them was tried.
        chances: that each of them had, and whether it kept within the tolerance in truth.
        slowest_s: processor time of the longest search for it, s.
    """

    seed: int
    house: RemedyHouse
    remedies: list[Remedy]
    mistake: str
    rows: list[list[Row]]
    extra: int = 0
    contradicted: bool = False
    answer: MultiSpotAnswer | None = None
    set_readings: int = 0
    found: LeastEffort | None = None
    untried_effort: int | None = None
    chances: list[tuple[float, bool]] = field(default_factory=list)
    slowest_s: float = 0.0
    asked: Counter[tuple[int, frozenset[str]]] = field(default_factory=Counter)

    def solve(self) -> RemedyProblem:
        """Solve the sweeps as they are read by now."""
        house = self.house
        self.answer = solve_spots(
            [
                (spot, sweep_of_sets(rows, house.names))
                for spot, rows in zip(house.spots, self.rows, strict=True)
            ],
            house.supply,
            house.keep,
            house.target_volts,
            house.cords,
        )
        self.contradicted |= not self.answer.consistent
        return remedy_problem(self.answer)

    def wanted(self) -> dict[str, frozenset[str]]:
        """The first reading that is asked for at each spot; none once the answer is closed."""
        asked = self.answer.next_readings if self.answer is not None else ()
        return {spot: frozenset(live) for spot, live in reversed(asked)}

    def read(self, spot: int, live: frozenset[str]) -> None:
        """Take a reading; an old one of the same that it refutes is taken out, as it was a mistake."""
        new = self.house.row(spot, live)
        again = self.asked[spot, live] > 0
        self.asked[spot, live] += 1
        limit_volts = REFUTED_SIGMAS * (2**0.5) * new[2]
        old = [row for row in self.rows[spot] if row[0] == live and abs(row[1] - new[1]) > limit_volts]
        if old and not again:
            self.rows[spot] = [row for row in self.rows[spot] if row not in old]
        self.rows[spot].append(new)


def run_home(seed: int) -> HomeRun:
    """Read a home until its answer is closed, and find its set of least effort."""
    house = remedy_house(seed)
    remedies = remedies_of(house)
    rows, mistake = sweeps_of(house, seed)
    run = HomeRun(seed, house, remedies, mistake, rows)
    problem = run.solve()
    for _ in range(MAX_ROUNDS):
        wanted = run.wanted()
        for spot, live in wanted.items():
            run.read(house.spots.index(spot), live)
        run.extra += len(wanted)
        if not wanted:
            break
        problem = run.solve()
    while True:
        started = time.process_time()
        run.found = least_effort(problem, remedies)
        run.slowest_s = max(run.slowest_s, time.process_time() - started)
        unknown = [s for s, spot in enumerate(run.found.spots) if not spot.is_known]
        may_do = run.found.may_do
        if unknown and run.set_readings < MAX_SET_READINGS:
            off = run.found.off
            run.set_readings += 1
        elif may_do is not None and len(run.chances) < MAX_TRIALS:
            if run.untried_effort is None:
                run.untried_effort = run.found.effort
            off, unknown = may_do.off, list(range(len(house.spots)))
            keeps = float(house.volts_without(off).max()) <= house.target_volts + ALLOWED_VOLTS
            run.chances.append((may_do.chance, keeps))
        else:
            return run
        for s in unknown:
            run.read(s, frozenset(house.names) - frozenset(off))
        problem = run.solve()


@dataclass(frozen=True, slots=True)
class Predicted:
    """A prediction beside the truth at one spot.

    Args:
        kind: which set it is of.
        spot: the prediction.
        true_volts: V.
    """

    kind: str
    spot: SpotPrediction
    true_volts: float

    @property
    def is_near(self) -> bool:
        """Whether it is within 0.03 V or 5 %."""
        assert self.spot.volts is not None
        return abs(self.spot.volts - self.true_volts) <= max(ALLOWED_VOLTS, ALLOWED_SHARE * self.true_volts)

    @property
    def is_covered(self) -> bool:
        """Whether the truth is within twice its standard uncertainty, or 2 mV."""
        assert self.spot.volts is not None and self.spot.u_volts is not None
        return abs(self.spot.volts - self.true_volts) <= max(2 * self.spot.u_volts, 0.002)


@dataclass(frozen=True, slots=True)
class HomeResult:
    """What came of a home beside the truth.

    Args:
        run: the home.
        optimum: true least effort; None where no set meets the target.
        lowest_volts: lowest worst value of any set, V.
        worst_volts: true worst value with the set that was found, V; None where none was given.
        predictions: of that set and of random ones.
        ranges: whether the truth with drawn remaining shares was within the range, for each.
    """

    run: HomeRun
    optimum: int | None
    lowest_volts: float
    worst_volts: float | None
    predictions: tuple[Predicted, ...]
    ranges: tuple[bool, ...]

    @property
    def is_low_enough(self) -> bool:
        """Whether the set meets the target in truth, or comes near the lowest value where none does."""
        if self.worst_volts is None:
            return False
        if self.optimum is None:
            return self.worst_volts <= self.lowest_volts + max(
                ALLOWED_VOLTS, ALLOWED_SHARE * self.lowest_volts
            )
        return self.worst_volts <= self.run.house.target_volts + ALLOWED_VOLTS

    @property
    def above_untried(self) -> int | None:
        """The same before any cheaper set that may do was tried."""
        if self.run.untried_effort is None or self.optimum is None:
            return self.above_optimum
        return self.run.untried_effort - self.optimum

    @property
    def above_optimum(self) -> int | None:
        """Effort beyond the true optimum; None where there is none."""
        if self.run.found is None or self.optimum is None or self.worst_volts is None:
            return None
        return self.run.found.effort - self.optimum


def result_of(seed: int) -> HomeResult:
    """Read a home and hold what is found against the truth."""
    run = run_home(seed)
    house, found = run.house, run.found
    assert found is not None and run.answer is not None
    problem = remedy_problem(run.answer)
    random = np.random.default_rng(seed + 900_000_000)
    predictions: list[Predicted] = []
    able = [r for r in run.remedies if r.is_known and not r.takes & house.keep]
    sets = [
        ("random", random.permutation(len(able))[: random.integers(1, 5)].tolist())
        for _ in range(RANDOM_SETS)
    ]
    chosen = [k for k, r in enumerate(able) if r.name in found.remedies]
    for kind, indices in [("chosen", chosen), *sets]:
        off, _ = taken([able[k] for k in indices])
        truth = house.volts_without(off)
        predictions += [
            Predicted(kind, spot, float(volts))
            for spot, volts in zip(predict(problem, off), truth, strict=True)
            if spot.refusal is None and (kind != "chosen" or found.refusal is None)
        ]
    worst = None if found.refusal is not None else float(house.volts_without(found.off).max())
    return HomeResult(
        run,
        *optimum(house, run.remedies),
        worst,
        tuple(predictions),
        tuple(_ranges(run, problem, random)),
    )


def _ranges(run: HomeRun, problem: RemedyProblem, random: np.random.Generator) -> list[bool]:
    """Whether the truth is within the range of remedies of unknown effect, with remaining shares drawn at random."""
    house = run.house
    within = []
    for remedy in [r for r in run.remedies if not r.is_known and not r.takes & house.never_off]:
        share = random.random()
        (name,) = remedy.takes
        k = house.names.index(name)
        part = house.contributions[:, k]
        if name not in house.cords:
            # The wiring is shielded, not the cords on it.
            on_it = [house.names.index(cord) for cord, owner in house.cords.items() if owner == name]
            part = part - house.contributions[:, on_it].sum(axis=1)
        truth = np.abs(house.phasors(house.names) - (1.0 - share) * part)
        for spot, volts in zip(predict(problem, (), remedy.takes), truth, strict=True):
            if spot.at_best is not None:
                low, high = spot.at_best.lowest_volts, spot.at_best.highest_volts
                within.append(bool(low - ALLOWED_VOLTS <= volts <= high + ALLOWED_VOLTS))
    return within


def _percent(part: int, whole: int) -> str:
    return f"{100 * part / max(whole, 1):.1f} % ({part} of {whole})"


def report(results: Sequence[HomeResult]) -> list[str]:
    """Sum up homes as lines of text."""
    given = [r for r in results if r.worst_volts is not None]
    met = [r for r in given if r.optimum is not None]
    unmet = [r for r in given if r.optimum is None]
    above = [r.above_optimum for r in met if r.above_optimum is not None and r.is_low_enough]
    untried = [r.above_untried for r in met if r.above_untried is not None and r.is_low_enough]
    chances = [one for r in results for one in r.run.chances]
    founds = [r.run.found for r in given if r.run.found is not None]
    claimed = [r for r in given if r.run.found is not None and r.run.found.meets_target]
    missed = sum(r.worst_volts is not None and not r.is_low_enough for r in claimed)
    every = [p for r in given for p in r.predictions]
    lines = [
        f"  homes {len(results)}: a set given in {len(given)}, refused in {len(results) - len(given)}",
        f"  the set reaches target + 0.03 V where any does: {_percent(sum(r.is_low_enough for r in met), len(met))}",
        f"  where none does: as low as can be + max(0.03 V, 5 %): {sum(r.is_low_enough for r in unmet)} of"
        f" {len(unmet)}",
        f"  said to meet the target, and more than 0.03 V above it: {missed} of {len(claimed)}",
        f"  effort above the true optimum: none or less {_percent(sum(a <= 0 for a in above), len(above))},"
        f" at most one {_percent(sum(a <= 1 for a in above), len(above))},"
        f" one small thing {_percent(sum(a <= SMALL_STEP for a in above), len(above))}, most"
        f" {max(above, default=0)}",
        f"  before a cheaper set that may do was tried: at most one"
        f" {_percent(sum(a <= 1 for a in untried), len(untried))}, most {max(untried, default=0)}",
        f"  cheaper sets tried: {len(chances)} in {sum(bool(r.run.chances) for r in results)} homes; in truth within"
        f" the tolerance {sum(keeps for _, keeps in chances)}, by their chances"
        f" {sum(chance for chance, _ in chances):.1f}",
        f"  proven: {_percent(sum(f.proven for f in founds), len(founds))}",
    ]
    for kind in ("chosen", "random"):
        these = [p for p in every if p.spot.volts is not None and p.kind == kind]
        known = [p for p in these if p.spot.is_known]
        lines.append(
            f"  prediction of {kind} sets within 0.03 V or 5 %:"
            f" known {_percent(sum(p.is_near for p in known), len(known))},"
            f" all {_percent(sum(p.is_near for p in these), len(these))};"
            f" within 2 u {_percent(sum(p.is_covered for p in these), len(these))}"
        )
    ranges = [inside for r in given for inside in r.ranges]
    extra = [r.run.extra for r in results]
    slowest_s = [r.run.slowest_s for r in results]
    lines += [
        f"  truth within the range of unknown effects: {_percent(sum(ranges), len(ranges))}",
        f"  readings after the sweeps: median {np.median(extra):.0f}, 95th percentile {np.percentile(extra, 95):.0f};"
        f" still open {sum(r.run.answer is not None and r.run.answer.ambiguous for r in results)};"
        f" the set had to be read in {sum(r.run.set_readings > 0 for r in results)}",
        f"  search: median {np.median(slowest_s):.3f} s, longest {max(slowest_s):.2f} s of CPU",
    ]
    hidden = [r for r in results if r.run.mistake]
    lines.append(
        f"  homes with a hidden mistake {len(hidden)}: called contradictory {sum(r.run.contradicted for r in hidden)},"
        f" refused at the end {sum(r.worst_volts is None for r in hidden)},"
        f" given and low enough {sum(r.is_low_enough for r in hidden)},"
        f" given and not {sum(r.worst_volts is not None and not r.is_low_enough for r in hidden)};"
        f" called contradictory without one"
        f" {sum(r.run.contradicted for r in results if not r.run.mistake)} of {len(results) - len(hidden)}"
    )
    return lines


def shortfall_lines(result: HomeResult) -> list[str]:
    """Describe each shortfall of a home in a line."""
    run, found = result.run, result.run.found
    assert found is not None
    head = f"{run.seed} {run.house.supply} {run.mistake}:"
    lines = []
    if result.worst_volts is None:
        lines.append(f"REFUSED {head} {found.refusal}, {run.extra} extra")
    elif not result.is_low_enough:
        lines.append(
            f"MISS {head} truth {result.worst_volts:.3f}, target {run.house.target_volts}, lowest"
            f" {result.lowest_volts:.3f}, {[(s.volts, s.u_volts, s.is_read) for s in found.spots]},"
            f" {found.remedies}, certainty {found.certainty:.2f}, open {run.answer and run.answer.ambiguous}"
        )
    if result.above_optimum is not None and result.above_optimum > 1:
        lines.append(
            f"MORE {head} {found.effort}, optimum {result.optimum}, {found.remedies} {found.certainty:.2f}"
        )
    lines += [
        f"PREDICTED {head} {p.kind} {p.spot}, truth {p.true_volts:.3f}"
        for p in result.predictions
        if p.spot.is_known and not p.is_near
    ]
    return lines


def main() -> None:
    """Run the homes that the command line asks for."""
    parser = argparse.ArgumentParser()
    parser.add_argument("houses", type=int, nargs="?", default=300)
    parser.add_argument("first", type=int, nargs="?", default=38_000_000)
    parser.add_argument("--jobs", type=int, default=1, help="processes that work at once")
    parser.add_argument("-v", action="store_true", dest="verbose", help="describe each home that falls short")
    given = parser.parse_args()
    results = []
    with ProcessPoolExecutor(given.jobs) as pool:
        for result in pool.map(result_of, range(given.first, given.first + given.houses)):
            results.append(result)
            if given.verbose:
                print("".join(f"{line}\n" for line in shortfall_lines(result)), end="", flush=True)
    print(f"{given.houses} homes from seed {given.first}")
    print("\n".join(report(results)))


if __name__ == "__main__":
    main()
