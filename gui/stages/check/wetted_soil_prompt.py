"""The question after the reference check whether the soil was wetted, where a drier soil was stated."""

from __future__ import annotations

from gui.model.visit_controller import VisitController
from gui.shell.question import Choice, Question
from logger.metrology.checks import CheckKind
from logger.translation import tr, tr_kept


def wetted_soil_prompt(controller: VisitController, done: CheckKind) -> Question | None:
    """Ask it where the stated moisture is that of before the check; None where there is nothing to ask.

    Args:
        controller: what the window does with the visit.
        done: the check of which a step was taken.
    """
    moisture = controller.setup.stated.moisture
    if done is not CheckKind.REFERENCE or controller.checks.spans or not moisture or "wet" in moisture:
        return None
    return Question(
        tr("Did you wet the soil?"),
        tr("The set-up says “{moisture}”, and the report prints it.").format(moisture=tr_kept(moisture)),
        (Choice(tr("Yes, the soil was wetted"), controller.checks.state_soil_wetted),),
        escape_text=tr("No, it is still “{moisture}”").format(moisture=tr_kept(moisture)),
    )
