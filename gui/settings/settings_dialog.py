"""The settings: pages with OK, Cancel and Apply. Nothing is kept before OK or Apply; what was typed stays."""

from __future__ import annotations

from typing import Protocol

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTabWidget, QVBoxLayout, QWidget

from gui.model.visit_access import Message
from gui.model.visit_controller import VisitController
from gui.settings.form import dialog_buttons, show_note
from gui.settings.pages import LookPage, ReportPage, TargetPage, WorkPage
from gui.settings.preferences import Preferences
from gui.settings.settings_page import SettingsPage
from gui.widgets.appearance import label
from logger.translation import tr


class SettingsWindow(Protocol):
    """What the dialogs need of the window that they belong to."""

    preferences: Preferences
    controller: VisitController

    def apply_preferences(self) -> None:
        """Take over what was changed in the settings."""


class SettingsDialog(QDialog):
    """The settings of a window.

    Args:
        window: takes over what is changed; a `QWidget` too, over which the dialog is shown.
    """

    def __init__(self, window: SettingsWindow) -> None:
        assert isinstance(window, QWidget)
        super().__init__(window)
        self._window: SettingsWindow = window
        self.setWindowTitle(tr("Settings"))
        window.preferences.refresh()
        preferences, controller = window.preferences, window.controller
        self.look, self.work = LookPage(preferences), WorkPage(preferences)
        self.target, self.report = TargetPage(preferences, controller), ReportPage(preferences, controller)
        self.tabs = QTabWidget()
        self.tabs.setAccessibleName(tr("Pages of the settings"))
        for page in self.pages:
            self.tabs.addTab(page, page.title)
        self._failure = label("", "error")
        kinds = QDialogButtonBox.StandardButton
        self.buttons = dialog_buttons(
            (kinds.Ok, tr("OK")), (kinds.Cancel, tr("Cancel")), (kinds.Apply, tr("Apply")),
            (kinds.RestoreDefaults, tr("Defaults of this page")),
        )  # fmt: skip
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        self.buttons.button(kinds.Apply).clicked.connect(self.apply)
        self.buttons.button(kinds.RestoreDefaults).clicked.connect(lambda: self._page.show_defaults())
        column = QVBoxLayout(self)
        column.addWidget(self.tabs, 1)
        column.addWidget(self._failure)
        column.addWidget(self.buttons)
        show_note(self._failure, "", is_mistake=True)

    @property
    def pages(self) -> tuple[SettingsPage, ...]:
        """The pages from the left."""
        return self.look, self.work, self.target, self.report

    def show_name(self) -> None:
        """Bring the field of the practitioner's name into sight, with the keyboard in it."""
        self.tabs.setCurrentWidget(self.report)
        self.report.name.setFocus()

    @property
    def _page(self) -> SettingsPage:
        return self.pages[self.tabs.currentIndex()]

    def apply(self) -> bool:
        """Keep what was changed and let the window take it over; False, with nothing kept, where an entry is wrong."""
        # Each page is asked, so that every mistake is shown; the page in sight comes first.
        wrong = [page for page in self.pages if page.show_mistakes()]
        if wrong:
            page = self._page if self._page in wrong else wrong[0]
            self.tabs.setCurrentWidget(page)
            page.show_first_mistake()
            return False
        failures = [failure for page in self.pages for failure in page.keep()]
        show_note(self._failure, failures[0] if failures else "", is_mistake=True)
        self._window.apply_preferences()
        if failures:
            self._window.controller.message = Message(failures[0], refused=True)
        return True

    def accept(self) -> None:
        """See Qt; it stays open where an entry is invalid."""
        if self.apply():
            super().accept()
