"""What all kinds of actions of the window have in common."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from gui.model.visit_controller import VisitController
from gui.shell.action_bar import ActionBar
from gui.shell.question import QuestionPanel
from gui.sound.sounds import Sounds


@dataclass(frozen=True)
class ActionContext:
    """The parts of a window that actions act on.

    Args:
        controller: the visit.
        prompt: where actions ask.
        sounds: tones and voice.
        action_bar: flashes when a reading is refused.
        redraw: shows what is known now.
        show_spots: goes to the stage Spots.
    """

    controller: VisitController
    prompt: QuestionPanel
    sounds: Sounds
    action_bar: ActionBar
    redraw: Callable[[], None]
    show_spots: Callable[[], None]


class Actions:
    """What actions do: they ask in the window's question panel and act on its visit.

    Args:
        context: the parts of the window.
    """

    def __init__(self, context: ActionContext) -> None:
        self.controller = context.controller
        self.prompt = context.prompt
        self.sounds = context.sounds
        self.action_bar = context.action_bar
        self.redraw = context.redraw
        self.show_spots = context.show_spots
