"""What the legs of the circuits are called (L1, L2, L3), where the readings pin them down."""

from __future__ import annotations

from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from logger.sweep.solver.posterior import Posterior

MIN_LEG_VOLTS = 0.02
"""Of a circuit that gives less than this no leg is stated: a fifth of the usual target matters to nobody. No source."""


def legs_by_agreement(posterior: Posterior, is_cord: NDArray[np.bool_]) -> list[int | None]:
    """The leg of each circuit where all assignments that the readings leave plausible agree; None where it is open.

    0 is the leg of the largest circuit, 1 that of the first on the panel on another leg, since a house and its mirror
    image read the same. A cord is on its circuit's leg.

    Args:
        posterior: possible houses at one spot.
        is_cord: which ones are cords, shape (n,).
    """
    size = posterior.sizes()
    order = [int(np.argmax(np.where(is_cord, 0.0, size))), *range(len(size))]
    renamed = np.full_like(posterior.legs, -1)
    for h, legs in enumerate(posterior.legs):
        names: dict[int, int] = {}
        for circuit in order:
            leg = int(legs[circuit])
            if leg >= 0:
                renamed[h, circuit] = names.setdefault(leg, len(names))
    out: list[int | None] = []
    for circuit in range(len(posterior.circuits)):
        leg = int(renamed[0, posterior.circuit_of.get(circuit, circuit)])
        agreed = leg >= 0 and bool((renamed[:, posterior.circuit_of.get(circuit, circuit)] == leg).all())
        out.append(leg if agreed and size[circuit] > MIN_LEG_VOLTS else None)
    return out


def agreed_leg_names(spots: list[list[int | None]]) -> list[list[str | None]]:
    """Give the legs the same names (L1, L2, L3) at all spots; None where it is open or two spots contradict each other.

    Args:
        spots: at each spot the leg of each circuit, as `legs_by_agreement` numbers it there.
    """
    known = dict(enumerate(spots[0]))
    legs = [list(spots[0])]
    for spot in spots[1:]:
        both = [(k, leg) for k, leg in enumerate(spot) if leg is not None and known.get(k) is not None]
        renaming = max(permutations(range(3)), key=lambda p: sum(known[k] == p[leg] for k, leg in both))
        legs.append([None if leg is None else renaming[leg] for leg in spot])
        for k, leg in enumerate(legs[-1]):
            if known[k] is None:
                known[k] = leg
    contradicted = {k for k in known if len({spot[k] for spot in legs if spot[k] is not None}) > 1}
    return [
        [None if leg is None or k in contradicted else f"L{leg + 1}" for k, leg in enumerate(s)] for s in legs
    ]
