"""What to switch off tonight, how sure that is, and which reading would settle what is open.

In: a `Belief`, the target, the circuits that must stay on. Out: an `Answer`. The sets are exact: for each possible
house that matters the smallest set is found by looking at every subset of the circuits that give anything.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from logger.errors import StillvoltError
from logger.sources.model import Belief, Supply, believe
from logger.sources.readings import Sweep

TARGET_VOLTS = 0.1
"""Common practice, no source."""

TOLERANCE_VOLTS = 0.03
"""An answer is pinned down when the value surely stays within this above the target."""

TOLERANCE_SHARE = 0.05
"""And when its prediction is within this share of it, or the tolerance."""

NEAR_VOLTS = 0.005
"""Where no set meets the target, one more circuit has to lower the value by more than this to be worth it."""

SURE = 0.97
PREDICTED_SURE = 0.95
NOTHING_VOLTS = 0.004
"""What a circuit gives at most for it not to be a candidate for switching off."""

MOST_CANDIDATES = 12
"""Every subset of so many circuits is looked at (4,096); beyond, the smallest ones stay on."""

MOST_HOUSES = 240
LEAST_GAIN = 0.02
"""A reading that is expected to tell less than this (in nats) of what to switch off is not worth taking."""


@dataclass(frozen=True, slots=True)
class CircuitEffect:
    """What a circuit gives: V with standard uncertainty, and its leg (L1, L2, L3), None where that is open."""

    name: str
    volts: float
    u_volts: float
    leg: str | None


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to a sweep; the fields are those that `stillvolt sources --json` prints."""

    circuits: tuple[CircuitEffect, ...]
    background_volts: float
    off_tonight: tuple[str, ...]
    predicted_volts: float
    u_predicted_volts: float
    relies_on_cancellation: bool
    off_robust: tuple[str, ...]
    predicted_robust_volts: float
    ambiguous: bool
    next_readings: tuple[tuple[str, ...], ...]


def answer(
    sweep: Sweep,
    supply: Supply = "split",
    keep: frozenset[str] = frozenset(),
    target_volts: float = TARGET_VOLTS,
) -> Answer:
    """What the readings say: what gives how much, what to switch off, and what to read next.

    Args:
        sweep: readings at one spot in one posture.
        supply: of the home.
        keep: circuits that must stay on.
        target_volts: what the value shall not exceed.

    Raises:
        StillvoltError: a name that is not on the panel must stay on, or the target is no voltage.
    """
    unknown = sorted(keep - set(sweep.circuits))
    if unknown:
        raise StillvoltError(f"{unknown[0]!r} must stay on, but is not among the circuits of the sweep.")
    if not (isfinite(target_volts) and target_volts > 0.0):
        raise StillvoltError(f"A target is a voltage above zero, not {target_volts}.")
    belief = _thinned(believe(sweep, supply))
    decision = _Decision(belief, keep, target_volts)
    off = decision.off
    live = decision.live_without(off)
    values = belief.predict(live[None, :])[0]
    predicted, u_predicted = _mean(values, belief.weights)
    magnitudes = np.abs(belief.contributions)
    rest = np.abs(belief.background) + magnitudes @ live
    robust = _robust(belief, keep, target_volts)
    robust_values = belief.predict(decision.live_without(robust)[None, :])[0]
    measured = {reading.on for reading in sweep.readings}
    gains = decision.gains(sweep, measured)
    ambiguous = decision.is_open and bool(gains)
    return Answer(
        circuits=tuple(
            CircuitEffect(name, *_mean(magnitudes[:, i], belief.weights), leg)
            for i, (name, leg) in enumerate(zip(belief.circuits, _legs(belief), strict=True))
        ),
        background_volts=_mean(np.abs(belief.background), belief.weights)[0],
        off_tonight=_named(belief, off),
        predicted_volts=predicted,
        u_predicted_volts=u_predicted,
        relies_on_cancellation=bool(
            predicted <= target_volts and float(rest @ belief.weights) > target_volts + NOTHING_VOLTS
        ),
        off_robust=_named(belief, robust),
        predicted_robust_volts=_mean(robust_values, belief.weights)[0],
        ambiguous=ambiguous,
        next_readings=tuple(_named(belief, live) for live in gains) if ambiguous else (),
    )


def plain_rule(
    sweep: Sweep, keep: frozenset[str] = frozenset(), target_volts: float = TARGET_VOLTS
) -> tuple[str, ...]:
    """The rule of the trade, for comparison: every circuit that alone gives more than the target (common practice, no
    source). It knows nothing of legs: two circuits that cancelled each other are both found, and one that another one
    cancelled and that must stay on is left bare."""
    alone = {next(iter(r.on)): r.volts for r in sweep.readings if len(r.on) == 1}
    return tuple(n for n in sweep.circuits if alone.get(n, 0.0) > target_volts and n not in keep)


def _named(belief: Belief, which: NDArray[np.bool_]) -> tuple[str, ...]:
    return tuple(name for name, chosen in zip(belief.circuits, which, strict=True) if chosen)


def _mean(values: NDArray[np.float64], weights: NDArray[np.float64]) -> tuple[float, float]:
    mean = float(values @ weights)
    return mean, float(((values - mean) ** 2) @ weights) ** 0.5


def _thinned(belief: Belief) -> Belief:
    """The houses that carry weight, so that what follows is quick."""
    order = np.argsort(-belief.weights)[:MOST_HOUSES]
    weights = belief.weights[order]
    return Belief(
        belief.circuits,
        belief.background[order],
        belief.contributions[order],
        weights / weights.sum(),
        belief.hypothesis[order],
        belief.legs,
    )


def _legs(belief: Belief) -> list[str | None]:
    """The leg of each circuit where all assignments that the readings leave plausible agree.

    L1 is the leg of the largest circuit; L2 that of the first on the panel on another leg, since a house and its mirror
    image cannot be told apart.
    """
    size = np.abs(belief.contributions).T @ belief.weights
    order = [int(np.argmax(size)), *range(len(size))]
    renamed = np.full_like(belief.legs, -1)
    for h, legs in enumerate(belief.legs):
        names: dict[int, int] = {}
        for circuit in order:
            leg = int(legs[circuit])
            if leg >= 0:
                renamed[h, circuit] = names.setdefault(leg, len(names))
    out: list[str | None] = []
    for circuit in range(len(belief.circuits)):
        leg = int(renamed[0, circuit])
        agreed = leg >= 0 and bool((renamed[:, circuit] == leg).all())
        out.append(f"L{leg + 1}" if agreed and size[circuit] > NOTHING_VOLTS else None)
    return out


def _robust(belief: Belief, keep: frozenset[str], target_volts: float) -> NDArray[np.bool_]:
    """The smallest set whose remaining magnitudes, added, meet the target: the largest ones first. Where even
    switching everything off does not, everything that gives anything."""
    sizes = np.abs(belief.contributions).T @ belief.weights
    rest = float(np.abs(belief.background) @ belief.weights) + float(sizes.sum())
    off = np.zeros(len(belief.circuits), bool)
    for circuit in np.argsort(-sizes):
        if rest <= target_volts or sizes[circuit] <= NOTHING_VOLTS:
            break
        if belief.circuits[circuit] not in keep:
            off[circuit] = True
            rest -= float(sizes[circuit])
    return off


CAUTIONS = (
    "Circuits that feed medical devices, alarms, pumps, refrigerators, or internet and telephone for emergency calls "
    "stay on unless you decide otherwise.",
    "The inside of the panel is for a licensed electrician; local codes come first.",
)


def in_words(found: Answer, sweep: Sweep, keep: frozenset[str], target_volts: float) -> str:
    """The answer for a reader: effects, tonight's list beside the plain rule, what to read next, cautions."""
    lines = [f"Background {found.background_volts:.2f} V"]
    for circuit in sorted(found.circuits, key=lambda c: -c.volts):
        leg = f", leg {circuit.leg}" if circuit.leg else ""
        stays = ", stays on" if circuit.name in keep else ""
        lines.append(f"  {circuit.name}: {circuit.volts:.3f} V ± {2 * circuit.u_volts:.3f} V{leg}{stays}")
    off = ", ".join(found.off_tonight) or "nothing"
    meets = "meets" if found.predicted_volts <= target_volts else "does not meet"
    lines.append(
        f"Tonight switch off: {off}. Predicted {found.predicted_volts:.3f} V ± {2 * found.u_predicted_volts:.3f} V, "
        f"which {meets} the target of {target_volts:g} V."
    )
    if found.relies_on_cancellation:
        lines.append(
            "This relies on live circuits that cancel each other, which another posture undoes. Without that: "
            f"{', '.join(found.off_robust) or 'nothing'} (predicted {found.predicted_robust_volts:.3f} V)."
        )
    plain = ", ".join(plain_rule(sweep, keep, target_volts)) or "nothing"
    lines.append(f"The plain rule (each that alone gives more than {target_volts:g} V) would say: {plain}.")
    if found.ambiguous:
        live = ", ".join(found.next_readings[0]) or "nothing"
        lines.append(f"The readings leave this open. Next, take one reading with only these live: {live}.")
    else:
        lines.append("Switch these off and take one reading: it is part of the answer.")
    return "\n".join([*lines, *CAUTIONS])


class _Decision:
    """Every subset of the candidates, in every possible house."""

    def __init__(self, belief: Belief, keep: frozenset[str], target_volts: float) -> None:
        self.belief = belief
        self.target_volts = target_volts
        sizes = np.abs(belief.contributions).T @ belief.weights
        order = np.argsort(-sizes)
        self.candidates = [
            int(c) for c in order if belief.circuits[c] not in keep and sizes[c] > NOTHING_VOLTS
        ][:MOST_CANDIDATES]
        self.large = [int(c) for c in order if sizes[c] > NOTHING_VOLTS][:MOST_CANDIDATES]
        count = len(self.candidates)
        bits = (np.arange(2**count)[:, None] >> np.arange(count)) & 1
        self.off_count = bits.sum(axis=1)
        self.live = np.ones((2**count, len(belief.circuits)), bool)
        self.live[:, self.candidates] = bits == 0
        self.mean, self.sure, self.best_of = self._look()
        self.chosen = self._choose()
        self.off = ~self.live[self.chosen]
        self.chosen_values = belief.predict(self.live[self.chosen][None, :])[0]

    def live_without(self, off: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Everything but these."""
        return ~off

    def _look(self) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
        """Of each subset the mean value and the weight of the houses in which it stays within the tolerance; of each
        house the subset that is best in it."""
        belief = self.belief
        mean = np.empty(len(self.live))
        sure = np.empty(len(self.live))
        houses = len(belief.weights)
        least = np.full(houses, np.inf)
        best_of = np.zeros(houses, np.int64)
        step = max(1, 2_000_000 // max(houses, 1))
        for at in range(0, len(self.live), step):
            values = belief.predict(self.live[at : at + step])
            mean[at : at + step] = values @ belief.weights
            sure[at : at + step] = (values <= self.target_volts + TOLERANCE_VOLTS) @ belief.weights
            # First the number switched off, where the target is met; then the value.
            cost = np.where(
                values <= self.target_volts,
                self.off_count[at : at + step, None] + values / 1e3,
                100.0 + values,
            )
            row = np.argmin(cost, axis=0)
            better = cost[row, np.arange(houses)] < least
            best_of[better] = row[better] + at
            least = np.minimum(least, cost[row, np.arange(houses)])
        return mean, sure, best_of

    def _choose(self) -> int:
        """The smallest subset that meets the target, surely if there is such a one; else the lowest."""
        met = self.mean <= self.target_volts
        for asked in (SURE, 0.8, 0.0):
            fit = np.flatnonzero(met & (self.sure >= asked))
            if len(fit):
                return int(fit[np.lexsort((self.mean[fit], self.off_count[fit]))[0]])
        lowest = self.mean.min()
        near = np.flatnonzero(self.mean <= lowest + NEAR_VOLTS)
        return int(near[np.lexsort((self.mean[near], self.off_count[near]))[0]])

    @property
    def is_open(self) -> bool:
        """Whether the readings leave open what to switch off, or what that gives: the chosen set may miss the target,
        a smaller or lower one may do, or its value is not known well enough."""
        weights, values = self.belief.weights, self.chosen_values
        predicted = float(self.mean[self.chosen])
        off_by = np.abs(values - predicted) > max(TOLERANCE_VOLTS, TOLERANCE_SHARE * predicted)
        if float(weights[off_by].sum()) > 1 - PREDICTED_SURE:
            return True
        met = predicted <= self.target_volts
        if met and self.sure[self.chosen] < SURE:
            return True
        best_count, best_values = self.off_count[self.best_of], self._best_values()
        if met:
            better = (best_count < self.off_count[self.chosen] - 1) & (best_values <= self.target_volts)
        else:
            better = (best_values <= self.target_volts) | (best_values < values - TOLERANCE_VOLTS)
        return float(weights[better].sum()) > 1 - SURE

    def _best_values(self) -> NDArray[np.float64]:
        """The value in each house of the subset that is best in it."""
        belief = self.belief
        totals = belief.background + (self.live[self.best_of] * belief.contributions).sum(axis=1)
        magnitudes: NDArray[np.float64] = np.abs(totals)
        return magnitudes

    def gains(self, sweep: Sweep, measured: set[frozenset[str]]) -> list[NDArray[np.bool_]]:
        """The combinations worth reading next, the one that is expected to tell most first."""
        belief = self.belief
        rows: list[NDArray[np.bool_]] = [self.live[self.chosen]]
        labels, counts = np.unique(self.best_of, return_inverse=True)
        label_weight = np.bincount(counts, belief.weights)
        rows += [self.live[labels[i]] for i in np.argsort(-label_weight)[:8]]
        for size in (2, 3):
            for group in combinations(self.large[:8], size):
                live = np.zeros(len(belief.circuits), bool)
                live[list(group)] = True
                rows.append(live)
        unique: list[NDArray[np.bool_]] = []
        seen: set[bytes] = set()
        for row in rows:
            if row.tobytes() not in seen and frozenset(_named(belief, row)) not in measured:
                seen.add(row.tobytes())
                unique.append(row)
        if not unique:
            return []
        u_volts = float(np.median([reading.u_volts for reading in sweep.readings]))
        values = belief.predict(np.array(unique))
        # What is to be learned: which set is best, and what the chosen one gives.
        width = max(TOLERANCE_VOLTS, TOLERANCE_SHARE * float(self.mean[self.chosen]))
        gives = np.floor(self.chosen_values / width).astype(np.int64)
        label = counts * (int(gives.max()) + 1) + gives
        gain = np.array([_information(row, label, belief.weights, u_volts) for row in values])
        order = [int(i) for i in np.argsort(-gain, kind="stable") if gain[i] > LEAST_GAIN]
        return [unique[i] for i in order[:3]]


def _information(
    values: NDArray[np.float64], label: NDArray[np.int64], weights: NDArray[np.float64], u_volts: float
) -> float:
    """How much a reading is expected to tell of the label, in nats: values are told apart from 3 u on."""
    bins = np.floor(values / (3 * u_volts)).astype(np.int64)
    _, bin_index = np.unique(bins, return_inverse=True)
    _, label_index = np.unique(label, return_inverse=True)
    joint = np.zeros((bin_index.max() + 1, label_index.max() + 1))
    np.add.at(joint, (bin_index, label_index), weights)
    return _entropy(joint.sum(axis=0)) + _entropy(joint.sum(axis=1)) - _entropy(joint.ravel())


def _entropy(weights: NDArray[np.float64]) -> float:
    some = weights[weights > 0]
    return float(-(some * np.log(some)).sum())
