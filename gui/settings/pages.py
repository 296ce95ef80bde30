"""The pages of the settings: look, sound and work, target, report."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLabel, QPushButton, QWidget

from gui.model.languages import language_choices
from gui.model.quantity_entry import SECONDS, VOLTS, mistake_in, read_quantity
from gui.model.visit_controller import VisitController
from gui.settings.form import text_field
from gui.settings.logo import FORMATS, picture_of, read_logo
from gui.settings.preferences import (
    COLOURS,
    EMAIL,
    FIRM,
    HANDS_FREE_S,
    LANGUAGE,
    LENGTHS,
    LICENCE,
    LOGO,
    MAX_STILL_S,
    MIN_STILL_S,
    NAME,
    PRESENTER,
    SOUNDS,
    SOURCE_OF_TARGET,
    SPEECH,
    TARGET,
    TELEPHONE,
    TEXT_PERCENT,
    TEXT_PERCENTS,
    ColourScheme,
    Preferences,
)
from gui.settings.settings_page import SettingsPage
from gui.widgets.file_dialog import Wanted, ask_path
from logger.metrology.lengths import LengthUnit
from logger.metrology.rounding import plain
from logger.metrology.target import MAX_TARGET_VOLTS, MIN_TARGET_VOLTS, target_source_text
from logger.translation import SYSTEM_LANGUAGE, tr
from logger.typed_number import as_typed
from logger.visit.records.practitioner import Practitioner


class LookPage(SettingsPage):
    """Colours, size of text, language, unit of lengths."""

    def __init__(self, preferences: Preferences) -> None:
        super().__init__(preferences)
        self.title = tr("&Look")
        self.add_choice(
            COLOURS,
            tr("&Colours"),
            [
                (tr("As the system has them"), ColourScheme.SYSTEM),
                (tr("Light"), ColourScheme.LIGHT),
                (tr("Dark"), ColourScheme.DARK),
            ],
        )
        self.percent = self.add_choice(
            TEXT_PERCENT,
            tr("&Size of text"),
            [(tr("{percent} %").format(percent=percent), percent) for percent in TEXT_PERCENTS],
            tr("The text grows with the window too."),
        )
        self.add_choice(
            LANGUAGE,
            tr("L&anguage"),
            [*language_choices(), (tr("As the system has it"), SYSTEM_LANGUAGE)],
            tr("The language of the window. The language of the report is chosen on the stage Report."),
        )
        self.add_choice(
            LENGTHS,
            tr("&Lengths"),
            [(tr("Metres"), LengthUnit.METRES), (tr("Feet"), LengthUnit.FEET)],
            tr("A length can be typed with either unit: 12 m or 40 ft."),
        )


class WorkPage(SettingsPage):
    """Sounds, speech, hands-free reading, the presenter's remote."""

    def __init__(self, preferences: Preferences) -> None:
        super().__init__(preferences)
        self.title = tr("&Sound and hands")
        sounds = self.add_tick(
            SOUNDS, tr("&Play sounds"), tr("A sound plays when a value settles, is taken or is lost.")
        )
        speech = self.add_tick(
            SPEECH, tr("Sp&eak as well"), tr("Hands-free: the value taken, and the next spot.")
        )
        sounds.toggled.connect(speech.setEnabled)
        speech.setEnabled(sounds.isChecked())
        line = text_field()
        field = self.add_field(
            tr("&Hands-free: wait once settled"),
            line,
            tr(
                "Hands-free takes a reading by itself when the value has been settled for this long, such as 8 s."
            ),
        )

        def read() -> float:
            return read_quantity(line.text(), SECONDS, "s", MIN_STILL_S, MAX_STILL_S)

        self.bind(HANDS_FREE_S, field, lambda seconds: line.setText(as_typed(seconds, "s")), read)
        line.textEdited.connect(lambda: field.show_mistake(mistake_in(read)))
        self.add_tick(
            PRESENTER,
            tr("A presenter's &remote takes readings"),
            tr("Its keys are Page Down, Page Up, B and the full stop. Leave it off without one."),
        )


class TargetPage(SettingsPage):
    """The target that values are compared with, and who says so.

    Args:
        preferences: what is remembered.
        controller: the visit that is open.
    """

    def __init__(self, preferences: Preferences, controller: VisitController) -> None:
        super().__init__(preferences)
        self.title = tr("&Target")
        self._controller = controller
        line = self.volts = text_field()
        field = self.add_field(
            tr("&Target"), line, tr("Values are compared with it. Such as 0.1 V or 100 mV.")
        )
        self.bind(TARGET, field, lambda volts: line.setText(as_typed(volts, "V")), self._read_volts)
        line.textEdited.connect(lambda: field.show_mistake(mistake_in(self._read_volts)))
        self.source = self.add_text(
            SOURCE_OF_TARGET,
            tr("&Source"),
            tr("Who recommends this target. The report names it beside the target."),
            tr("A target needs a source: the report names who says so."),
            target_source_text,
        )
        self.for_visit = QCheckBox(tr("Change the target of the open &visit too"))
        self._of_visit = _note(self._note_text())
        self.add_line(self.for_visit)
        self.add_line(self._of_visit)

    def _note_text(self) -> str:
        stated = self._controller.setup.stated
        return tr(
            "New visits begin with this target. The open visit keeps its target of {volts} V "
            "({source}). Tick the box to compare its readings, its list of what to switch off "
            "and its report with the new target too."
        ).format(
            volts=plain(stated.target_volts),
            source=target_source_text(stated.target_source, stated.target_volts),
        )

    def _read_volts(self) -> float:
        return read_quantity(self.volts.text(), VOLTS, "V", MIN_TARGET_VOLTS, MAX_TARGET_VOLTS)

    def keep(self) -> list[str]:
        """See `SettingsPage`; the visit takes it over where that is ticked."""
        failures = super().keep()
        setup, stated = self._controller.setup, self._controller.setup.stated
        volts, source = self.shown(TARGET), self.shown(SOURCE_OF_TARGET)
        if self.for_visit.isChecked() and (stated.target_volts, stated.target_source) != (volts, source):
            setup.state(
                tr("target {volts} V ({source})").format(
                    volts=plain(volts), source=target_source_text(source, volts)
                ),
                target_volts=volts,
                target_source=source,
            )
        self._of_visit.setText(self._note_text())
        return failures


class ReportPage(SettingsPage):
    """Who measures, as the report names them.

    Args:
        preferences: what is remembered.
        controller: the visit that is open.
    """

    def __init__(self, preferences: Preferences, controller: VisitController) -> None:
        super().__init__(preferences)
        self.title = tr("&Report")
        self._controller = controller
        self._logo = b""
        self.name = self.add_text(NAME, tr("Your &name"))
        self.firm = self.add_text(FIRM, tr("&Firm"))
        self.licence = self.add_text(LICENCE, tr("&Licence"), tr("Number and who gave it, if you have one."))
        self.telephone = self.add_text(TELEPHONE, tr("&Telephone"))
        self.email = self.add_text(EMAIL, tr("&E-mail"))
        self.picture = QLabel()
        self.picture.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        self.choose_button = QPushButton(tr("Choose a &picture…"))
        self.remove_button = QPushButton(tr("Re&move"))
        row = QWidget()
        buttons = QHBoxLayout(row)
        buttons.setContentsMargins(0, 0, 0, 0)
        for part in (self.picture, self.choose_button, self.remove_button):
            buttons.addWidget(part)
        buttons.addStretch(1)
        self.logo_field = self.add_field(
            tr("Logo"), row, tr("It is made small and kept in the visit and the report.")
        )
        self.bind(LOGO, None, self._show_logo, lambda: self._logo)
        self.choose_button.clicked.connect(self._choose)
        self.remove_button.clicked.connect(lambda: self._show_logo(b""))
        stated = controller.log.practitioner.current()
        self.for_visit = QCheckBox(tr("Change the names in the open &visit too"))
        self.for_visit.setChecked(stated == preferences.practitioner or not stated.is_stated)
        # A visit that names nobody takes the names over by itself, as soon as it is recorded or its report written.
        self.for_visit.setEnabled(stated.is_stated)
        note = (
            tr(
                "New visits begin with these names, and each keeps its own. The open visit names: {named}. Its report "
                "names what stands here only where this is ticked."
            ).format(named=", ".join(stated.lines()) or tr("a logo only"))
            if stated.is_stated
            else tr(
                "New visits begin with these names, and each keeps its own. The open visit names nobody yet, so it "
                "takes these names too."
            )
        )
        self.add_line(self.for_visit)
        self.add_line(_note(note))

    def _show_logo(self, logo: bytes) -> None:
        self._logo = logo
        height = 2 * self.fontMetrics().height()
        picture = QPixmap.fromImage(picture_of(logo))
        self.picture.setVisible(bool(logo))
        self.picture.setAccessibleName(tr("The logo") if logo else "")
        if not picture.isNull():
            smooth = Qt.TransformationMode.SmoothTransformation
            self.picture.setPixmap(
                picture.scaled(4 * height, height, Qt.AspectRatioMode.KeepAspectRatio, smooth)
            )
        self.remove_button.setEnabled(bool(logo))
        self.logo_field.show_mistake("")

    def _choose(self) -> None:
        kinds = " ".join(f"*.{kind}" for kind in FORMATS)
        path = ask_path(
            Wanted.FILE, tr("Choose the logo"), Path(), tr("Pictures ({kinds})").format(kinds=kinds), self
        )
        if path is not None:
            self.use_picture(path)

    def use_picture(self, path: Path) -> None:
        """Make the logo of a picture; where it is none, the field says why and the logo before stays.

        Args:
            path: the file.
        """
        try:
            self._show_logo(read_logo(path))
        except ValueError as error:
            self.logo_field.show_mistake(str(error))

    def show_mistakes(self) -> bool:
        """See `SettingsPage`; a picture that was refused holds up nothing, since the logo before stays."""
        self.logo_field.show_mistake("")
        return super().show_mistakes()

    def keep(self) -> list[str]:
        """See `SettingsPage`; the visit takes it over where that is ticked."""
        failures = super().keep()
        controller = self._controller
        stated = Practitioner(
            self.shown(NAME),
            self.shown(FIRM),
            self.shown(LICENCE),
            self.shown(LOGO),
            telephone=self.shown(TELEPHONE),
            email=self.shown(EMAIL),
        )

        def state() -> str:
            controller.log.practitioner.set(stated)
            return tr("The report of this visit names: {named}.").format(
                named=", ".join(stated.lines()) or tr("nobody")
            )

        if self.for_visit.isChecked() and controller.log.practitioner.current() != stated:
            controller.do(state)
        return failures


def _note(text: str) -> QLabel:
    note = QLabel(text)
    note.setTextFormat(Qt.TextFormat.PlainText)
    note.setWordWrap(True)
    note.setProperty("role", "quiet")
    note.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return note
