"""All actions with their keys, from the same table that makes menus and buttons."""

from __future__ import annotations

from html import escape
from string import Template

from PySide6.QtGui import QKeySequence, QShowEvent
from PySide6.QtWidgets import QTextBrowser

from gui.actions.registry import ActionRegistry, plain_text
from gui.actions.table import ACTIONS, MENUS, ActionSpec
from gui.model.visit_controller import VisitController
from gui.widgets.appearance import Appearance
from gui.widgets.page import Page
from logger.translation import marked, tr

LIST_KEYS = (
    (marked("Up, Down"), marked("Choose a row of the list")),
    (marked("Enter"), marked("Does the main action of the chosen row; answers a question")),
    (marked("Letters"), marked("Go to the row that begins so")),
    (marked("Tab"), marked("Next control")),
    (marked("Esc"), marked("Cancels a question, or goes back")),
)
"""What keys do in every list and question."""

PRACTICE_KEYS = (
    (marked("Letters, numbers"), marked("Go to the switch whose name or number begins so")),
    (marked("Enter"), marked("Turns the chosen switch; plugs a cord in or out")),
    (marked("Shift+Enter"), marked("Turns a cord's own switch on or off")),
    (marked("Space"), marked("Still presses the big button, except while you type a name")),
    (marked("Esc"), marked("Gives the keyboard back to the page")),
)
"""What keys do in the practice house, once F6 has given it the keyboard."""

_STYLE = Template("h4 { color: $quiet; } .does { color: $quiet; font-size: ${small}px; }")
_ROW = Template('<p><b>$head</b><br><span class="does">$does</span></p>')
_ROW_WITH_KEYS = Template('<p><b>$head</b> &nbsp; $keys<br><span class="does">$does</span></p>')


class ShortcutsPage(Page):
    """The page of the help.

    Args:
        controller: what the window does with the visit.
        appearance: theme and sizes.
        actions: the actions of the window.
    """

    title = marked("All actions")
    place = "help"

    def __init__(self, controller: VisitController, appearance: Appearance, actions: ActionRegistry) -> None:
        super().__init__(controller, appearance, actions)
        self.text = QTextBrowser()
        self.text.setAccessibleName(tr(self.title))
        self.text.setAcceptRichText(False)  # its own text only: nothing that a person or a file says is in it
        self.column.addWidget(self.make_buttons("view.back"))
        self.column.addWidget(self.text, 1)

    def set_appearance(self, appearance: Appearance) -> None:
        """See `StyledWidget`."""
        super().set_appearance(appearance)
        if self.isVisible():
            self._fill()

    def showEvent(self, event: QShowEvent) -> None:
        """See Qt; a text that nobody has asked for yet is not laid out."""
        super().showEvent(event)
        self._fill()

    def _fill(self) -> None:
        """Write the text in the colours and sizes of now, from where it was read."""
        read_to = self.text.verticalScrollBar().value()
        sizes, theme = self.appearance.sizes, self.appearance.theme
        self.text.document().setDefaultStyleSheet(_STYLE.substitute(quiet=theme.quiet, small=sizes.small))
        self.text.setHtml(_as_html())
        self.text.verticalScrollBar().setValue(read_to)


def _as_html() -> str:
    """All actions in the order of the menus, each with its keys and what it does."""
    groups = [
        (tr(where), [(tr(key), "", tr(does)) for key, does in keys])
        for where, keys in (
            (marked("In lists and questions"), LIST_KEYS),
            (marked("In the practice house, after F6"), PRACTICE_KEYS),
        )
    ]
    for name in (*MENUS, ""):
        rows = [_row(spec) for spec in ACTIONS if spec.menu == name]
        if rows:
            groups.append((tr(MENUS[name]).replace("&", "") if name else tr("On single pages"), rows))
    parts = []
    for group, rows in groups:
        parts.append(f"<h4>{escape(group)}</h4>")
        for head, keys, does in rows:
            row = _ROW_WITH_KEYS if keys else _ROW
            parts.append(row.substitute(head=escape(head), keys=escape(keys), does=escape(does)))
    return "".join(parts)


def _row(spec: ActionSpec) -> tuple[str, str, str]:
    """The words of an action, its keys, and what it does."""
    native = QKeySequence.SequenceFormat.NativeText
    keys = [QKeySequence(key).toString(native) for key in spec.shortcuts]
    return plain_text(tr(spec.text)), ", ".join([*keys, *filter(None, [tr(spec.shown_key)])]), tr(spec.tip)
