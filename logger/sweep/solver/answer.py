"""The answer to a breaker sweep: what gives how much, what to switch off tonight, and what to read next.

In: the readings at one spot, or at several (two sides of a bed, another bedroom on the same circuits), the supply, the
circuits that must stay on, the target. Out: an `SweepAnswer`, or a `MultiSpotAnswer` for several spots.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import permutations
from math import isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

from logger.errors import StillvoltError
from logger.sweep.solver.decision import Decision, decide
from logger.sweep.solver.posterior import NO_CORDS, Posterior, Supply, infer
from logger.sweep.solver.readings import Sweep

TARGET_VOLTS = 0.1
"""Common practice, no source."""

LEG_VOLTS = 0.02
"""Of a circuit that gives less than this no leg is stated: posture alone changes what it seems to be."""


@dataclass(frozen=True, slots=True)
class CircuitEffect:
    """What a circuit (with the cords on it) or a cord gives: V with standard uncertainty, and its leg (L1, L2, L3),
    None where that is open.
    """

    name: str
    volts: float
    u_volts: float
    leg: str | None


@dataclass(frozen=True, slots=True)
class SpotAnswer:
    """What the readings at one spot say, and what is predicted there."""

    spot: str
    circuits: tuple[CircuitEffect, ...]
    background_volts: float
    predicted_volts: float
    """With what is to be switched off tonight."""
    u_predicted_volts: float
    predicted_robust_volts: float
    predicted_plain_volts: float
    """With what the plain rule says for all spots switched off instead."""


@dataclass(frozen=True, slots=True)
class MultiSpotAnswer:
    """One smallest set for all spots."""

    spots: tuple[SpotAnswer, ...]
    off_tonight: tuple[str, ...]
    unplug_tonight: tuple[str, ...]
    """Cords; only where breakers alone do not reach the target."""
    meets_target: bool
    relies_on_cancellation: bool
    off_robust: tuple[str, ...]
    unplug_robust: tuple[str, ...]
    unplug_instead: tuple[tuple[str, tuple[str, ...]], ...]
    """A circuit of `off_tonight`, and the cords on it that may be unplugged instead of switching it off."""
    ambiguous: bool
    next_readings: tuple[tuple[str, tuple[str, ...]], ...]
    """Spot and what should be live there."""


@dataclass(frozen=True, slots=True)
class SweepAnswer:
    """The answer to a sweep; `as_json` gives the fields that `stillvolt sources --json` prints."""

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
    unplug_tonight: tuple[str, ...] | None = None
    """Cords to be unplugged as well; None where no cord was given."""
    unplug_robust: tuple[str, ...] | None = None
    unplug_instead: tuple[tuple[str, tuple[str, ...]], ...] | None = None
    """A circuit of `off_tonight`, and the cords on it that may be unplugged instead of switching it off."""

    def as_json(self) -> dict[str, Any]:
        """The fields by name; those about cords only where cords were given."""
        return {name: value for name, value in asdict(self).items() if value is not None}


def answer(
    sweep: Sweep,
    supply: Supply = "split",
    keep: frozenset[str] = frozenset(),
    target_volts: float = TARGET_VOLTS,
    cords: Mapping[str, str] = NO_CORDS,
) -> SweepAnswer:
    """What the readings say: what gives how much, what to switch off, and what to read next.

    Args:
        sweep: readings at one spot in one posture.
        supply: of the home.
        keep: circuits that must stay on, cords that must stay plugged in.
        target_volts: what the value shall not exceed.
        cords: which of the sweep's names are cords, and the circuit that each is plugged into; empty where that is not
            known. In a reading a cord is among what was live when it was plugged in.

    Raises:
        StillvoltError: a name that is not on the panel must stay on or has a cord, or the target is no voltage.
    """
    found = answer_together([("", sweep)], supply, keep, target_volts, cords)
    (here,) = found.spots
    return SweepAnswer(
        here.circuits,
        here.background_volts,
        found.off_tonight,
        here.predicted_volts,
        here.u_predicted_volts,
        found.relies_on_cancellation,
        found.off_robust,
        here.predicted_robust_volts,
        found.ambiguous,
        tuple(live for _, live in found.next_readings),
        found.unplug_tonight if cords else None,
        found.unplug_robust if cords else None,
        found.unplug_instead if cords else None,
    )


def answer_together(
    sweeps: Sequence[tuple[str, Sweep]],
    supply: Supply = "split",
    keep: frozenset[str] = frozenset(),
    target_volts: float = TARGET_VOLTS,
    cords: Mapping[str, str] = NO_CORDS,
) -> MultiSpotAnswer:
    """One smallest set for which every spot stays at or under the target; see `answer`.

    Args:
        sweeps: each spot's name and readings. A circuit that one of them does not name is one that was not read there.
        supply: of the home.
        keep: circuits that must stay on, cords that must stay plugged in.
        target_volts: what the value shall not exceed at any of the spots.
        cords: as in `answer`.
    """
    if not sweeps:
        raise StillvoltError("No spot was read.", next_step="Begin at one spot with everything off.")
    names = tuple(dict.fromkeys(name for _, sweep in sweeps for name in sweep.circuits))
    _check(names, keep, target_volts, cords)
    read = [Sweep(names, sweep.readings) for _, sweep in sweeps]
    is_cord = np.array([name in cords for name in names], bool)
    spot_posteriors = [(infer(sweep, supply, cords), sweep) for sweep in read]
    decision = decide(spot_posteriors, keep, target_volts, is_cord)
    chosen, robust = decision.chosen, decision.robust_off
    legs = _agreed([_legs(posterior, is_cord) for posterior in decision.problem.posteriors])
    plain_names = {name for sweep in read for name in plain_rule(sweep, keep, target_volts, cords)}
    plain = np.array([name in plain_names for name in names], bool)
    return MultiSpotAnswer(
        tuple(_spot_answer(decision, s, spot, legs[s], plain) for s, (spot, _) in enumerate(sweeps)),
        _named(names, chosen.off & ~is_cord),
        _named(names, chosen.off & is_cord),
        chosen.meets_target,
        decision.relies_on_cancellation,
        _named(names, robust & ~is_cord),
        _named(names, robust & is_cord),
        tuple(
            (names[circuit], tuple(names[cord] for cord in instead)) for circuit, instead in decision.instead
        ),
        bool(decision.wanted),
        tuple((sweeps[s][0], _named(names, live)) for s, live in decision.wanted),
    )


def _spot_answer(
    decision: Decision, s: int, spot: str, legs: Sequence[str | None], plain: NDArray[np.bool_]
) -> SpotAnswer:
    """The answer at one spot.

    Args:
        decision: for all spots.
        s: index of the spot.
        spot: its name.
        legs: of each circuit and cord there.
        plain: what the plain rule switches off, shape (n,).
    """
    problem = decision.problem
    posterior = problem.posteriors[s]
    predicted, u_predicted = decision.predictions[s]
    effects = zip(problem.names, problem.sizes[s], problem.u_sizes[s], legs, strict=True)
    return SpotAnswer(
        spot,
        tuple(CircuitEffect(name, float(volts), float(u), leg) for name, volts, u, leg in effects),
        float(np.abs(posterior.background) @ posterior.weights),
        predicted,
        u_predicted,
        float(posterior.predict(~decision.robust_off[None, :])[0] @ posterior.weights),
        float(posterior.predict(~plain[None, :])[0] @ posterior.weights),
    )


def _check(
    names: tuple[str, ...], keep: frozenset[str], target_volts: float, cords: Mapping[str, str]
) -> None:
    if not names:
        raise StillvoltError("No circuit is named.", next_step="List the circuits of the panel.")
    unknown = sorted(keep - set(names))
    if unknown:
        raise StillvoltError(f"{unknown[0]!r} must stay on, but is not among the circuits of the sweep.")
    for cord, circuit in cords.items():
        if cord not in names:
            raise StillvoltError(f"The cord {cord!r} is not among the names of the sweep.")
        if circuit and (circuit not in names or circuit in cords):
            raise StillvoltError(f"{circuit!r}, which {cord!r} is plugged into, is not among the circuits.")
    if not (isfinite(target_volts) and target_volts > 0.0):
        raise StillvoltError(f"A target is a voltage above zero, not {target_volts}.")


def plain_rule(
    sweep: Sweep,
    keep: frozenset[str] = frozenset(),
    target_volts: float = TARGET_VOLTS,
    cords: Collection[str] = (),
) -> tuple[str, ...]:
    """The rule of the trade, for comparison: every circuit that alone gives more than the target (common practice, no
    source). It knows nothing of legs: two circuits that cancelled each other are both found, and one that another one
    cancelled and that must stay on is left bare.
    """
    # With its cords plugged in, as far as they were: the rule knows circuits only.
    by_cords = sorted(sweep.readings, key=lambda r: len(r.on))
    alone = {next(iter(on)): r.volts for r in by_cords if len(on := r.on - frozenset(cords)) == 1}
    return tuple(n for n in sweep.circuits if alone.get(n, 0.0) > target_volts and n not in keep)


def _named(names: tuple[str, ...], which: NDArray[np.bool_]) -> tuple[str, ...]:
    return tuple(name for name, chosen in zip(names, which, strict=True) if chosen)


def _legs(belief: Posterior, is_cord: NDArray[np.bool_]) -> list[int | None]:
    """The leg of each circuit where all assignments that the readings leave plausible agree.

    0 is the leg of the largest circuit, 1 that of the first on the panel on another leg, since a house and its mirror
    image cannot be told apart. A cord is on its circuit's leg.
    """
    size = belief.sizes()
    order = [int(np.argmax(np.where(is_cord, 0.0, size))), *range(len(size))]
    renamed = np.full_like(belief.legs, -1)
    for h, legs in enumerate(belief.legs):
        names: dict[int, int] = {}
        for circuit in order:
            leg = int(legs[circuit])
            if leg >= 0:
                renamed[h, circuit] = names.setdefault(leg, len(names))
    out: list[int | None] = []
    for circuit in range(len(belief.circuits)):
        leg = int(renamed[0, belief.circuit_of.get(circuit, circuit)])
        agreed = leg >= 0 and bool((renamed[:, belief.circuit_of.get(circuit, circuit)] == leg).all())
        out.append(leg if agreed and size[circuit] > LEG_VOLTS else None)
    return out


def _agreed(spots: list[list[int | None]]) -> list[list[str | None]]:
    """Legs as they are called, the same at all spots; open where two spots contradict each other."""
    known = dict(enumerate(spots[0]))
    legs = [list(spots[0])]
    for spot in spots[1:]:
        both = [(k, leg) for k, leg in enumerate(spot) if leg is not None and known.get(k) is not None]
        called = max(permutations(range(3)), key=lambda p: sum(known[k] == p[leg] for k, leg in both))
        legs.append([None if leg is None else called[leg] for leg in spot])
        for k, leg in enumerate(legs[-1]):
            if known[k] is None:
                known[k] = leg
    open_ones = {k for k in known if len({spot[k] for spot in legs if spot[k] is not None}) > 1}
    return [
        [None if leg is None or k in open_ones else f"L{leg + 1}" for k, leg in enumerate(s)] for s in legs
    ]


CAUTIONS = (
    "Circuits that feed medical devices, alarms, pumps, refrigerators, or internet and telephone for emergency calls "
    "stay on unless you decide otherwise.",
    "The inside of the panel is for a licensed electrician; local codes come first.",
)


def in_words(found: SweepAnswer, sweep: Sweep, keep: frozenset[str], target_volts: float) -> str:
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
    if found.unplug_tonight:
        lines.append(f"And unplug: {', '.join(found.unplug_tonight)}.")
    for breaker, cords in found.unplug_instead or ():
        lines.append(f"Instead of switching {breaker} off you may unplug {', '.join(cords)}.")
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
