"""The page of the stage Sources: steps, the breaker sweep, tonight's list, the table of the panel."""

from __future__ import annotations

from PySide6.QtCore import Signal

from gui.actions.registry import ActionRegistry
from gui.model.sweep_controller import SweepController
from gui.stages.sources.panel_page import PanelPage
from gui.stages.sources.steps_page import StepsPage
from gui.stages.sources.sweep_page import SweepPage
from gui.stages.sources.tonight_page import TonightPage
from gui.widgets.appearance import Appearance
from gui.widgets.paged_stage import PagedStage
from logger.simulation.practice_switches import GroupKind


class SourcesStage(PagedStage):
    """Steps, then the breaker sweep, then tonight's list; last the circuits of the panel as a table.

    Args:
        sweep_controller: what the window does on the stage Sources.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    place = "sources"
    reading_taken = Signal()
    """A value was taken, or a step was named: to be heard."""

    def __init__(
        self, sweep_controller: SweepController, appearance: Appearance, actions: ActionRegistry
    ) -> None:
        self.steps = StepsPage(sweep_controller, appearance, actions)
        self.tonight = TonightPage(sweep_controller, appearance, actions)
        self.panel = PanelPage(sweep_controller, appearance, actions)
        breakers = SweepPage(sweep_controller, appearance, actions)
        pages = (self.steps, breakers, self.tonight, self.panel)
        super().__init__(sweep_controller.controller, appearance, actions, pages)
        for page in pages:
            page.reading_taken.connect(self.reading_taken)
        self.panel.breakers_wanted.connect(lambda: self.show_page(pages.index(breakers)))

    def used_switches(self) -> tuple[GroupKind, ...]:
        """See `Page`."""
        return (GroupKind.BREAKERS, GroupKind.CORDS)
