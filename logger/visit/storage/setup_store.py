"""The set-up of a visit: meter, reference and body connection."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

from logger.metrology.setup import UNKNOWN_METER, MeterFacts, Setup
from logger.visit.records.fact_names import SETUP
from logger.visit.storage.fact_store import FactStore


class SetupStore:
    """The set-up, kept as one fact."""

    def __init__(self, facts: FactStore) -> None:
        self._facts = facts

    def current(self) -> Setup:
        """The newest set-up."""
        return Setup.from_json(self._facts.get(SETUP))

    def at(self, utc_ns: int) -> Setup:
        """The set-up that held at a moment; of one before anything was stated, the first answer to each question.

        It is stated answer by answer, so that what was stated first is no set-up by itself.

        Args:
            utc_ns: the moment, UTC ns.
        """
        stated = self._facts.values_of(SETUP)
        before = [value for stated_ns, value in stated if stated_ns <= utc_ns]
        if before:
            return Setup.from_json(before[-1])
        unstated, answers = Setup(), dict[str, Any]()
        for setup in (Setup.from_json(value) for _, value in stated):
            stated_now = {f.name: getattr(setup, f.name) for f in fields(Setup)}
            changed = {name: value for name, value in stated_now.items() if value != getattr(unstated, name)}
            answers = changed | answers
        return replace(unstated, **answers)

    def meter_stated_utc_ns(self, meter: MeterFacts) -> int:
        """When a meter was stated last, UTC ns; that it was kept while something else changed is no statement."""
        stated = [(utc_ns, Setup.from_json(value).meter) for utc_ns, value in self._facts.values_of(SETUP)]
        before = [UNKNOWN_METER, *(other for _, other in stated)]
        begun = [utc_ns for (utc_ns, new), old in zip(stated, before, strict=False) if new == meter != old]
        return begun[-1] if begun else 0

    def set(self, setup: Setup) -> None:
        """Set the set-up; readings that were taken before keep the one that held then."""
        self._facts.set(SETUP, setup.to_json())
