"""The page of the stage Night: start, the morning's summary, before and after."""

from __future__ import annotations

from PySide6.QtCore import Signal

from gui.model.night_controller import NightController
from gui.shell.prompt import Prompt
from gui.stages.night.morning_page import MorningPage
from gui.stages.night.night_compare_page import NightComparePage
from gui.stages.night.start_page import StartPage
from gui.widgets.appearance import Appearance
from gui.widgets.paged_stage import PagedStage


class NightStage(PagedStage):
    """Start, then the morning's summary, then before and after; N and P hold on every page.

    Args:
        night_controller: what the window does on the stage Night.
        appearance: theme and sizes.
    """

    night_screen_requested = Signal()
    """The night screen is to cover the window."""
    recording_requested = Signal()
    stretch_requested = Signal(float, float)
    """Show that stretch of the trace."""

    def __init__(self, night_controller: NightController, appearance: Appearance) -> None:
        self.start, self.morning, self.compare = (
            StartPage(night_controller, appearance),
            MorningPage(night_controller, appearance),
            NightComparePage(night_controller, appearance),
        )
        super().__init__(night_controller.controller, appearance, (self.start, self.morning, self.compare))
        self.night_controller = night_controller
        self.start.recording_requested.connect(self.recording_requested)
        self.morning.stretch_requested.connect(self.stretch_requested)
        snapshot = self.controller.snapshot
        if not snapshot.recording and snapshot.night_count:
            self.show_page(self.pages.index(self.morning))

    def handle(self, name: str) -> bool:
        """See `Page`."""
        if name == "N":
            self.night_screen_requested.emit()
        elif name == "P":
            self.ask_plan()
        else:
            return super().handle(name)
        return True

    def ask_plan(self, typed: str = "") -> None:
        """Ask for the planned switchings; what was typed and not understood stays in the line."""

        def keep(text: str) -> None:
            if not self.night_controller.plan_switchings(text):
                self.ask_plan(text)

        self.prompt_requested.emit(
            Prompt(
                "Planned switchings",
                "Such as 23:00 breakers off; 06:30 breakers on. They are laid beside the steps that are found. "
                "A single dash plans nothing.",
                on_text=keep,
                prefilled=typed or self.night_controller.schedule,
                enter_text="keep them",
            )
        )
