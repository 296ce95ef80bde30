"""What the legs of the circuits are called (A, B, C), where the readings pin them down.

Not L1 to L3: these are marked at the panel, and the readings do not tell which is which.
"""

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
    """Give the legs the same names (A, B, C) at all spots; None where it is open or two spots contradict each other.

    A circuit is on one leg at every spot: where one leaves it open, another tells it, if both agree on two legs.

    Args:
        spots: at each spot the leg of each circuit, as `legs_by_agreement` numbers it there.
    """
    known = dict(enumerate(spots[0]))
    legs, tied = [list(spots[0])], [True]
    for spot in spots[1:]:
        both = [(k, leg) for k, leg in enumerate(spot) if leg is not None and known.get(k) is not None]
        renaming = max(permutations(range(3)), key=lambda p: sum(known[k] == p[leg] for k, leg in both))
        legs.append([None if leg is None else renaming[leg] for leg in spot])
        # Two legs of three that agree fix the third; by one alone the two others may be called either way.
        tied.append(len({known[k] for k, leg in both if known[k] == renaming[leg]}) > 1)
        for k, leg in enumerate(legs[-1]):
            if known[k] is None:
                known[k] = leg
    contradicted = {k for k in known if len({spot[k] for spot in legs if spot[k] is not None}) > 1}
    elsewhere = [
        next(
            (spot[k] for spot, is_tied in zip(legs, tied, strict=True) if is_tied and spot[k] is not None),
            None,
        )
        for k in range(len(legs[0]))
    ]
    return [
        [
            None if k in contradicted else _name(elsewhere[k] if leg is None and is_tied else leg)
            for k, leg in enumerate(spot)
        ]
        for spot, is_tied in zip(legs, tied, strict=True)
    ]


def _name(leg: int | None) -> str | None:
    return None if leg is None else "ABC"[leg]
