"""What the window draws at the sizes of screens, in both themes, with usual and large text: whole and apart.

And what a screen reader gets of every part that takes the keyboard.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from gui.dev.demo import DemoRecorder
from gui.model.stages import SOURCES, SPOTS
from gui.model.visit_access import Message
from gui.settings.preferences import COLOURS, TEXT_PERCENT, ColourScheme
from gui.widgets.page import PrimaryAction
from gui.widgets.paged_stage import PagedStage
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_ON
from tests.support.drawn_text import drawn_texts, faults
from tests.support.other_language import speak_accented, without_accents
from tests.support.shown_words import texts_of, unreached
from tests.support.window_driver import Driver

# As wide and high as the screen leaves it: 3840 x 2160 at scale 2 is 1920 x 1080 to Qt.
SIZES = {"1024x600": (1024, 560), "1366x768": (1366, 700), "1920x1080": (1920, 1010)}
SHOWN = [
    ("1024x600", 100, ColourScheme.LIGHT),
    ("1024x600", 150, ColourScheme.DARK),
    ("1366x768", 150, ColourScheme.LIGHT),
    ("1920x1080", 100, ColourScheme.DARK),
]


@pytest.fixture
def driver(record: Callable[[], DemoRecorder], log: VisitLog, open_window: Callable[[], Driver]) -> Driver:
    return visit_under_way(record, log, open_window)


def visit_under_way(
    record: Callable[[], DemoRecorder], log: VisitLog, open_window: Callable[[], Driver]
) -> Driver:
    """A window in the middle of a visit: two spots, a reading, circuits, a step that waits for its name."""
    bed = log.spots.add("Bed, lying down")
    log.spots.add("Armchair by the window")
    for name in ("Bedroom outlets", "Living room light above the long table"):
        log.circuits.add("circuit", name)
    log.facts.state_condition(EVERYTHING_ON, None)
    demo = record()
    demo.still(0.41, 20)
    log.readings.take(bed.id, EVERYTHING_ON)
    demo.still(0.76, 20)
    driver = open_window()
    driver.window.refresh()
    return driver


def show(driver: Driver, size: str, percent: int, colours: ColourScheme) -> None:
    window = driver.window
    window.preferences.set(TEXT_PERCENT, percent)
    window.preferences.set(COLOURS, colours)
    window.resize(*SIZES[size])
    window.apply_preferences()
    QApplication.processEvents()


def pages(driver: Driver) -> Iterator[str]:
    """Goes to every page of every stage."""
    window = driver.window
    for stage, page in zip(window.stage_list.buttons, window.pages.of_stages(), strict=True):
        driver.do(f"stage.{stage.name.lower()}")
        for at in range(len(page.pages) if isinstance(page, PagedStage) else 1):
            if isinstance(page, PagedStage):
                page.show_page(at)
            window.redraw()
            QApplication.processEvents()
            yield f"{stage.name} {at}"


@pytest.mark.parametrize(("size", "percent", "colours"), SHOWN)
def test_nothing_is_cut_or_drawn_over_another_text(
    driver: Driver, size: str, percent: int, colours: ColourScheme
) -> None:
    show(driver, size, percent, colours)
    frame = driver.window.frame
    seen = 0
    for name in pages(driver):
        texts = drawn_texts(frame.side)
        seen += len(texts)
        assert (name, faults(texts)) == (name, [])
    for part in (driver.window.stage_list, driver.window.readout, driver.window.action_bar):
        texts = drawn_texts(part)
        seen += len(texts)
        assert faults(texts) == []
    assert seen > 100


@pytest.mark.parametrize(("size", "percent"), [("1024x600", 100), ("1366x768", 150)])
def test_every_button_of_the_spots_is_in_sight_or_reached_by_scrolling(
    driver: Driver, size: str, percent: int
) -> None:
    show(driver, size, percent, ColourScheme.LIGHT)
    driver.do("stage.spots")
    page = driver.window.pages.spots
    first = page._buttons.buttons["spots.add"]
    assert first.visibleRegion().boundingRect().height() == first.height(), "without scrolling"
    assert page._buttons.more is not None
    shown = [*page._buttons.buttons.values(), page._buttons.more]
    for button in shown:
        assert page.rect().contains(button.geometry().translated(page._buttons.pos()))
    rows = {button.y() for button in shown}
    assert len(rows) <= (2 if percent == 100 else 3), "the list has the room"


def test_the_progress_of_each_stage_is_told_also_where_there_is_no_room_for_it(driver: Driver) -> None:
    show(driver, "1024x600", 150, ColourScheme.LIGHT)
    for stage, button in driver.window.stage_list.buttons.items():
        progress = stage.progress(driver.window.controller)
        assert progress in " ".join(button.toolTip().split()) and progress in button.accessibleName()


@pytest.mark.parametrize("size", ["1024x600", "1366x768"])
def test_the_message_bar_says_a_refusal_once_and_whole(driver: Driver, size: str) -> None:
    show(driver, size, 150, ColourScheme.LIGHT)
    driver.do("stage.spots")
    bar, controller = driver.window.action_bar, driver.window.controller
    why_not = "The value is still settling."
    bar.primary_action = lambda: PrimaryAction("Take the reading", lambda: None, why_not, does="take")
    for outcome, both in (("Taken.", True), (f"Can't take the reading: {why_not}", False)):
        controller.message = Message(outcome)
        bar.refresh()
        QApplication.processEvents()
        assert bar.why.isVisible() is both
    live = controller.snapshot.live
    assert live is not None
    controller.snapshot.live = replace(live, warning="The meter sends DC volts; switch it to AC volts.")
    controller.message = Message("Can't take the step: The value is still settling.")
    for _ in range(2):
        bar.refresh()
        QApplication.processEvents()
        texts = [part.text() for part in (bar.why, bar.message_bar.label) if part.isVisible()]
        assert sum(text.count("The meter sends DC volts") for text in texts) == 1
        assert bar.message_bar.area.verticalScrollBar().maximum() == 0, "nothing is cut"
        controller.message = Message("The meter sends DC volts; switch it to AC volts.", refused=True)


# --- for who cannot see it ------------------------------------------------------------------------------------


def takes_keyboard(root: QWidget) -> list[QWidget]:
    """Every part in sight that the keyboard can go to."""
    return [
        part
        for part in root.findChildren(QWidget)
        if part.isVisible() and part.isEnabled() and part.focusPolicy() & Qt.FocusPolicy.TabFocus
    ]


def unnamed(root: QWidget) -> list[str]:
    """Parts that the keyboard can go to, of which a screen reader could not say what they are."""
    wrong = []
    for part in takes_keyboard(root):
        accessible = QAccessible.queryAccessibleInterface(part)
        if accessible is None or accessible.role() is QAccessible.Role.NoRole:
            wrong.append(f"{type(part).__name__} {part.objectName()} has no role")
        elif not accessible.text(QAccessible.Text.Name).strip():
            wrong.append(f"{type(part).__name__} {part.objectName()} in {part.parentWidget()} has no name")
        elif accessible.state().focusable == 0:
            wrong.append(f"{type(part).__name__} takes no focus")
    return wrong


def test_every_part_has_a_role_a_name_and_focus(driver: Driver) -> None:
    for name in pages(driver):
        assert (name, unnamed(driver.window)) == (name, [])


def test_tab_goes_through_every_part_and_back_to_the_first(driver: Driver) -> None:
    driver.do("stage.spots")
    driver.window.redraw()
    wanted = set(takes_keyboard(driver.window))
    reached: list[QWidget] = []
    assert driver.window.stage_list.buttons[SPOTS] in wanted
    for _ in range(len(wanted) + 2):
        driver.press("Tab")
        part = QApplication.focusWidget()
        assert part is not None
        reached.append(part)
    assert wanted - set(reached) == set(), " ".join(
        f"{type(part).__name__} {part.accessibleName()}" for part in reached
    )


def test_every_row_has_its_name_its_value_and_whether_it_is_chosen(driver: Driver) -> None:
    driver.do("stage.spots")
    rows = QAccessible.queryAccessibleInterface(driver.window.pages.spots.spots)
    assert rows.childCount() == 2
    texts = [rows.child(at).text(QAccessible.Text.Name) for at in range(2)]
    assert "Bed, lying down" in texts[0] and " V" in texts[0] and "not read yet" in texts[1]
    driver.press("Down")
    assert [bool(rows.child(at).state().selected) for at in range(2)] == [False, True]


def test_a_question_is_named_and_its_answers_too(driver: Driver) -> None:
    driver.do("stage.spots", "measure.condition")
    question = driver.window.question
    assert question.accessibleName() == driver.asked and unnamed(question) == []


def test_arrows_go_from_stage_to_stage(driver: Driver) -> None:
    driver.do("stage.spots")
    driver.window.stage_list.buttons[SPOTS].setFocus(Qt.FocusReason.TabFocusReason)
    driver.press("Down", "Space")
    assert driver.window.stage_list.current is SOURCES


def test_sizes_come_back_with_the_size_of_the_window(open_window: Callable[[], Driver]) -> None:
    """The bottom line once took the letters of the size before, and all above it stood 2 pixels off."""
    window = open_window().window

    def heights(size: tuple[int, int]) -> list[int]:
        window.resize(*size)
        QApplication.processEvents()
        return [part.height() for part in (window.readout, window.page, window.action_bar)]

    before = heights((1024, 600))
    heights((1366, 768))
    assert heights((1024, 600)) == before


@pytest.fixture
def other_driver(
    record: Callable[[], DemoRecorder],
    log: VisitLog,
    open_window: Callable[[], Driver],
    monkeypatch: pytest.MonkeyPatch,
) -> Driver:
    """The same window in a language whose sentences are 40 % longer, and whose words are told from English ones."""
    speak_accented(monkeypatch)
    return visit_under_way(record, log, open_window)


TYPED = (
    "Bed, lying down",
    "Armchair by the window",
    "Bedroom outlets",
    "Living room light above the long table",
)
UNTRANSLATED = {
    "Ctrl",
    "Alt",
    "Ins",
    "Del",
    "Enter",
    "Esc",
    "Shift",
    "Space",
    "USB",
    "UTC",
    "English",
    "Deutsch",
}
"""Keys and names, which Qt translates or nobody does."""


def english_in(part: QWidget) -> list[tuple[str, str]]:
    """What a part says in English, and where."""
    return [
        (place, text)
        for place, text in texts_of(part)
        if "Scroll" not in place and set(without_accents(text, TYPED)) - UNTRANSLATED
    ]


@pytest.mark.parametrize(("size", "percent"), [("1024x600", 100), ("1366x768", 100)])
def test_sentences_that_are_longer_are_neither_cut_nor_drawn_over_another_nor_english(
    other_driver: Driver, size: str, percent: int
) -> None:
    """A sample: `scripts/bench/other_language.py` draws every action, question, menu and dialog."""
    show(other_driver, size, percent, ColourScheme.LIGHT)
    window = other_driver.window
    # A row of tabs that has no room is scrolled by its own buttons.
    found: dict[str, list[object]] = {}
    for name in pages(other_driver):
        found[name] = faults([text for text in drawn_texts(window.frame.side) if text.widget != "QTabBar"])
        found[name] += [*english_in(window.frame), *unreached(window.frame)]
    for part in (window.stage_list, window.readout, window.action_bar):
        found[type(part).__name__] = faults(drawn_texts(part))
    other_driver.do("stage.spots")
    for action_id in ("measure.condition", "measure.mark", "spots.room"):
        other_driver.do(action_id)
        found[action_id] = [*faults(drawn_texts(window.question)), *english_in(window.question)]
        found[action_id] += unreached(window.question)
        window.question.close_question()
    assert {name: wrong for name, wrong in found.items() if wrong} == {}


def test_a_message_without_room_for_its_end_says_so_and_shows_all_of_it(driver: Driver) -> None:
    show(driver, "1024x600", 100, ColourScheme.LIGHT)
    bar = driver.window.action_bar.message_bar
    driver.window.controller.message = Message("Short.")
    driver.window.redraw()
    assert not bar.more.isVisible()
    assert driver.refused("view.message") == "All of the message is in sight."
    long = "The value is still settling, and what was switched is not known. " * 8 + "The end."
    driver.window.controller.message = Message(long)
    driver.window.redraw()
    assert bar.more.isVisible() and not bar.whole.isVisible()
    for show_it in (bar.more.click, lambda: driver.do("view.message")):
        show_it()
        whole = bar.whole.label
        assert bar.whole.isVisible() and whole.text().endswith("The end.")
        assert whole.height() >= whole.heightForWidth(whole.width()), "nothing of it is cut"
        QTest.keyClick(bar.whole, Qt.Key.Key_Escape)
        assert not bar.whole.isVisible()
