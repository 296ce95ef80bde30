"""The system's dialogs that ask for a visit log, for a folder, or where a text goes."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QApplication, QFileDialog

from gui.translation import tr


def choose_visit_file(folder: Path) -> Path | None:
    """Show the system's dialog for a visit log in a folder; None where it was cancelled."""
    name, _ = QFileDialog.getOpenFileName(
        QApplication.activeWindow(),
        tr("Choose a visit"),
        str(folder),
        tr("Visit logs (*.visit);;All files (*)"),
    )
    return Path(name) if name else None


def choose_folder(folder: Path, title: str) -> Path | None:
    """Show the system's dialog for a folder, with a title that asks for it; None where it was cancelled."""
    name = QFileDialog.getExistingDirectory(QApplication.activeWindow(), title, str(folder))
    return Path(name) if name else None


def choose_text_file(proposed: Path) -> Path | None:
    """Show the system's dialog for a text to be saved; None where it was cancelled."""
    name, _ = QFileDialog.getSaveFileName(
        QApplication.activeWindow(), tr("Save the comparison"), str(proposed), tr("Texts (*.txt)")
    )
    return Path(name) if name else None
