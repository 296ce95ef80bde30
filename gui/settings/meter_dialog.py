"""The data of one meter: as on its plate and its data sheet. What is left empty is assumed, and the report says so.

What can be entered is decided by `logger.meter.description_form`, as for the file that the meter is kept in.
"""

from __future__ import annotations

import datetime
from dataclasses import replace
from typing import Any

from PySide6.QtCore import QDate, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from gui.model.quantity_entry import FARADS, OHMS, read_quantity
from gui.settings.form import EntryField, FormPage, choice_field, dialog_buttons, show_note, text_field
from gui.settings.range_table import RangeTable
from gui.widgets.appearance import label
from gui.widgets.wheel_boxes import DayBox, NumberBox
from logger.errors import StillvoltError
from logger.meter.description import ASSUMED_ACCURACY, MeterDescription, calibration_doubt
from logger.meter.description_folder import replace_description, save
from logger.meter.description_form import FieldMistake, check_form
from logger.meter.description_toml import form_values
from logger.toml_file import KeyPath
from logger.translation import tr
from logger.typed_number import as_typed

NO_LIMIT = 1e18
"""Numbers are bounded by the rules of the description, not by how they are typed."""


class MeterDialog(QDialog):
    """Enter or edit the data of a meter.

    Args:
        parent: over which it is shown.
        description: what it shows first.
        kept_as: the name that the meter is kept under now; empty for one that is not kept yet.
    """

    kept = Signal(str)
    """The meter was kept under this name."""

    def __init__(self, parent: QWidget, description: MeterDescription, kept_as: str = "") -> None:
        super().__init__(parent)
        self.setWindowTitle(tr("The meter's data"))
        self._before = description
        self._kept_as = kept_as
        self._day_wanted = datetime.date.today()
        self.form = FormPage()
        self.fields: dict[KeyPath, EntryField] = {}
        self.name = self._text(("name",), tr("&Name"), description.name, tr("The meter is kept under it."))
        plate = description
        self.make = self._text(("meter", "make"), tr("&Make"), plate.make)
        self.model = self._text(("meter", "model"), tr("M&odel"), plate.model)
        self.serial = self._text(("meter", "serial_number"), tr("&Serial number"), plate.serial_number)
        self.ranges = RangeTable()
        field = self.form.add_field(tr("&Accuracy"), self.ranges, tr(RangeTable.HINT))
        self.fields[("accuracy",)] = field
        self.ranges.show_ranges(() if "accuracy" in description.assumed else description.accuracy)
        self.resistance = self._known_number(
            "input_resistance_ohm", tr("&Input impedance"), 1e6, "Mohm",
            tr("Such as 10 Mohm. Empty: 10 Mohm is assumed."),
        )  # fmt: skip
        self.capacitance = self._known_number(
            "input_capacitance_farad", tr("Input &capacitance"), 1e-12, "pF",
            tr("Such as 30 pF, leads included. Empty: 100 pF is assumed."),
        )  # fmt: skip
        self.true_rms = self._known_choice(
            "true_rms", tr("&True rms"), tr("Yes"), tr("No"), tr("Not known counts as no.")
        )
        self.isolated = self._known_choice(
            "isolated_link", tr("&Link to the computer"), tr("Isolated: optical or radio"), tr("Not isolated"),
            tr("Not known counts as not isolated."),
        )  # fmt: skip
        self._add_calibration(description)
        self.scale: QLineEdit | None = None
        if description.line is not None:
            self.scale = self._text(
                ("line", "scale"), tr("Scale tau&ght"), as_typed(description.line.scale),
                tr("Volts for 1 of the number that the meter sends, as it was taught."),
            )  # fmt: skip
        port = description.port
        asked = tr(", asked with {query}").format(query=port.query.strip()) if port.query else ""
        self.form.add_line(
            label(
                tr("Connection: {framing}{asked}. It is changed at the stage Connect.").format(
                    framing=port.framing(), asked=asked
                ),
                "quiet",
            )
        )
        self._failure = label("", "error")
        kinds = QDialogButtonBox.StandardButton
        self.buttons = dialog_buttons((kinds.Save, tr("Save")), (kinds.Cancel, tr("Cancel")))
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addWidget(self.form, 1)
        column.addWidget(self._failure)
        column.addWidget(self.buttons)
        show_note(self._failure, "", is_mistake=True)

    # --- fields ------------------------------------------------------------------------------------------

    def _text(self, path: KeyPath, name: str, text: str, hint: str = "") -> QLineEdit:
        line = text_field(text)
        self.fields[path] = field = self.form.add_field(name, line, hint)
        line.textEdited.connect(lambda: field.show_mistake(""))
        return line

    def _known_number(self, key: str, name: str, counts: float, unit: str, hint: str) -> QLineEdit:
        value = getattr(self._before, key)
        text = "" if key in self._before.assumed else as_typed(value / counts, unit)
        return self._text(("meter", key), name, text, hint)

    def _known_choice(self, key: str, name: str, yes: str, no: str, hint: str) -> Any:
        known = None if key in self._before.assumed else getattr(self._before, key)
        box = choice_field([(tr("Not known"), None), (yes, True), (no, False)], known)
        self.fields[("meter", key)] = self.form.add_field(name, box, hint)
        return box

    def _add_calibration(self, description: MeterDescription) -> None:
        self.is_calibrated = QCheckBox(tr("&Day known:"))
        self.day = DayBox()
        self.day.setCalendarPopup(True)
        self.day.setDisplayFormat("yyyy-MM-dd")
        self.day.setAccessibleName(tr("Day of the last calibration"))
        day = description.calibrated_on
        self.is_calibrated.setChecked(day is not None)
        shown = day or self._day_wanted
        self.day.setDate(QDate(shown.year, shown.month, shown.day))
        self.day.setEnabled(day is not None)
        self.is_calibrated.toggled.connect(self.day.setEnabled)
        row = QWidget()
        parts = QHBoxLayout(row)
        parts.setContentsMargins(0, 0, 0, 0)
        parts.addWidget(self.is_calibrated)
        parts.addWidget(self.day, 1)
        self.fields[("meter", "calibrated_on")] = self.form.add_field(
            tr("Calibrated"), row, tr("Not known: the report says so.")
        )
        self.months = NumberBox()
        self.months.setRange(1, 120)
        self.months.setValue(description.calibration_interval_months)
        self.months.setSuffix(tr(" months"))
        self.fields[("meter", "calibration_interval_months")] = self.form.add_field(
            tr("Holds &for"), self.months, tr("As the maker or the laboratory states it.")
        )
        self.certificate = self._text(
            ("meter", "certificate"),
            tr("Certificat&e"),
            description.certificate,
            tr("Number of the calibration certificate, and who issued it."),
        )

    # --- checking and keeping ----------------------------------------------------------------------------

    def values(self) -> tuple[dict[str, Any], list[FieldMistake]]:
        """The values that are entered, as in the meter's file, and what is no number among them."""
        values = form_values(self._before)
        mistakes: list[FieldMistake] = []

        def number(line: QLineEdit, path: KeyPath, units: Any, unit: str) -> float | None:
            try:
                return read_quantity(line.text(), units, unit, 0.0, NO_LIMIT) if line.text().strip() else None
            except ValueError as error:
                mistakes.append(FieldMistake(path, str(error)))
                return None

        values["name"] = self.name.text().strip()
        meter: dict[str, Any] = {
            "make": self.make.text().strip(),
            "model": self.model.text().strip(),
            "serial_number": self.serial.text().strip(),
            "input_resistance_ohm": number(self.resistance, ("meter", "input_resistance_ohm"), OHMS, "Mohm"),
            "input_capacitance_farad": number(
                self.capacitance, ("meter", "input_capacitance_farad"), FARADS, "pF"
            ),
            "true_rms": self.true_rms.currentData(),
            "isolated_link": self.isolated.currentData(),
            "calibrated_on": self._calibrated_on(),
            "calibration_interval_months": self.months.value(),
            "certificate": self.certificate.text().strip(),
        }
        values["meter"] = {key: value for key, value in meter.items() if value not in (None, "")}
        if self.scale is not None:
            scale = number(self.scale, ("line", "scale"), {}, "")
            if scale is not None:
                values["line"] = values["line"] | {"scale": scale}
        ranges, wrong = self.ranges.read()
        mistakes += wrong
        values.pop("accuracy", None)
        if ranges:
            values["accuracy"] = ranges
        return values, mistakes

    def _calibrated_on(self) -> datetime.date | None:
        if not self.is_calibrated.isChecked():
            return None
        day = self.day.date()
        return datetime.date(day.year(), day.month(), day.day())

    def description(self) -> MeterDescription | None:
        """The meter as it is entered; None where something is wrong, which is then shown beside its field."""
        values, mistakes = self.values()
        found, more = check_form(values)
        mistakes += more
        day = self._calibrated_on()
        if calibration_doubt(day, datetime.date.today()):
            mistakes.append(FieldMistake(("meter", "calibrated_on"), tr("This day is yet to come.")))
        for path, field in self.fields.items():
            about = [one for one in mistakes if one.path[: len(path)] == path]
            field.show_mistake(
                self.ranges.describe(about)
                if path == ("accuracy",)
                else " ".join(tr(one.why) for one in about)
            )
        rest = [one.why for one in mistakes if not any(one.path[: len(path)] == path for path in self.fields)]
        show_note(self._failure, rest[0] if rest else "", is_mistake=True)
        self.form.show_first_mistake()
        return None if mistakes else found

    def accept(self) -> None:
        """See Qt; it stays open where something is wrong or the meter cannot be kept."""
        description = self.description()
        if description is None:
            return
        try:
            if self._kept_as:
                replace_description(self._kept_as, description)
            else:
                save(description, replaces=False)
        except StillvoltError as error:
            show_note(
                self._failure, tr("{what} {kept}").format(what=error.what, kept=error.kept), is_mistake=True
            )
            return
        self.kept.emit(description.name)
        super().accept()


def new_description() -> MeterDescription:
    """A meter of which nothing is known."""
    return MeterDescription("", accuracy=ASSUMED_ACCURACY)


def copy_of(description: MeterDescription, names: list[str]) -> MeterDescription:
    """The same data under a free name: another meter of the same model has another plate and another calibration.

    Args:
        description: what is copied.
        names: under which meters are kept.
    """
    taken = {name.casefold() for name in names}
    number = 2
    while (name := f"{description.name} {number}").casefold() in taken:
        number += 1
    assumed = description.assumed | {"calibrated_on"}
    return replace(
        description, name=name, serial_number="", calibrated_on=None, certificate="", assumed=assumed
    )
