"""All actions with their keys, from the same table that makes menus and buttons."""

from __future__ import annotations

from html import escape
from string import Template

from PySide6.QtGui import QKeySequence

from gui.actions.registry import plain_text
from gui.actions.table import ACTIONS, MENUS, ActionSpec
from gui.widgets.appearance import Appearance
from logger.translation import marked, tr

TITLE = marked("All actions")

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

_HEAD = Template("<style>.does { color: $quiet; }</style><h1>$title</h1>")
_ROW = Template('<p><b>$head</b><br><span class="does">$does</span></p>')
_ROW_WITH_KEYS = Template('<p><b>$head</b> &nbsp; $keys<br><span class="does">$does</span></p>')


def action_list_html(appearance: Appearance) -> str:
    """All actions in the order of the menus, each with its keys and what it does.

    Args:
        appearance: theme and sizes.
    """
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
    parts = [_HEAD.substitute(quiet=appearance.theme.quiet, title=escape(tr(TITLE)))]
    for group, rows in groups:
        parts.append(f"<h2>{escape(group)}</h2>")
        for head, keys, does in rows:
            row = _ROW_WITH_KEYS if keys else _ROW
            parts.append(row.substitute(head=escape(head), keys=escape(keys), does=escape(does)))
    return "".join(parts)


def _row(spec: ActionSpec) -> tuple[str, str, str]:
    """The words of an action, its keys, and what it does."""
    native = QKeySequence.SequenceFormat.NativeText
    keys = [QKeySequence(key).toString(native) for key in spec.shortcuts]
    return plain_text(tr(spec.text)), ", ".join([*keys, *filter(None, [tr(spec.shown_key)])]), tr(spec.tip)
