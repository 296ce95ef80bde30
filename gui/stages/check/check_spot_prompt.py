"""The question at which spot the checks are done: asked once before the first step, and whenever the user wants."""

from __future__ import annotations

from collections.abc import Callable

from gui.model.visit_controller import VisitController
from gui.shell.question import Choice, Question
from logger.translation import tr
from logger.visit.records.home_records import Spot


def check_spot_prompt(controller: VisitController, then: Callable[[], object] = lambda: None) -> Question:
    """Ask it; each step that is taken afterwards keeps the answer.

    Args:
        controller: what the window does with the visit.
        then: what goes on once it is answered.
    """

    def state(spot: Spot | None) -> Callable[[], None]:
        def run() -> None:
            controller.checks.state_spot(spot)
            then()

        return run

    answers = [Choice(spot.name, state(spot), is_name=True) for spot in controller.snapshot.spots]
    return Question(
        tr("At which spot are the checks done?"),
        tr("It stands in the report, so that they can be done again in the same place."),
        (*answers, Choice(tr("Not recorded"), state(None))),
    )
