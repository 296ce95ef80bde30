"""The whole window in a made-up language with longer sentences: what is cut, not translated, or out of reach.

    python scripts/bench/other_language.py [--language CODE] [--visits NAME,NAME] [--pictures FOLDER] [SIZE ...]

Without a language every sentence has accents and is 40 % longer. At each size (1024x600 and 1366x768) every page of
every stage is drawn on several visits; then every action that is offered there is run, each question that it opens is
drawn, and each of its answers is given; menus, context menus, dialogs and the help are drawn as well, and last the
text of the report is read. With a folder for pictures only the pages are drawn, and kept there. Prints each thing that
is wrong once, and how much was drawn. Nothing is recorded or opened outside a folder of its own.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import asdict
from datetime import UTC, datetime
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QPoint, qInstallMessageHandler
from PySide6.QtWidgets import QApplication, QDialog, QFileDialog, QMenu, QWidget
from shiboken6 import isValid

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from gui.actions.table import ACTIONS, SPECS
from gui.app import make_application
from gui.dev.demo import DemoRecorder, evening
from gui.language import choose_language
from gui.model.report_controller import ReportController
from gui.model.visit_controller import VisitController
from gui.settings.settings_dialog import SettingsDialog
from gui.shell.help.help_window import HelpWindow
from gui.widgets.paged_stage import PagedStage
from gui.window import Window
from gui.window.close_dialog import CloseDialog
from gui.window.unfinished_dialog import UnfinishedDialog
from logger.clock import ManualClock
from logger.meter.port import PortInfo
from logger.report.document.html_page import report_html
from logger.report.document.read_report_data import read_report_data
from logger.visit import VisitLog
from tests.support.drawn_text import drawn_texts, faults
from tests.support.other_language import speak_accented, without_accents
from tests.support.shown_words import texts_of, unreached
from tests.support.window_driver import Charger, FakeStart, Heard

ROOT = Path(__file__).resolve().parents[2]
SIZES = ("1024x600", "1366x768")
FRAME_HEIGHT = 40
"""What title bar and task bar take from the height of a screen, in pixels."""

NEVER_RUN = frozenset({"file.quit", "view.full_screen", "practice.night"})
"""Actions that end the walk or start a process of their own."""

MOST_ANSWERS = 12
"""So many answers of a question are given at most: the rows of a long list are alike."""

ROUNDING_PIXELS = 3.0
"""So far a text that Qt lays out in pieces, round the letter for the keyboard, may seem to go over an edge."""

TYPED = "12"
"""What is typed where a field asks: no word, and a number where one is wanted."""

KEYS = {
    "Ins",
    "Left",
    "Right",
    "Up",
    "Down",
    "Ctrl",
    "Shift",
    "Alt",
    "Space",
    "Enter",
    "Esc",
    "Delete",
    "Del",
    "Home",
    "End",
    "Tab",
    "PgUp",
    "PgDown",
}
NAMES = {"UTC", "Scroll", "Stillvolt", "Python", "LGPL", "USB", "TOML", "CSV", "JSON", "PDF", "HTML", "PNG"}
NAMES |= {"Deutsch", "English", "cea"}
"""What bears no translation, or is translated by Qt itself."""

OF_WORKER = re.compile(
    r"comparing spot by spot|\S*\.visit hold the same visit: one is a copy.*|hold the same visit: one is a.*|"
    r"For the later visit no household is entered.*|.*Garden flat.visit and /.*|\d+ May 2025 from",
    re.DOTALL,
)
"""What a process of its own says: it knows no made-up language."""


class Walk:
    """One screen on which windows are drawn, and all that is wrong there.

    Args:
        size: of the screen, in words.
        language: a code; empty for the made-up one.
        pictures: where a picture of each page is kept, and nothing is run; None keeps none.
    """

    def __init__(self, size: str, language: str, pictures: Path | None = None) -> None:
        self.pictures = pictures
        self.size = tuple(map(int, size.split("x")))
        self.name = size
        self.language = language
        self.wrong: dict[str, str] = {}
        """What is wrong, each once, and where it was seen first."""
        self.drawn: Counter[str] = Counter()
        self.typed: set[str] = set()
        """What users have typed, and what files are called."""
        self.seen: set[tuple[str, str]] = set()
        self.patch = pytest.MonkeyPatch()
        self.patch.setattr(QDialog, "exec", lambda dialog: self._instead_of_waiting(dialog))
        self.patch.setattr(QFileDialog, "exec", lambda dialog: 0)
        self.patch.setattr(
            "gui.stages.connect.connect_page.list_ports",
            lambda: [PortInfo("/dev/ttyUSB0", ""), PortInfo("sim://house", "")],
        )

    def _instead_of_waiting(self, dialog: QDialog) -> int:
        dialog.show()
        self.look(dialog, type(dialog).__name__, "dialogs")
        dialog.hide()
        return 0

    def look(self, part: QWidget, where: str, kind: str) -> None:
        """Draw a part and note what is wrong with it.

        Args:
            part: a window, a dialog, a menu, or a part of one.
            where: in which state.
            kind: what it is counted as.
        """
        QApplication.processEvents()
        self.drawn[kind] += 1
        wrong: Any
        for wrong in faults([text for text in drawn_texts(part) if text.widget != "QTabBar"]):
            if wrong[0] != "cut" or wrong[3] > ROUNDING_PIXELS:
                self.note(str(wrong), where)
        for wrong in unreached(part):
            self.note(f"out of reach: {wrong}", where)
        if not self.language:
            for place, text in texts_of(part):
                self.read(text, f"{where}: {place}")
            for run in drawn_texts(part):
                self.read(run.text, f"{where}: drawn on {run.widget}", is_part=True)

    def read(self, text: str, where: str, is_part: bool = False) -> None:
        """Note what of a text is not translated; of a line that was broken the words of a name may stand alone."""
        if self.language:
            return
        parts = {word for name in self.typed for word in re.findall(r"\w+", name)} if is_part else set()
        known = KEYS | NAMES | parts
        text = OF_WORKER.sub("", text.replace("\N{NO-BREAK SPACE}", " "))
        if words := [word for word in without_accents(text, self.typed) if word not in known]:
            self.note(f"not translated: {words} in {text!r}"[:400], where)

    def note(self, wrong: str, where: str) -> None:
        """Keep what is wrong, once."""
        self.wrong.setdefault(re.sub(r"\d+(\.\d+)?", "#", wrong), f"{where}: {wrong}")

    # --- one visit --------------------------------------------------------------------------------------------

    def walk(self, name: str, open_visit: Callable[[], tuple[VisitLog, ManualClock]]) -> None:
        """Draw a visit: its pages as they are, then all that can be done on them.

        Args:
            name: of the visit.
            open_visit: a fresh copy of it.
        """
        log, clock = open_visit()
        self.typed |= typed_in(log)
        window = self.open_window(log, clock)
        for place in self.places(window):
            window.redraw()
            if self.pictures is not None:
                QApplication.processEvents()
                words = f"{self.language or 'made-up'} {self.name} {name} {place}".replace(" ", "-")
                window.grab().save(str(self.pictures / f"{words}.png"))
            self.look(window.frame, f"{name}, {place}", "pages")
            self.menus_of_page(window, f"{name}, {place}")
        if self.pictures is not None:
            self.close(window)
            return
        self.look(window.menuBar(), f"{name}, menu bar", "menus")
        for title, menu in window.menus.items():
            for one in (menu, *menu.findChildren(QMenu)):
                one.popup(QPoint(0, 0))
                self.look(one, f"{name}, menu {title}", "menus")
                one.close()
        for place in self.places(window):
            for spec in ACTIONS:
                if spec.id not in NEVER_RUN and not spec.id.startswith("stage."):
                    self.act(window, spec.id, f"{name}, {place}")
                    log = window.controller.log
        self.close(window)

    def open_window(self, log: VisitLog, clock: ManualClock) -> Window:
        """A window of the size of the screen on a visit."""
        controller = VisitController(log, clock, FakeStart(), Charger())  # type: ignore[arg-type]
        report = ReportController(controller, opens=lambda *_: None)
        window = Window(controller, sounds=Heard(), polls=False, report_controller=report)
        window.resize(*window.screen().availableGeometry().size().toTuple())
        window.show()
        window.activateWindow()
        window.refresh()
        QApplication.processEvents()
        return window

    def close(self, window: Window) -> None:
        """Close a window and its visit."""
        window.may_close = True
        window.ask_unfinished = lambda *_: True
        window.close()
        window.controller.log.close()

    def places(self, window: Window) -> Iterator[str]:
        """Go to every page of every stage."""
        for stage, page in zip(window.stage_list.buttons, window.pages.of_stages(), strict=True):
            for at in range(len(page.pages) if isinstance(page, PagedStage) else 1):
                window.question.close_question()
                window.navigator.go_to(stage)
                if isinstance(page, PagedStage):
                    page.show_page(at)
                window.refresh_actions()
                yield f"{stage.name} {at}"
        for extra in (window.pages.budget, window.pages.identify):
            window.pages.show(extra)
            window.refresh_actions()
            yield type(extra).__name__

    def menus_of_page(self, window: Window, where: str) -> None:
        """Right click on every part of the page that has a menu."""
        for part in (window.page, *window.page.findChildren(QWidget), window.readout, window.trace):
            if part.isVisible() and part.receivers("2customContextMenuRequested(QPoint)"):
                part.customContextMenuRequested.emit(part.rect().center())
                popup = QApplication.activePopupWidget()
                if popup is not None:
                    self.look(popup, f"{where}, context menu", "context menus")
                    popup.close()
                    popup.deleteLater()

    def act(self, window: Window, action_id: str, where: str, answers: tuple[int, ...] = ()) -> None:
        """Run an action, draw what it opens, and give each answer to each question.

        Args:
            window: on its page.
            action_id: of the table.
            where: the page.
            answers: which answers are given to its questions.
        """
        registry = window.registry
        window.refresh_actions()
        key = (where if SPECS[action_id].place else where.split(",")[0], f"{action_id} {answers}")
        if registry.why_not(action_id):
            self.read(registry.why_not(action_id), f"{where}, why not {action_id}")
            return
        if key in self.seen:
            return
        self.seen.add(key)
        page = window.page
        at = page.stack.currentIndex() if isinstance(page, PagedStage) else None
        registry.trigger(action_id)
        where_now = f"{where}, {action_id}"
        for answer in answers:
            if window.question.question is None:
                break
            where_now += f" > {answer}"
            self.give(window, answer)
        self.after(window, where_now, len(answers))
        count = self.count_of_answers(window)
        window.question.close_question()
        window.night_screen.leave()
        if len(answers) < 3:
            for answer in range(min(count, MOST_ANSWERS)):
                self.go_back(window, page, at)
                self.act(window, action_id, where, (*answers, answer))
        self.go_back(window, page, at)

    def go_back(self, window: Window, page: QWidget, at: int | None) -> None:
        """To the page from which an action was run."""
        window.question.close_question()
        for stage, found in zip(window.stage_list.buttons, window.pages.of_stages(), strict=True):
            if found is page:
                window.navigator.go_to(stage)
        if page in (window.pages.budget, window.pages.identify):
            window.pages.show(page)
        if at is not None:
            page.show_page(at)  # type: ignore[attr-defined]

    def after(self, window: Window, where: str, depth: int) -> None:
        """Draw what stands there now: the question, a dialog, and what the window says."""
        window.refresh()
        window.redraw()
        QApplication.processEvents()
        if window.night_screen.isVisible():
            self.look(window.night_screen, where, "pages")
            window.night_screen.leave()
        if window.question.question is not None:
            self.look(window.question, where, "questions")
        for top in QApplication.topLevelWidgets():
            if isValid(top) and top.isVisible() and isinstance(top, QDialog | QMenu):
                self.dialog(top, where)
                top.close()
        if window.controller.message.text:
            self.read(window.controller.message.text, f"{where}, message")
        if depth == 0 and window.action_bar.isVisible():
            self.look(window.action_bar, where, "messages")

    def dialog(self, top: QWidget, where: str) -> None:
        """Draw a dialog, each of its pages."""
        kind = type(top).__name__
        if isinstance(top, SettingsDialog):
            for row in range(top.tabs.count()):
                top.tabs.setCurrentIndex(row)
                self.look(top, f"{where}, {kind} {row}", "dialogs")
        elif isinstance(top, HelpWindow):
            for row in range(top.list.count()):
                top.list.setCurrentRow(row)
                self.look(top, f"{where}, {kind} {row}", "dialogs")
        else:
            self.look(top, f"{where}, {kind}", "dialogs")

    def count_of_answers(self, window: Window) -> int:
        """How many answers the open question has, Cancel left out."""
        question = window.question.question
        if question is None:
            return 0
        return len(question.answers) + (question.on_text is not None or question.on_ticks is not None)

    def give(self, window: Window, answer: int) -> None:
        """Give one: after the answers of a question comes what its field or its boxes take."""
        panel, question = window.question, window.question.question
        assert question is not None
        if answer < len(question.answers):
            panel.answer(question.answers[answer])
        elif question.on_text is not None and panel.line is not None:
            if not panel.line.text():
                panel.line.setText(TYPED)
            panel.take_text()
        elif question.on_ticks is not None:
            panel.close_question()
            question.on_ticks(tuple(range(len(question.ticks))))
        window.redraw()


MADE_UP = {"Garden flat a year later", "Garden flat", "Demo meter", "loam, under the hedge", "moist"}
"""What is typed in the example visit beside names."""


def typed_in(log: VisitLog) -> set[str]:
    """What users have typed into a visit, and what it is called."""
    names = {log.path.stem, log.path.name, str(log.path), str(log.path.parent), log.path.parent.name}
    names |= {spot.name for spot in log.spots.all()} | {source.name for source in log.circuits.all()}
    names |= {spot.room for spot in log.spots.all()} | {log.setup.current().soil or ""}
    names |= {mark.text for mark in log.marks.all()}
    described: list[Any] = [
        *log.spot_details.all().values(),
        *log.source_details.all().values(),
        log.circumstances.current(),
    ]
    names |= {text for one in described for text in asdict(one).values() if isinstance(text, str)}
    names |= {photo.caption for photo in log.photos.all().values()}
    names |= {reading.void_reason for reading in log.readings.all() if reading.void_reason}
    return {name for name in names | MADE_UP if name}


def copy_of(folder: Path, visit: Path) -> Callable[[], tuple[VisitLog, ManualClock]]:
    """Opens a copy of a finished visit."""

    def open_it() -> tuple[VisitLog, ManualClock]:
        path = Path(tempfile.mkdtemp(dir=folder)) / visit.name
        shutil.copy(visit, path)
        log = VisitLog.open(path)
        return log, ManualClock(log.runs.all()[-1].started_utc_ns + 10**14)

    return open_it


def new(folder: Path) -> tuple[VisitLog, ManualClock]:
    """A visit in which nothing is."""
    clock = ManualClock()
    return VisitLog.create(Path(tempfile.mkdtemp(dir=folder)) / "1.visit", clock), clock


def at_work(folder: Path) -> tuple[VisitLog, ManualClock]:
    """A visit that is recorded: readings, a step without a name, circuits."""
    log, clock = new(folder)
    for name in ("Bedroom outlets", "Living room light above the long table", "Refrigerator"):
        log.circuits.add("circuit", name)
    log.circuits.add("cord", "Aquarium heater")
    evening(log, clock)
    return log, clock


def recorded_again(folder: Path) -> tuple[VisitLog, ManualClock]:
    """The example visit, and a recorder at work in it."""
    log, clock = copy_of(folder, ROOT / "fixtures" / "demo" / "garden_flat.visit")()
    demo = DemoRecorder(log, clock)
    demo.still(0.41, 30)
    demo.still(0.76, 30)
    return log, clock


def dialogs(walk: Walk, folder: Path) -> None:
    """Those that no action of a quiet visit opens."""
    log, clock = recorded_again(folder)
    window = walk.open_window(log, clock)
    for dialog in (CloseDialog(window), UnfinishedDialog(window, (), "")):
        dialog.show()
        walk.look(dialog, type(dialog).__name__, "dialogs")
        dialog.close()
    ended = CloseDialog(window, lambda: False)
    ended.show()
    ended.notice_end()
    walk.look(ended, "CloseDialog once it has ended", "dialogs")
    ended.close()
    walk.close(window)


def report(walk: Walk, folder: Path) -> None:
    """Every word of the report of the example visit."""
    log, _ = copy_of(folder, ROOT / "fixtures" / "demo" / "garden_flat.visit")()
    walk.typed |= typed_in(log)
    page = report_html(read_report_data(log), datetime(2026, 12, 1, 9, 0, tzinfo=UTC))
    log.close()
    body = re.sub(r"<(style|script)\b.*?</\1>", " ", page, flags=re.S)
    spoken = [match[1] for match in re.finditer(r' (?:alt|title|aria-label)="([^"]*)"', body)]
    for text in [*re.split(r"<[^>]+>", body), *spoken]:
        if text.strip() and not re.fullmatch(r"\s*[0-9a-f]{64}\s*", text):  # a checksum is no words
            walk.drawn["texts of the report"] += 1
            walk.read(unescape(text), "report")


def draw_all(size: str, language: str, wanted: str, pictures: Path | None) -> int:
    """Draw everything on a screen of this size; returns the exit code."""
    make_application()
    qInstallMessageHandler(lambda *_: None)  # this screen has no window manager, and says so
    walk = Walk(size, language, pictures)
    if language:
        choose_language(language)
    else:
        speak_accented(walk.patch)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        visits: dict[str, Callable[[], tuple[VisitLog, ManualClock]]] = {
            "new": lambda: new(folder),
            "at work": lambda: at_work(folder),
            "finished": copy_of(folder, ROOT / "fixtures" / "demo" / "garden_flat.visit"),
            "recorded again": lambda: recorded_again(folder),
        }
        walk.typed |= {str(folder), folder.name}
        for visit, open_visit in visits.items():
            if not wanted or visit in wanted.split(","):
                try:
                    walk.walk(visit, open_visit)
                except Exception:
                    walk.note(f"stopped: {traceback.format_exc()}", visit)
        if pictures is not None:
            wanted = "pictures"
        if not wanted or "dialogs" in wanted.split(","):
            dialogs(walk, folder)
        if not language and (not wanted or "report" in wanted.split(",")):
            report(walk, folder)
    walk.patch.undo()
    for where in walk.wrong.values():
        print(where)
    print(f"{size}: {dict(walk.drawn)}; wrong: {len(walk.wrong)}")
    return 1 if walk.wrong else 0


def main() -> int:
    """Returns the exit code: 1 where something is wrong."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--language", default="", help="code of a language with a catalogue")
    parser.add_argument("--visits", default="", help="draw only these, parted by a comma")
    parser.add_argument("--pictures", type=Path, help="folder for a picture of each page")
    parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)
    parser.add_argument("sizes", nargs="*", default=list(SIZES))
    wanted = parser.parse_args()
    if wanted.here:
        return draw_all(wanted.sizes[0], wanted.language, wanted.visits, wanted.pictures)
    if wanted.pictures is not None:
        wanted.pictures.mkdir(parents=True, exist_ok=True)
    worst = 0
    for size in wanted.sizes:
        width, height = map(int, size.split("x"))
        screen = {"name": size, "x": 0, "y": 0, "width": width, "height": height - FRAME_HEIGHT, "logicalDpi": 96,
                  "logicalBaseDpi": 96, "dpr": 1}  # fmt: skip
        with tempfile.TemporaryDirectory() as folder:
            config = Path(folder) / "screen.json"
            config.write_text(json.dumps({"screens": [screen]}), encoding="utf-8")
            environment = os.environ | {
                "QT_QPA_PLATFORM": f"offscreen:configfile={config}", "HOME": folder, "XDG_CONFIG_HOME": folder,
                "XDG_DATA_HOME": folder, "XDG_CACHE_HOME": folder,
            }  # fmt: skip
            command = [sys.executable, __file__, "--here", "--language", wanted.language]
            command += ["--visits", wanted.visits, size]
            command += ["--pictures", str(wanted.pictures)] if wanted.pictures is not None else []
            worst = max(worst, subprocess.run(command, env=environment, check=False).returncode)
    return worst


if __name__ == "__main__":
    sys.exit(main())
