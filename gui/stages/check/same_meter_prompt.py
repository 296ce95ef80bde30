"""The question whether lines of another form come from the meter that the checks were done with."""

from __future__ import annotations

from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.shell.prompt import Choice, Prompt


def same_meter_prompt(controller: VisitController) -> Prompt:
    """Ask it. Without an answer the checks stay lapsed, and readings say so."""

    def another() -> None:
        controller.message = Message(
            "The checks do not count for this meter. Stop recording, record with its own description, and do the "
            "checks again.",
            refused=True,
        )

    return Prompt(
        "Is it the same meter as in the checks?",
        "Its lines have another form than in the checks, which have lapsed.",
        (
            Choice("1", "the same meter: the checks count", controller.checks.state_same_meter),
            Choice("2", "another meter", another),
        ),
        escape_text="decide later",
    )
