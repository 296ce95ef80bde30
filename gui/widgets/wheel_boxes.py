"""Boxes whose value the mouse wheel leaves alone: the wheel scrolls the page, and nothing is changed unnoticed."""

from __future__ import annotations

from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QDateEdit, QSpinBox


class WheelPassesOn:
    """A box that leaves the wheel to what it stands on; its opened list or calendar has its own."""

    def wheelEvent(self, event: QWheelEvent) -> None:
        """See Qt."""
        event.ignore()


class NumberBox(WheelPassesOn, QSpinBox):
    """A box for a whole number."""


class DayBox(WheelPassesOn, QDateEdit):
    """A box for a date."""
