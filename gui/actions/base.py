"""What the groups of the window's actions have in common."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from gui.model.visit_controller import VisitController
from gui.shell.action_bar import ActionBar
from gui.shell.prompt import PromptPanel
from gui.sound.sounds import Sounds


@dataclass(frozen=True)
class ActionContext:
    """The parts of a window that actions act on.

    Args:
        controller: the visit.
        question: where actions ask.
        sounds: how they are heard.
        action_bar: flashes when a reading is refused.
        redraw: draws the window as the visit is now.
        show_spots: brings the stage Spots into sight.
    """

    controller: VisitController
    prompt: PromptPanel
    sounds: Sounds
    action_bar: ActionBar
    redraw: Callable[[], None]
    show_spots: Callable[[], None]


class Actions:
    """Actions behind keys: they ask in the window's prompt panel and act on its visit."""

    def __init__(self, context: ActionContext) -> None:
        self.controller = context.controller
        self.prompt = context.prompt
        self.sounds = context.sounds
        self.action_bar = context.action_bar
        self.redraw = context.redraw
        self.show_spots = context.show_spots
