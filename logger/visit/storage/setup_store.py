"""The set-up of a visit: meter, reference and body connection."""

from __future__ import annotations

from logger.metrology.setup import Setup
from logger.visit.records.fact_names import SETUP
from logger.visit.storage.fact_store import FactStore


class SetupStore:
    """The set-up, kept as one fact."""

    def __init__(self, facts: FactStore) -> None:
        self._facts = facts

    def current(self) -> Setup:
        """The newest set-up."""
        return Setup.from_json(self._facts.get(SETUP))

    def set(self, setup: Setup) -> None:
        """Set the set-up; readings that were taken before keep the one that held then."""
        self._facts.set(SETUP, setup.to_json())
