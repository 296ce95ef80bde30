"""The page Steps of the stage Sources: each step of the trace waits here for a name; what each thing therefore does."""

from __future__ import annotations

from gui.look import Look, label
from gui.sheet import Page
from gui.sourcing import Sourcing


class StepsPage(Page):
    """Steps, newest first, and circuits and cords with their effects."""

    page_name = "Steps"

    def __init__(self, sourcing: Sourcing, look: Look) -> None:
        super().__init__(sourcing.session, look)
        self.sourcing = sourcing
        self.column.addWidget(label("Lie still while somebody else plugs, unplugs, switches."))
        self.column.addStretch(1)
