"""How a home is supplied: the names of the kinds of supply, in the set-up and on the command line."""

from __future__ import annotations

from typing import Literal

from logger.translation import marked

Supply = Literal["split phase", "single phase", "three-phase"]
"""As the set-up of a visit keeps it."""

SupplyKey = Literal["split", "single", "three"]
"""As the command line, the solver and the simulated house name it."""

SUPPLY_KEYS: dict[Supply, SupplyKey] = {
    "split phase": "split",
    "single phase": "single",
    "three-phase": "three",
}

SUPPLY_WORDS: dict[Supply, str] = {
    "split phase": marked("two legs against each other, such as 120/240 V"),
    "single phase": marked("one leg"),
    "three-phase": marked("three legs, such as 230/400 V"),
}
"""What each kind means, for the user; translated where it is shown."""
