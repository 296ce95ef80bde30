"""The set-up of a visit: meter, reference and body connection."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

from logger.metrology.check_validity import Lapse, lapse_of
from logger.metrology.context import Context
from logger.metrology.setup import UNKNOWN_METER, MeterFacts, Setup
from logger.visit.records.fact_names import SETUP
from logger.visit.storage.fact_store import FactStore
from logger.visit.storage.recorder_status import RecorderStatus

OF_A_READING = (
    "reference", "soil", "moisture", "panel_distance_m", "wire_length_m", "on_battery", "link_isolated",
)  # fmt: skip
NOT_OF_A_ROD = ("reference", "on_battery", "link_isolated")
"""Answers on what a reading is taken against, and those that are not of a rod. One that nobody had given yet is the one
that was given first."""


@dataclass(frozen=True, slots=True)
class StatedSetup:
    """A set-up as it was stated once: the id of its fact, and when, UTC ns."""

    fact_id: int
    utc_ns: int
    setup: Setup


def setup_held(stated: Sequence[StatedSetup], utc_ns: int, fact_id: int | None) -> Setup:
    """The set-up that held for a step of a check, with the first answer to what nobody had answered by then.

    Args:
        stated: every set-up of the visit, oldest first.
        utc_ns: when the step was taken, UTC ns.
        fact_id: of the fact that keeps the step; None in logs of older versions, where the time tells.
    """
    before = [s for s in stated if (s.utc_ns <= utc_ns if fact_id is None else s.fact_id < fact_id)]
    held = before[-1].setup if before else Setup()
    return replace(held, **_first_answers(held, [s.setup for s in stated[len(before) :]]))


class SetupStore:
    """The set-up, kept as one fact.

    Args:
        facts: where it is kept.
        recorder: tells at which moment of a run it changed.
    """

    def __init__(self, facts: FactStore, recorder: RecorderStatus) -> None:
        self._facts = facts
        self._recorder = recorder

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

    def stated(self) -> list[StatedSetup]:
        """Every set-up that was stated, oldest first."""
        entries = self._facts.entries_of(SETUP)
        return [StatedSetup(id_, utc_ns, Setup.from_json(value)) for id_, utc_ns, value in entries]

    def with_first_answers(self, contexts: list[tuple[int, Context | None]]) -> list[Context | None]:
        """The contexts of readings, with the first answer to what nobody had answered when they were taken.

        What was answered by then stays as it was, whatever was answered since.

        Args:
            contexts: each with the UTC ns of its reading.
        """
        stated = [(utc_ns, Setup.from_json(value)) for utc_ns, value in self._facts.values_of(SETUP)]
        return [
            None if context is None else _with_first_answers(context, [s for ns, s in stated if ns > utc_ns])
            for utc_ns, context in contexts
        ]

    def meter_stated_utc_ns(self, meter: MeterFacts) -> int:
        """When a meter was stated last, UTC ns; that it was kept while something else changed is no statement."""
        stated = [(utc_ns, Setup.from_json(value).meter) for utc_ns, value in self._facts.values_of(SETUP)]
        before = [UNKNOWN_METER, *(other for _, other in stated)]
        begun = [utc_ns for (utc_ns, new), old in zip(stated, before, strict=False) if new == meter != old]
        return begun[-1] if begun else 0

    def set(self, setup: Setup) -> None:
        """Set the set-up; readings that were taken before keep the one that held then.

        Of a value that settled before another reference or meter input was stated, or another state of the laptop, only
        what came since is of those.
        """
        before = self.current()
        lapse = lapse_of(before, setup, unstated_holds=True)
        # The first answer is of what held before too.
        is_answer = lapse is Lapse.REFERENCE and before.reference is None
        changed = (lapse is not None and not is_answer) or any(
            getattr(before, name) not in (None, "", getattr(setup, name)) for name in NOT_OF_A_ROD
        )
        live = self._recorder.live()
        self._facts.set(SETUP, setup.to_json())
        if changed and live is not None and not live.ended:
            self._facts.setup_changed(live)


def _with_first_answers(context: Context, later: list[Setup]) -> Context:
    """A context with the first of the later answers to each question that was open.

    Args:
        context: of a reading.
        later: what was stated after it, oldest first.
    """
    answers = _first_answers(context.setup, later)
    if not answers:
        return context
    return replace(context, setup=replace(context.setup, **answers), answered_later=frozenset(answers))


def _first_answers(setup: Setup, later: Sequence[Setup]) -> dict[str, Any]:
    """The first of the later answers to each question that was open, by the name of its field.

    Args:
        setup: that held.
        later: what was stated after it, oldest first.
    """
    unstated, answers = Setup(), dict[str, Any]()
    for name in OF_A_READING:
        nothing = getattr(unstated, name)
        given = [value for other in later if (value := getattr(other, name)) != nothing]
        if given and getattr(setup, name) == nothing:
            answers[name] = given[0]
    # Soil and wire are of a rod: entered with one that was put in later, they are not of what was there before.
    if (setup.reference or answers.get("reference")) == "building earth":
        answers = {name: value for name, value in answers.items() if name in NOT_OF_A_ROD}
    return answers
