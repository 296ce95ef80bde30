"""The rule of the trade, for comparison: switch off each circuit with which alone on more than the target is read."""

from __future__ import annotations

from collections.abc import Collection

from logger.metrology.target import TARGET_VOLTS
from logger.sweep.solver.readings import Sweep


def plain_rule(
    sweep: Sweep,
    keep: frozenset[str] = frozenset(),
    target_volts: float = TARGET_VOLTS,
    cords: Collection[str] = (),
) -> tuple[str, ...]:
    """Name every circuit with which alone on more than the target is read (common practice, no source).

    The background is in that value, so it is not what the circuit gives. The rule knows nothing of legs: two circuits
    that cancelled each other are both found, and one that must stay on and that another one cancelled is left bare.

    Args:
        sweep: readings at one spot in one posture.
        keep: circuits that must stay on.
        target_volts: above this a circuit is switched off.
        cords: which of the sweep's names are cords; the rule knows circuits only.
    """
    # The reading with the most cords plugged in comes last and wins.
    by_cords = sorted(sweep.readings, key=lambda r: len(r.on))
    alone = {next(iter(on)): r.volts for r in by_cords if len(on := r.on - frozenset(cords)) == 1}
    return tuple(n for n in sweep.circuits if alone.get(n, 0.0) > target_volts and n not in keep)
