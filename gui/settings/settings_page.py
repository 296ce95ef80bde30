"""What the pages of the settings have in common: fields bound to settings, checked, and kept if they changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from PySide6.QtWidgets import QCheckBox, QComboBox, QLineEdit

from gui.model.quantity_entry import mistake_in
from gui.settings.form import EntryField, FormPage, choice_field, text_field
from gui.settings.preferences import Preferences, Setting
from logger.translation import tr
from logger.visit.records.practitioner import why_not_a_line

T = TypeVar("T")


@dataclass
class _Bound(Generic[T]):
    """A setting with its field.

    Args:
        setting: what is kept.
        field: where it is entered; None where it shows its own mistakes.
        show: shows a value in the field.
        read: gives what the field holds; raises ValueError with a sentence where it holds none.
        shown: the value that was shown last.
    """

    setting: Setting[T]
    field: EntryField | None
    show: Callable[[T], object]
    read: Callable[[], T]
    shown: T


class SettingsPage(FormPage):
    """One page of the settings.

    Args:
        preferences: what is remembered.
    """

    title = ""

    def __init__(self, preferences: Preferences) -> None:
        super().__init__()
        self.preferences = preferences
        self._bound: list[_Bound[Any]] = []

    def bind(
        self,
        setting: Setting[T],
        field: EntryField | None,
        show: Callable[[T], object],
        read: Callable[[], T],
    ) -> None:
        """Keep in a setting what a field holds.

        Args:
            setting: what is kept.
            field: where it is entered; None where it shows its own mistakes.
            show: shows a value in the field.
            read: gives what the field holds; raises ValueError with a sentence where it holds none.
        """
        value = self.preferences.get(setting)
        self._bound.append(_Bound(setting, field, show, read, value))
        show(value)

    def shown(self, setting: Setting[T]) -> T:
        """The value of a setting that was kept when its field was filled."""
        value: T = next(bound.shown for bound in self._bound if bound.setting is setting)
        return value

    def show_mistakes(self) -> bool:
        """Show at each field what is wrong with it; whether there is anything."""
        for bound in self._bound:
            if bound.field is not None:
                bound.field.show_mistake(mistake_in(bound.read))
        return any(field.why for field in self.fields)

    def show_defaults(self) -> None:
        """Fill the fields with what holds at the first start; nothing is kept yet."""
        for bound in self._bound:
            bound.show(bound.setting.default)
            if bound.field is not None:
                bound.field.show_mistake("")

    def keep(self) -> list[str]:
        """Keep what differs from what was shown; returns why something could not be kept, each a sentence.

        What is as it was shown is left alone: another window may have changed it meanwhile.
        """
        failures = []
        for bound in self._bound:
            value = bound.read()
            if value != bound.shown:
                if not self.preferences.set(bound.setting, value):
                    failures.append(self.preferences.failure)
                bound.shown = value
        return failures

    # --- fields of each kind -----------------------------------------------------------------------------

    def add_choice(
        self, setting: Setting[T], name: str, choices: list[tuple[str, T]], hint: str = ""
    ) -> QComboBox:
        """Add a box to choose one of a few.

        Args:
            setting: what is kept.
            name: what is chosen.
            choices: each in words, with its value.
            hint: what the choice does.
        """
        box = choice_field(list(choices), None)
        field = self.add_field(name, box, hint)

        def show(value: T) -> None:
            box.setCurrentIndex(next((i for i, (_, one) in enumerate(choices) if one == value), 0))

        self.bind(setting, field, show, lambda: choices[box.currentIndex()][1])
        return box

    def add_tick(self, setting: Setting[bool], words: str, hint: str = "") -> QCheckBox:
        """Add a box to tick.

        Args:
            setting: what is kept.
            words: what holds when it is ticked.
            hint: what that does.
        """
        box = QCheckBox(words)
        field = EntryField(words.replace("&", ""), box, hint)
        self.fields.append(field)
        self.add_line(field)
        self.bind(setting, field, box.setChecked, box.isChecked)
        return box

    def add_text(
        self,
        setting: Setting[str],
        name: str,
        hint: str = "",
        needed: str = "",
        words: Callable[[str], str] = str,
    ) -> QLineEdit:
        """Add a line of text.

        Args:
            setting: what is kept.
            name: what is entered.
            hint: what to enter.
            needed: why it may not be empty, in a sentence; empty where it may.
            words: how what is kept is shown, where the first value is kept in English.
        """
        line = text_field()
        field = self.add_field(name, line, hint)

        def read() -> str:
            text = line.text().strip()
            if why := why_not_a_line(text) or ("" if text else needed):
                raise ValueError(tr(why))
            return setting.default if text == words(setting.default) else text

        self.bind(setting, field, lambda text: line.setText(words(text)), read)
        line.textEdited.connect(lambda: field.show_mistake(mistake_in(read)))
        return line
