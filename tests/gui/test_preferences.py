"""What the window remembers, and what it does where that cannot be read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QSize
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import QApplication

from gui.app import WindowSwitcher
from gui.model.visit_controller import VisitController
from gui.settings import preferences as kept
from gui.settings.preferences import SETTINGS, ColourScheme, Preferences, Setting
from gui.sound.sounds import Sounds
from gui.widgets import theme
from gui.window import Window
from gui.window.window import FRAME_SIZE
from logger.meter.port import PortInfo, PortSettings
from logger.metrology.lengths import LengthUnit
from logger.visit import VisitLog
from logger.visit.records.practitioner import Practitioner
from logger.visit.storage.visit_brief import read_brief
from tests.support.window_driver import Driver, FakeStart


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "settings" / "window.ini"


LOGO = (
    b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x01\x08\x06\0\0\0\x1f\x15\xc4\x89\0\0\0\rIDATx\xda"
    b"cd\xf8\xcfP\x0f\0\x03\x86\x01\x80Z4}k\0\0\0\0IEND\xaeB`\x82"
)
"""A picture of one pixel."""

OTHER: dict[str, Any] = {
    "sounds": False,
    "speech": False,
    "colours": ColourScheme.DARK,
    "text-percent": 150,
    "report-language": "de",
    "report-paper": "Letter",
    "language": "en",
    "lengths": LengthUnit.FEET,
    "target-volts": 0.05,
    "target-source": 'a source, with comma; "quotes" and 100 %',
    "hands-free-seconds": 15.0,
    "presenter": True,
    "practitioner-name": "Ünal Ağaoğlu 🙂",
    "practitioner-firm": "חברה, Ltd",
    "practitioner-licence": "0042",
    "practitioner-telephone": "+1 555 0100",
    "practitioner-email": "a@example.org",
    "practitioner-logo": LOGO,
    "last-port": "/dev/ttyUSB0",
    "last-meter": "Bench meter",
    "photo-folder": "/media/card/DCIM",
    "window-place": b"\0\1\2\xff",
    "practice-house-place": b"\0\1\2\xff",
    "spots-permille": 400,
}


@pytest.mark.parametrize("setting", SETTINGS, ids=lambda setting: setting.key)
def test_each_setting_is_there_at_the_next_start(path: Path, setting: Setting[Any]) -> None:
    first = Preferences(path)
    assert first.get(setting) == setting.default != OTHER[setting.key]
    assert first.set(setting, OTHER[setting.key])
    assert Preferences(path).get(setting) == OTHER[setting.key]
    assert not Preferences(path).warning


def test_two_windows_do_not_lose_each_others_changes(path: Path) -> None:
    one, other = Preferences(path), Preferences(path)
    one.set(kept.NAME, "A. Meyer")
    other.set(kept.FIRM, "Meyer")
    one.set(kept.LICENCE, "7")
    other.refresh()
    for window in (one, other, Preferences(path)):
        window.refresh()
        assert window.practitioner == Practitioner("A. Meyer", "Meyer", "7")


def test_colours_sounds_and_place_are_kept_and_taken_over(
    path: Path, log: VisitLog, show_window: Callable[[Window], Driver]
) -> None:
    driver = show_window(
        Window(VisitController(log), sounds=Sounds(), polls=False, preferences=Preferences(path))
    )
    was_dark = driver.window.appearance.theme is theme.DARK
    driver.do("view.dark", "view.sound")
    driver.window.setGeometry(40, 50, 1000, 600)
    driver.window.may_close = True
    driver.window.close()
    again = show_window(Window(VisitController(log), polls=False, preferences=Preferences(path))).window
    assert (again.appearance.theme is theme.DARK) is not was_dark and not again.sounds.on
    assert again.size() == QSize(1000, 600)


def test_another_visit_in_the_same_window_keeps_the_colours(
    path: Path, log: VisitLog, tmp_path: Path, show_window: Callable[[Window], Driver]
) -> None:
    preferences = Preferences(path)
    preferences.set(kept.COLOURS, ColourScheme.DARK)
    window = show_window(Window(VisitController(log), polls=False, preferences=preferences)).window
    switcher = WindowSwitcher(window)
    assert switcher.window.appearance.theme is theme.DARK
    assert (
        Window(VisitController(log), polls=False, preferences=window.preferences).appearance.theme
        is theme.DARK
    )


def test_colours_and_size_of_text_take_effect_at_once(
    log: VisitLog, qapp: QApplication, show_window: Callable[[Window], Driver]
) -> None:
    window = show_window(Window(VisitController(log), polls=False)).window
    usual = window.appearance.sizes
    for scheme, wanted in ((ColourScheme.DARK, theme.DARK), (ColourScheme.LIGHT, theme.LIGHT)):
        window.preferences.set(kept.COLOURS, scheme)
        window.preferences.set(kept.TEXT_PERCENT, 150)
        window.apply_preferences()
        assert window.readout.appearance.theme is wanted
        assert qapp.palette().color(QPalette.ColorRole.Window).name().upper() == wanted.panel
        assert window.appearance.sizes.normal == pytest.approx(1.5 * usual.normal, abs=1)


def test_text_is_never_smaller_than_its_least() -> None:
    least = theme.Sizes.for_height(400).small
    assert theme.Sizes.for_height(400, 90).small == least
    for height in (540, 720, 1080, 2160):
        small, usual, large = (theme.Sizes.for_height(height, percent) for percent in (90, 100, 150))
        assert small.small <= usual.small < large.small and usual.value == large.value


@pytest.mark.parametrize(
    "content",
    [
        b"\x00\xff[[[",
        b"no settings at all",
        b"[General]\nsounds=\xff\xfe",
        b"[General]\nnoise\n",
        b"a=b" * 10**6,
    ],
    ids=["bytes", "words", "no UTF-8", "a line without value", "too large"],
)
def test_a_damaged_file_is_kept_aside_and_gives_what_a_first_start_gives(path: Path, content: bytes) -> None:
    path.parent.mkdir()
    path.write_bytes(content)
    read = Preferences(path)
    assert all(read.get(setting) == setting.default for setting in SETTINGS)
    aside = path.with_name("window.ini.damaged-1")
    assert aside.read_bytes() == content and str(aside) in read.warning
    read.set(kept.SOUNDS, False)
    assert Preferences(path).get(kept.SOUNDS) is False and not Preferences(path).warning
    path.write_bytes(content)
    assert "damaged-2" in Preferences(path).warning and aside.read_bytes() == content


UNUSABLE = {
    "sounds": ["7", ""],
    "colours": ["mauve"],
    "text-percent": ["9000", "89", "101", "9" * 5000, "1e2", "-100", "٩٥"],
    "language": ["xx"],
    "lengths": ["miles"],
    "target-volts": ["nan", "inf", "0", "-1", "1e9", "much"],
    "target-source": ["", "x" * 10_000],
    "hands-free-seconds": ["0", "1e300", "soon"],
    "practitioner-name": ["x" * 10_000, "a\\nb", "a\u202eb"],
    "practitioner-logo": ["!", "QUJD"],
    "last-port": ["sim://house"],
    "window-place": ["a!b"],
}


@pytest.mark.parametrize(("key", "text"), [(key, text) for key, texts in UNUSABLE.items() for text in texts])
def test_a_value_that_cannot_be_used_gives_its_default_and_leaves_the_others(
    path: Path, key: str, text: str
) -> None:
    path.parent.mkdir()
    content = f"[General]\npractitioner-firm=Firm, with comma\n{key}={text}\n"
    path.write_text(content, encoding="utf-8")
    read = Preferences(path)
    setting = next(setting for setting in SETTINGS if setting.key == key)
    assert read.get(setting) == setting.default
    assert read.get(kept.FIRM) == "Firm, with comma"
    assert key in read.warning
    assert path.with_name("window.ini.damaged-1").read_text(encoding="utf-8") == content
    assert not Preferences(path).warning


def test_a_place_that_is_none_is_left_out(
    path: Path, log: VisitLog, show_window: Callable[[Window], Driver]
) -> None:
    preferences = Preferences(path)
    preferences.set(kept.PLACE, b"no geometry")
    window = show_window(Window(VisitController(log), polls=False, preferences=preferences)).window
    assert window.width() >= window.minimumWidth()


def test_where_nothing_can_be_written_the_change_holds_while_the_window_is_open(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    read = Preferences(tmp_path / "file" / "window.ini")
    assert not read.set(kept.COLOURS, ColourScheme.DARK)
    assert read.get(kept.COLOURS) is ColourScheme.DARK
    assert "until this window is closed" in read.failure


def test_a_folder_in_the_files_place_is_no_failure(tmp_path: Path) -> None:
    (tmp_path / "window.ini").mkdir()
    read = Preferences(tmp_path / "window.ini")
    assert read.get(kept.COLOURS) is ColourScheme.SYSTEM and read.warning


def test_a_setting_takes_only_what_it_can_read_again() -> None:
    with pytest.raises(ValueError):
        Preferences().set(kept.TEXT_PERCENT, 151)
    with pytest.raises(ValueError):
        Preferences().set(kept.NAME, "two\nlines")


def test_a_new_visit_takes_over_the_target_and_one_at_work_keeps_its_own(log: VisitLog) -> None:
    preferences = Preferences()
    preferences.set(kept.TARGET, 0.05)
    preferences.set(kept.SOURCE_OF_TARGET, "house rules")
    controller = VisitController(log)
    Window(controller, polls=False, preferences=preferences)
    assert (controller.setup.stated.target_volts, controller.setup.stated.target_source) == (
        0.05,
        "house rules",
    )
    preferences.set(kept.TARGET, 0.02)
    Window(VisitController(log), polls=False, preferences=preferences)
    assert log.setup.current().target_volts == 0.05


def test_the_last_port_is_chosen_in_a_new_visit_only_while_it_is_there(
    path: Path, log: VisitLog, start: FakeStart, monkeypatch: pytest.MonkeyPatch
) -> None:
    port = PortInfo("/dev/ttyUSB7", "Serial cable (Maker)")
    other = PortInfo("/dev/ttyUSB1", "Another cable (Maker)")
    present = [other, port]
    monkeypatch.setattr("gui.stages.connect.connect_page.list_ports", lambda: present)
    preferences = Preferences(path)
    controller = VisitController(log, start_recorder=start)  # type: ignore[arg-type]
    Window(controller, polls=False, preferences=preferences)
    controller.recording.start(PortSettings(port.url, meter="Bench meter"))
    assert Preferences(path).get(kept.LAST_METER) == "Bench meter"
    window = Window(VisitController(log), polls=False, preferences=Preferences(path))
    assert window.pages.connect.settings().url == port.url
    present.remove(port)
    window = Window(VisitController(log), polls=False, preferences=Preferences(path))
    assert window.pages.connect.settings().url == other.url


def test_a_simulated_port_is_never_remembered(path: Path, log: VisitLog, start: FakeStart) -> None:
    controller = VisitController(log, start_recorder=start)  # type: ignore[arg-type]
    Window(controller, polls=False, preferences=Preferences(path))
    controller.recording.start(PortSettings("sim://house"))
    assert Preferences(path).get(kept.LAST_PORT) == ""


def test_a_new_visit_names_who_measures_and_keeps_that(log: VisitLog, start: FakeStart) -> None:
    preferences = Preferences()
    preferences.set(kept.NAME, "A. Meyer")
    controller = VisitController(log, start_recorder=start)  # type: ignore[arg-type]
    Window(controller, polls=False, preferences=preferences)
    assert log.practitioner.current().name == "A. Meyer"
    assert read_brief(log.path).is_empty, "the program stated it by itself"
    preferences.set(kept.NAME, "Somebody else")
    controller.recording.start(PortSettings("/dev/ttyUSB7"))
    Window(VisitController(log), polls=False, preferences=preferences).report_controller.write()
    assert log.practitioner.current().name == "A. Meyer"


def test_the_window_opens_inside_its_screen(
    log: VisitLog, qapp: QApplication, show_window: Callable[[Window], Driver]
) -> None:
    window = show_window(Window(VisitController(log), polls=False)).window
    room = qapp.primaryScreen().availableSize() - FRAME_SIZE
    assert window.width() <= max(room.width(), window.minimumWidth())
    assert window.height() <= max(room.height(), window.minimumHeight())
