"""The settings and the kept meters as a user enters them: what is invalid is explained beside it and stays as typed."""

from __future__ import annotations

import datetime
import struct
import zlib
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from PySide6.QtCore import QDate, QPoint, QPointF, QSize, Qt
from PySide6.QtGui import QImage, QWheelEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QLabel,
    QLineEdit,
    QMessageBox,
    QWidget,
)
from pytestqt.qtbot import QtBot

from gui.model.quantity_entry import VOLTS, is_typed_in_feet, read_length, read_quantity
from gui.model.visit_controller import VisitController
from gui.settings import preferences as kept
from gui.settings.form import choice_field
from gui.settings.logo import LOGO_SIZE, MAX_FILE_BYTES, read_logo
from gui.settings.meter_dialog import MeterDialog, copy_of, new_description
from gui.settings.meters_dialog import MetersDialog
from gui.settings.open_dialogs import show_meters, show_settings
from gui.settings.preferences import ColourScheme, Preferences
from gui.settings.settings_dialog import SettingsDialog
from gui.widgets import theme
from gui.widgets.appearance import Appearance
from gui.widgets.theme import Sizes, style_sheet
from gui.widgets.wheel_boxes import DayBox, NumberBox
from gui.widgets.window_size import fit_dialog
from logger.clock import ManualClock
from logger.meter import description_folder
from logger.meter.description import Accuracy, MeterDescription
from logger.meter.description_folder import list_descriptions, load, save
from logger.meter.line_format import LineFormat
from logger.metrology.lengths import METRES_PER_FOOT, LengthUnit, length_text, lengths_in
from logger.metrology.target import TARGET_SOURCE, TARGET_VOLTS, target_source_text
from logger.visit import VisitLog
from logger.visit.records.practitioner import MAX_LETTERS, MAX_LOGO_BYTES, Practitioner, check_logo

TOO_LONG = "x" * 10_000


class PlainWindow(QWidget):
    """What the dialogs need of a window, without one."""

    def __init__(self, log: VisitLog, preferences: Preferences) -> None:
        super().__init__()
        self.preferences = preferences
        self.controller = VisitController(log)
        self.applied = 0

    def apply_preferences(self) -> None:
        self.applied += 1


@pytest.fixture
def window(tmp_path: Path, qtbot: QtBot) -> Iterator[PlainWindow]:
    with closing(VisitLog.create(tmp_path / "house.visit", ManualClock())) as log:
        window = PlainWindow(log, Preferences(tmp_path / "window.ini"))
        window.show()
        yield window
        window.close()


@pytest.fixture
def meters(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of kept meters, with one in it."""
    folder = tmp_path / "meters"
    monkeypatch.setattr(description_folder, "folder", lambda: folder)
    monkeypatch.setattr("gui.settings.meters_dialog.folder", lambda: folder)
    save(BENCH)
    return folder


BENCH = MeterDescription(
    "Bench meter",
    line=LineFormat(separator="semicolon", field=2, scale=0.001),
    accuracy=(Accuracy(0.6, 1.0, 3.0, 0.0001, 0.03), Accuracy(6.0, 1.0, 3.0, 0.001)),
    input_resistance_ohm=10e6,
    input_capacitance_farad=30e-12,
    true_rms=True,
    calibrated_on=datetime.date(2026, 3, 1),
    make="Maker",
    model="M-1",
    serial_number="0042",
    assumed=frozenset({"isolated_link"}),
)


# --- numbers ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "volts"),
    [
        ("0.1", 0.1), ("0,1", 0.1), (" 0,1 V ", 0.1), ("100 mV", 0.1), ("100mv", 0.1), ("50 µV", 50e-6),
        ("50 μV", 50e-6), (".5", 0.5), ("1e-1 V", 0.1), ("0.05\N{NO-BREAK SPACE}V", 0.05),
    ],
)  # fmt: skip
def test_a_number_is_taken_with_comma_and_unit(text: str, volts: float) -> None:
    assert read_quantity(text, VOLTS, "V") == volts


@pytest.mark.parametrize(
    "text",
    ["", " ", "V", "much", "1,500 mV", "1.500 mV", "1,234 V",
     "1,234.5", "1.2.3", "0x10", "nan", "inf", "-1", "1e999", "٠٫١", "0.1 A", "0.1 m", "5 🙂",
     "\u202e0.1x", "\x1b[31m", TOO_LONG, "9" * 10_000],
)  # fmt: skip
def test_what_is_no_number_is_explained_in_a_sentence(text: str) -> None:
    with pytest.raises(ValueError, match=r"^[A-Z“].{5,160}\.$") as error:
        read_quantity(text, VOLTS, "V")
    assert str(error.value).isprintable()


def test_lengths_are_typed_and_shown_in_the_unit_that_was_chosen() -> None:
    assert read_length("12", LengthUnit.METRES) == read_length("12 metres", LengthUnit.FEET) == 12.0
    assert read_length("10", LengthUnit.FEET) == read_length("10'", LengthUnit.METRES) == 10 * METRES_PER_FOOT
    assert (length_text(12.192, LengthUnit.FEET), length_text(7.5, LengthUnit.METRES)) == ("40 ft", "7.5 m")
    assert length_text(None, LengthUnit.FEET) == ""
    inches = ("18 in", '18"', "18 inch", "1' 6\"", "1 ft 6 in", "1'6")
    assert {read_length(text, LengthUnit.METRES) for text in inches} == {0.4572}
    typed = (12.192, 0.4572, 7.62)
    assert [length_text(metres) for metres in typed] == ["12.2 m", "0.457 m", "7.62 m"], "no false digits"
    with lengths_in(LengthUnit.FEET):
        assert [length_text(metres) for metres in (*typed, 12.0)] == ["40 ft", "1.5 ft", "25 ft", "39.4 ft"]
    with lengths_in(LengthUnit.METRES, frozenset({12.192})):
        assert [length_text(metres) for metres in typed[:2]] == ["40 ft", "0.457 m"]
    with pytest.raises(ValueError, match="between 0 m and 3 m"):
        read_length("10' 1\"", LengthUnit.METRES, most=3.0)


assert [is_typed_in_feet(text) for text in ("40 ft", "1' 6", "12 m", "12")] == [True, True, False, False]


# --- the settings ----------------------------------------------------------------------------------------


def test_ok_keeps_what_was_entered_and_the_window_takes_it_over(window: PlainWindow) -> None:
    dialog = show_settings(window)
    assert show_settings(window) is dialog
    dialog.look.percent.setCurrentText("120 %")
    dialog.report.name.setText("  Ünal Ağaoğlu 🙂 ")
    dialog.report.firm.setText("חברה")
    dialog.report.licence.setText("0042")
    dialog.report.telephone.setText(" 555 0100 ")
    dialog.report.email.setText("a@example.org")
    dialog.target.volts.setText("50 mV")
    dialog.target.source.setText("house rules")
    assert not dialog.target.for_visit.isChecked()
    dialog.target.for_visit.setChecked(True)
    dialog.accept()
    again = Preferences(window.preferences.path)
    stated = Practitioner("Ünal Ağaoğlu 🙂", "חברה", "0042", telephone="555 0100", email="a@example.org")
    assert again.practitioner == stated
    assert (again.get(kept.TEXT_PERCENT), again.get(kept.TARGET)) == (120, 0.05)
    assert window.applied == 1 and not dialog.isVisible()
    log = window.controller.log
    assert log.setup.current().target_volts == 0.05 and log.practitioner.current() == again.practitioner


def test_an_open_box_shows_each_of_its_choices_whole(window: PlainWindow, qtbot: QtBot) -> None:
    box = choice_field([("Metres", 1), ("Feet", 2)], 1)
    box.setParent(window)
    window.setStyleSheet(style_sheet(theme.LIGHT, Sizes.for_height(720)))
    window.show()
    box.show()
    box.showPopup()
    view = box.view()
    qtbot.waitUntil(view.isVisible)
    last = view.visualRect(view.model().index(1, 0))
    assert view.viewport().rect().contains(last)
    box.hidePopup()


def test_cancel_keeps_nothing(window: PlainWindow) -> None:
    dialog = show_settings(window)
    dialog.look.percent.setCurrentText("120 %")
    dialog.reject()
    assert Preferences(window.preferences.path).get(kept.TEXT_PERCENT) == 100 and not window.applied


def test_the_open_visit_keeps_what_it_states_unless_that_is_ticked(window: PlainWindow) -> None:
    log = window.controller.log
    log.practitioner.set(Practitioner("Somebody else"))
    dialog = SettingsDialog(window)
    assert not dialog.report.for_visit.isChecked()
    dialog.report.name.setText("A. Meyer")
    assert dialog.apply()
    assert log.practitioner.current().name == "Somebody else"
    dialog.report.for_visit.setChecked(True)
    assert dialog.apply()
    assert log.practitioner.current().name == "A. Meyer"
    assert "A. Meyer" in window.controller.message.text


def test_a_dialog_leaves_alone_what_another_window_changed_meanwhile(window: PlainWindow) -> None:
    dialog = SettingsDialog(window)
    Preferences(window.preferences.path).set(kept.COLOURS, ColourScheme.DARK)
    dialog.look.percent.setCurrentText("110 %")
    assert dialog.apply()
    again = Preferences(window.preferences.path)
    assert (again.get(kept.COLOURS), again.get(kept.TEXT_PERCENT)) == (ColourScheme.DARK, 110)


WRONG = [
    *(
        (field, text)
        for field in ("name", "licence", "telephone", "email")
        for text in ("x" * (MAX_LETTERS + 1), TOO_LONG)
    ),
    *(("name", text) for text in ("a\x1bb", "a\u202eb", "a\u2028b", "a\ufeffb", "a\u200fb")),
    *(("source", text) for text in ("", "   ", TOO_LONG, "\u202e")),
    *(("volts", text) for text in ("", "0", "0.1 A", "200 V", "0.5 mV", TOO_LONG, "zehn", "٠٫١")),
]


@pytest.mark.parametrize(("field", "text"), WRONG)
def test_an_invalid_entry_says_why_beside_it_and_stays_as_typed(
    window: PlainWindow, field: str, text: str
) -> None:
    dialog = show_settings(window)
    page = dialog.report if hasattr(dialog.report, field) else dialog.target
    line: QLineEdit = getattr(page, field)
    line.setText(text)
    typed = line.text()
    dialog.accept()
    assert dialog.isVisible() and not window.applied
    assert line.text() == typed
    entry = next(entry for entry in page.fields if entry.control is line)
    assert entry.why and entry.why.endswith(".")
    assert line.accessibleDescription() == entry.why
    assert dialog.tabs.currentWidget() is page
    shown = [part.text() for part in entry.findChildren(QLabel) if part.isVisibleTo(dialog)]
    assert entry.why in shown
    assert all(Preferences(window.preferences.path).get(s) == s.default for s in kept.SETTINGS)


@pytest.mark.parametrize(
    "text", ["7 Meyer", "🙂", "עברית", "<b>bold</b>", 'a, b; "c" = %d', "x" * MAX_LETTERS]
)
def test_what_may_look_odd_is_kept_as_typed(window: PlainWindow, text: str) -> None:
    dialog = SettingsDialog(window)
    dialog.report.name.setText(text)
    assert dialog.apply()
    assert Preferences(window.preferences.path).get(kept.NAME) == text


def test_defaults_of_a_page_are_shown_and_kept_only_with_ok(window: PlainWindow) -> None:
    window.preferences.set(kept.TARGET, 0.02)
    dialog = SettingsDialog(window)
    dialog.target.show_defaults()
    assert dialog.target.volts.text() == f"{TARGET_VOLTS:g} V"
    assert dialog.target.source.text() == target_source_text(TARGET_SOURCE) != TARGET_SOURCE
    assert window.preferences.get(kept.TARGET) == 0.02
    assert dialog.apply()
    assert window.preferences.get(kept.TARGET) == TARGET_VOLTS
    assert window.preferences.get(kept.SOURCE_OF_TARGET) == TARGET_SOURCE, "in every language"


# --- the logo --------------------------------------------------------------------------------------------


def picture_file(path: Path, width: int, height: int) -> Path:
    picture = QImage(width, height, QImage.Format.Format_RGB32)
    picture.fill(Qt.GlobalColor.darkGreen)
    picture.setText("Comment", "made at home")
    assert picture.save(str(path))
    return path


def noise_file(path: Path) -> Path:
    width, height = 1500, 1000
    noise = bytes((i * 7919 + i // 13 * 104729 + (i * i) % 251) % 256 for i in range(width * 4)) * height
    QImage(noise, width, height, QImage.Format.Format_RGB32).save(str(path))
    return path


def bomb_file(path: Path) -> Path:
    """A PNG of some 100 kB that unpacks to 900 million pixels, of one bit each."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", 30_000, 30_000, 1, 0, 0, 0, 0)
    rows = zlib.compress(b"\0" * 1000, 9)  # cut short: nobody may unpack it
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b""))
    return path


@pytest.mark.parametrize(("name", "size"), [("a.png", (4000, 100)), ("b.jpg", (80, 3000)), ("c.bmp", (1, 1))])
def test_a_picture_becomes_a_small_png_with_nothing_but_the_picture(
    tmp_path: Path, name: str, size: tuple[int, int]
) -> None:
    logo = read_logo(picture_file(tmp_path / name, *size))
    check_logo(logo)
    assert b"made at home" not in logo
    made = QImage.fromData(logo)
    assert made.width() <= LOGO_SIZE.width() and made.height() <= LOGO_SIZE.height()


def test_a_photograph_is_made_small_enough(tmp_path: Path) -> None:
    assert len(read_logo(noise_file(tmp_path / "noise.png"))) <= MAX_LOGO_BYTES


def test_what_is_no_logo_is_refused_in_a_sentence_and_the_one_before_stays(
    window: PlainWindow, tmp_path: Path
) -> None:
    (tmp_path / "text.png").write_text("no picture")
    (tmp_path / "empty.png").write_bytes(b"")
    (tmp_path / "drawing.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>')
    whole = picture_file(tmp_path / "whole.png", 300, 300)
    (tmp_path / "cut.png").write_bytes(whole.read_bytes()[:60])
    with (tmp_path / "large.png").open("wb") as large:
        large.truncate(50_000_000)
    bomb_file(tmp_path / "bomb.png")
    dialog = SettingsDialog(window)
    dialog.report.use_picture(whole)
    dialog.report.name.setText("A. Meyer")
    for name, words in (
        ("text.png", "is no picture"), ("empty.png", "is no picture"), ("drawing.svg", "is no picture"),
        ("cut.png", "damaged"), ("large.png", "50 MB"), ("bomb.png", "30,000 x 30,000"), ("none.png", "cannot be read"),
        (".", "cannot be read"),
    ):  # fmt: skip
        dialog.report.use_picture(tmp_path / name)
        assert words in dialog.report.logo_field.why
    assert MAX_FILE_BYTES < 50_000_000
    assert dialog.apply()
    assert window.preferences.practitioner.logo == read_logo(whole)


# --- the kept meters -------------------------------------------------------------------------------------


def test_a_meter_is_shown_and_kept_as_it_was(window: PlainWindow, meters: Path) -> None:
    dialog = MeterDialog(window, load("Bench meter"), "Bench meter")
    assert dialog.description() == BENCH
    dialog.accept()
    assert load("Bench meter") == BENCH and [path.name for path in meters.iterdir()] == ["Bench meter.toml"]


def test_an_edited_meter_is_kept_and_the_file_before_stays_beside_it(
    window: PlainWindow, meters: Path
) -> None:
    before = (meters / "Bench meter.toml").read_text()
    dialog = MeterDialog(window, load("Bench meter"), "Bench meter")
    dialog.resistance.setText("11,1 MΩ")
    dialog.capacitance.setText("")
    dialog.isolated.setCurrentIndex(1)
    dialog.serial.setText("0043")
    dialog.day.setDate(QDate(2026, 4, 2))
    assert dialog.scale is not None
    dialog.scale.setText("0,002")
    dialog.accept()
    edited = load("Bench meter")
    assert (edited.input_resistance_ohm, edited.isolated_link, edited.serial_number) == (11.1e6, True, "0043")
    assert edited.calibrated_on == datetime.date(2026, 4, 2) and edited.line is not None
    assert edited.line.scale == 0.002 and edited.assumed == {"input_capacitance_farad"}
    assert (meters / "Bench meter.toml.1").read_text() == before


def test_a_new_meter_of_which_only_the_name_is_known_assumes_the_rest(
    window: PlainWindow, meters: Path
) -> None:
    dialog = MeterDialog(window, new_description())
    dialog.name.setText("New one")
    dialog.accept()
    assert load("New one") == MeterDescription("New one")


def test_a_name_that_is_taken_is_refused_and_nothing_is_written_over(
    window: PlainWindow, meters: Path
) -> None:
    before = (meters / "Bench meter.toml").read_text()
    dialog = MeterDialog(window, new_description())
    dialog.show()
    dialog.name.setText("Bench meter")
    dialog.accept()
    assert dialog.isVisible() and (meters / "Bench meter.toml").read_text() == before
    assert any("kept already" in part.text() for part in dialog.findChildren(QLabel) if part.isVisible())


WRONG_METER = [
    *(
        (("name",), "name", text)
        for text in ("", "  ", "a/b", "..", "a\nb", "a\u202eb", TOO_LONG, "🙂" * 70, "CON:")
    ),
    *((("meter", "make"), "make", text) for text in (TOO_LONG, "a\u202eb", "a\x1bb")),
    *((("meter", "serial_number"), "serial", text) for text in (TOO_LONG, "\u2066")),
    *(
        (("meter", "input_resistance_ohm"), "resistance", text)
        for text in ("ten", "10 pF", "0", "-5", "1 ohm", "1e30", TOO_LONG)
    ),
    *((("meter", "input_capacitance_farad"), "capacitance", text) for text in ("30 V", "1 F", "-1", "🙂")),
    *((("line", "scale"), "scale", text) for text in ("0", "x", "-1", "1e9", "1 V")),
]


@pytest.mark.parametrize(("path", "field", "text"), WRONG_METER)
def test_an_invalid_entry_of_a_meter_says_why_beside_it_and_stays(
    window: PlainWindow, meters: Path, path: tuple[str, ...], field: str, text: str
) -> None:
    before = (meters / "Bench meter.toml").read_text()
    dialog = MeterDialog(window, load("Bench meter"), "Bench meter")
    line: QLineEdit = getattr(dialog, field)
    line.setText(text)
    typed = line.text()
    dialog.accept()
    assert line.text() == typed
    assert dialog.fields[path].why.endswith(".") and not dialog.result()
    assert [entry.why for place, entry in dialog.fields.items() if entry.why and place != path] == []
    assert (meters / "Bench meter.toml").read_text() == before


WRONG_CELLS = [
    (0, 0, "", "Range 1, Range up to: It is missing."),
    (0, 0, "600 A", "Range 1, Range up to: “600 A” has a unit"),
    (1, 0, "0.5 V", "Range 2, Range up to: It is not above that of the range before."),
    (0, 1, "200 %", "Range 1, % of reading: It must be a number from 0 to 100."),
    (1, 2, "three", "Range 2, and counts: “three” is not a number"),
    (0, 3, "0", "Range 1, One count: It must be a number from"),
    (1, 4, "7 V", "Range 2, Specified from: It is not below the end of the range."),
]


@pytest.mark.parametrize(("row", "column", "text", "why"), WRONG_CELLS)
def test_a_wrong_cell_of_the_ranges_is_named_by_row_and_column(
    window: PlainWindow, meters: Path, row: int, column: int, text: str, why: str
) -> None:
    dialog = MeterDialog(window, load("Bench meter"), "Bench meter")
    cell = dialog.ranges.table.item(row, column)
    cell.setText(text)
    assert dialog.description() is None
    shown = dialog.fields[("accuracy",)].why
    assert shown.startswith(why) and shown.count("Range ") == why.count("Range ") and cell.text() == text


def test_cells_take_units_and_commas_and_empty_rows_are_left_out(window: PlainWindow, meters: Path) -> None:
    dialog = MeterDialog(window, load("Bench meter"), "Bench meter")
    for column, text in enumerate(("600 mV", "0,5", "2", "100 µV", "")):
        dialog.ranges.table.item(0, column).setText(text)
    dialog.ranges.add_range()
    description = dialog.description()
    assert description is not None
    assert description.accuracy == (Accuracy(0.6, 0.5, 2.0, 0.0001), BENCH.accuracy[1])


def test_a_day_of_calibration_that_is_yet_to_come_is_refused(window: PlainWindow, meters: Path) -> None:
    dialog = MeterDialog(window, load("Bench meter"), "Bench meter")
    tomorrow = datetime.date.today() + datetime.timedelta(days=2)
    dialog.day.setDate(QDate(tomorrow.year, tomorrow.month, tomorrow.day))
    assert dialog.description() is None
    assert "yet to come" in dialog.fields[("meter", "calibrated_on")].why


def test_the_list_offers_what_can_be_done_with_each_meter(window: PlainWindow, meters: Path) -> None:
    (meters / "Broken.toml").write_text('name = "Broken"\n[meter]\ntrue_rms = 7\n')
    dialog = show_meters(window)
    assert show_meters(window) is dialog
    assert dialog.chosen == "Bench meter" and dialog.edit_button.isEnabled()
    dialog.fill("Broken")
    assert not dialog.edit_button.isEnabled() and not dialog.copy_button.isEnabled()
    assert dialog.delete_button.isEnabled() and "true_rms must be true or false" in dialog.note.text()


def test_a_copy_is_another_meter_of_the_same_model(meters: Path) -> None:
    copied = copy_of(BENCH, ["Bench meter", "bench METER 2"])
    assert copied.name == "Bench meter 3" and copied.accuracy == BENCH.accuracy
    assert not copied.serial_number and copied.calibrated_on is None and "calibrated_on" in copied.assumed


@pytest.mark.parametrize(("button", "kept_names"), [("Delete", []), ("Keep it", ["Bench meter"])])
def test_deleting_asks_and_keeps_the_file_aside(
    window: PlainWindow, meters: Path, monkeypatch: pytest.MonkeyPatch, button: str, kept_names: list[str]
) -> None:
    def answer(question: QMessageBox) -> int:
        buttons: list[QAbstractButton] = question.buttons()
        next(one for one in buttons if one.text() == button).click()
        return 0

    monkeypatch.setattr(QMessageBox, "exec", answer)
    content = (meters / "Bench meter.toml").read_text()
    dialog = MetersDialog(window)
    dialog.delete()
    assert list_descriptions(meters) == kept_names
    aside = meters / "Bench meter.toml.1"
    assert aside.exists() is not bool(kept_names)
    if not kept_names:
        assert aside.read_text() == content and "is off the list" in dialog.note.text()


def test_renaming_keeps_the_old_file_aside(window: PlainWindow, meters: Path) -> None:
    dialog = MeterDialog(window, load("Bench meter"), "Bench meter")
    dialog.name.setText("Other meter")
    dialog.accept()
    assert list_descriptions(meters) == ["Other meter"] and (meters / "Bench meter.toml.1").exists()


# --- looks -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("percent", [100, 150])
def test_every_control_has_a_name_and_is_reached_in_a_small_window(
    window: PlainWindow, meters: Path, qapp: QApplication, percent: int
) -> None:
    appearance = Appearance(theme.DARK, Sizes.for_height(552, percent))
    window.setStyleSheet(style_sheet(appearance.theme, appearance.sizes))
    for dialog in (SettingsDialog(window), MeterDialog(window, load("Bench meter")), MetersDialog(window)):
        fit_dialog(dialog)
        dialog.resize(dialog.size().boundedTo(QSize(1016, 552)))
        dialog.show()
        pages = dialog.tabs.count() if isinstance(dialog, SettingsDialog) else 1
        for at in range(pages):
            if isinstance(dialog, SettingsDialog):
                dialog.tabs.setCurrentIndex(at)
            qapp.processEvents()
            for control in dialog.findChildren(QWidget):
                takes_keys = control.focusPolicy() & Qt.FocusPolicy.TabFocus and control.isVisible()
                if takes_keys and not control.objectName().startswith("qt_"):
                    name = control.accessibleName() or getattr(control, "text", str)()
                    assert name, control
            for page in dialog.findChildren(QWidget):
                if page.isVisible() and page.parent() is dialog:
                    assert dialog.rect().contains(page.geometry())
        dialog.close()


def test_the_window_opens_the_dialogs_by_its_actions(
    log: VisitLog, open_window: Callable[[], object]
) -> None:
    driver = open_window()
    for action_id, kind in (("edit.settings", SettingsDialog), ("tools.meters", MetersDialog)):
        driver.do(action_id)  # type: ignore[attr-defined]
        (dialog,) = driver.window.findChildren(kind)  # type: ignore[attr-defined]
        assert dialog.isVisible()
        dialog.reject()


def test_a_new_target_leaves_the_open_visit_alone_unless_that_is_ticked(window: PlainWindow) -> None:
    dialog = SettingsDialog(window)
    dialog.target.volts.setText("0.05 V")
    assert dialog.apply() and window.controller.setup.stated.target_volts == kept.TARGET.default
    assert window.preferences.get(kept.TARGET) == 0.05
    dialog.target.for_visit.setChecked(True)
    assert dialog.apply() and window.controller.setup.stated.target_volts == 0.05
    notes = [note.text() for note in dialog.target.findChildren(QLabel) if "keeps its target" in note.text()]
    assert len(notes) == 1 and "keeps its target of 0.05 V" in notes[0]


def test_the_wheel_changes_no_closed_box(qapp: QApplication) -> None:
    """It is left to the page; a language that was changed unnoticed is seen by the household first."""
    chosen, number, day = choice_field([("One", 1), ("Two", 2)], 1), NumberBox(), DayBox(QDate(2026, 5, 1))
    for box in (chosen, number, day):
        box.setFocus()
        at = QPointF(5, 5)
        wheel = QWheelEvent(
            at, box.mapToGlobal(at), QPoint(), QPoint(0, -120), Qt.MouseButton.NoButton,
            Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
        )  # fmt: skip
        QApplication.sendEvent(box, wheel)
        assert not wheel.isAccepted(), "left to the page"
    assert (chosen.currentData(), number.value(), day.date()) == (1, 0, QDate(2026, 5, 1))
