"""The help: each stage has its page, everything in it is found, and it names the window's own words and keys."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtWidgets import QTextBrowser

from gui.actions.table import ACTIONS
from gui.model.stages import SPOTS, STAGES
from gui.shell.help.help_pages import FIRST_VISIT, OF_STAGES, PAGES, page_markdown
from gui.shell.help.help_window import HelpWindow
from logger import cautions
from logger.visit import VisitLog
from tests.support.other_language import OtherLanguage, speak
from tests.support.window_driver import Driver


@pytest.fixture
def driver(open_window: Callable[[], Driver]) -> Driver:
    return open_window()


def opened(driver: Driver) -> HelpWindow:
    return next(found for found in driver.window.findChildren(HelpWindow) if found.isVisible())


def titles(window: HelpWindow) -> list[str]:
    rows = [window.list.item(row) for row in range(window.list.count())]
    return [row.text() for row in rows if not row.isHidden()]


def test_f1_opens_the_page_of_the_stage_beside_the_work(driver: Driver, log: VisitLog) -> None:
    driver.do("stage.spots")
    page = driver.window.page
    driver.press("F1")
    window = opened(driver)
    assert window.text.toPlainText().startswith("Spots") and not window.isModal()
    assert driver.window.page is page
    driver.do("stage.night", "help.stage")
    assert opened(driver) is window and window.text.toPlainText().startswith("Night")
    driver.do("help.glossary")
    assert "Body voltage:" in window.text.toPlainText()
    window.reject()
    assert not window.isVisible()


def test_every_action_is_listed_with_its_key(driver: Driver) -> None:
    driver.do("help.actions")
    shown = opened(driver).text.toPlainText()
    assert [spec.id for spec in ACTIONS if spec.tip not in shown] == []
    assert "Ctrl+Z" in shown


def test_what_is_typed_is_found_on_every_page_and_marked(driver: Driver) -> None:
    driver.do("help.first_visit")
    window = opened(driver)
    window.search.setText("THUNDERstorm")
    assert titles(window) == ["Prepare", "Check", "Night"] and window.found.text() == "on 3 pages"
    assert window.text.toPlainText().startswith("Prepare")
    assert [mark.cursor.selectedText() for mark in window.text.extraSelections()] == ["thunderstorm"]
    window.search.setText("no such word")
    assert titles(window) == [] and window.found.text() == "on 0 pages"
    window.search.clear()
    assert len(titles(window)) == len(PAGES) + 1


def test_the_chosen_page_is_printed(driver: Driver, monkeypatch: pytest.MonkeyPatch) -> None:
    printed: list[str] = []

    class Dialog:
        def __init__(self, printer: object, parent: object) -> None: ...

        def exec(self) -> int:
            return 1

    monkeypatch.setattr("PySide6.QtPrintSupport.QPrintDialog", Dialog)
    monkeypatch.setattr(QTextBrowser, "print_", lambda self, printer: printed.append(self.toPlainText()))
    driver.do("help.glossary")
    opened(driver).print_button.click()
    assert [text.partition("\n")[0] for text in printed] == ["Glossary"]


def test_a_page_says_what_it_is_for_how_it_is_done_what_can_go_wrong_and_what_to_be_careful_of() -> None:
    for stage in STAGES:
        text = page_markdown(OF_STAGES[stage])
        heads = [line.lstrip("# ") for line in text.splitlines() if line.startswith("#")]
        assert heads == [stage.name, "What it is for", "How it is done", "What can go wrong", "Cautions"]
    assert f"- {cautions.LIVE_CONDUCTOR}" in page_markdown(OF_STAGES[STAGES[0]])


def test_an_action_has_its_own_words_and_key() -> None:
    assert "**Add a room** (Ctrl+Shift+R) adds the usual spots" in page_markdown(OF_STAGES[SPOTS])
    assert "{" not in "".join(map(page_markdown, PAGES))


def test_every_sentence_goes_through_the_translation(driver: Driver, monkeypatch: pytest.MonkeyPatch) -> None:
    speak(monkeypatch, OtherLanguage())
    lines = [line for line in page_markdown(FIRST_VISIT).splitlines() if line]
    assert len(lines) > 10 and all("⟦" in line and line.endswith("⟧") for line in lines)
    driver.do("help.glossary")
    window = opened(driver)
    words = [
        window.search.placeholderText(),
        window.print_button.text(),
        *titles(window),
        window.windowTitle(),
    ]
    assert all(text.startswith("⟦") for text in words)
