"""The kept meters as a list: enter a new one, edit, copy, delete. A deleted one's file is kept aside."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QListWidgetItem,
    QMessageBox,
    QPushButton,
    QVBoxLayout,
)

from gui.settings.form import dialog_buttons, show_note
from gui.settings.meter_dialog import MeterDialog, copy_of, new_description
from gui.settings.settings_dialog import SettingsWindow
from gui.widgets.appearance import label
from gui.widgets.keyboard_return import KeyboardReturn
from gui.widgets.text_list import TextList
from gui.widgets.window_size import fit_dialog
from logger.errors import StillvoltError
from logger.meter.description import MeterDescription
from logger.meter.description_folder import folder, list_descriptions, load, set_aside
from logger.translation import tr


class MetersDialog(QDialog):
    """The list of kept meters.

    Args:
        window: over which it is shown.
    """

    def __init__(self, window: SettingsWindow) -> None:
        super().__init__(window)  # type: ignore[arg-type]
        self.setWindowTitle(tr("Kept meters"))
        self.list = TextList(tr("Kept meters"))
        self.note = label("", "quiet")
        self.note.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.new_button = self._button(tr("&New…"), self.enter_new)
        self.edit_button = self._button(tr("&Edit…"), self.edit)
        self.copy_button = self._button(tr("&Copy…"), self.copy)
        self.delete_button = self._button(tr("&Delete…"), self.delete)
        close = dialog_buttons((QDialogButtonBox.StandardButton.Close, tr("Close")))
        close.rejected.connect(self.reject)
        row = QHBoxLayout()
        side = QVBoxLayout()
        for button in (self.new_button, self.edit_button, self.copy_button, self.delete_button):
            side.addWidget(button)
        side.addStretch(1)
        row.addWidget(self.list, 1)
        row.addLayout(side)
        column = QVBoxLayout(self)
        column.addLayout(row, 1)
        column.addWidget(self.note)
        column.addWidget(close)
        self.list.itemSelectionChanged.connect(lambda: self._show_chosen())
        self.list.itemActivated.connect(lambda: self.edit())
        self.message = ""
        """What was done last, in a sentence."""
        self.fill()

    def fill(self, chosen: str = "") -> None:
        """List the meters.

        Args:
            chosen: the name of the one to choose; empty chooses the first.
        """
        self.list.clear()
        for name in list_descriptions():
            item = QListWidgetItem(name)
            item.setToolTip(name)
            self.list.addItem(item)
        found = self.list.findItems(chosen, Qt.MatchFlag.MatchExactly) if chosen else []
        self.list.choose(self.list.row(found[0]) if found else 0)
        self._show_chosen()

    @property
    def chosen(self) -> str:
        """The name of the chosen meter; empty where none is."""
        item = self.list.item(self.list.chosen_row())
        return item.text() if item is not None else ""

    def enter_new(self) -> None:
        """Enter a meter that is not kept yet."""
        self._open(new_description(), "", tr("“{name}” is kept."))

    def edit(self) -> None:
        """Edit the chosen meter; nothing happens where it cannot be read, which the note says."""
        if (description := self._load()) is not None:
            self._open(description, self.chosen, tr("“{name}” is kept. A visit keeps what it stated before."))

    def copy(self) -> None:
        """Enter another meter with the data of the chosen one."""
        if (description := self._load()) is not None:
            self._open(copy_of(description, list_descriptions()), "", tr("“{name}” is kept."))

    def delete(self) -> None:
        """Take the chosen meter off the list, after a question."""
        name = self.chosen
        if not name:
            return
        question = QMessageBox(self)
        question.setWindowTitle(tr("Delete a meter"))
        question.setIcon(QMessageBox.Icon.Question)
        question.setTextFormat(Qt.TextFormat.PlainText)
        question.setText(tr("Take “{name}” off the list?").format(name=name))
        question.setInformativeText(
            tr("Its file is moved aside, not deleted. Visits that were recorded with it keep its data.")
        )
        delete = question.addButton(tr("Delete"), QMessageBox.ButtonRole.DestructiveRole)
        keep = question.addButton(tr("Keep it"), QMessageBox.ButtonRole.RejectRole)
        question.setDefaultButton(keep)
        question.setEscapeButton(keep)
        question.exec()
        if question.clickedButton() is not delete:
            return
        try:
            aside = set_aside(name)
            self.message = tr("“{name}” is off the list. Its file is kept as {path}.").format(
                name=name, path=aside
            )
        except StillvoltError as error:
            self.message = str(error)
        self.fill()

    def _open(self, description: MeterDescription, kept_as: str, done: str) -> None:
        dialog = MeterDialog(self, description, kept_as)
        KeyboardReturn(dialog)

        def kept(name: str) -> None:
            self.message = done.format(name=name)
            self.fill(name)

        dialog.kept.connect(kept)
        fit_dialog(dialog)
        dialog.open()

    def _load(self) -> MeterDescription | None:
        try:
            return load(self.chosen) if self.chosen else None
        except StillvoltError:
            return None

    def _show_chosen(self) -> None:
        """Offer what can be done with the chosen meter, and say what cannot."""
        name, problem = self.chosen, ""
        try:
            if name:
                load(name)
        except StillvoltError as error:
            problem = str(error)
        self.edit_button.setEnabled(bool(name) and not problem)
        self.copy_button.setEnabled(bool(name) and not problem)
        self.delete_button.setEnabled(bool(name))
        empty = tr("No meter is kept yet. New enters one; the stage Connect identifies one.")
        kept_in = tr("They are kept in {folder}.").format(folder=folder())
        show_note(
            self.note, problem or self.message or (kept_in if name else empty), is_mistake=bool(problem)
        )

    def _button(self, words: str, run: Callable[[], None]) -> QPushButton:
        button = QPushButton(words)
        button.setAutoDefault(False)
        button.clicked.connect(lambda: run())
        return button
