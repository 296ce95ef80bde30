"""All keys, from the same table that dispatches them."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QScrollArea, QWidget

from gui.model.stages import STAGES
from gui.model.visit_controller import VisitController
from gui.widgets.appearance import Appearance, label
from gui.widgets.keys import GROUPS, KEYS, PAGE_KEYS
from gui.widgets.page import Page
from gui.widgets.shortcut_buttons import KeyCap


class ShortcutsPage(Page):
    """The sheet behind `?`."""

    title = "All keys"

    def __init__(self, controller: VisitController, appearance: Appearance) -> None:
        super().__init__(controller, appearance)
        body = QWidget()
        grid = QGridLayout(body)
        grid.setContentsMargins(0, 0, 8, 0)
        grid.setVerticalSpacing(5)
        grid.setHorizontalSpacing(10)
        grid.setColumnStretch(1, 1)
        groups = {group: [(key.shown, key.does) for key in KEYS if key.group == group] for group in GROUPS}
        groups["Window"][:0] = [(str(stage.number), f"The stage {stage.name}") for stage in STAGES]
        row = 0
        for group, pairs in (*groups.items(), *PAGE_KEYS):
            grid.addWidget(label(group, "heading"), row, 0, 1, 2)
            row += 1
            for shown, does in pairs:
                side = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop
                grid.addWidget(KeyCap(shown), row, 0, side)
                grid.addWidget(label(does, "small"), row, 1)
                row += 1
        self.area = QScrollArea()
        self.area.setWidget(body)
        self.area.setWidgetResizable(True)
        self.area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.column.addWidget(label("Esc or ? goes back; Up and Down scroll.", "quiet"))
        self.column.addWidget(self.area)

    def handle(self, name: str) -> bool:
        """See `Page`."""
        bar = self.area.verticalScrollBar()
        steps = {"Down": 1, "Up": -1, "PgDown": 5, "PgUp": -5}
        if name not in steps:
            return False
        bar.setValue(bar.value() + steps[name] * 3 * self.appearance.sizes.normal)
        return True
