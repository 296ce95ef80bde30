"""Circuits that may stay on if the cords on them are unplugged instead."""

from __future__ import annotations

import numpy as np

from logger.sweep.solver.smallest_set import CERTAIN_SHARE, SwitchOffSet
from logger.sweep.solver.switching_problem import SwitchingProblem


def cord_alternatives(problem: SwitchingProblem, chosen: SwitchOffSet) -> list[tuple[int, list[int]]]:
    """For each circuit of the chosen set that may stay on: its index, and those of the cords to unplug instead.

    One circuit is exchanged at a time; the others of the set stay off.
    """
    found = []
    for circuit in np.flatnonzero(chosen.off & ~problem.is_cord):
        on_it = [k for k, owner in problem.circuit_of.items() if owner == circuit and not problem.keep[k]]
        known = [k for k in on_it if not problem.posteriors[0].unread[k]]
        if not known:
            continue
        off = chosen.off.copy()
        off[circuit] = False
        off[known] = True
        values = np.array([posterior.predict(~off[None, :])[0] for posterior in problem.posteriors])
        means_meet = (values @ problem.weights <= problem.target_volts).all()
        if means_meet and problem.certainty(values.max(axis=0)) >= CERTAIN_SHARE:
            found.append((int(circuit), known))
    return found
