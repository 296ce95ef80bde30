"""Readings of the sweep that may be mistaken: what speaks against one just taken, and those that contradict others."""

from __future__ import annotations

from gui.model.sweep_controller import SweepController
from gui.model.switching_evidence import RepeatedReading
from gui.model.visit_access import Message
from gui.model.wording import reading_volts_text
from logger.sweep.plan_text import contradiction_text, likely_causes
from logger.sweep.reading_doubts import LevelChange, reading_doubts
from logger.sweep.sweep_progress import Combination, live_at_reading, sweep_progress
from logger.sweep.switch_off_plan import SwitchOffPlan
from logger.translation import kept_text, tr
from logger.visit.records.home_records import Spot
from logger.visit.records.reading_records import Reading

READ_AGAIN = kept_text("read again")
"""Why the reading before another one of the same no longer counts."""

VOID_REASONS = (
    kept_text("wrong unit or decimal place"),
    kept_text("a breaker was not as stated"),
    kept_text("moved or touched something"),
)
"""Why a reading of a sweep is mistaken; another reason can be typed."""


class SweepReview:
    """What the user does with readings that may be mistaken.

    Args:
        sweep_controller: the sweep.
    """

    def __init__(self, sweep_controller: SweepController) -> None:
        self.sweep_controller = sweep_controller
        self._controller = sweep_controller.controller
        self._announced: tuple[int, ...] = ()
        """Ids of the suspects that were announced last."""

    def suspects(self, plan: SwitchOffPlan | None) -> list[Reading]:
        """The readings to take again, the spots in their order; none while all agree, or nothing is worked out."""
        return [reading for spot in plan.contradictions for reading in spot.suspects] if plan else []

    def contradictions_text(self, plan: SwitchOffPlan | None) -> str:
        """Which readings contradict each other, at each spot; empty while none do."""
        if plan is None:
            return ""
        return " ".join(
            contradiction_text(spot, lambda reading: f"{reading_volts_text(reading)} V")
            for spot in plan.contradictions
        )

    def causes(self) -> list[str]:
        """What may be behind readings that contradict each other, the likeliest first; none while all agree."""
        plan = self.sweep_controller.tonight()
        supply = self._controller.setup.stated.supply
        return likely_causes(plan, supply) if plan is not None else []

    @property
    def is_supply_asked(self) -> bool:
        """Whether the supply that was entered may be what makes readings contradict each other."""
        plan = self.sweep_controller.tonight()
        is_single = self._controller.setup.stated.supply == "single phase"
        return plan is not None and bool(plan.supply_doubt or (plan.contradictions and is_single))

    def new_contradiction(self) -> tuple[str, list[Reading]]:
        """What came to contradict since this was last called: the sentence and the suspects; empty for nothing new."""
        plan = self.sweep_controller.tonight()
        if plan is None:  # it is being worked out, or there is nothing to work it out from
            return "", []
        suspects = self.suspects(plan)
        ids = tuple(reading.id for reading in suspects)
        is_new, self._announced = bool(ids) and ids != self._announced, ids
        return (self.contradictions_text(plan), suspects) if is_new else ("", [])

    def doubts(self, reading: Reading, switched_utc_ns: int) -> list[str]:
        """What speaks against a reading that was just taken, in whole sentences.

        Args:
            reading: just taken in the sweep.
            switched_utc_ns: when everything was reported as switched, on the steady time line.
        """
        snapshot = self._controller.snapshot
        changes = [
            LevelChange(
                snapshot.run_started_utc_ns(known.found.run_id) + known.found.t_ns, known.change_volts
            )
            for known in snapshot.known_steps()
            if known.found.run_id == reading.run_id
        ]
        at_spot = sweep_progress(snapshot.readings, reading.spot_id, self.sweep_controller.sources)
        return reading_doubts(reading, at_spot, self.sweep_controller.sources, switched_utc_ns, changes)

    def combination_of(self, reading: Reading) -> tuple[Spot, Combination] | None:
        """The spot and combination of a reading; None where what was live is not known, or the spot was removed."""
        live = live_at_reading(reading, self.sweep_controller.sources)
        spot = next((s for s in self._controller.snapshot.spots if s.id == reading.spot_id), None)
        return (spot, Combination(live, reading.condition)) if live is not None and spot is not None else None

    def read_again(self, reading: Reading) -> None:
        """Let the combination of a reading be the next one that is read, at its spot."""
        wanted = self.combination_of(reading)
        if wanted is None:
            self._controller.message = Message(
                tr("That cannot be read again: the spot was removed."), refused=True
            )
            return
        spot, combination = wanted
        self._controller.route.chosen_id = spot.id
        self.sweep_controller.choose(combination)
        self._controller.message = Message(
            tr("Next: {condition} at “{spot}”, once more. Take it when it is switched.").format(
                condition=combination.shown, spot=spot.name
            )
        )

    def replace(self, repeated: RepeatedReading) -> None:
        """Let a new reading take the place of those of the same before it, which stay in the log as voided."""
        for reading in repeated.earlier:
            self._controller.corrections.void(reading, READ_AGAIN)

    def void(self, reading: Reading, reason: str) -> None:
        """Declare a reading mistaken; what to switch off is then worked out anew."""
        self._controller.corrections.void(reading, reason)
