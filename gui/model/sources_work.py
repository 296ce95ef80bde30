"""On which page of the stage Sources work waits, as the action that goes there."""

from __future__ import annotations

from gui.model.visit_controller import VisitController
from logger.sweep.sweep_progress import plain_sweep, sweep_progress

STEPS, BREAKERS, TONIGHT = "steps.show", "sweep.show", "tonight.show"
"""The actions that show a page."""


def page_of_the_sweep(controller: VisitController) -> str:
    """Where the sweep at the chosen spot goes on: on Breakers, and once all of it is read on Tonight."""
    snapshot = controller.snapshot
    swept = sweep_progress(snapshot.readings, controller.route.chosen_id or 0, snapshot.sources)
    return TONIGHT if plain_sweep(snapshot.sources) and swept.complete else BREAKERS


def waiting_page(controller: VisitController) -> str:
    """Steps while one waits for a name, else where the sweep goes on."""
    is_waiting = any(known.waits for known in controller.snapshot.known_steps())
    return STEPS if is_waiting else page_of_the_sweep(controller)
