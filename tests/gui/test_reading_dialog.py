"""A reading is opened, moved, given its right condition, voided and made valid again, by mouse and by keyboard."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from gettext import NullTranslations

import pytest
from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QAccessible, QKeyEvent
from PySide6.QtWidgets import QApplication, QLabel, QLineEdit, QPushButton, QTabBar, QWidget
from pytestqt.qtbot import QtBot

from gui.dev.demo import DemoRecorder
from gui.model.reading_corrections import MOVE_REASONS, VOID_REASONS, ReadingCorrections
from gui.model.visit_controller import VisitController
from gui.model.wording import reading_text, u_of
from gui.stages.spots.correction_dialog import CorrectionDialog
from gui.stages.spots.reading_dialog import ReadingDialog
from gui.widgets.appearance import LIGHT, Appearance
from gui.widgets.theme import Sizes
from logger.catalogue import KEPT
from logger.clock import ManualClock
from logger.visit import Reading, VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, OUTSIDE_WALK
from logger.visit.records.practitioner import Practitioner
from logger.visit.records.reading_corrections import MAX_REASON_CHARACTERS
from logger.visit.results.on_off_result import SpotResult
from tests.support.let_go import LetGo
from tests.support.other_language import speak
from tests.support.window_driver import Driver


@pytest.fixture
def controller(log: VisitLog, clock: ManualClock, record: Callable[..., DemoRecorder]) -> VisitController:
    """Two spots, of which the bed was read."""
    log.spots.add("Bed", "Bedroom")
    log.spots.add("Desk")
    log.facts.set("condition", EVERYTHING_ON)
    demo = record()
    demo.still(0.3, 10)
    made = VisitController(log, clock)
    assert made.readings.take() is not None, made.message.text
    return made


@pytest.fixture
def corrections(controller: VisitController) -> ReadingCorrections:
    return controller.corrections


def reading_of(controller: VisitController) -> Reading:
    return controller.snapshot.readings[0]


def desk(controller: VisitController):
    return controller.snapshot.spots[1]


# --- the controller ------------------------------------------------------------------------------------------------


def test_a_correction_is_an_edit_with_a_way_back_and_forth(
    controller: VisitController, corrections: ReadingCorrections
) -> None:
    edit = corrections.move(reading_of(controller), desk(controller), "wrong spot")
    history = controller.history
    assert edit is not None and history.undo_name() == edit.name and edit.name.startswith("move 0.30 ± ")
    assert len(reading_of(controller).corrections) == 1
    assert history.undo() and reading_of(controller).spot_name == "Bed"
    assert history.redo() and reading_of(controller).spot_name == "Desk"
    assert [c.reason for c in reading_of(controller).corrections] == [
        "wrong spot", "undone: wrong spot", "wrong spot",
    ]  # fmt: skip


def test_the_condition_and_the_void_go_back_and_forth_too(
    controller: VisitController, corrections: ReadingCorrections
) -> None:
    history = controller.history
    assert controller.snapshot.condition == EVERYTHING_ON
    assert corrections.set_condition(reading_of(controller), EVERYTHING_OFF, "was off") is not None
    assert SpotResult.of(controller.snapshot.readings, 1).off is not None
    assert controller.snapshot.condition == "" and "asked before the next reading" in controller.message.text
    assert "practitioner's word" in controller.readings.doubt(reading_of(controller))
    assert history.undo() and reading_of(controller).condition == EVERYTHING_ON
    assert controller.readings.doubt(reading_of(controller)) == ""
    assert corrections.void(reading_of(controller), "moved") is not None
    assert corrections.why_not_void(reading_of(controller))
    assert controller.message.text.endswith("Undo takes the voiding back.")
    assert history.undo_name().startswith("take back the voiding of ")
    assert history.undo() and reading_of(controller).void_reason is None
    assert controller.message.text.startswith("The voiding is taken back: ")
    assert history.redo_name().startswith("void ")
    assert history.redo() and reading_of(controller).void_reason == "moved"
    assert corrections.make_valid(reading_of(controller), "it was another one") is not None
    assert reading_of(controller).void_reason is None
    assert history.undo() and reading_of(controller).void_reason == "undone: it was another one"


def test_a_move_outside_and_back_restores_what_was_on(
    controller: VisitController, corrections: ReadingCorrections, log: VisitLog
) -> None:
    garden = log.spots.add("Garden", OUTSIDE_WALK)
    assert corrections.move(reading_of(controller), garden, "it was the garden") is not None
    assert reading_of(controller).condition == OUTSIDE_WALK
    assert "outside walk" in corrections.why_not_set_condition(reading_of(controller))
    assert controller.history.undo()
    found = reading_of(controller)
    assert (found.spot_name, found.condition, found.moved, found.condition_corrected) == (
        "Bed", EVERYTHING_ON, False, False,
    )  # fmt: skip


def test_what_an_action_changed_is_news_to_the_window_also_without_a_new_sample(
    controller: VisitController, corrections: ReadingCorrections
) -> None:
    while controller.refresh():
        pass
    assert corrections.move(reading_of(controller), desk(controller), MOVE_REASONS[0]) is not None
    assert controller.refresh() and not controller.refresh()


def test_what_was_corrected_otherwise_meanwhile_is_not_undone(
    controller: VisitController, corrections: ReadingCorrections, log: VisitLog
) -> None:
    corrections.move(reading_of(controller), desk(controller), "wrong spot")
    log.readings.corrections.move(reading_of(controller), 1, "another window: no, the bed")
    assert not controller.history.undo()
    assert controller.message.refused and "corrected otherwise meanwhile" in controller.message.text
    assert len(log.readings.all()[0].corrections) == 2


def test_a_correction_has_the_name_of_who_measures(
    controller: VisitController, corrections: ReadingCorrections, log: VisitLog
) -> None:
    log.practitioner.set(Practitioner("A. Example"))
    corrections.void(reading_of(controller), "moved")
    assert reading_of(controller).corrections[0].entered_by == "A. Example"
    assert corrections.history(reading_of(controller))[-1].text.endswith("voided (moved), A. Example.")


def test_the_second_of_two_windows_is_refused_with_a_sentence(
    controller: VisitController, corrections: ReadingCorrections, log: VisitLog
) -> None:
    seen = reading_of(controller)
    log.readings.corrections.void(seen, "moved")
    assert corrections.move(seen, desk(controller), "wrong spot") is None
    assert "corrected in another window meanwhile: voided (moved)" in controller.message.text


def test_why_not(controller: VisitController, corrections: ReadingCorrections, log: VisitLog) -> None:
    reading = reading_of(controller)
    assert not corrections.why_not_move(reading) and not corrections.why_not_set_condition(reading)
    assert not corrections.why_not_void(reading) and "valid already" in corrections.why_not_make_valid(
        reading
    )
    log.spots.remove(2)
    controller.refresh(force=True)
    assert "no other spot" in corrections.why_not_move(reading)
    corrections.void(reading, "moved")
    for why in (corrections.why_not_move, corrections.why_not_set_condition):
        assert "Make it valid again first" in why(reading)
    assert "void already" in corrections.why_not_void(reading) and not corrections.why_not_make_valid(reading)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("", "Choose what was on, or type it"),
        (" \u202e\t", "Choose what was on, or type it"),
        ("0,27 V", "a value"),
        ("12", "a value"),
        ("x" * 10_000, "at most 200 letters"),
        ("outside walk", "spot of the outside walk"),
        (EVERYTHING_ON, "already"),
        ("only Küche on \N{HOCHO}", ""),
    ],
)
def test_what_was_on_is_a_name(
    controller: VisitController, corrections: ReadingCorrections, typed: str, sentence: str
) -> None:
    why = corrections.why_not_condition(reading_of(controller), typed)
    assert (sentence in why) if sentence else why == ""
    assert (corrections.set_condition(reading_of(controller), typed, "x") is None) == bool(sentence)


def test_what_was_on_may_be_typed_as_it_is_shown_and_is_kept_in_english(
    controller: VisitController,
    corrections: ReadingCorrections,
    log: VisitLog,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for name in ("Kitchen", "Bedroom"):
        log.circuits.add("circuit", name)
    controller.refresh(force=True)
    monkeypatch.setattr("gui.model.reading_corrections.tr_kept", lambda text: f"nur: {text}")
    assert "already" in corrections.why_not_condition(reading_of(controller), f"nur: {EVERYTHING_ON}")
    assert corrections.set_condition(reading_of(controller), "nur: only Kitchen on", "mixed up") is not None
    assert log.readings.all()[0].condition == "only Kitchen on" and log.readings.all()[0].live == {1}


def test_what_may_have_been_on_knows_the_circuits(
    controller: VisitController, corrections: ReadingCorrections, log: VisitLog
) -> None:
    kitchen = log.circuits.add("circuit", "Kitchen")
    bedroom = log.circuits.add("circuit", "Bedroom")
    controller.refresh(force=True)
    choices = {c.condition: c.live for c in corrections.condition_choices(reading_of(controller))}
    assert EVERYTHING_ON not in choices and choices[EVERYTHING_OFF] == frozenset()
    assert choices["only Kitchen on"] == {kitchen.id} and choices["only Bedroom on"] == {bedroom.id}
    corrections.set_condition(reading_of(controller), "only Kitchen on", "the others were off")
    assert reading_of(controller).live == {kitchen.id}


def test_the_history_is_in_words(controller: VisitController, corrections: ReadingCorrections) -> None:
    corrections.move(reading_of(controller), desk(controller), "wrong spot")
    corrections.void(reading_of(controller), "moved")
    rows = corrections.history(reading_of(controller))
    assert [row.what for row in rows] == [
        "taken for “Bed”, everything on", "moved from “Bed” to “Desk”", "voided",
    ]  # fmt: skip
    assert [row.why for row in rows] == ["", "wrong spot", "moved"]
    assert rows[1].text.endswith(": moved from “Bed” to “Desk” (wrong spot).")


# --- the dialog ----------------------------------------------------------------------------------------------------


@pytest.fixture
def dialog(controller: VisitController, qtbot: QtBot) -> Iterator[ReadingDialog]:
    made = ReadingDialog(controller, Appearance(LIGHT, Sizes.for_height(720)), reading_of(controller))
    qtbot.addWidget(made)
    made.show()
    made.activateWindow()
    qtbot.waitActive(made)
    yield made


def press(qtbot: QtBot, *keys: Qt.Key | str) -> None:
    """Press keys where the keyboard is."""
    for key in keys:
        part = QApplication.focusWidget()
        assert part is not None
        if isinstance(key, str):
            qtbot.keyClicks(part, key)
        else:
            qtbot.keyClick(part, key)


def test_keys_that_a_closed_dialog_still_gets_go_to_the_window(dialog: ReadingDialog, qtbot: QtBot) -> None:
    field = QLineEdit()
    qtbot.addWidget(field)
    dialog.ask_void()
    question = asked(dialog)
    question.reject()
    with qtbot.waitActive(field):
        field.show()
        field.activateWindow()
    field.setFocus()
    for type_ in (QEvent.Type.ShortcutOverride, QEvent.Type.KeyPress, QEvent.Type.KeyRelease):
        QApplication.sendEvent(
            question.windowHandle(), QKeyEvent(type_, Qt.Key.Key_B, Qt.KeyboardModifier.NoModifier, "b")
        )
    assert field.text() == "b"


def asked(dialog: ReadingDialog) -> CorrectionDialog:
    assert dialog.asked is not None
    return dialog.asked


def test_the_dialog_shows_what_is_known_of_the_reading(dialog: ReadingDialog) -> None:
    assert dialog.value.text() == reading_text(dialog.reading)
    assert (dialog.spot.text(), dialog.condition.text()) == ("Bed", EVERYTHING_ON)
    assert (
        dialog.how_taken.text().startswith("settled (") and "values from the meter" in dialog.how_taken.text()
    )
    assert "zero check not done" in dialog.checks.text()
    assert dialog.picture.isVisible() and len(dialog.picture.intervals) == 1
    assert dialog.budget.rowCount() >= 4
    assert dialog.history.item(0).text().endswith("taken for “Bed”, everything on.")
    assert dialog.void_button.isVisible() and not dialog.valid_button.isVisible()


def test_a_reading_is_moved_by_the_keyboard_alone(
    dialog: ReadingDialog, controller: VisitController, qtbot: QtBot
) -> None:
    press(qtbot, Qt.Key.Key_Return)
    question = asked(dialog)
    question.activateWindow()
    qtbot.waitUntil(lambda: QApplication.focusWidget() is question.choices)
    assert question.choices.currentItem().text() == "Desk"
    press(qtbot, Qt.Key.Key_Tab, Qt.Key.Key_Space, Qt.Key.Key_Return)
    assert dialog.asked is None and dialog.spot.text() == "Desk"
    assert reading_of(controller).corrections[0].reason == MOVE_REASONS[0]
    assert "Moved" in dialog.message.text() and "“Bed”" in dialog.corrected.text()
    assert "(1)" in dialog.tabs.tabText(2)


def test_a_reading_is_voided_and_made_valid_again_by_the_mouse_alone(
    dialog: ReadingDialog, controller: VisitController, qtbot: QtBot
) -> None:
    qtbot.mouseClick(dialog.void_button, Qt.MouseButton.LeftButton)
    question = asked(dialog)
    qtbot.mouseClick(question.ok, Qt.MouseButton.LeftButton)
    assert question.reason_error.isVisible() and dialog.asked is question, "it asks for a reason and stays"
    click_radio(qtbot, question.reasons[1])
    assert not question.reason_error.isVisible(), "a reason is chosen: nothing asks for one"
    qtbot.mouseClick(question.ok, Qt.MouseButton.LeftButton)
    assert reading_of(controller).void_reason == question.reasons[1].text()
    assert dialog.state.text() == f"Void: {question.reasons[1].text()}"
    assert (
        not dialog.move_button.isEnabled()
        and "Make it valid again first" in dialog.move_button.accessibleDescription()
    )
    qtbot.mouseClick(dialog.valid_button, Qt.MouseButton.LeftButton)
    click_radio(qtbot, asked(dialog).reasons[0])
    qtbot.mouseClick(asked(dialog).ok, Qt.MouseButton.LeftButton)
    assert reading_of(controller).void_reason is None and not dialog.state.isVisible()


class OffersInQuotes(NullTranslations):
    """A language that has nothing but what is offered as a reason."""

    def pgettext(self, context: str, message: str) -> str:
        return f"‹{message}›" if context == KEPT and message in VOID_REASONS else message


def test_a_reason_that_is_offered_is_kept_in_english(
    dialog: ReadingDialog, controller: VisitController, monkeypatch: pytest.MonkeyPatch
) -> None:
    speak(monkeypatch, OffersInQuotes())
    dialog.ask_void()
    question = asked(dialog)
    assert question.reasons[1].text() == f"‹{VOID_REASONS[1]}›"
    question.reasons[1].setChecked(True)
    question.accept()
    assert reading_of(controller).void_reason == VOID_REASONS[1]
    assert dialog.state.text() == f"Void: ‹{VOID_REASONS[1]}›"


def click_radio(qtbot: QtBot, button: QWidget) -> None:
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton, pos=QPoint(10, button.height() // 2))


@pytest.mark.parametrize("typed", ["", "...", "x" * (MAX_REASON_CHARACTERS + 1)])
def test_what_is_no_reason_stays_in_its_field_with_why_beside_it(
    dialog: ReadingDialog,
    controller: VisitController,
    typed: str,
    monkeypatch: pytest.MonkeyPatch,
    qtbot: QtBot,
) -> None:
    said: list[str] = []
    monkeypatch.setattr("gui.stages.spots.correction_dialog.announce_at", lambda _, text: said.append(text))
    dialog.ask_void()
    question = asked(dialog)
    question.accept()
    qtbot.keyClick(question.reasons[0], Qt.Key.Key_Down)
    assert question.reasons[1].isChecked() and question.focusWidget() is question.reasons[1]
    said.clear()
    question.own_reason.setChecked(True)
    question.reason.setText(typed)
    question.accept()
    assert dialog.asked is question and question.reason.text() == typed
    assert question.reason_error.text() and question.reason_error.isVisible()
    assert said == [question.reason_error.text()]
    question.reject()
    assert dialog.asked is None and reading_of(controller).void_reason is None


def test_what_was_on_is_chosen_or_typed(
    dialog: ReadingDialog, controller: VisitController, qtbot: QtBot
) -> None:
    dialog.ask_condition()
    question = asked(dialog)
    question.reasons[0].setChecked(True)
    question.accept()
    assert question.choice_error.isVisible() and dialog.asked is question, "nothing is preset"
    question.choices.setCurrentRow(0)
    qtbot.keyClicks(question.other, "kettle on")
    assert not question.choices.selectedItems(), "what is typed takes the choice back"
    question.accept()
    assert dialog.condition.text() == "kettle on" and "practitioner's word" in dialog.doubt.text()
    dialog.ask_condition()
    asked(dialog).choices.setCurrentRow(1)
    asked(dialog).reasons[0].setChecked(True)
    asked(dialog).accept()
    assert dialog.condition.text() == EVERYTHING_OFF


def test_enter_at_once_moves_no_reading_to_the_first_spot(
    dialog: ReadingDialog, controller: VisitController, log: VisitLog
) -> None:
    was = reading_of(controller).spot_name
    for name in ("Sofa", "Stove"):
        log.spots.add(name)
    controller.refresh(force=True)
    dialog.ask_move()
    question = asked(dialog)
    assert question.choices.chosen_row() == -1, "nothing is preset"
    question.reasons[0].setChecked(True)
    question.accept()
    assert question.choice_error.text() == "Choose one of the list." and dialog.asked is question
    assert reading_of(controller).spot_name == was
    question.reject()


def test_a_refusal_is_shown_where_it_was_asked(
    dialog: ReadingDialog, log: VisitLog, controller: VisitController
) -> None:
    dialog.ask_move()
    log.readings.corrections.void(reading_of(controller), "moved")
    question = asked(dialog)
    question.choices.choose(0)
    question.reasons[0].setChecked(True)
    question.accept()
    assert "in another window meanwhile" in question.error.text() and question.error.isVisible()
    question.reject()
    assert dialog.state.text() == "Void: moved", "the reading is shown as it is now"


def test_every_part_has_a_name_and_a_role(dialog: ReadingDialog, controller: VisitController) -> None:
    dialog.ask_move()
    for window in (dialog, asked(dialog)):
        for part in window.findChildren(QWidget):
            shown_to_all = part.isVisible() and part.focusPolicy() & Qt.FocusPolicy.TabFocus
            if not shown_to_all or part.objectName().startswith("qt_"):
                continue
            found = QAccessible.queryAccessibleInterface(part)
            assert found is not None and found.role() != QAccessible.Role.NoRole, part
            name = found.text(QAccessible.Text.Name)
            assert name or isinstance(part, QTabBar), (window, part, part.parent())
    asked(dialog).reject()


def test_the_dialog_fits_a_small_screen(dialog: ReadingDialog) -> None:
    assert dialog.minimumSizeHint().width() <= 1024 and dialog.minimumSizeHint().height() <= 560
    for name in ("ask_move", "ask_condition", "ask_reference", "ask_void"):
        getattr(dialog, name)()
        asked(dialog).accept()
        hint = asked(dialog).size()
        assert hint.width() <= 1024 and hint.height() <= 560, name
        for part in asked(dialog).findChildren(QWidget):
            if part.isVisible() and isinstance(part, QLabel | QPushButton | QLineEdit):
                assert part.height() >= min(part.minimumSizeHint().height(), part.sizeHint().height()), (
                    name,
                    part,
                )
        asked(dialog).reject()


# --- the list in the window ----------------------------------------------------------------------------------------


@pytest.fixture
def driver(controller: VisitController, open_window: Callable[[], Driver]) -> Driver:
    """A window on the visit, on the stage Spots, with the reading chosen in the list."""
    made = open_window()
    made.do("stage.spots")
    page = made.window.pages.spots
    page.entries.setCurrentRow(1)  # below the name of the spot
    return made


def test_a_double_click_opens_the_reading_of_the_row(driver: Driver, qtbot: QtBot) -> None:
    rows, entries = driver.window.pages.spots.entries, driver.window.window_actions.entries
    middle = rows.visualRect(rows.model().index(1, 0)).center()
    qtbot.mouseClick(rows.viewport(), Qt.MouseButton.LeftButton, pos=middle)
    qtbot.mouseDClick(rows.viewport(), Qt.MouseButton.LeftButton, pos=middle)
    assert isinstance(entries.dialog, ReadingDialog) and entries.dialog.reading.id == 1
    closed = entries.dialog
    closed.reject()
    assert entries.dialog is None
    handle, taken = closed.windowHandle(), len(driver.window.controller.snapshot.readings)
    for key, text in ((Qt.Key.Key_Space, " "), (Qt.Key.Key_F2, ""), (Qt.Key.Key_Z, "z")):
        QApplication.sendEvent(
            handle, QKeyEvent(QEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier, text)
        )
    assert driver.window.question.line is not None, "the key of an action does it"
    assert driver.window.question.line.text() == "z", "and the letter after it is typed there"
    assert len(driver.window.controller.snapshot.readings) == taken, "Space takes nothing unseen"


def test_the_actions_of_the_list_correct_the_chosen_reading_and_undo_names_it(driver: Driver) -> None:
    entries, controller = driver.window.window_actions.entries, driver.window.controller
    offered = {name: entries_why() for name, entries_why in (
        ("open", entries.why_not_open), ("move", entries.why_not_move), ("condition", entries.why_not_condition),
        ("void", entries.why_not_void), ("valid", entries.why_not_valid),
    )}  # fmt: skip
    assert offered.pop("valid") == "This reading is valid already." and not any(offered.values())
    driver.do("reading.move")
    question = entries.dialog
    assert isinstance(question, CorrectionDialog)
    entries.void()
    assert entries.dialog is question, "one question at a time"
    question.reasons[0].setChecked(True)
    question.accept()
    assert driver.message.startswith("Moved ")
    assert reading_of(controller).spot_name == "Desk"
    assert "Corrected: read as “Bed”, corrected to “Desk”." in driver.window.pages.spots.entries.rows[0].note
    driver.do("edit.undo")
    assert reading_of(controller).spot_name == "Bed"


def test_what_it_was_read_against_is_corrected_from_the_list_and_after_a_statement(
    driver: Driver, log: VisitLog
) -> None:
    controller = driver.window.controller
    controller.setup.state("rod", reference="earth rod", on_battery=True, link_isolated=True)
    driver.do("reading.reference")
    question = driver.window.window_actions.entries.dialog
    assert isinstance(question, CorrectionDialog)
    assert [question.choices.item(row).text() for row in range(question.choices.count())] == [
        "earth rod, laptop on battery, link isolated", "earth rod", "building earth", "laptop on battery",
        "laptop on its charger", "link isolated", "link not isolated",
    ]  # fmt: skip
    question.choices.choose(0)
    question.reasons[0].setChecked(True)
    question.accept()
    assert driver.message.endswith("counts as read against: earth rod, laptop on battery, link isolated.")
    assert not reading_of(controller).context.answered_later
    rod = u_of(reading_of(controller))
    driver.do("stage.prepare")
    driver.window.pages.prepare.at = 1
    driver.do("prepare.change")
    driver.answer("Building earth: second best, adds uncertainty")
    assert driver.asked == "Was it “building earth” from the start?"
    driver.answer("It was so from the start: correct 1 reading")
    reading = reading_of(controller)
    assert reading.context.setup.reference == "building earth" and u_of(reading) > rod
    assert log.setup.current().reference == "building earth"
    driver.do("edit.undo")
    assert u_of(reading_of(controller)) == rod and log.setup.current().reference == "building earth"
    driver.do("edit.redo")
    driver.do("prepare.change")
    driver.answer("earth rod")
    driver.answer("It was changed only now: they stay")
    assert u_of(reading_of(controller)) == u_of(reading), "a change is no correction"


def test_a_reading_that_is_dragged_onto_a_spot_is_moved_there_once_that_was_asked(driver: Driver) -> None:
    page, entries = driver.window.pages.spots, driver.window.window_actions.entries
    controller = driver.window.controller
    desk = [spot.name for spot in controller.snapshot.spots].index("Desk")

    def let_go(row: int) -> None:
        place = page.spots._place_of(row)
        drop = LetGo(page.spots.visualRect(page.spots.row_model.index(place)).center(), page.entries)
        page.spots.dropEvent(drop)
        assert drop.isAccepted() and drop.dropAction() is Qt.DropAction.CopyAction
        QApplication.processEvents()

    let_go(1 - desk)
    assert entries.dialog is None and driver.message == "This reading counts for “Bed” already."
    let_go(desk)
    question = entries.dialog
    assert isinstance(question, CorrectionDialog) and question.choices.currentItem().text() == "Desk"
    question.reasons[0].setChecked(True)
    question.accept()
    assert reading_of(controller).spot_name == "Desk"
    driver.do("edit.undo")
    assert reading_of(controller).spot_name == "Bed"


def test_what_delete_does_is_said_before_it_is_pressed(driver: Driver) -> None:
    page = driver.window.pages.spots
    for rows, does in ((page.spots, "off the list"), (page.entries, "mistaken")):
        row = QAccessible.queryAccessibleInterface(rows).child(rows.count() - 1)
        said = row.text(QAccessible.Text.Description)
        assert "Delete: " in said and does in said


def test_a_mark_is_no_reading(driver: Driver) -> None:
    entries = driver.window.window_actions.entries
    driver.window.controller.marks.put("kettle on")
    driver.window.refresh()
    driver.window.pages.spots.entries.setCurrentRow(3)
    assert "A mark is chosen" in entries.why_not_open()
    entries.open()
    assert entries.dialog is None


def test_delete_in_the_list_of_readings_is_about_the_reading_and_not_its_spot(
    driver: Driver, log: VisitLog
) -> None:
    driver.do("stage.spots")
    page = driver.window.pages.spots
    page.entries.setFocus()
    page.entries.setCurrentRow(1)  # below the name of the spot
    spots = len(log.spots.all())
    driver.press("Del")
    assert driver.asked == "Why is this reading invalid?" and len(log.spots.all()) == spots
    reading = page.chosen_entry()
    driver.answer("wrong spot")
    assert [r.id for r in log.readings.all() if r.void_reason == "wrong spot"] == [reading.id]
