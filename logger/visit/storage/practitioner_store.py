"""Who measured, as the report of the visit names it."""

from __future__ import annotations

from logger.visit.records.fact_names import PRACTITIONER
from logger.visit.records.practitioner import Practitioner, check_logo
from logger.visit.storage.fact_store import FactStore


class PractitionerStore:
    """Who measured, kept as one fact."""

    def __init__(self, facts: FactStore) -> None:
        self._facts = facts

    def current(self) -> Practitioner:
        """As stated last."""
        return Practitioner.from_json(self._facts.get(PRACTITIONER))

    def set(self, practitioner: Practitioner) -> None:
        """State who measured; what was stated before stays in the log.

        Raises:
            StillvoltError: the logo is none.
        """
        if practitioner.logo:
            check_logo(practitioner.logo)
        self._facts.set(PRACTITIONER, practitioner.to_json())
