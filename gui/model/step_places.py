"""At which spot a step of the trace was: where its label is filed, what speaks against it and the name."""

from __future__ import annotations

from collections.abc import Collection
from math import hypot

from gui.model.visit_controller import VisitController
from gui.model.wording import change_text
from logger.metrology.rounding import fixed
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.sweep.confirmation import SwitchedStep, effect_of
from logger.sweep.labelled_steps import KnownStep, source_effects
from logger.translation import tr
from logger.visit.records.condition import EVERYTHING_ON
from logger.visit.records.home_records import Source, Spot
from logger.visit.results.condition_doubt import contradict
from logger.visit.results.posture_repeats import repeatability_on_site


class StepPlaces:
    """The spots of steps.

    Args:
        controller: the visit.
    """

    def __init__(self, controller: VisitController) -> None:
        self._controller = controller

    def of(self, step: KnownStep) -> int | None:
        """The id of the spot that a label of a step is of; None where it is of none.

        A label that is corrected later keeps the place where the body was.
        """
        if step.label is not None and step.label.source_id is not None:
            return step.label.spot_id
        return self._controller.snapshot.spot_of_step(step.found, self._controller.route.choices)

    def text(self, step: KnownStep, at: Spot | None = None) -> str:
        """At which spot a label of a step is filed, in a sentence; empty where it is at none.

        Args:
            step: the step.
            at: where the body was by the user's word; None takes what the trace and the choice of spots say.
        """
        place = self.of(step) if at is None else at.id
        name = next((spot.name for spot in self._controller.snapshot.spots if spot.id == place), "")
        return tr("It is filed at “{spot}”.").format(spot=name) if name else ""

    def doubt(self, step: KnownStep) -> str:
        """What speaks against the spot that a label was filed at, in a sentence; empty where nothing does.

        While everything is on, the level with the circuit or cord on is what the spot reads with everything on.
        """
        label, snapshot = step.label, self._controller.snapshot
        if label is None or label.source_id is None or snapshot.condition != EVERYTHING_ON:
            return ""
        found = step.found.step
        level_volts = found.after_volts if label.meaning == "on" else found.before_volts
        at_spot = [
            reading
            for reading in snapshot.readings
            if reading.spot_id == label.spot_id
            and reading.condition == EVERYTHING_ON
            and reading.void_reason is None
        ]
        if not at_spot or not contradict(
            at_spot[-1].volts, level_volts, hypot(at_spot[-1].u_volts, found.u_volts)
        ):
            return ""
        return tr(
            "“{spot}” was read as {volts} V with everything on, but the level at this change is {level} V. "
            "Is it the right spot?"
        ).format(
            spot=at_spot[-1].spot_name,
            volts=fixed(at_spot[-1].volts, 2),
            level=fixed(level_volts, 2),
        )

    def size_doubt(self, step: KnownStep, source: Source, turned_on: bool, at: Spot | None = None) -> str:
        """What the steps of a source that have a label say against this one, in a sentence; empty where nothing does.

        Args:
            step: what would be labelled.
            source: what was switched by the user's word.
            turned_on: on, or off.
            at: where the body was by the user's word; None takes what the trace and the choice of spots say.
        """
        place = self.of(step) if at is None else at.id
        repeatability = repeatability_on_site(self._controller.snapshot.readings)
        others = [known for known in self._controller.snapshot.known_steps() if known.found != step.found]
        so_far = source_effects(others, repeatability).get((place, source.id))
        if so_far is None or step.found.unseen_s is not None:
            return ""
        this = SwitchedStep(turned_on, step.change_volts, step.found.step.u_volts)
        here = effect_of([this], repeatability)
        if abs(here.volts - so_far.volts) <= COVERAGE_FACTOR * hypot(here.u_volts, so_far.u_volts):
            return ""
        return tr(
            "“{source}” changed the value by {so_far} when it was switched on at this spot before; by this step it "
            "would be {here}."
        ).format(
            source=source.name,
            so_far=change_text(so_far.volts, so_far.u_volts),
            here=change_text(here.volts, here.u_volts),
        )

    def elsewhere_text(self, places: Collection[int | None]) -> str:
        """Where a label is of another spot than the chosen one: that, in a sentence; empty else."""
        route = self._controller.route
        if len(places) != 1 or (place := next(iter(places))) == route.chosen_id:
            return ""
        name = next((spot.name for spot in self._controller.snapshot.spots if spot.id == place), "")
        if name:
            return tr(". It is filed at “{spot}”, where the body was then").format(spot=name)
        return tr(". It is filed without a spot: where the body was then is not known")
