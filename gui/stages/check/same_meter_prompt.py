"""The question whether lines of another form come from the meter that the checks were done with."""

from __future__ import annotations

from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.shell.question import Choice, Question
from logger.translation import tr


def same_meter_prompt(controller: VisitController) -> Question:
    """Ask it. Without an answer the checks stay lapsed, and readings say so."""

    def another() -> None:
        controller.message = Message(
            tr(
                "The checks do not count for this meter. Stop recording, record with its own description, and do the "
                "checks again."
            ),
            refused=True,
        )

    return Question(
        tr("Is it the same meter as in the checks?"),
        tr("Its lines have another form than in the checks, which have lapsed."),
        (
            Choice(tr("The same meter: the checks count"), controller.checks.state_same_meter),
            Choice(tr("Another meter"), another),
        ),
        escape_text=tr("Decide later"),
    )
