"""What a remedy is to the numbers: what it takes away, with what effort, and whether its effect is known.

In: nothing. Out: `Remedy`, the efforts and their weights, and the reasons for which there is no prediction.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class Effort(StrEnum):
    """How much a remedy asks of the household."""

    NONE = "none"
    """Done in passing, and undone as easily: switch a breaker off, unplug a cord."""
    SMALL = "small"
    """Somebody in the home buys or moves something, once."""
    ELECTRICIAN = "electrician"
    """A licensed electrician has to come."""


EFFORT_WEIGHTS: Mapping[Effort, int] = {Effort.NONE: 1, Effort.SMALL: 2, Effort.ELECTRICIAN: 11}
"""What the remedies of a set add up to. No source, ours. Even what costs nothing counts, since each thing to think of
each night is a burden; to buy or move something once weighs as much as two of those. An electrician costs money and
waiting, and is asked for only where five small things, or ten in passing, would not do: eleven, not ten, since of equal
effort the fewer are chosen. Whole numbers, so that least effort can be proven."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """One thing that can be done.

    Args:
        name: of the remedy, each its own.
        takes: names of the circuits and cords that it takes away, or weakens.
        effort: what it asks of the household.
        is_known: it takes away all that these give (breaker off, unplugged, both poles switched, disconnected). Else
            (moved, shielded, earthed) some share between all and nothing of it remains, and nobody knows which.
    """

    name: str
    takes: frozenset[str]
    effort: Effort
    is_known: bool = True


class Refusal(StrEnum):
    """Why there is no prediction, or why a remedy is part of no set."""

    CONTRADICTORY = "contradictory"
    """Readings at the spot contradict each other."""
    NO_BACKGROUND = "background not read"
    """Nobody read everything off at the spot: each contribution is the change from it; no model stands in for it."""
    SUPPLY = "another supply fits better"
    """The readings fit another supply clearly better than the one that was entered: directions of legs are in doubt."""
    NOT_READ = "not read"
    """What is taken away was never switched or unplugged between the readings at a spot."""
    NO_BOUND = "no bound"
    """The readings at a spot set no bound to what some of it gives, or to what stays live."""
    NOT_FITTING = "does not fit"
    """What was read since remedies were done does not fit what the sweep says of them."""
    ESSENTIAL = "essential"
    """It would take away what must stay on."""
    NOT_SWEPT = "not swept"
    """What it takes away is no part of the sweep."""
    UNKNOWN_EFFECT = "unknown effect"
    """How much it takes away is not known before it is done, so that no set can rely on it."""
    NOTHING = "gives nothing"
    """What it takes away gives next to nothing at every spot."""
