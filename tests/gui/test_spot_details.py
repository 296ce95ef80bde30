"""A spot is described once, with photos: what is taken over, kept, undone and refused."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from pytestqt.qtbot import QtBot

from gui.stages.spots.describe_dialog import DescribeDialog
from gui.stages.spots.photo_dialog import PhotoDialog
from logger.translation import in_language, tr
from logger.visit import VisitLog
from logger.visit.records.home_details import SpotDetails
from tests.support.window_driver import Driver


@pytest.fixture
def driver(log: VisitLog, open_window: Callable[[], Driver]) -> Driver:
    for name in ("Bed, left", "Desk", "Bed, right"):
        log.spots.add(name)
    driver = open_window()
    driver.window.controller.photos.make_executor = lambda: ThreadPoolExecutor(1)
    driver.do("stage.spots")
    return driver


def details_of(log: VisitLog, name: str) -> SpotDetails:
    spot_id = next(spot.id for spot in log.spots.all() if spot.name == name)
    return log.spot_details.all().get(spot_id, SpotDetails())


def describing(driver: Driver) -> DescribeDialog:
    driver.do("spots.describe")
    dialog = driver.window.window_actions.details.dialog
    assert dialog is not None
    return dialog


def picture(folder: Path, name: str, size: tuple[int, int] = (60, 40)) -> Path:
    path = folder / name
    Image.new("RGB", size, "#446688").save(path)
    return path


def add(driver: Driver, qtbot: QtBot, *paths: Path) -> None:
    photos = driver.window.controller.photos
    driver.window.window_actions.details.choose_files = lambda folder, parent: paths
    driver.do("spots.photos")
    qtbot.waitUntil(lambda: not photos.unfinished())
    driver.window.redraw()


def test_a_spot_is_described_in_one_step_and_the_next_one_takes_over(driver: Driver, log: VisitLog) -> None:
    card = driver.window.pages.spots._card
    assert card.text.toolTip() == "Not described yet."
    dialog = describing(driver)
    dialog.posture.setEditText("lying on the back")
    dialog.height_line.setText("1.8 ft")
    dialog.person.setText("adult, barefoot")
    for line, text in (
        (dialog.height_of, "chest"),
        (dialog.distances, "lamp 0.6 m"),
        (dialog.plug_side, "lit"),
        (dialog.carried_by, "metal frame"),
        (dialog.probe_held, "right hand"),
        (dialog.meter_place, "on the floor"),
    ):
        line.setText(text)
    dialog.accept()
    kept = SpotDetails("lying on the back", 0.54864, person="adult, barefoot", height_of="chest")
    assert details_of(log, "Bed, left") == replace(
        kept,
        distances="lamp 0.6 m",
        plug_side="lit",
        carried_by="metal frame",
        probe_held="right hand",
        meter_place="on the floor",
    )
    driver.window.redraw()
    assert "lying on the back · 1.8 ft above the floor (chest) · lamp 0.6 m · metal" in card.text.toolTip()
    assert "metal frame · right hand · on the floor · lit" in card.text.toolTip()
    driver.press("Down")
    dialog = describing(driver)
    assert dialog.posture.currentText() == "", "another kind of spot has another posture"
    assert dialog.person.text() == "adult, barefoot" and dialog.meter_place.text() == "on the floor"
    assert not dialog.probe_held.text() and not dialog.carried_by.text(), "a desk is no bed"
    assert dialog.fields["person"]._description == "As at “Bed, left”."
    dialog.reject()
    assert not details_of(log, "Desk").is_recorded, "nothing is kept without being asked for"
    driver.press("Down")
    dialog = describing(driver)
    assert dialog.posture.currentText() == "lying on the back" and dialog.height_of.text() == "chest"
    assert dialog.probe_held.text() == "right hand" and dialog.carried_by.text() == "metal frame"
    assert not dialog.distances.text() and not dialog.plug_side.text(), "these are another bed's own"
    dialog.reject()
    driver.do("edit.undo")
    assert not details_of(log, "Bed, left").is_recorded
    driver.do("edit.redo")
    assert details_of(log, "Bed, left").posture == "lying on the back"


def test_what_cannot_be_kept_is_said_beside_its_field_and_stays(driver: Driver, log: VisitLog) -> None:
    dialog = describing(driver)
    for field, line, text, why in (
        ("place", dialog.place, "left of the window " * 20, "at most 200"),
        ("place", dialog.place, "left\u202etfel", "cannot be seen"),
        ("height_m", dialog.height_line, "55", "between 0 m and 20 m"),
        ("height_m", dialog.height_line, "on the bed", "not a number"),
    ):
        line.setText(text)
        dialog.accept()
        assert why in dialog.fields[field].why and dialog.isVisible()
        assert line.text() == text and not details_of(log, "Bed, left").is_recorded
        line.setText("")
    dialog.reject()


def test_photos_are_added_shown_captioned_moved_and_taken_off(
    driver: Driver, log: VisitLog, qtbot: QtBot, tmp_path: Path
) -> None:
    controller, strip = driver.window.controller, driver.window.pages.spots._card.strip
    add(driver, qtbot, picture(tmp_path, "a.png"), picture(tmp_path, "b.jpg", (40, 60)))
    assert "2 photos of “Bed, left” were added" in driver.message
    assert len(strip.buttons) == 2
    qtbot.waitUntil(lambda: not strip.buttons[0].icon().isNull())
    strip.buttons[0].click()
    dialog = driver.window.window_actions.details.photo
    assert isinstance(dialog, PhotoDialog)
    dialog.caption.setText("seen from the door")
    dialog.keep.click()
    spots = log.spots.all()
    assert [photo.caption for photo in log.photos.of_spot(spots[0].id)] == ["", "seen from the door"]
    driver.do("edit.undo")
    assert [photo.caption for photo in log.photos.of_spot(spots[0].id)] == ["", ""]
    assert controller.photos.move(controller.snapshot.photos[0], spots[1])
    assert len(log.photos.of_spot(spots[1].id)) == 1
    driver.do("edit.undo", "edit.undo")
    assert not log.photos.of_spot(spots[0].id), "both go in the one step in which they came"
    driver.do("edit.redo")
    assert controller.photos.take_off(controller.snapshot.photos[0])
    assert len(log.photos.of_spot(spots[0].id)) == 1


def test_what_is_no_photo_is_refused_in_a_sentence_and_the_others_are_added(
    driver: Driver, log: VisitLog, qtbot: QtBot, tmp_path: Path
) -> None:
    pdf = tmp_path / "plan.jpg"
    pdf.write_bytes(b"%PDF-1.7\n" + b"0" * 500)
    broken = picture(tmp_path, "broken.jpg", (300, 300))
    broken.write_bytes(broken.read_bytes()[:400])
    large = tmp_path / "large.jpg"
    with large.open("wb") as file:
        file.truncate(60_000_000)
    add(driver, qtbot, pdf, picture(tmp_path, "good.png"), broken, large)
    text = driver.message
    assert "1 photo of “Bed, left” was added." in text
    assert "“plan.jpg” is no picture" in text and "“broken.jpg” is a damaged picture" in text
    assert "“large.jpg” has more than 50 MB" in text
    assert len(log.photos.all()) == 1 and "Nothing was added" not in text
    add(driver, qtbot, *[picture(tmp_path, f"{n}.png") for n in range(4)])
    assert "room for 3 more photos, and 4 were chosen" in driver.message and len(log.photos.all()) == 1


def test_a_file_that_is_dropped_on_a_row_goes_to_that_spot(
    driver: Driver, log: VisitLog, qtbot: QtBot, tmp_path: Path
) -> None:
    rows = driver.window.pages.spots.spots
    files = QMimeData()
    files.setUrls([QUrl.fromLocalFile(str(picture(tmp_path, "desk.png")))])
    place = QPointF(rows.visualRect(rows.row_model.index(1)).center())
    event = QDropEvent(
        place, Qt.DropAction.CopyAction, files, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    )
    rows.dropEvent(event)
    qtbot.waitUntil(lambda: not driver.window.controller.photos.unfinished())
    assert len(log.photos.of_spot(log.spots.all()[1].id)) == 1


@pytest.mark.parametrize("language", ["en", "de", "es", "fr"])
def test_each_letter_leads_to_one_field_of_a_description(language: str) -> None:
    names = (
        "&Posture", "&Height above the floor", "Height of &what", "Where &exactly", "&Distances",
        "What was plu&gged in", "Plugs and &lamps", "&Bed, seat and floor", "How the probe &is held",
        "Pla&ce of meter and laptop", "Person &measured", "&Other people", "&Add photos...",
    )  # fmt: skip
    shown = in_language(language)(lambda: [tr(name) for name in names])()
    letters = [text[text.index("&") + 1].casefold() for text in shown]
    assert len(set(letters)) == len(names), shown
