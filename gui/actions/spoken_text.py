"""Names and descriptions for a screen reader, set only where they differ: Qt reports each setting as a change."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget


def set_spoken_name(part: QWidget, name: str) -> None:
    """Set what a screen reader calls a part of the window."""
    if part.accessibleName() != name:
        part.setAccessibleName(name)


def set_spoken_description(part: QWidget, description: str) -> None:
    """Set what a screen reader says of a part besides its name."""
    if part.accessibleDescription() != description:
        part.setAccessibleDescription(description)
