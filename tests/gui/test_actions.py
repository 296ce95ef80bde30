"""One table of actions: nothing runs that is not offered, no key means two things, no reading appears unasked."""

from __future__ import annotations

import re
import string
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from importlib.metadata import version
from itertools import combinations

import pytest
from PySide6.QtCore import QEvent, QLocale, Qt
from PySide6.QtGui import QAccessible, QAction, QKeyEvent, QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit, QMainWindow, QMenu, QMessageBox, QWidget
from pytestqt.qtbot import QtBot

from gui.actions.action_buttons import ActionButton
from gui.actions.menus import NOTE, fill_menu_bar
from gui.actions.registry import NOT_HERE, ActionRegistry, plain_text
from gui.actions.table import ACTIONS, MENUS, PRIMARY, SPECS, ActionSpec
from gui.actions.tips import LINE_LETTERS
from gui.dev.demo import DemoRecorder
from gui.model.stages import STAGES
from gui.settings.preferences import TEXT_PERCENT
from gui.shell.question import Choice, Question, Tick
from gui.widgets.paged_stage import PagedStage
from gui.window.close_dialog import CloseAnswer
from logger.clock import NS_PER_S
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_ON
from tests.support.window_driver import READING_TIME, Driver

MNEMONIC = re.compile(r"(?<!&)&(?:&&)*([^&])")
"""The letter of an entry that goes to it while its menu is open."""

SAFE_KEYS = re.compile(r"(Ctrl|Alt|Shift\+Del)\b|(Shift\+)?F\d+$|Del$|Ins$|Space$|Esc$")
"""What may be a shortcut: nothing that types a letter."""

# --- the table --------------------------------------------------------------------------------------------------


def test_every_action_has_words_of_its_own() -> None:
    assert Counter(spec.id for spec in ACTIONS).most_common(1)[0][1] == 1
    for spec in ACTIONS:
        assert spec.tip.endswith(".") and spec.tip[0].isupper(), spec.id
        assert plain_text(spec.text).casefold() != spec.tip.rstrip(".").casefold(), "a tip explains"
        assert spec.menu in (*MENUS, ""), spec.id


def test_no_letter_alone_is_a_shortcut() -> None:
    assert [(spec.id, key) for spec in ACTIONS for key in spec.shortcuts if not SAFE_KEYS.match(key)] == []


def test_no_key_means_two_things_at_one_place() -> None:
    def meet(one: str, other: str) -> bool:
        return (
            not one or not other or one == other or one.startswith(f"{other}.") or other.startswith(f"{one}.")
        )

    def keys_of(spec: ActionSpec) -> set[str]:
        """As Qt reads them: “Ctrl+Del” and “Ctrl+Delete” are one."""
        return {QKeySequence(key).toString() for key in spec.shortcuts}

    clashes = [
        (one.id, other.id, key)
        for one, other in combinations(ACTIONS, 2)
        for key in keys_of(one) & keys_of(other)
        if meet(one.place, other.place)
    ]
    assert clashes == []


def test_everything_in_the_table_is_bound(open_window: Callable[[], Driver]) -> None:
    registry = open_window().window.registry
    assert [spec.id for spec in ACTIONS if not registry.is_bound(spec.id)] == []


def test_an_action_is_asked_again_at_the_moment_it_is_triggered() -> None:
    registry = ActionRegistry()
    done: list[str] = []
    refused: list[str] = []
    why = [""]
    registry.bind("spots.rename", lambda: done.append("renamed"), lambda: why[0])
    registry.refused.connect(lambda _, sentence: refused.append(sentence))
    registry.refresh()
    assert registry["spots.rename"].isEnabled()
    why[0] = "There is no chosen spot."
    registry["spots.rename"].trigger()
    assert done == [] and refused == ["Can't rename spot: There is no chosen spot."]
    assert not registry["spots.rename"].isEnabled()
    assert "Not now: There is no chosen spot." in registry["spots.rename"].toolTip()
    registry["spots.rename"].trigger()
    assert done == []


def test_where_digits_are_shifted_the_stages_have_the_unshifted_keys(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(QLocale, "system", lambda: QLocale(QLocale.Language.French))
    registry = ActionRegistry()
    assert [key.toString() for key in registry["stage.prepare"].shortcuts()] == ["Ctrl+2", "Ctrl+É"]
    assert [key.toString() for key in registry["stage.night"].shortcuts()] == ["Ctrl+6", "Ctrl+-"]
    assert registry.keys_text("trace.zoom_out") == "Ctrl+)", "the minus is the key of 6 there"
    used = Counter(
        key.toString() for spec in ACTIONS if not spec.place for key in registry[spec.id].shortcuts()
    )
    assert [key for key, count in used.items() if count > 1] == []


# --- the window -------------------------------------------------------------------------------------------------


@pytest.fixture
def demo(record: Callable[[], DemoRecorder]) -> DemoRecorder:
    return record()


@pytest.fixture
def driver(demo: DemoRecorder, log: VisitLog, open_window: Callable[[], Driver]) -> Driver:
    """A window with a settled value at hand, two spots and a circuit."""
    for name in ("Bed", "Desk"):
        log.spots.add(name)
    log.circuits.add("circuit", "Bedroom")
    log.facts.state_condition(EVERYTHING_ON, None)
    demo.still(0.4, 20)
    driver = open_window()
    driver.window.refresh()
    driver.window.ask_close = lambda *_: CloseAnswer.STAY
    other = driver.window.window_actions.other_visit
    other.choose_path = lambda _: None
    return driver


def places(driver: Driver) -> Iterator[str]:
    """Go to every page of every stage, and to those that any stage can open."""
    for stage in STAGES:
        driver.do(f"stage.{stage.name.lower()}")
        page = driver.window.page
        for at in range(len(page.pages) if isinstance(page, PagedStage) else 1):
            if isinstance(page, PagedStage):
                page.show_page(at)
            yield f"{stage.name} {at}"
    driver.do("stage.spots", "spots.budget")
    yield "budget"
    driver.window.pages.show(driver.window.pages.identify)
    yield "identify"


def entries(log: VisitLog) -> tuple[object, ...]:
    """What a key must not add to."""
    return tuple(log.readings.all()), tuple(log.checks.all()), tuple(log.marks.all()), tuple(log.spots.all())


def typed_keys() -> str:
    """Every key that types something, but the space."""
    return string.ascii_lowercase + string.digits + ".,-+?!#"


def test_no_letter_does_anything_on_any_page(driver: Driver, log: VisitLog) -> None:
    ran: list[str] = []
    driver.window.registry.ran.connect(ran.append)
    for place in places(driver):
        ran.clear()
        before, page = entries(log), driver.window.page
        for key in typed_keys():
            QTest.keyClick(QApplication.focusWidget() or driver.window, key)  # type: ignore[call-overload]
        assert entries(log) == before and driver.window.page is page and driver.asked == "", place
        assert ran == [], place


def test_space_takes_a_reading_only_where_the_line_names_it(driver: Driver, log: VisitLog) -> None:
    for place in places(driver):
        driver.window.redraw()
        offered, text = not driver.window.action_bar.why_not(), driver.window.action_bar.text()
        before = len(log.readings.all())
        driver.press("Space")
        after = len(log.readings.all())
        if after > before:
            assert offered and text.startswith("Take ") and place.startswith("Spots"), (place, text)
        if not offered:
            assert driver.window.controller.message.refused and driver.window.action_bar.is_lit, place
            assert driver.window.action_bar.why_not() in driver.message or "Can't" in driver.message
        driver.window.question.close_question()
        driver.window.night_screen.leave()  # what Space does on the stage Night while it is recorded
    assert len(log.checks.all()) + len(driver.window.controller.checks.spans) <= 1


def test_nothing_runs_that_is_not_offered(driver: Driver, log: VisitLog) -> None:
    registry = driver.window.registry
    ran: list[str] = []
    sentences: list[str] = []
    registry.ran.connect(ran.append)
    registry.refused.disconnect(driver.window._refused)  # which draws the whole window anew
    registry.refused.connect(lambda _, sentence: sentences.append(sentence))
    for place in places(driver):
        not_offered = [spec.id for spec in ACTIONS if registry.why_not(spec.id)]
        ran.clear()
        sentences.clear()
        before = entries(log)
        for action_id in not_offered:
            action: QAction = registry[action_id]
            action.setEnabled(True)  # as if it had been offered a moment ago
            action.trigger()
            assert not action.isEnabled(), (place, action_id)
        assert ran == [] and entries(log) == before, place
        assert len(sentences) == len(not_offered) > 0 and all(s.startswith("Can't ") for s in sentences)


def test_a_function_key_that_may_not_run_says_why(driver: Driver) -> None:
    driver.press("Ctrl+4", "F9")
    assert driver.message == "Can't do “Night screen”: It belongs to the stage “Night”."
    belongs = {spec.id: driver.window.pages.belongs_text(spec.place) for spec in ACTIONS if spec.place}
    assert belongs["night.other"] == "It belongs to the page “Morning” of the stage “Night”."
    assert [
        one
        for one, text in belongs.items()
        if text == NOT_HERE and not one.startswith(("identify", "budget"))
    ] == []


QUESTIONS = (
    "spots.add",
    "measure.condition",
    "measure.mark",
    "measure.stop",
    "spots.room",
    "measure.hands_free_time",
)


def test_an_open_question_keeps_its_text_and_lets_nothing_through(driver: Driver, log: VisitLog) -> None:
    driver.do("stage.spots")
    for question in QUESTIONS:
        driver.do(question)
        title, line = driver.asked, driver.window.question.line
        if line is not None:
            line.setText("By the window")
        before = entries(log)
        for spec in ACTIONS:
            if driver.window.registry.is_bound(spec.id) and not spec.with_question:
                assert not driver.window.registry.trigger(spec.id), (question, spec.id)
        if line is None:
            driver.press_at_once("Space", "Space")
        QTest.mouseClick(driver.window.readout, Qt.MouseButton.LeftButton)
        QTest.mouseClick(driver.window.trace, Qt.MouseButton.LeftButton)
        assert driver.asked == title and entries(log) == before, question
        assert line is None or line.text() == "By the window", question
        driver.press("Esc")
        assert driver.asked == "" and entries(log) == before, question


def test_one_space_too_many_answers_no_question(driver: Driver, log: VisitLog) -> None:
    driver.do("stage.spots")
    driver.press("Space")
    assert len(log.readings.all()) == 1
    driver.press("Down")
    driver.press_at_once("Space", "Space", "Space")
    assert driver.asked == "", "no line has come since the reading, so that a yes could take nothing"
    assert len(log.readings.all()) == 1


def test_leaving_the_stage_closes_the_question_unanswered(driver: Driver, log: VisitLog) -> None:
    driver.do("stage.spots", "spots.add")
    driver.type("Sofa")
    driver.window.navigator.go_to(STAGES[0])
    assert driver.asked == "" and len(log.spots.all()) == 2


def test_space_presses_the_button_that_tab_reached(driver: Driver, log: VisitLog) -> None:
    driver.do("stage.spots")
    button = next(b for b in driver.window.page.findChildren(ActionButton) if b.action_id == "spots.add")
    button.setFocus(Qt.FocusReason.TabFocusReason)
    driver.press("Space")
    assert driver.asked == "New spot" and log.readings.all() == []


def test_the_remote_acts_only_once_it_is_switched_on(
    driver: Driver, demo: DemoRecorder, log: VisitLog
) -> None:
    driver.do("stage.spots")
    driver.press("PgDown", ".")
    assert log.readings.all() == []
    driver.press("Home")
    driver.window.set_remote_control(True)
    driver.press("PgDown")
    demo.move(0.4, 2.0, 3)
    demo.still(0.4, 20)
    driver.window.refresh()
    driver.press(".")
    assert [reading.spot_name for reading in log.readings.all()] == ["Desk"]


# --- menus, buttons, help ---------------------------------------------------------------------------------------


def entries_of(menu: QMenu) -> Iterator[QAction]:
    """The actions of a menu and of those behind its entries."""
    for action in menu.actions():
        behind = action.menu()
        if isinstance(behind, QMenu):
            yield from entries_of(behind)
        elif not action.isSeparator() and action.objectName() != NOTE:
            yield action


def menus_of(menu: QMenu) -> Iterator[QMenu]:
    """A menu and those behind its entries."""
    yield menu
    for action in menu.actions():
        if isinstance(behind := action.menu(), QMenu):
            yield from menus_of(behind)


def test_menus_hold_every_action_that_names_one(driver: Driver) -> None:
    for name, menu in driver.window.menus.items():
        assert sorted(action.objectName() for action in entries_of(menu)) == sorted(
            spec.id for spec in ACTIONS if name in (spec.menu, spec.also_menu)
        )


def test_the_pages_of_the_stage_sources_open_from_the_menu_of_any_stage(driver: Driver) -> None:
    sources = driver.window.pages.sources
    for place, page in zip(("steps", "sweep", "tonight", "panel"), sources.pages, strict=True):
        driver.do("stage.connect", f"{place}.show")
        assert driver.window.pages.current is sources and sources.page is page


@pytest.mark.parametrize(("height", "percent"), [(600, 100), (600, 150), (768, 100)])
def test_every_menu_is_lower_than_its_window_and_has_no_text_twice(
    driver: Driver, height: int, percent: int
) -> None:
    window = driver.window
    window.preferences.set(TEXT_PERCENT, percent)
    window.resize(1024, height)
    window.apply_preferences()
    for whole in window.menus.values():
        for menu in menus_of(whole):
            texts = [action.text() for action in menu.actions() if not action.isSeparator()]
            assert len(set(texts)) == len(texts), texts
            letters = [found[1].casefold() for text in texts if (found := MNEMONIC.search(text))]
            assert height != 768 or len(set(letters)) == len(letters), texts
            assert menu.sizeHint().height() < height - window.menuBar().height(), texts


def test_a_menu_that_esc_closed_leaves_no_title_marked(qtbot: QtBot) -> None:
    window, field = QMainWindow(), QLineEdit()
    qtbot.addWidget(window)
    window.setCentralWidget(field)
    bar, registry = window.menuBar(), ActionRegistry(window)
    registry.bind("view.dark", field.clear)
    menu = fill_menu_bar(bar, registry)["View"]
    window.show()
    window.activateWindow()
    assert QTest.qWaitForWindowActive(window)
    field.setFocus()
    QTest.mouseClick(bar, Qt.MouseButton.LeftButton, pos=bar.actionGeometry(menu.menuAction()).center())
    assert menu.isVisible()
    QTest.keyClick(menu, Qt.Key.Key_Escape)
    QApplication.processEvents()
    assert not menu.isVisible() and bar.activeAction() is None
    assert window.focusWidget() is field


def test_a_shortcut_with_alt_leaves_the_keyboard_where_it_is(driver: Driver, log: VisitLog) -> None:
    driver.do("stage.spots")
    spots = driver.window.pages.spots.spots
    spots.setFocus()
    QTest.keyPress(spots, Qt.Key.Key_Alt)
    QTest.keyPress(spots, Qt.Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    QTest.keyRelease(spots, Qt.Key.Key_Alt)
    assert driver.message.startswith("Moved") and driver.window.menuBar().activeAction() is None
    assert spots.hasFocus()
    QTest.keyPress(spots, Qt.Key.Key_Alt)
    QTest.keyPress(spots, Qt.Key.Key_F11, Qt.KeyboardModifier.AltModifier)  # no shortcut
    QTest.keyRelease(spots, Qt.Key.Key_Alt)
    assert driver.window.menuBar().activeAction() is None and spots.hasFocus()


def test_the_key_of_a_stage_gives_the_keyboard_to_its_page(open_window: Callable[[], Driver]) -> None:
    """Also where it is the stage in sight, and where its list is still empty."""
    window = open_window().window
    page = window.pages.spots
    for action_id in ("stage.spots", "stage.spots"):
        window.action_bar.button.setFocus()
        window.registry.trigger(action_id)
        assert page.hasFocus() or page.isAncestorOf(window.focusWidget())
    assert page.accessibleName() == "Spots"


def test_the_keyboard_comes_back_from_a_page_to_where_it_was_and_every_page_has_a_name(
    driver: Driver,
) -> None:
    driver.do("stage.spots")
    page = driver.window.page
    button = next(b for b in page.findChildren(ActionButton) if b.action_id == "spots.add")
    button.setFocus()
    driver.press("Ctrl+B")
    assert driver.window.page is driver.window.pages.budget
    driver.press("Esc")
    assert button.hasFocus()
    pages = [*driver.window.pages.all(), *driver.window.pages.sources.pages, *driver.window.pages.night.pages]
    assert all(one.accessibleName() for one in pages)


def test_letters_go_to_an_answer_which_enter_then_takes(driver: Driver) -> None:
    taken: list[str] = []
    answers = tuple(
        Choice(text, partial(taken.append, text)) for text in ("one phase", "split phase", "other")
    )
    panel = driver.window.question
    question = Question("Which supply?", answers=(replace(answers[0], default=True), *answers[1:]))
    panel.ask(question)
    assert panel.buttons[0].hasFocus()
    driver.press("o")
    assert panel.buttons[0].hasFocus(), "the framed one is among those that begin so"
    driver.press("o")
    assert panel.buttons[2].hasFocus(), "the next that begins so"
    driver.press("s", "Return")
    assert taken == ["split phase"]
    spots = tuple(Choice(text, partial(taken.append, text)) for text in ("Bed left", "Bed", "Desk", "Bench"))
    panel.ask(replace(question, answers=spots))
    driver.read_question()
    driver.press_at_once("d", "Return")
    assert taken.pop() == "Desk"
    for letters, found in (("bed", "Bed"), ("ben", "Bench"), ("bed l", "Bed left"), ("bex", "Bed left")):
        panel.ask(replace(question, answers=spots))
        driver.read_question()
        driver.press_at_once(*(letter if letter != " " else "Space" for letter in letters), "Return")
        assert taken.pop() == found, letters
    panel.ask(question)
    driver.press("Down", "Space")
    assert taken.pop() == "split phase"
    ticked: list[tuple[int, ...]] = []
    boxes = tuple(map(Tick, ("centre", "seat", "desk", "bed")))
    panel.ask(Question("Which spots?", ticks=boxes, on_ticks=ticked.append))
    driver.read_question()
    driver.press_at_once("s", "Space", "d", "Space", "Return")
    assert ticked == [(0, 3)], "the key that ticks ends the text of a box"


def test_enter_and_space_take_the_framed_answer_but_not_with_the_key_that_asked(driver: Driver) -> None:
    taken: list[str] = []
    said: list[str] = []
    panel = driver.window.question
    panel.said.connect(said.append)
    for key, code in (("Return", Qt.Key.Key_Return), ("Space", Qt.Key.Key_Space)):
        panel.ask(
            Question(
                "Which supply?", answers=(Choice("one phase", partial(taken.append, key), default=True),)
            )
        )
        driver.press_at_once(key)
        assert not taken and "just opened" in panel.why.text() and panel.why.isVisible(), key
        assert said.pop() == panel.why.text()
        driver.read_question()
        held = QKeyEvent(QEvent.Type.KeyPress, code, Qt.KeyboardModifier.NoModifier, "", autorep=True)
        QApplication.sendEvent(panel.buttons[0], held)
        assert not taken, "the key is still held"
        driver.press_at_once(key)
        assert taken.pop() == key and driver.asked == ""


@pytest.mark.parametrize("count", [2, 8])
def test_without_a_default_enter_and_space_give_no_answer_before_one_was_gone_to(
    driver: Driver, count: int
) -> None:
    taken: list[int] = []
    said: list[str] = []
    panel = driver.window.question
    panel.said.connect(said.append)
    question = Question(
        "Which supply?", answers=tuple(Choice(f"supply {n}", partial(taken.append, n)) for n in range(count))
    )
    for moves, answer in (
        (["Down"], 0),
        (["s"], 0),
        (["Down", "Down"], 1),
        *([(["Tab"], 0)] if count == 2 else []),
    ):
        panel.ask(question)
        assert not any(button.hasFocus() for button in panel.buttons)
        for key in ("Return", "Space"):
            driver.press(key)
            assert said.pop() == panel.why.text() == "Choose an answer with the arrows first."
            assert panel.why.isVisible() and driver.asked
        driver.press(*moves)
        assert not taken
        driver.press("Return")
        assert taken.pop() == answer and not driver.asked, moves
    panel.ask(question)
    if panel.list is None:
        driver.press("Up")
        assert panel.buttons[-1].hasFocus(), "Cancel is the last"
    else:
        driver.read_question()
        panel.buttons[0].click()
        assert said.pop().startswith("Choose an answer") and driver.asked
    driver.press("Esc")
    assert not taken and not driver.asked


def test_whoever_types_while_a_question_comes_by_itself_answers_nothing(driver: Driver) -> None:
    taken: list[str] = []
    said: list[str] = []
    panel = driver.window.question
    panel.said.connect(said.append)
    answers = tuple(
        Choice(text, partial(taken.append, text), default=text == "keep it")
        for text in ("keep it", "read it again")
    )
    with panel.opening_by_itself():
        panel.ask(Question("Is it mistaken?", "It looks so.", answers))
    assert said.pop() == "Is it mistaken? It looks so."
    panel.ask(Question("And then?", "After it.", answers))
    assert said.pop() == "And then? After it.", "a reader does not say by itself that the next one is there"
    driver.press("Esc")
    assert said.pop() == "Nothing was changed by this question." and not driver.asked
    typed = Question(
        "How far?", answers=(Choice("skip for now", partial(taken.append, "skip")),), on_text=taken.append
    )
    panel.ask(typed)
    driver.press("Return")
    assert "“Skip for now” with the arrow down" in panel.why.text()
    driver.press("Down", "Return")
    assert taken.pop() == "skip" and not driver.asked
    with panel.opening_by_itself():
        panel.ask(Question("Is it mistaken?", "It looks so.", answers))
    driver.press_at_once("r", "Esc")
    assert panel.hasFocus() and driver.asked, "neither chosen nor closed by what was typed"
    for _ in range(3):
        READING_TIME.advance_ns(NS_PER_S)
        driver.press_at_once("r")
    driver.press_at_once("Return", "Space")
    QTest.mouseClick(panel.buttons[0], Qt.MouseButton.LeftButton)
    assert not taken and "came by itself" in said.pop()
    panel.setFocus()
    driver.press("Return")
    assert said.pop() == "Choose an answer with the arrows first." and not taken, "it came over a list"
    driver.press("Down", "Return")
    assert taken == ["keep it"]


def test_an_answer_and_a_change_of_page_give_the_keyboard_once(driver: Driver) -> None:
    got: list[QWidget] = []
    driver.do("stage.spots")
    application = QApplication.instance()
    assert isinstance(application, QApplication)

    def note(_: QWidget | None, now: QWidget | None) -> None:
        if now is not None:
            got.append(now)

    application.focusChanged.connect(note)
    driver.do("spots.add")
    driver.type("Sofa")
    driver.press("Return")
    assert [type(part).__name__ for part in got] == ["QLineEdit", "RowList"]
    driver.do("stage.sources", "page.next")
    application.focusChanged.disconnect(note)
    assert len(got) == 4, "each of these parts is said by a screen reader"


def test_menus_are_called_by_their_titles(driver: Driver) -> None:
    own = driver.window.menuBar()  # Qt makes one in it for what has no room
    menus = [
        m for m in driver.window.findChildren(QMenu) if m.actions() and (m.title() or m.parent() is not own)
    ]
    assert len(menus) > len(MENUS)
    names = [QAccessible.queryAccessibleInterface(menu).text(QAccessible.Text.Name) for menu in menus]
    assert {"Measure", "More actions"} <= set(names) and not {"Stillvolt", ""} & set(names)


def test_about_says_what_the_program_is_for_its_version_and_its_licence(driver: Driver) -> None:
    driver.do("help.about")
    (box,) = driver.window.findChildren(QMessageBox)
    assert "body voltage" in box.text() and f"Version {version('stillvolt')}" in box.text()
    assert "licence" in box.text().lower()
    box.close()


def test_a_button_does_as_its_action(driver: Driver) -> None:
    driver.do("stage.spots")
    button = next(b for b in driver.window.page.findChildren(ActionButton) if b.action_id == "spots.add")
    assert (
        button.isEnabled()
        and "Ctrl" in button.toolTip() + button.key_text
        and SPECS["spots.add"].tip in " ".join(button.toolTip().split())
    )
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    assert driver.asked


def test_the_menu_of_the_rarer_actions_has_the_same_ones(driver: Driver) -> None:
    driver.do("stage.spots")
    more = driver.window.pages.spots._buttons.more
    assert more is not None and more.accessibleName() and "Rename" in more.toolTip()
    shown = [action for action in more.menu().actions() if not action.isSeparator()]
    assert (
        driver.window.registry["spots.rename"] in shown and driver.window.registry["measure.by_hand"] in shown
    )
    shown[shown.index(driver.window.registry["spots.rename"])].trigger()
    assert driver.asked == "Rename the spot"
    driver.press("Esc", "F2")
    assert driver.asked == "Rename the spot"


def test_keys_go_to_every_stage(driver: Driver) -> None:
    for number, stage in enumerate(STAGES, 1):
        driver.press(f"Ctrl+{number}")
        assert driver.window.pages.shows(stage)
    driver.press("Ctrl+PgUp")
    assert driver.window.pages.shows(STAGES[-2])
    driver.press("Ctrl+PgDown")
    assert driver.window.pages.shows(STAGES[-1])
    assert driver.refused("stage.next")


def test_the_primary_action_is_the_big_button(driver: Driver, log: VisitLog) -> None:
    driver.do("stage.spots")
    bar = driver.window.action_bar
    assert bar.button.isEnabled() and "Take" in bar.button.text() and "Space" in bar.button.text()
    spoken = QAccessible.queryAccessibleInterface(bar.button)
    assert spoken.text(QAccessible.Text.Description) == "Space", "no tip, of which no change is announced"
    QTest.mouseClick(bar.button, Qt.MouseButton.LeftButton)
    assert [reading.spot_name for reading in log.readings.all()] == ["Bed"]
    driver.do("spots.budget")
    assert not bar.button.isEnabled() and "nothing to take" in driver.refused(PRIMARY)


def test_a_question_covers_neither_value_nor_trace(driver: Driver) -> None:
    driver.do("measure.mark")
    window = driver.window
    panel = window.question.rect().translated(window.question.mapTo(window, window.question.rect().topLeft()))
    for part in (window.readout, window.trace, window.stage_list, window.action_bar):
        assert not panel.intersects(part.rect().translated(part.mapTo(window, part.rect().topLeft())))


def test_undo_and_redo_name_what_they_do(driver: Driver, log: VisitLog) -> None:
    driver.do("stage.spots", "spots.add")
    driver.type("Sofa")
    driver.press("Return")
    window = driver.window
    assert window.registry["edit.undo"].text() == "&Undo: add Sofa"
    driver.press("Ctrl+Z")
    assert [spot.name for spot in log.spots.all()] == ["Bed", "Desk"]
    assert window.registry["edit.redo"].text() == "&Redo: add Sofa"
    driver.press("Ctrl+Y")
    assert [spot.name for spot in log.spots.all()] == ["Bed", "Desk", "Sofa"]
    driver.press("Ctrl+Z")
    assert driver.refused("edit.undo")


def test_no_tip_is_wider_than_a_third_of_a_small_screen(driver: Driver) -> None:
    parts = [part for part in driver.window.findChildren(QWidget) if part.toolTip()]
    tips = [part.toolTip() for part in parts] + [
        driver.window.registry[spec.id].toolTip() for spec in ACTIONS
    ]
    assert len(parts) > 20
    for tip in tips:
        assert max(map(len, tip.split("\n"))) <= LINE_LETTERS, tip


def test_space_takes_the_framed_row_of_a_list_as_enter_does_and_no_blank_of_a_name(driver: Driver) -> None:
    panel, taken = driver.window.question, list[int]()
    names = ("bed, left", "bed room", "desk", "hall", "attic", "seat", "sofa", "stairs")
    for key in ("Space", "Return"):
        panel.ask(
            Question(
                "Where?",
                answers=tuple(
                    Choice(n, partial(taken.append, at), default=at == 2) for at, n in enumerate(names)
                ),
            )
        )
        driver.press(key)
        assert taken.pop() == 2 and not driver.asked
    panel.ask(
        Question("Where?", answers=tuple(Choice(n, partial(taken.append, at)) for at, n in enumerate(names)))
    )
    driver.press_at_once(*"bed", "Space")
    assert driver.asked and not taken, "a blank of the name that is being typed"


def test_what_is_said_against_an_unchosen_answer_goes_once_one_is_chosen(driver: Driver) -> None:
    panel = driver.window.question
    panel.ask(Question("Which supply?", answers=(Choice("single", list), Choice("split", list))))
    driver.press("Return")
    assert panel.why.isVisible()
    driver.press("Down")
    assert not panel.why.isVisible()


def test_a_menu_in_which_nothing_may_run_says_why_and_ctrl_z_too(driver: Driver) -> None:
    def note(name: str) -> QAction:
        menu = driver.window.menus[name]
        menu.aboutToShow.emit()
        (entry,) = (action for action in menu.actions() if action.objectName() == NOTE)
        return entry

    assert not note("Edit").isVisible()
    driver.window.question.ask(
        Question("Which supply?", answers=(Choice("single", list), Choice("split", list)))
    )
    entry = note("Night")
    assert entry.isVisible() and not entry.isEnabled() and entry.text() == "Answer the question first."
    assert not note("View").isVisible(), "some of it may run"
    driver.press("Ctrl+Z")
    assert driver.asked and driver.message == "Can't undo: Answer the question first."
    driver.window.question.close_question()
    assert not note("Night").isVisible()
