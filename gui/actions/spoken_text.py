"""Names and descriptions for a screen reader, set only where they differ: Qt reports each setting as a change."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

from gui.actions.table import SPECS
from logger.translation import tr


def set_spoken_name(part: QWidget, name: str) -> None:
    """Set what a screen reader calls a part of the window."""
    if part.accessibleName() != name:
        part.setAccessibleName(name)


def set_spoken_description(part: QWidget, description: str) -> None:
    """Set what a screen reader says of a part besides its name."""
    if part.accessibleDescription() != description:
        part.setAccessibleDescription(description)


def delete_hint(action_id: str) -> str:
    """What Delete does to the row that has the keyboard, before it is pressed: it is another thing in each list.

    Args:
        action_id: what Delete does there, as in the table.
    """
    return tr("Delete: {what}").format(what=tr(SPECS[action_id].tip))
