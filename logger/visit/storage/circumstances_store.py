"""The circumstances of a visit, as its report names them."""

from __future__ import annotations

from logger.visit.records.circumstances import Circumstances
from logger.visit.records.fact_names import CIRCUMSTANCES
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
        """Those that held at a moment; before the first ones were stated, those.

        Args:
            utc_ns: the moment, UTC ns.
        """
        stated = self.history()
        before = [value for stated_ns, value in stated if stated_ns <= utc_ns]
        return before[-1] if before else stated[0][1] if stated else Circumstances()

    def set(self, circumstances: Circumstances) -> None:
        """State the circumstances; what was stated before stays in the log.

        Raises:
            StillvoltError: a text or a length cannot be kept; nothing is stated.
        """
        circumstances = circumstances.kept()
        if circumstances != self.current():
            self._facts.set(CIRCUMSTANCES, circumstances.to_json())
