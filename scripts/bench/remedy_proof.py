"""Remedies that are done in simulated homes and read again: how often the verdict is right.

    python scripts/bench/remedy_proof.py [HOMES] [SEED]

Each home has up to three spots, six circuits and two cords, which lie on one bus, on legs 180 degrees apart or on three
phases. It is swept; one or two remedies are done; and the spots of the route are read again. Every reading has noise
of its own and a posture that is taken up anew (7 % of the value). One remedy in four is not done in truth (the plug was
left in), and in one home in five a new cord is laid near a bed in the meantime. The truth is the physics of the house
with the meter's own divider. Figures are in fixtures/figures/remedies.md.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.clock import NS_PER_S, ManualClock
from logger.metrology.posture import DEFAULT_SHARE
from logger.metrology.supply import Supply
from logger.plan.planned_remedy import PlannedRemedy, ProofVerdict, RoutePurpose
from logger.plan.remedy_plan import remedy_plan_of
from logger.simulation import register_simulated_port
from logger.sweep.sweep_progress import Combination
from logger.visit import VisitLog
from logger.visit.records.remedy_records import RemedyDecision, RemedyEntry, RemedyKind
from tests.support.swept_home import Home, prove_rod

NOISE_VOLTS = 0.003
"""Standard deviation of a reading by itself, V."""

CIRCUITS = ("Bedroom", "Light", "Study", "Hall", "Kitchen", "Attic")
CORDS = {"Lamp": "Bedroom", "Radio": "Study"}
SPOTS = ("left", "right", "desk")
SUPPLIES: Mapping[Supply, int] = {"single phase": 1, "split phase": 2, "three-phase": 3}

LEFT_IN_SHARE, NEW_CORD_SHARE = 0.25, 0.2

TOLD = (ProofVerdict.PROVEN, ProofVerdict.NO_EFFECT, ProofVerdict.WORSE)


class NoisyHome(Home):
    """A home whose readings have noise and posture, and in which a remedy may not be done in truth.

    Args:
        log: the visit log.
        clock: of the log.
        random: draws.
    """

    def __init__(self, log: VisitLog, clock: ManualClock, random: np.random.Generator) -> None:
        supply = list(SUPPLIES)[int(random.integers(len(SUPPLIES)))]
        legs = {name: (int(random.integers(SUPPLIES[supply])),) for name in CIRCUITS}
        spots = SPOTS[: int(random.integers(1, 4))]
        couplings = {
            spot: {
                name: float(random.lognormal(-1.2, 1.1))
                for name in (*CIRCUITS, *CORDS)
                if random.random() < 0.7
            }
            for spot in spots
        }
        super().__init__(log, couplings, legs, CORDS, supply=supply)
        self.clock, self.random = clock, random
        self.left_in: frozenset[int] = frozenset()
        self.extra_volts = dict.fromkeys(spots, 0.0)

    def true_volts(self, live: frozenset[int], spot: str) -> float:
        """What is at a spot in truth with those live, V."""
        return float(self.volts(live | self.left_in, spot)) + self.extra_volts[spot]

    def read(self, combination: Combination, spot: str, shift_volts: float = 0.0) -> None:
        """Take a reading with noise and a posture of its own."""
        self.clock.advance_ns(60 * NS_PER_S)
        posture = 1.0 + DEFAULT_SHARE * self.random.standard_normal()
        volts = (
            self.true_volts(combination.live, spot) * posture + NOISE_VOLTS * self.random.standard_normal()
        )
        self.log.readings.enter(
            self.spots[spot].id,
            combination.label,
            max(round(volts, 3), 0.0),
            NOISE_VOLTS,
            live=combination.live,
        )


@dataclass(frozen=True, slots=True)
class Outcome:
    """What was found of a remedy beside the truth.

    Args:
        verdict: that was found.
        is_right: whether the truth agrees with it.
        is_grave: it is called proven while the truth rose somewhere by more than U.
    """

    verdict: ProofVerdict
    is_right: bool
    is_grave: bool


def main() -> None:
    """Run the homes and print the figures."""
    homes = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 38_000_000
    register_simulated_port()
    outcomes = [outcome for n in range(homes) for outcome in run_home(seed + n)]
    counts = Counter(outcome.verdict for outcome in outcomes)
    print(f"{homes} homes, {len(outcomes)} remedies done and read again")
    for verdict, count in counts.most_common():
        right = sum(outcome.is_right for outcome in outcomes if outcome.verdict is verdict)
        rate = f", right {right} ({100 * right / count:.1f} %)" if verdict in TOLD else ""
        print(f"{verdict.value}: {count}{rate}")
    print(f"proven while the truth rose by more than U: {sum(outcome.is_grave for outcome in outcomes)}")


def run_home(seed: int) -> list[Outcome]:
    """Sweep a home, do remedies in it, read again, and hold the verdicts against the truth."""
    random, clock = np.random.default_rng(seed), ManualClock()
    with (
        tempfile.TemporaryDirectory(prefix="stillvolt-bench-") as folder,
        closing(VisitLog.create(Path(folder) / "home.visit", clock)) as log,
    ):
        home = NoisyHome(log, clock, random)
        prove_rod(log, clock)
        home.sweep()
        everything = frozenset(home.ids.values())
        before = {spot: home.true_volts(everything, spot) for spot in home.spots}
        done = _do(home, random)
        for stop in remedy_plan_of(log, with_nights=False).route:
            if stop.purpose is RoutePurpose.AFTER:
                home.read(stop.combination, stop.spot_name)
        found = [r for r in remedy_plan_of(log, with_nights=False).remedies if r.kept is not None]
        off = everything - done
        after = {spot: home.true_volts(off, spot) for spot in home.spots}
        return [
            _outcome(remedy, {s: after[s] - before[s] for s in before}) for remedy in found if remedy.result
        ]


def _do(home: NoisyHome, random: np.random.Generator) -> frozenset[int]:
    """Do one remedy or two; returns the ids of what is said to be off."""
    names = random.permutation([*CIRCUITS, *CORDS])[: int(random.integers(1, 3))]
    for name in map(str, names):
        home.clock.advance_ns(60 * NS_PER_S)
        kind = RemedyKind.UNPLUG_AT_NIGHT if name in CORDS else RemedyKind.BREAKER_AT_NIGHT
        home.log.remedies.add(kind, RemedyEntry(0, RemedyDecision.DONE), [home.ids[name]])
        if random.random() < LEFT_IN_SHARE:
            home.left_in |= {home.ids[name]}
    if random.random() < NEW_CORD_SHARE:
        home.extra_volts[str(random.choice(list(home.spots)))] = float(random.uniform(0.02, 0.6))
    return frozenset(home.ids[str(name)] for name in names)


def _outcome(remedy: PlannedRemedy, true_changes: dict[str, float]) -> Outcome:
    """Hold a verdict against the true changes, V, by the name of the spot."""
    result = remedy.result
    assert result is not None
    changes = [change for change in result.changes if change.difference is not None]
    true = {change.spot_name: true_changes[change.spot_name] for change in changes}
    u = {c.spot_name: c.difference.expanded_volts for c in changes if c.difference is not None}
    affected = [change.spot_name for change in changes if change.is_affected]
    rose = any(true[spot] > u[spot] for spot in true)
    falls = any(true[spot] < 0.0 for spot in affected)
    right = {
        ProofVerdict.PROVEN: falls and not rose,
        ProofVerdict.WORSE: any(volts > 0.0 for volts in true.values()),
        ProofVerdict.NO_EFFECT: all(abs(true[spot]) <= u[spot] for spot in affected),
    }.get(result.verdict, True)
    return Outcome(result.verdict, right, result.verdict is ProofVerdict.PROVEN and rose)


if __name__ == "__main__":
    main()
