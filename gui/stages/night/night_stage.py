"""The page of the stage Night: start, the morning's summary, before and after."""

from __future__ import annotations

from PySide6.QtCore import Signal

from gui.actions.registry import ActionRegistry
from gui.model.night_controller import NightController
from gui.shell.question import Question
from gui.stages.night.morning_page import MorningPage
from gui.stages.night.night_compare_page import NightComparePage
from gui.stages.night.start_page import StartPage
from gui.widgets.appearance import Appearance
from gui.widgets.paged_stage import PagedStage


class NightStage(PagedStage):
    """Start, then the morning's summary, then before and after.

    Args:
        night_controller: what the window does on the stage Night.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    place = "night"
    night_screen_requested = Signal()
    """The night screen is to cover the window."""
    recording_requested = Signal()
    stretch_requested = Signal(float, float)
    """Show that stretch of the trace."""

    def __init__(
        self, night_controller: NightController, appearance: Appearance, actions: ActionRegistry
    ) -> None:
        self.start, self.morning, self.compare = (
            StartPage(night_controller, appearance, actions),
            MorningPage(night_controller, appearance, actions),
            NightComparePage(night_controller, appearance, actions),
        )
        super().__init__(
            night_controller.controller, appearance, actions, (self.start, self.morning, self.compare)
        )
        self.night_controller = night_controller
        self.start.recording_requested.connect(self.recording_requested)
        self.morning.stretch_requested.connect(self.stretch_requested)
        actions.bind("night.screen", self.night_screen_requested.emit)
        actions.bind("night.plan", self.ask_plan)
        snapshot = self.controller.snapshot
        if not snapshot.recording and snapshot.night_count:
            self.show_page(self.pages.index(self.morning))

    def ask_plan(self) -> None:
        """Ask for the planned switchings."""

        def keep(text: str) -> str | None:
            return None if self.night_controller.plan_switchings(text) else self.controller.message.text

        self.question_requested.emit(
            Question(
                "Planned switchings",
                "Such as 23:00 breakers off; 06:30 breakers on. They are compared with the steps that are found. "
                "A single dash plans nothing.",
                on_text=keep,
                prefilled=self.night_controller.schedule,
                enter_text="Keep them",
            )
        )
