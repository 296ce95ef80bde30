"""Whether the readings fit another supply clearly better than the one that was entered.

In: the fits of all swept spots with the supply that was entered. Out: the supplies that fit clearly better, and the
misfit with the supply that fits best.

A supply is weighed by its likelihood in its best assignment of legs, with the scatter of the readings as an unknown
(`Misfit.unlikelihood`). What it gains only because it has more assignments to choose from is taken off: each of them is
as likely as any other before a reading.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import log

from logger.metrology.supply import SupplyKey
from logger.sweep.solver.mistakes import misfit_of
from logger.sweep.solver.readings import Sweep
from logger.sweep.solver.sweep_fit import CLEARLY_BETTER, DIRECTIONS, Misfit, SweepFit, fit_sweep
from logger.translation import marked

RIVALS: Mapping[SupplyKey, tuple[SupplyKey, ...]] = {
    "single": ("split", "three"),
    "split": ("three",),
    "three": ("split",),
}
"""What else a home may have. One phase is a case of both others, and never fits better than they do."""

SUPPLY_TEXTS: Mapping[tuple[SupplyKey, frozenset[SupplyKey]], str] = {
    ("single", frozenset({"split"})): marked(
        "These readings fit a split-phase supply better than the single phase that was entered. Check the supply."
    ),
    ("single", frozenset({"three"})): marked(
        "These readings fit a three-phase supply better than the single phase that was entered. Check the supply."
    ),
    ("single", frozenset({"split", "three"})): marked(
        "These readings fit a split-phase or a three-phase supply better than the single phase that was entered. Check "
        "the supply."
    ),
    ("split", frozenset({"three"})): marked(
        "These readings fit a three-phase supply better than the split phase that this is worked out with. Check the "
        "supply."
    ),
    ("three", frozenset({"split"})): marked(
        "These readings fit a split-phase supply better than the three phases that were entered. Check the supply."
    ),
}
"""By the supply that was entered and those that fit clearly better; translated where it is shown. `stillvolt sources`
takes a split phase where none was entered."""


def supply_doubt(entered: SupplyKey, better: Iterable[SupplyKey]) -> str:
    """The sentence about a supply that is in doubt, in English; empty for none.

    Args:
        entered: the supply that was entered.
        better: those that the readings fit clearly better.
    """
    return SUPPLY_TEXTS.get((entered, frozenset(better)), "")


@dataclass(frozen=True, slots=True)
class SupplyCheck:
    """How well the supply that was entered bears out.

    Args:
        better: supplies that the readings of all spots together fit clearly better, and none of them clearly worse than
            another of them.
        misfits: of each spot, with the supply that fits best: the one that was entered, unless another is better.
    """

    better: frozenset[SupplyKey]
    misfits: tuple[Misfit, ...]


def check_supply(
    sweeps: Sequence[Sweep], fitted: Sequence[SweepFit], cords: Mapping[str, str]
) -> SupplyCheck:
    """Compare the supply that was entered with those that a home may have instead.

    Args:
        sweeps: readings at each spot.
        fitted: the model fitted to them with the supply that was entered.
        cords: which of the sweeps' names are cords, and the circuit of each; empty where that is not known.
    """
    entered = fitted[0].supply
    noted = tuple(misfit_of(sweep, found) for sweep, found in zip(sweeps, fitted, strict=True))
    # What has no reading to spare agrees with any supply.
    telling = [s for s, misfit in enumerate(noted) if misfit.degrees_of_freedom > 1.0]
    most = sum(_against(fitted[s], noted[s]) - replace(noted[s], chi2=0.0).unlikelihood for s in telling)
    if most <= CLEARLY_BETTER:
        return SupplyCheck(frozenset(), noted)
    gains: dict[SupplyKey, float] = {}
    misfits: dict[SupplyKey, tuple[Misfit, ...]] = {}
    for supply in RIVALS[entered]:
        rivals = [fit_sweep(sweep, supply, cords) for sweep in sweeps]
        misfits[supply] = tuple(misfit_of(sweep, found) for sweep, found in zip(sweeps, rivals, strict=True))
        gain = {s: _against(fitted[s], noted[s]) - _against(rivals[s], misfits[supply][s]) for s in telling}
        # With every circuit on one leg it is no evidence of a second one: what is next to nothing fits more freely.
        gains[supply] = sum(gain[s] if _has_two_legs(rivals[s]) else min(gain[s], 0.0) for s in telling)
    best = max(gains, key=lambda supply: gains[supply])
    if gains[best] <= CLEARLY_BETTER:
        return SupplyCheck(frozenset(), noted)
    least = max(CLEARLY_BETTER, gains[best] - CLEARLY_BETTER)
    return SupplyCheck(frozenset(supply for supply, gain in gains.items() if gain >= least), misfits[best])


def _has_two_legs(found: SweepFit) -> bool:
    """Whether the best assignment puts circuits on more than one leg."""
    start = found.starts[found.best]
    return len({*start.legs, *([start.hidden_leg] if start.hidden is not None else [])}) > 1


def _against(found: SweepFit, misfit: Misfit) -> float:
    """What speaks against a supply at a spot: minus twice the logarithm of its likelihood over all assignments of legs.

    Args:
        found: the model fitted with that supply.
        misfit: of its best assignment.
    """
    # To turn all legs at once changes nothing, so that the leg of one circuit is free.
    free = max(0, len(found.design.assigned) - 1)
    prior_chi2 = found.starts[found.best].prior_chi2
    return misfit.unlikelihood + prior_chi2 + 2 * free * log(len(DIRECTIONS[found.supply]))
