"""The system's dialogs that ask for a visit log, for a folder, or where a text goes."""

from __future__ import annotations

from pathlib import Path

from gui.widgets.file_dialog import Wanted, ask_path
from logger.translation import tr


def choose_visit_file(folder: Path) -> Path | None:
    """Show the system's dialog for a visit log in a folder; None where it was cancelled."""
    return ask_path(Wanted.FILE, tr("Choose a visit"), folder, tr("Visit logs (*.visit);;All files (*)"))


def choose_folder(folder: Path, title: str) -> Path | None:
    """Show the system's dialog for a folder, with a title that asks for it; None where it was cancelled."""
    return ask_path(Wanted.FOLDER, title, folder)


def choose_text_file(proposed: Path) -> Path | None:
    """Show the system's dialog for a text to be saved; None where it was cancelled."""
    return ask_path(Wanted.NEW_FILE, tr("Save the comparison"), proposed, tr("Texts (*.txt)"))
