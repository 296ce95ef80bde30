"""Homes of known truth for remedies: several spots, circuits, cords on them, what must stay on, and what can be done.

In: a seed. Out: a `RemedyHouse`, its sweeps as somebody reads them, its remedies, and the true optimum by looking at
every set. One home in twenty has a mistaken reading among its sweeps that nothing on it shows.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.metrology.supply import SupplyKey
from logger.plan.solver.prediction import taken
from logger.plan.solver.remedies import EFFORT_WEIGHTS, Effort, Remedy
from logger.sweep.solver.sweep_fit import DIRECTIONS

Live = frozenset[str]
Row = tuple[Live, float, float]
"""What is live, volts, standard uncertainty."""

SUPPLIES: tuple[SupplyKey, ...] = ("split", "single", "three")

CONTRADICTION_SHARE = 0.05
"""Share of the homes with a mistaken reading."""

MIN_MISTAKE_VOLTS = 0.1
"""A mistake changes a reading by at least this."""

MATTERS_VOLTS = 0.004
"""A remedy that changes less than this at every spot is no part of the true optimum."""

MAX_BRUTE_FORCE = 16
"""Every set of so many of the largest remedies is looked at."""


@dataclass(frozen=True, slots=True)
class RemedyHouse:
    """A home, the truth about it, and how it is read. S spots, n circuits and cords.

    Args:
        supply: of the home.
        spots: names of the spots.
        names: of the circuits, then of the cords.
        cords: the circuit that each cord is plugged into.
        keep: circuits that must stay on.
        never_off: circuits of these that are on in every reading.
        target_volts: V.
        background: complex value with everything off at each spot, V, shape (S,).
        contributions: complex, V, shape (S, n); a circuit's includes that of the cords on it.
        step_volts: resolution of the meter, V.
        noise_volts: standard deviation of a reading, V.
        random: for the noise.
    """

    supply: SupplyKey
    spots: tuple[str, ...]
    names: tuple[str, ...]
    cords: Mapping[str, str]
    keep: Live
    never_off: Live
    target_volts: float
    background: NDArray[np.complex128]
    contributions: NDArray[np.complex128]
    step_volts: float
    noise_volts: float
    random: np.random.Generator

    @property
    def circuits(self) -> tuple[str, ...]:
        """Names of the circuits."""
        return tuple(name for name in self.names if name not in self.cords)

    @property
    def u_volts(self) -> float:
        """Standard uncertainty that is stated with a reading, V."""
        return float(np.hypot(self.step_volts / 12**0.5, self.noise_volts))

    def phasors(self, live: Collection[str]) -> NDArray[np.complex128]:
        """Complex value at each spot with those live and plugged in, V, shape (S,)."""
        counts = [
            -float(name not in live and self.cords[name] in live)
            if name in self.cords
            else float(name in live)
            for name in self.names
        ]
        return np.asarray(self.background + self.contributions @ np.array(counts), np.complex128)

    def volts(self, live: Collection[str]) -> NDArray[np.float64]:
        """True value at each spot, V, shape (S,)."""
        return np.abs(self.phasors(live))

    def volts_without(self, off: Collection[str]) -> NDArray[np.float64]:
        """True value at each spot with those taken away and all else on, V, shape (S,)."""
        return self.volts(frozenset(self.names) - frozenset(off))

    def row(self, spot: int, live: Live) -> Row:
        """Take a reading at a spot (an index): noise is added, then the meter rounds."""
        noisy = self.volts(live)[spot] + self.noise_volts * self.random.standard_normal()
        return live, max(0.0, round(noisy / self.step_volts) * self.step_volts), self.u_volts

    def sweep(self, spot: int) -> list[Row]:
        """Take the plain sweep at a spot: everything off, each circuit alone, everything on, each cord unplugged."""
        base = self.never_off | frozenset(self.cords)
        alone = [base | {name} for name in self.circuits if name not in self.never_off]
        everything = frozenset(self.names)
        sets = [base, *alone, everything, *(everything - {cord} for cord in self.cords)]
        return [self.row(spot, live) for live in sets]


def remedy_house(seed: int) -> RemedyHouse:
    """Draw a home of 5 to 12 circuits, up to 3 cords and up to 3 spots on the same wiring."""
    random = np.random.default_rng(seed)
    supply = SUPPLIES[int(random.integers(len(SUPPLIES)))]
    spots, circuits, cords = (
        int(random.choice([1, 1, 2, 2, 3])),
        int(random.integers(5, 13)),
        int(random.integers(4)),
    )
    names = [f"C{k + 1}" for k in range(circuits)]
    matter = random.permutation(circuits)[: random.integers(2, 6)]
    sizes = random.uniform(0.0, 0.012, circuits) * (random.random(circuits) < 0.5)
    sizes[matter] = 10 ** random.uniform(np.log10(0.06), np.log10(2.0), len(matter))
    here = sizes * 10 ** random.normal(0.0, 0.25, (spots, circuits))
    contributions = here * DIRECTIONS[supply][random.integers(0, len(DIRECTIONS[supply]), circuits)]
    # A cord hangs on a circuit that matters three times in four.
    owners = [
        int(random.choice(matter)) if random.random() < 0.75 else int(random.integers(circuits))
        for _ in range(cords)
    ]
    share = random.uniform(0.2, 0.95, (spots, cords))
    for owner in set(owners):
        together = [k for k, other in enumerate(owners) if other == owner]
        share[:, together] /= len(together)
    of_cords = contributions[:, owners] * share if cords else np.zeros((spots, 0), complex)
    keep = frozenset(random.permutation(names)[: random.integers(0, 3)].tolist())
    return RemedyHouse(
        supply,
        tuple(f"Spot {s + 1}" for s in range(spots)),
        (*names, *(f"Cord {k + 1}" for k in range(cords))),
        {f"Cord {k + 1}": names[owner] for k, owner in enumerate(owners)},
        keep,
        keep if random.random() < 0.5 else frozenset(),
        float(random.choice([0.1, 0.1, 0.2])),
        random.choice([0.0, 0.02, 0.05, 0.1], spots)
        * random.random(spots)
        * np.exp(2j * np.pi * random.random(spots)),
        np.concatenate([contributions, of_cords], axis=1),
        float(random.choice([0.001, 0.005])),
        0.003,
        random,
    )


def remedies_of(house: RemedyHouse) -> list[Remedy]:
    """Draw what can be done in a home: for most circuits a breaker, else a disconnect; for cords a plug or a strip.

    Some of it is of unknown effect, some takes several at once, and some would take what must stay on.
    """
    random = house.random
    found: list[Remedy] = []
    for name in house.circuits:
        if random.random() < 0.75:
            found.append(Remedy(f"breaker {name} off", frozenset({name}), Effort.NONE))
        if random.random() < 0.7:
            found.append(Remedy(f"disconnect of {name}", frozenset({name}), Effort.ELECTRICIAN))
        if random.random() < 0.2:
            found.append(
                Remedy(f"wiring of {name} shielded", frozenset({name}), Effort.ELECTRICIAN, is_known=False)
            )
    for name in house.cords:
        if random.random() < 0.6:
            found.append(Remedy(f"{name} unplugged", frozenset({name}), Effort.NONE))
        if random.random() < 0.6:
            found.append(Remedy(f"{name} on a strip", frozenset({name}), Effort.SMALL))
        if random.random() < 0.4:
            found.append(Remedy(f"{name} moved", frozenset({name}), Effort.SMALL, is_known=False))
    if len(house.cords) > 1 and random.random() < 0.5:
        found.append(Remedy("one strip for all", frozenset(house.cords), Effort.SMALL))
    loose = [name for name in house.circuits if name not in house.keep]
    pair = frozenset(random.permutation(loose)[:2].tolist())
    found.append(Remedy("disconnect of two", pair, Effort.ELECTRICIAN))
    return found


def optimum(house: RemedyHouse, remedies: Sequence[Remedy]) -> tuple[int | None, float]:
    """The true least effort that meets the target everywhere (None where no set does), and the lowest worst value, V.

    By looking at every set of the remedies of known effect that take away nothing that must stay on.
    """
    everything = house.phasors(house.names)
    size = {
        takes: float(abs(house.phasors(frozenset(house.names) - takes) - everything).max())
        for takes in {
            remedy.takes for remedy in remedies if remedy.is_known and not remedy.takes & house.keep
        }
    }
    cheapest: dict[Live, Remedy] = {}
    for remedy in sorted(remedies, key=lambda remedy: EFFORT_WEIGHTS[remedy.effort]):
        if remedy.is_known and size.get(remedy.takes, 0.0) > MATTERS_VOLTS:
            cheapest.setdefault(remedy.takes, remedy)
    chosen = sorted(cheapest.values(), key=lambda remedy: -size[remedy.takes])[:MAX_BRUTE_FORCE]
    return _every_set(house, chosen)


def _every_set(house: RemedyHouse, able: Sequence[Remedy]) -> tuple[int | None, float]:
    """Least effort that meets the target, and the lowest worst value, V, of every set of some remedies."""
    sets = (np.arange(2 ** len(able))[:, None] >> np.arange(len(able))) & 1
    takes = np.array([[name in remedy.takes for name in house.names] for remedy in able], bool).reshape(
        len(able), len(house.names)
    )
    live = sets @ takes == 0
    counts = live.astype(float)
    for cord, circuit in house.cords.items():
        k, owner = house.names.index(cord), house.names.index(circuit)
        counts[:, k] = -(live[:, owner] & ~live[:, k]).astype(float)
    worst = np.abs(house.background[:, None] + house.contributions @ counts.T).max(axis=0)
    effort = sets @ np.array([EFFORT_WEIGHTS[remedy.effort] for remedy in able], int)
    met = worst <= house.target_volts
    return (int(effort[met].min()) if met.any() else None), float(worst.min())


def true_volts(house: RemedyHouse, remedies: Sequence[Remedy]) -> NDArray[np.float64]:
    """True value at each spot with remedies of known effect done, V, shape (S,)."""
    return house.volts_without(taken(remedies)[0])


def ten_times(house: RemedyHouse, spot: int, rows: list[Row]) -> bool:
    """A reading is written down ten times too high."""
    able = [at for at, row in enumerate(rows) if 9 * row[1] > MIN_MISTAKE_VOLTS]
    if not able:
        return False
    at = int(house.random.choice(able))
    rows[at] = (rows[at][0], 10 * rows[at][1], rows[at][2])
    return True


def exchanged(house: RemedyHouse, spot: int, rows: list[Row]) -> bool:
    """Two readings are written down in each other's place."""
    pairs = [
        (a, b) for a in range(len(rows)) for b in range(a) if abs(rows[a][1] - rows[b][1]) > MIN_MISTAKE_VOLTS
    ]
    if not pairs:
        return False
    a, b = pairs[int(house.random.integers(len(pairs)))]
    rows[a], rows[b] = (rows[a][0], *rows[b][1:]), (rows[b][0], *rows[a][1:])
    return True


def forgotten_on(house: RemedyHouse, spot: int, rows: list[Row]) -> bool:
    """A breaker was still on in a reading that says it was off."""
    able = [
        (at, name)
        for at, row in enumerate(rows)
        for name in house.circuits
        if name not in row[0]
        and abs(house.volts(row[0] | {name}) - house.volts(row[0]))[spot] > MIN_MISTAKE_VOLTS
    ]
    if not able:
        return False
    at, name = able[int(house.random.integers(len(able)))]
    rows[at] = (rows[at][0], *house.row(spot, rows[at][0] | {name})[1:])
    return True


MISTAKES: Mapping[str, Callable[[RemedyHouse, int, list[Row]], bool]] = {
    "ten times": ten_times,
    "exchanged": exchanged,
    "forgotten on": forgotten_on,
}


def sweeps_of(house: RemedyHouse, seed: int) -> tuple[list[list[Row]], str]:
    """The plain sweep at each spot, and which mistake is hidden in one of them; empty for none."""
    rows = [house.sweep(s) for s in range(len(house.spots))]
    random = np.random.default_rng(seed + 500_000_000)
    if random.random() >= CONTRADICTION_SHARE:
        return rows, ""
    kind = str(random.choice(list(MISTAKES)))
    spot = int(random.integers(len(rows)))
    return rows, kind if MISTAKES[kind](house, spot, rows[spot]) else ""
