"""The system's dialog for a file or a folder; where Qt draws it, its arrows have the colours of the window."""

from __future__ import annotations

from enum import Enum, auto
from pathlib import Path

from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QApplication, QFileDialog, QToolButton, QWidget

from gui.widgets.icons import SIZES, icon
from gui.widgets.theme import shown_theme

ARROWS = {"backButton": "previous", "forwardButton": "next", "toParentButton": "up"}
"""Buttons of Qt's own dialog, by their names, with an icon of ours for each: Fusion draws them black on any ground."""


class Wanted(Enum):
    """What is asked for."""

    FILE = auto()
    """One that is there."""
    FILES = auto()
    """Some that are there."""
    NEW_FILE = auto()
    """One to be written; the dialog asks before one that is there is replaced."""
    FOLDER = auto()


def ask_path(
    wanted: Wanted, title: str, begin: Path, kinds: str = "", parent: QWidget | None = None
) -> Path | None:
    """Show the dialog; None where it was cancelled.

    Args:
        wanted: what is asked for.
        title: of the dialog.
        begin: the folder that it begins in; for a new file the path that is proposed.
        kinds: which files are offered, as Qt writes it: 'Texts (*.txt)'; empty for all.
        parent: what it stands over; None for the active window.
    """
    chosen = _ask(make_dialog(wanted, title, begin, kinds, parent or QApplication.activeWindow()))
    return chosen[0] if chosen else None


def ask_files(title: str, begin: Path, kinds: str, parent: QWidget | None = None) -> list[Path]:
    """Show the dialog for files that are there, several at once; none where it was cancelled.

    Args:
        title, begin, kinds, parent: as for `ask_path`.
    """
    return _ask(make_dialog(Wanted.FILES, title, begin, kinds, parent or QApplication.activeWindow()))


def _ask(dialog: QFileDialog) -> list[Path]:
    try:
        return [Path(chosen) for chosen in dialog.selectedFiles()] if dialog.exec() else []
    finally:
        dialog.deleteLater()


def make_dialog(wanted: Wanted, title: str, begin: Path, kinds: str, parent: QWidget | None) -> QFileDialog:
    """Make the dialog of `ask_path`.

    Args:
        wanted, title, begin, kinds: as there.
        parent: what it stands over; None for nothing.
    """
    is_new = wanted is Wanted.NEW_FILE
    dialog = QFileDialog(parent, title, str(begin.parent if is_new else begin), kinds)
    dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave if is_new else QFileDialog.AcceptMode.AcceptOpen)
    match wanted:
        case Wanted.FILE:
            dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        case Wanted.FILES:
            dialog.setFileMode(QFileDialog.FileMode.ExistingFiles)
        case Wanted.NEW_FILE:
            dialog.setFileMode(QFileDialog.FileMode.AnyFile)
            dialog.selectFile(begin.name)
        case Wanted.FOLDER:
            dialog.setFileMode(QFileDialog.FileMode.Directory)
            dialog.setOption(QFileDialog.Option.ShowDirsOnly)
    for name, shape in ARROWS.items():
        button = dialog.findChild(QToolButton, name)  # there is none in a dialog that the system draws
        if button is not None:
            button.setIcon(_arrow(shape))
    return dialog


def _arrow(shape: str) -> QIcon:
    """An icon that is as readable below the mouse, where it stands on no row of a menu."""
    drawn, result = icon(shape, shown_theme()), QIcon()
    for mode in (QIcon.Mode.Normal, QIcon.Mode.Disabled):
        for pixels in SIZES:
            result.addPixmap(drawn.pixmap(pixels, pixels, mode), mode)
    return result
