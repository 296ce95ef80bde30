"""All actions with their keys, from the same table that makes menus and buttons."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QGridLayout, QScrollArea, QWidget

from gui.actions.registry import ActionRegistry, plain_text
from gui.actions.table import ACTIONS, MENUS, ActionSpec
from gui.model.visit_controller import VisitController
from gui.translation import tr
from gui.widgets.appearance import Appearance, label
from gui.widgets.page import Page

LIST_KEYS = (
    ("Up, Down", "Choose a row of the list"),
    ("Enter", "Does the most usual with the chosen row; gives the answer of a question"),
    ("Letters", "Go to the row that begins so"),
    ("Tab", "Next control"),
    ("Esc", "Cancels a question, or goes back"),
)
"""What keys do in every list and question."""


class ShortcutsPage(Page):
    """The page of the help.

    Args:
        controller: what the window does with the visit.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    title = "All actions"
    place = "help"

    def __init__(self, controller: VisitController, appearance: Appearance, actions: ActionRegistry) -> None:
        super().__init__(controller, appearance, actions)
        body = QWidget()
        grid = QGridLayout(body)
        grid.setContentsMargins(0, 0, 8, 0)
        grid.setVerticalSpacing(5)
        grid.setHorizontalSpacing(10)
        grid.setColumnStretch(0, 1)
        groups: list[tuple[str, list[tuple[str, str, str]]]] = [
            (tr("In lists and questions"), [(tr(key), tr(does), "") for key, does in LIST_KEYS])
        ]
        for name in (*MENUS, ""):
            rows = [_row(spec) for spec in ACTIONS if spec.menu == name]
            if rows:
                groups.append((tr(name) if name else tr("On single pages"), rows))
        row = 0
        for group, lines in groups:
            grid.addWidget(label(group, "heading"), row, 0, 1, 2)
            row += 1
            for head, does, keys in lines:
                grid.addWidget(label(head, "small"), row, 0)
                if keys:
                    grid.addWidget(label(keys, "small", wrap=False), row, 1, Qt.AlignmentFlag.AlignTop)
                grid.addWidget(label(does, "quiet"), row + 1, 0, 1, 2)
                row += 2
        self.area = QScrollArea()
        self.area.setWidget(body)
        self.area.setWidgetResizable(True)
        self.area.setAccessibleName(self.title)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.column.addWidget(self.make_buttons("view.back"))
        self.column.addWidget(self.area, 1)


def _row(spec: ActionSpec) -> tuple[str, str, str]:
    native = QKeySequence.SequenceFormat.NativeText
    keys = [QKeySequence(key).toString(native) for key in spec.shortcuts]
    return plain_text(tr(spec.text)), tr(spec.tip), ", ".join([*keys, *filter(None, [tr(spec.shown_key)])])
