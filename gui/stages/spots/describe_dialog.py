"""Describes a spot: how somebody is there when it is read, and its photos. Everything is optional.

In: a spot of the visit. Out: one edit that can be undone. What was described at another spot is taken over
and says so.
"""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QSize, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from gui.model.quantity_entry import is_typed_in_feet, read_length
from gui.model.spot_detail_controller import POSTURES
from gui.model.visit_controller import VisitController
from gui.settings.form import EntryField, FormPage, dialog_buttons, show_note, text_field
from gui.shell.announcer import announce_at
from gui.stages.spots.photo_strip import PhotoStrip
from gui.widgets.appearance import label
from gui.widgets.choice_box import ChoiceBox
from gui.widgets.window_size import fit_dialog
from logger.metrology.lengths import LengthUnit, length_text
from logger.translation import tr
from logger.visit.records.home_details import MAX_HEIGHT_M, SpotDetails
from logger.visit.records.home_records import Spot
from logger.visit.records.practitioner import why_not_a_line

LETTERS = QSize(44, 32)
"""Usual width and height of the dialog, in heights of a letter."""

PHOTO_HEIGHT = 4
"""Of a photo in the dialog, in heights of a letter."""


class DescribeDialog(QDialog):
    """Asks how somebody is at a spot.

    Args:
        controller: the visit.
        spot: the spot.
        parent: the window that it belongs to.
    """

    photos_wanted = Signal()
    """Photos are to be added to the spot."""
    photo_opened = Signal(object)
    """A photo was clicked."""

    def __init__(self, controller: VisitController, spot: Spot, parent: QWidget) -> None:
        super().__init__(parent)
        self._controller, self.spot = controller, spot
        self.setWindowTitle(tr("Describe “{spot}”").format(spot=spot.name))
        self.setModal(True)
        proposed = controller.details.proposed(spot)
        self._from, details = proposed.taken_over, proposed.details
        self._unit = self._unit_of(details.height_m)
        self.form = FormPage()
        self.form.add_line(
            label(tr("So that the value can be read again in the same way. Everything is optional."), "quiet")
        )
        self.fields: dict[str, EntryField] = {}
        self._make_fields(details)
        self.strip = PhotoStrip(controller.photos.picture, PHOTO_HEIGHT * self.fontMetrics().height())
        self.strip.photo_opened.connect(self.photo_opened)
        self.add_photos = QPushButton(tr("&Add photos..."))
        self.add_photos.setAutoDefault(False)
        self.add_photos.clicked.connect(self.photos_wanted)
        self.photo_note = label("", "quiet")
        self._failure = label("", "error")
        kinds = QDialogButtonBox.StandardButton
        self.buttons = dialog_buttons((kinds.Save, tr("Save")), (kinds.Cancel, tr("Cancel")))
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        photos = QHBoxLayout()
        photos.addWidget(self.add_photos)
        photos.addWidget(self.strip)
        photos.addWidget(self.photo_note, 1)
        column = QVBoxLayout(self)
        column.addWidget(self.form, 1)
        column.addLayout(photos)
        column.addWidget(self._failure)
        column.addWidget(self.buttons)
        show_note(self._failure, "", is_mistake=True)
        self.refresh()
        fit_dialog(self, LETTERS)
        self.posture.setFocus()

    # --- parts ---------------------------------------------------------------------------------------------

    def _make_fields(self, details: SpotDetails) -> None:
        """Make a control for each field, with what the description begins with."""
        self.posture = self._posture_box(details.posture)
        self.fields["posture"] = self._add(
            "posture", tr("&Posture"), self.posture, tr("Choose one, or type another.")
        )
        height = length_text(details.height_m, self._unit)
        self.height_line = self._line("height_m", tr("&Height above the floor"), height, self._height_hint())
        self.height_of = self._line(
            "height_of",
            tr("Height of &what"),
            details.height_of,
            tr("Such as: the chest, the hand with the probe."),
        )
        self.place = self._line(
            "place", tr("Where &exactly"), details.place, tr("Such as: left side, head 40 cm from the wall.")
        )
        self.distances = self._line(
            "distances",
            tr("&Distances"),
            details.distances,
            tr("To two walls, and to the nearest lamp or cord: north wall 0.4 m, window 1.5 m, lamp 0.6 m."),
        )
        self.carried_by = self._line(
            "carried_by",
            tr("&Bed, seat and floor"),
            details.carried_by,
            tr(
                "What carries and covers the body, and of what it is: metal bed frame, foam mattress, wool blanket; "
                "wooden chair, carpet under the feet."
            ),
        )
        self.cover = self._line(
            "cover",
            tr("Co&ver"),
            details.cover,
            tr("What lay on the body, and where the arm with the probe was: quilt, the arm above it."),
        )
        self.slept_in = self._line(
            "slept_in",
            tr("Slept in b&y"),
            details.slept_in,
            tr("Who sleeps here at night, without a name: a child; nobody."),
        )
        self.probe_held = self._line(
            "probe_held",
            tr("How the probe &is held"),
            details.probe_held,
            tr("In which hand, and where the other one lies: right, dry; left on the belly."),
        )
        self.meter_place = self._line(
            "meter_place",
            tr("Pla&ce of meter and laptop"),
            details.meter_place,
            tr("Such as: on the floor, 1 m from the body."),
        )
        self._make_fields_of_the_day(details)

    def _make_fields_of_the_day(self, details: SpotDetails) -> None:
        """The same of what another day has otherwise: what was plugged in, and who was there."""
        self.plugged = self._line(
            "plugged",
            tr("What was plu&gged in"),
            details.plugged,
            tr("And whether it was on: bedside lamp, lit; charger. Or: nothing within 2 m."),
        )
        self.plug_side = self._line(
            "plug_side",
            tr("Plugs and &lamps"),
            details.plug_side,
            tr(
                "Which way round plugs sit, and in which readings a lamp was lit or only plugged in: lamp lit whenever "
                "its circuit was on, mark on its plug up."
            ),
        )
        self.person = self._line(
            "person", tr("Person &measured"), details.person, tr("No name is needed: adult, barefoot.")
        )
        self.others = self._line(
            "others", tr("&Other people"), details.others, tr("Who stood where: at the laptop, 3 m away.")
        )

    def _posture_box(self, posture: str) -> QComboBox:
        box = ChoiceBox()
        box.setEditable(True)
        box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        box.addItems([tr(one) for one in POSTURES])
        box.setCurrentIndex(-1)
        box.setEditText(posture)
        return box

    def _add(self, field: str, name: str, control: QWidget, hint: str) -> EntryField:
        """Add a control, with a hint that says from which spot its content was taken over."""
        if field in self._from:
            hint = tr("As at “{spot}”.").format(spot=self._from[field])
        return self.form.add_field(name, control, hint)

    def _line(self, field: str, name: str, text: str, hint: str) -> QLineEdit:
        line = text_field(text)
        self.fields[field] = added = self._add(field, name, line, hint)
        line.textEdited.connect(lambda: added.show_mistake(""))
        return line

    def _unit_of(self, metres: float | None) -> LengthUnit:
        """In which unit a height is shown: that in which it was typed, else that of the settings."""
        return LengthUnit.FEET if metres in self._controller.typed_in_feet else self._controller.length_unit

    def _height_hint(self) -> str:
        return (
            tr(
                "How high the body was above the floor, in feet, such as 1.8; or with its unit, such as 0.55 m."
            )
            if self._unit is LengthUnit.FEET
            else tr(
                "How high the body was above the floor, in metres, such as 0.55; or with its unit, such as 1.8 ft."
            )
        )

    # --- what is shown and kept ----------------------------------------------------------------------------

    def refresh(self) -> None:
        """Show the photos that the spot has now."""
        photos = self._controller.photos
        self.strip.show_photos(photos.of_spot(self.spot))
        why_not = photos.why_not_add(self.spot)
        self.add_photos.setEnabled(not why_not)
        text = self._controller.message.text if self._controller.message.refused else why_not
        if self.photo_note.text() != text:
            self.photo_note.setText(text)
            announce_at(self, text)

    def details(self) -> SpotDetails | None:
        """What is typed; None where something is wrong, which is then shown beside its field."""
        texts = {
            "posture": self.posture.currentText(),
            "height_of": self.height_of.text(),
            "place": self.place.text(),
            "distances": self.distances.text(),
            "carried_by": self.carried_by.text(),
            "cover": self.cover.text(),
            "slept_in": self.slept_in.text(),
            "probe_held": self.probe_held.text(),
            "meter_place": self.meter_place.text(),
            "plugged": self.plugged.text(),
            "plug_side": self.plug_side.text(),
            "person": self.person.text(),
            "others": self.others.text(),
        }
        mistakes = {field: why_not_a_line(" ".join(text.split())) for field, text in texts.items()}
        height, mistakes["height_m"] = self._height()
        for field, why in mistakes.items():
            self.fields[field].show_mistake(why)
        if self.form.show_first_mistake():
            announce_at(self, " ".join(filter(None, mistakes.values())))
            return None
        typed: dict[str, Any] = {**texts, "height_m": height}
        return SpotDetails(**typed)

    def _height(self) -> tuple[float | None, str]:
        """The height that is typed, metres, and what is wrong with it in a sentence."""
        text = self.height_line.text().strip()
        if not text:
            return None, ""
        try:
            return read_length(text, self._unit, MAX_HEIGHT_M), ""
        except ValueError as error:
            return None, str(error)

    def accept(self) -> None:
        """Keep what is typed; the dialog stays open where it is refused."""
        details = self.details()
        if details is None:
            return
        if details.height_m is not None:
            typed = self._controller.typed_in_feet
            (typed.add if is_typed_in_feet(self.height_line.text()) else typed.discard)(details.height_m)
        if not self._controller.details.describe(self.spot, details):
            show_note(self._failure, self._controller.message.text, is_mistake=True)
            announce_at(self, self._failure.text())
            return
        super().accept()
