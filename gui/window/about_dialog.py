"""What the program is for, its version and its licence."""

from __future__ import annotations

from importlib.metadata import metadata

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox, QWidget

from logger.translation import tr


def about_text() -> str:
    """What the program is for, its version and its licence, in whole sentences."""
    package = metadata("stillvolt")
    licence = next((package[key] for key in ("License-Expression", "License") if key in package), "")
    return "\n\n".join(
        (
            tr(
                "Stillvolt measures body voltage in homes: the AC voltage on a person's skin against earth, which live "
                "wiring and cords nearby put there. It reads the meter, shows when the value has settled, takes it for "
                "the spot, finds which circuit or cord causes it, records nights, and writes the report."
            ),
            tr("Version {version}.").format(version=package["Version"]),
            tr("Licence: {licence}.").format(licence=licence)
            if licence
            else tr("No licence is stated with this copy: ask whoever gave it to you before you pass it on."),
            tr("Its windows are made with Qt for Python, which is under the LGPL, version 3."),
        )
    )


def show_about(parent: QWidget) -> None:
    """Show it beside the window, which goes on meanwhile.

    Args:
        parent: the window.
    """
    box = QMessageBox(
        QMessageBox.Icon.Information,
        tr("About Stillvolt"),
        about_text(),
        QMessageBox.StandardButton.Ok,
        parent,
    )
    box.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    box.open()
