"""One press, one action: which part of the window takes a key."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from gui.model.stages import NIGHT, REPORT, SOURCES, STAGE_OF_KEY
from gui.model.sweep_controller import SweepController
from gui.model.visit_access import Message
from gui.practice.practice_panel import PracticePanel
from gui.shell.prompt import PromptPanel
from gui.stages.night.night_screen import NightScreen
from gui.widgets.keys import ACTION_OF
from gui.window.navigator import Navigator
from gui.window.stage_pages import StagePages

REPEATING_KEYS = ("Up", "Down", "Left", "Right", "+", "-", "=")
"""Keys that may be held down."""


class KeyDispatcher:
    """Gives each key to the first that takes it.

    In this order: the night screen while it is shown, the practice house while it has the keyboard, an open question,
    the page in sight, the stages by their numbers, the actions of the window.

    Args:
        actions: what each action of `gui.widgets.keys.KEYS` does, by its name.
        pages: all pages.
        navigator: goes from stage to stage.
        prompt: the open question.
        panel: the practice house.
        night_screen: takes every key while it covers the window.
        sweep_controller: whose waiting for a reading Escape ends.
        take_focus: gives the keyboard to the window.
        redraw: shows what is known now, after each key.
    """

    def __init__(
        self,
        actions: Mapping[str, Callable[[], None]],
        pages: StagePages,
        navigator: Navigator,
        prompt: PromptPanel,
        panel: PracticePanel,
        night_screen: NightScreen,
        sweep_controller: SweepController,
        take_focus: Callable[[], None],
        redraw: Callable[[], None],
    ) -> None:
        self.actions = actions
        self._pages = pages
        self._navigator = navigator
        self._prompt = prompt
        self._panel = panel
        self._night_screen = night_screen
        self._sweep = sweep_controller
        self._take_focus = take_focus
        self._redraw = redraw

    def handle(self, name: str) -> bool:
        """Take a key, as `gui.widgets.keys.key_name` names it; False when there is no such key."""
        if self._night_screen.is_shown:
            self._night_screen.handle(name)
            return True
        if not self._dispatch(name):
            return False
        self._redraw()
        return True

    def handle_tab(self, forward: bool) -> bool | None:
        """Take Tab, or Shift+Tab, which a question or a stage with several pages may use.

        Args:
            forward: Tab; else Shift+Tab.

        Returns:
            Whether it was taken; None where it moves the focus as usual.
        """
        name = "Tab" if forward else "Shift+Tab"
        if self._prompt.prompt is not None:
            answered = self._prompt.handle(name)
            self._redraw()
            return answered or None
        return self.handle(name) if self._pages.shows(SOURCES, NIGHT, REPORT) else None

    def _dispatch(self, name: str) -> bool:
        action = ACTION_OF.get(name)
        if action == "practice" and self._prompt.line is None:
            self.actions["practice"]()  # to switch what a question asks for, before it is answered
        elif self._panel.has_keyboard and self._panel.handle(name):
            pass
        elif self._prompt.prompt is not None:
            if not self._prompt.handle(name) and action == "close":
                self.actions["close"]()
        elif name == "Esc":
            self._escape()
        elif self._pages.current.handle(name):
            pass
        elif name in STAGE_OF_KEY:
            self._navigator.go_to(STAGE_OF_KEY[name])
        elif action is not None:
            self.actions[action]()
        else:
            return False
        return True

    def _escape(self) -> None:
        """Back to the window from a field, back to the stage from a page that any stage can open."""
        pages = self._pages
        self._take_focus()
        if pages.current is pages.identify and pages.identify.escape():
            return
        if self._sweep.cancel_waiting():
            self._sweep.controller.message = Message("Nothing is awaited any more.")
            return
        if pages.shows(REPORT) and pages.report.handle("Esc"):
            return
        if pages.current in (pages.shortcuts, pages.budget, pages.identify):
            self._navigator.go_back()
