"""The circumstances of a visit, as its report names them."""

from __future__ import annotations

from logger.visit.records.circumstances import Circumstances
from logger.visit.records.fact_names import CIRCUMSTANCES
from logger.visit.records.held_fields import held_at
from logger.visit.storage.fact_store import FactStore


class CircumstancesStore:
    """The circumstances, kept as one fact."""

    def __init__(self, facts: FactStore) -> None:
        self._facts = facts

    def current(self) -> Circumstances:
        """As stated last."""
        return Circumstances.from_json(self._facts.get(CIRCUMSTANCES))

    def history(self) -> list[tuple[int, Circumstances]]:
        """All that was ever stated, oldest first, each with the UTC ns at which it was."""
        return [(utc_ns, Circumstances.from_json(v)) for utc_ns, v in self._facts.values_of(CIRCUMSTANCES)]

    def at(self, utc_ns: int) -> Circumstances:
        """Those that held at a moment; what nobody had stated by then is what was stated of it first.

        Args:
            utc_ns: the moment, UTC ns.
        """
        return held_at(self.history(), utc_ns, Circumstances())

    def set(self, circumstances: Circumstances) -> None:
        """State the circumstances; what was stated before stays in the log.

        Raises:
            StillvoltError: a text or a length cannot be kept; nothing is stated.
        """
        circumstances = circumstances.kept()
        if circumstances != self.current():
            self._facts.set(CIRCUMSTANCES, circumstances.to_json())
