"""The fields of a port: its URL and the serial settings."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QGridLayout, QLineEdit, QWidget

from gui.widgets.appearance import label
from gui.widgets.choice_box import ChoiceBox
from logger.meter.port import PortSettings
from logger.translation import marked, tr

BAUDS = ("300", "600", "1200", "2400", "4800", "9600", "19200", "38400", "57600", "115200")
PARITIES = {
    marked("none"): "N",
    marked("even"): "E",
    marked("odd"): "O",
    marked("mark"): "M",
    marked("space"): "S",
}
LEVELS: dict[str, bool | None] = {
    marked("as the system sets it"): None,
    marked("on"): True,
    marked("off"): False,
}
"""What the choices mean, by their English words; a box shows each through `tr`."""


class PortFields(QWidget):
    """One field for each setting.

    Args:
        settings: what the fields hold first.
    """

    def __init__(self, settings: PortSettings) -> None:
        super().__init__()
        self.url = QLineEdit(settings.url)
        baud, bits, parity, stop, dtr, rts = _field_texts(settings)
        self.baud = _combo_box(BAUDS, baud)
        self.baud.setEditable(True)
        self.data_bits = _combo_box(("8", "7", "6", "5"), bits)
        self.parity = _combo_box(tuple(PARITIES), parity)
        self.stop_bits = _combo_box(("1", "1.5", "2"), stop)
        self.dtr = _combo_box(tuple(LEVELS), dtr)
        self.rts = _combo_box(tuple(LEVELS), rts)
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        names = (
            tr("Port or URL"),
            tr("Baud rate"),
            tr("Data bits"),
            tr("Parity"),
            tr("Stop bits"),
            tr("DTR level"),
            tr("RTS level"),
        )
        for row, (name, field) in enumerate(zip(names, (self.url, *self.choices), strict=True)):
            caption = label(name, "quiet", wrap=False)
            caption.setBuddy(field)
            grid.addWidget(caption, row, 0)
            grid.addWidget(field, row, 1)
        grid.setColumnStretch(1, 1)

    @property
    def choices(self) -> tuple[QComboBox, ...]:
        """The fields below the URL, from the top."""
        return self.baud, self.data_bits, self.parity, self.stop_bits, self.dtr, self.rts

    def read(self, settings: PortSettings) -> PortSettings:
        """Put what the fields hold into settings; a baud rate that is no number is left as it was."""
        baud = self.baud.currentText().strip()
        return replace(
            settings,
            url=self.url.text().strip(),
            baud=int(baud) if baud.isdigit() else settings.baud,
            data_bits=int(self.data_bits.currentData()),
            parity=PARITIES[self.parity.currentData()],
            stop_bits=float(self.stop_bits.currentData()),
            dtr=LEVELS[self.dtr.currentData()],
            rts=LEVELS[self.rts.currentData()],
        )

    def show_settings(self, settings: PortSettings) -> None:
        """Show settings, all but the URL."""
        for field, text in zip(self.choices, _field_texts(settings), strict=True):
            _choose(field, text)


def _field_texts(settings: PortSettings) -> tuple[str, str, str, str, str, str]:
    """What the fields below the URL hold."""
    parity = next(name for name, letter in PARITIES.items() if letter == settings.parity)
    dtr, rts = (
        next(name for name, value in LEVELS.items() if value is level)
        for level in (settings.dtr, settings.rts)
    )
    return str(settings.baud), str(settings.data_bits), parity, f"{settings.stop_bits:g}", dtr, rts


def _combo_box(choices: tuple[str, ...], chosen: str) -> QComboBox:
    box = ChoiceBox()
    box.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
    for choice in choices:
        box.addItem(_shown(choice), choice)
    _choose(box, chosen)
    return box


def _choose(field: QComboBox, choice: str) -> None:
    """Choose in a field by the English word; what it does not offer yet is added."""
    if field.findData(choice) < 0:
        field.addItem(_shown(choice), choice)
    field.setCurrentIndex(field.findData(choice))
    if field.isEditable():  # in place of what was typed
        field.setEditText(choice)


def _shown(choice: str) -> str:
    """A choice in the language of the window; a number is the same in each."""
    return choice if choice[0].isdigit() else tr(choice)
