"""Two windows on one visit; two visits at once; spots and conditions that change under one's hands."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterator
from gettext import NullTranslations
from pathlib import Path

import pytest
from PySide6.QtCore import QUrl
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from shiboken6 import isValid

from gui.app import WindowSwitcher
from gui.dev.demo import DemoRecorder
from gui.model.stages import REPORT
from gui.model.status import status
from gui.model.visit_controller import VisitController
from gui.settings import preferences
from gui.settings.preferences import LANGUAGE
from gui.sound.sounds import Tone
from gui.window import Window
from logger import translation
from logger.clock import NS_PER_S, ManualClock
from logger.settling.events import State
from logger.visit import VisitLog
from logger.visit.records.circumstances import Circumstances
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, HOLDS_S, OUTSIDE_WALK
from logger.visit.records.home_details import SpotDetails
from tests.support.other_language import OtherLanguage
from tests.support.window_driver import Driver, FakeStart, Heard, open_since_before, show_with_keyboard


@pytest.fixture
def open_window(
    qtbot: QtBot, log: VisitLog, clock: ManualClock, start: FakeStart, heard: Heard
) -> Iterator[Callable[[], Driver]]:
    """Opens windows as programs of their own do: each with its own connection to the log."""
    opened: list[Window] = []

    def make() -> Driver:
        controller = VisitController(VisitLog.open(log.path, clock), clock, start)  # type: ignore[arg-type]
        open_since_before(controller)
        window = Window(controller, sounds=heard, polls=False)
        opened.append(window)
        return show_with_keyboard(window, qtbot)

    yield make
    for window in filter(isValid, opened):  # one whose program went on to another visit is gone already
        window.may_close = True
        window.close()
        window.controller.log.close()
        window.deleteLater()


@pytest.fixture
def demo(log: VisitLog, record: Callable[[], DemoRecorder]) -> DemoRecorder:
    """Two spots, everything on; settled at the first."""
    for name in ("Bed", "Desk"):
        log.spots.add(name)
    log.facts.set("condition", EVERYTHING_ON)
    demo = record()
    demo.still(0.9, 20)
    return demo


def see(driver: Driver, clock: ManualClock) -> None:
    """Let the window see what another wrote."""
    clock.advance_ns(NS_PER_S)
    driver.window.refresh()


def taken(log: VisitLog) -> list[tuple[str, str]]:
    return [(reading.spot_name, reading.condition) for reading in log.readings.all()]


def chosen(driver: Driver) -> str:
    spot = driver.window.controller.route.chosen
    return spot.name if spot else ""


# --- a spot that is removed meanwhile ---------------------------------------------------------------------------


def test_undo_leaves_a_spot_on_the_list_that_another_window_has_read_meanwhile(
    demo: DemoRecorder, open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock
) -> None:
    driver = open_window()
    controller = driver.window.controller
    assert controller.route.add_spots("Sofa")
    sofa = next(spot for spot in log.spots.all() if spot.name == "Sofa")
    log.readings.enter(sofa.id, EVERYTHING_ON, 0.27, 0.01)
    see(driver, clock)
    assert not controller.history.undo()
    assert "“Sofa” has been read since, so it stays on the list." in controller.message.text
    assert "Sofa" in [spot.name for spot in log.spots.all()]
    controller.route.remove(
        sofa
    )  # asked for by name: it goes, and comes back, and goes as often as it is wished
    assert controller.history.undo() and controller.history.redo()
    assert "Sofa" not in [spot.name for spot in log.spots.all()]
    assert controller.history.undo()
    log.readings.enter(sofa.id, EVERYTHING_ON, 0.31, 0.01)
    assert not controller.history.redo()
    assert "Sofa" in [spot.name for spot in log.spots.all()]


def test_a_value_never_slips_to_another_spot_when_its_own_is_removed_elsewhere(
    demo: DemoRecorder, open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock
) -> None:
    mine = open_window()
    bed = log.spots.all()[0]
    log.spots.remove(bed.id)  # as another window does
    see(mine, clock)
    assert chosen(mine) == "" and "removed in another window" in mine.message
    mine.window.press_primary()
    assert mine.asked == "“Bed” is no longer on the list" and taken(log) == []
    mine.answer("Bring it back and go on")
    assert taken(log) == [("Bed", EVERYTHING_ON)], "brought back, and the value is kept"
    assert [spot.name for spot in log.spots.all()] == ["Bed", "Desk"]


def test_the_removed_spot_can_be_left_and_another_chosen(
    demo: DemoRecorder, open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock
) -> None:
    mine = open_window()
    log.spots.remove(log.spots.all()[0].id)
    see(mine, clock)
    mine.press("Space", "Esc")
    assert taken(log) == []
    mine.press("Down")
    demo.move(0.9, 3.0, 6)
    demo.still(0.9, 20)
    mine.window.refresh()
    mine.press("Space")
    assert taken(log) == [("Desk", EVERYTHING_ON)]


def test_a_spot_removed_since_the_last_look_is_asked_for_at_once(
    demo: DemoRecorder, open_window: Callable[[], Driver], log: VisitLog
) -> None:
    mine = open_window()
    mine.press("Down")
    log.spots.remove(log.spots.all()[1].id)
    mine.press("Space")  # this window has not looked since
    assert taken(log) == [] and mine.asked == "“Desk” is no longer on the list"
    mine.answer("Bring it back and go on")
    assert taken(log) == [("Desk", EVERYTHING_ON)]


def test_hands_free_and_by_hand_ask_too_when_the_spot_is_gone(
    demo: DemoRecorder, open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock, heard: Heard
) -> None:
    mine = open_window()
    mine.do("measure.hands_free")
    log.spots.remove(log.spots.all()[0].id)
    demo.move(0.9, 3.0, 6)
    for _ in range(20):
        demo.still(0.9, 1)
        mine.window.refresh()
    assert taken(log) == [] and mine.asked == "“Bed” is no longer on the list"
    assert heard.spoken == ["Not taken. There is a question on the screen."], "said once"
    mine.press("Esc")
    assert not mine.window.controller.hands_free.is_armed
    mine.do("measure.by_hand")
    mine.answer("Bring it back and go on")
    mine.type("0.9")
    mine.press("Return")
    assert taken(log) == [("Bed", EVERYTHING_ON)]


def test_while_the_port_is_gone_nothing_is_taken_by_any_key(
    demo: DemoRecorder, open_window: Callable[[], Driver], log: VisitLog
) -> None:
    mine = open_window()
    demo.pull_cable(0.4)  # the last value is still fresh
    mine.window.refresh()
    mine.press("Space")
    assert mine.window.controller.message.refused and "is gone" in mine.message
    assert mine.refused("measure.take_unsettled")
    mine.do("stage.prepare", "stage.check")
    mine.press("Space")
    assert mine.window.controller.checks.spans == [] and log.readings.all() == []
    demo.put_cable_back()
    demo.still(0.9, 20)
    mine.window.refresh()
    mine.do("stage.spots")
    mine.press("Space")
    assert taken(log) == [("Bed", EVERYTHING_ON)]


# --- what is on -------------------------------------------------------------------------------------------------


def pause(clock: ManualClock, demo: DemoRecorder, seconds: float) -> None:
    """Hours in which the recorder goes on and nobody reads."""
    clock.advance_ns(round(seconds * NS_PER_S))
    demo.still(0.9, 20)


def test_after_a_pause_what_is_on_is_asked_again(
    demo: DemoRecorder, open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock
) -> None:
    mine = open_window()
    mine.press("Space", "Up")
    pause(clock, demo, HOLDS_S)
    demo.move(0.9, 3.0, 6)  # else nothing shows that the value is another one than before the pause
    demo.still(0.9, 20)
    mine.window.refresh()
    assert mine.window.controller.snapshot.condition == ""
    mine.press("Space")
    assert mine.asked == "What is on now?" and len(taken(log)) == 1
    assert "Last entered" in mine.window.question.question.text
    mine.answer("Everything on, as in the evening")
    assert taken(log) == [("Bed", EVERYTHING_ON)] * 2
    demo.move(0.9, 3.0, 6)
    demo.still(0.9, 20)
    mine.window.refresh()
    mine.press("Space")
    assert len(taken(log)) == 3 and mine.asked != "What is on now?", "it holds again"


def test_a_visit_opened_the_next_day_holds_no_condition(
    demo: DemoRecorder, open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock
) -> None:
    demo.end()
    clock.advance_ns(24 * 3600 * NS_PER_S)
    mine = open_window()
    assert mine.window.controller.snapshot.condition == ""
    mine.do("stage.spots", "measure.hands_free")
    assert mine.asked == "What is on now?"
    mine.answer("Everything off")
    assert mine.window.controller.hands_free.is_armed and log.facts.condition().condition == EVERYTHING_OFF


def test_armed_while_what_is_on_runs_out_takes_nothing_and_asks(
    demo: DemoRecorder, open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock, heard: Heard
) -> None:
    mine = open_window()
    mine.do("measure.hands_free")
    pause(clock, demo, HOLDS_S + 1)
    demo.move(0.9, 3.0, 6)
    for _ in range(20):
        demo.still(0.9, 1)
        mine.window.refresh()
    assert taken(log) == [] and mine.asked == "What is on now?"
    assert len(heard.spoken) == 1
    mine.answer("Everything on, as in the evening")
    assert mine.window.controller.hands_free.is_armed, "armed anew"
    demo.move(0.9, 3.0, 6)
    for _ in range(20):
        demo.still(0.9, 1)
        mine.window.refresh()
    assert taken(log) == [("Bed", EVERYTHING_ON)]


def test_from_the_walk_outside_back_in_is_asked(
    demo: DemoRecorder, open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock
) -> None:
    mine = open_window()
    pause(clock, demo, HOLDS_S + 1)
    mine.window.refresh()
    mine.do("measure.outside_walk")
    mine.answer("The first point")
    demo.move(0.9, 3.0, 6)
    demo.still(0.9, 20)
    mine.window.refresh()
    mine.press("Space")
    assert taken(log) == [("walk 1", OUTSIDE_WALK)], "outdoors what is on has not to be asked"
    mine.press("Up", "Space")
    assert mine.asked == "What is on now?"


def test_what_another_window_has_just_stated_holds_here_too(
    demo: DemoRecorder, open_window: Callable[[], Driver], log: VisitLog
) -> None:
    mine, theirs = open_window(), open_window()
    theirs.window.controller.condition.state(EVERYTHING_OFF)
    demo.still(0.9, 7)
    mine.window.press_primary()
    assert taken(log) == [("Bed", EVERYTHING_OFF)]


def test_a_reading_void_because_of_what_was_on_asks_what_is_on(
    demo: DemoRecorder, open_window: Callable[[], Driver], log: VisitLog
) -> None:
    mine = open_window()
    mine.press("Space")
    mine.do("measure.void_last")
    mine.answer("wrong about what was on")
    assert mine.asked == "What is on now?"
    mine.press("Esc")
    assert mine.window.controller.snapshot.condition == ""
    mine.press("Space")
    mine.answer("Everything off")
    assert taken(log) == [("Bed", EVERYTHING_ON), ("Bed", EVERYTHING_OFF)]


# --- by hand, a whole form --------------------------------------------------------------------------------------


def test_a_form_entered_afterwards_is_a_value_and_enter_for_each_spot(
    open_window: Callable[[], Driver], log: VisitLog
) -> None:
    for room in ("bedroom", "study", "living room"):
        for place in ("centre", "seat", "bed"):
            log.spots.add(f"{room}: {place}", room)
    mine = open_window()
    mine.do("stage.spots", "measure.by_hand")
    mine.answer("Everything on, as in the evening")
    for n in range(18):
        mine.type(f"0.{n + 1:02d}")
        mine.press("Return")
    assert mine.asked == "", "both columns are done"
    assert [r.volts for r in log.readings.all()] == [(n + 1) / 100 for n in range(18)]
    assert [r.spot_id for r in log.readings.all()] == [spot.id for spot in log.spots.all()] * 2
    assert [r.condition for r in log.readings.all()] == [EVERYTHING_ON] * 9 + [EVERYTHING_OFF] * 9
    assert {r.taken for r in log.readings.all()} == {"by hand"}
    assert log.facts.condition().condition == "", "a form of another day says nothing of what is on now"


def test_on_and_off_are_typed_at_once_as_they_stand_on_the_form(
    open_window: Callable[[], Driver], log: VisitLog
) -> None:
    for name in ("Bed", "Desk", "Seat"):
        log.spots.add(name)
    mine = open_window()
    mine.do("stage.spots", "measure.by_hand")
    mine.answer("Everything on")
    for text in ("0.9 (0.05)", "(0.2)", "400 mV +- 20 mV (50 mV)"):
        mine.type(text)
        mine.press("Return")
    got = [(r.spot_name, r.condition, r.volts) for r in log.readings.all()]
    assert got == [
        ("Bed", EVERYTHING_ON, 0.9),
        ("Bed", EVERYTHING_OFF, 0.05),
        ("Desk", EVERYTHING_OFF, 0.2),
        ("Seat", EVERYTHING_ON, 0.4),
        ("Seat", EVERYTHING_OFF, 0.05),
    ]
    assert mine.asked == "By hand at “Desk”, everything on", "what is missing is asked for"
    assert mine.window.pages.spots.spots.rows[0].value == "on 0.90, off 0.05 V"


def test_what_was_typed_and_not_understood_is_still_there(
    open_window: Callable[[], Driver], log: VisitLog
) -> None:
    log.spots.add("Bed")
    mine = open_window()
    mine.do("stage.spots", "measure.by_hand")
    mine.answer("Everything on")
    mine.type("about 0.3")
    mine.press("Return")
    line = mine.window.question.line
    assert line is not None and line.text() == "about 0.3" and "not understood" in mine.message
    assert log.readings.all() == []
    mine.press("Esc")
    assert mine.asked == ""


# --- two windows tag at once ------------------------------------------------------------------------------------


def test_of_two_windows_that_take_at_once_one_is_refused_and_each_undoes_its_own(
    demo: DemoRecorder, open_window: Callable[[], Driver], log: VisitLog, clock: ManualClock
) -> None:
    mine, theirs = open_window(), open_window()
    mine.window.press_primary()
    theirs.window.press_primary()
    (first,) = log.readings.all()
    assert "already taken" in theirs.message
    demo.still(0.6, 10)
    see(theirs, clock)
    theirs.window.press_primary()
    second = log.readings.all()[1]
    assert first.spot_id == second.spot_id
    see(mine, clock)
    see(theirs, clock)
    for window in (mine.window, theirs.window):
        assert [r.id for r in window.controller.snapshot.readings] == [first.id, second.id]
        assert len(window.pages.spots.entries.rows) == 2
    if mine.asked:
        mine.press("Esc")
    mine.do("measure.void_last")
    mine.answer("moved")
    assert [r.void_reason for r in log.readings.all()] == ["moved or touched something", None], (
        "its own, though the other is newer"
    )
    see(theirs, clock)
    theirs.do("measure.void_last")
    theirs.answer("wrong spot")
    assert [r.void_reason for r in log.readings.all()] == ["moved or touched something", "wrong spot"]


# --- the clock --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("hours", [-1, 1])
def test_a_clock_set_by_an_hour_is_no_stopped_recorder_and_keeps_the_order(
    demo: DemoRecorder,
    open_window: Callable[[], Driver],
    log: VisitLog,
    clock: ManualClock,
    heard: Heard,
    hours: int,
) -> None:
    mine = open_window()
    mine.do("stage.spots")
    mine.press("Space")
    clock.set_utc_ns(clock.utc_ns() + hours * 3600 * NS_PER_S)
    mine.window.refresh()
    assert status(mine.window.controller.snapshot).state is State.SETTLED, "not even for a moment"
    assert Tone.LOST not in heard.tones
    mine.press("Down")
    demo.move(0.9, 3.0, 6)
    demo.still(0.4, 20)
    mine.window.refresh()
    assert status(mine.window.controller.snapshot).state is State.SETTLED
    mine.press("Space")
    if hours > 0:  # what is on was stated too long ago
        assert mine.asked == "What is on now?"
        mine.answer("Everything o")
    assert mine.asked == "Is everything off now?", "the second spot completes the round"
    assert taken(log) == [("Bed", EVERYTHING_ON), ("Desk", EVERYTHING_ON)]
    first, second = log.readings.all()
    assert first.last_line_id is not None and second.first_line_id is not None
    assert first.last_line_id < second.first_line_id
    rows = [row.head for row in mine.window.pages.spots.entries.rows]
    assert rows == ["Desk", "Bed"], "newest first, whatever the clock says"
    if mine.asked:
        mine.press("Esc")
    mine.do("measure.void_last")
    mine.answer("moved")
    assert [r.void_reason for r in log.readings.all()] == [None, "moved or touched something"]


# --- two visits -------------------------------------------------------------------------------------------------


@pytest.fixture
def shown(open_window: Callable[[], Driver]) -> Iterator[WindowSwitcher]:
    """The program with its one window."""
    shown = WindowSwitcher(open_window().window)
    yield shown
    shown.window.may_close = True
    shown.window.close()
    shown.close()


def do(shown: WindowSwitcher, action_id: str, *answers: str) -> None:
    """Run an action, give answers, and let the program do what it puts off until after them."""
    driver = Driver(shown.window)
    driver.do(action_id)
    driver.answer(*answers)
    QApplication.processEvents()


def choose(shown: WindowSwitcher, monkeypatch: pytest.MonkeyPatch, path: Path) -> None:
    """Open the file that the system's dialog gives."""
    monkeypatch.setattr(shown.window.window_actions.other_visit, "choose_path", lambda _: path)
    do(shown, "file.open")


def type_in(shown: WindowSwitcher, text: str) -> None:
    """Fill in the line of the question and press Enter."""
    line = shown.window.question.line
    assert line is not None
    line.setText(text)
    Driver(shown.window).press("Return")
    QApplication.processEvents()


def stop_asked(log: VisitLog) -> bool:
    return log._connection.one("SELECT count(*) FROM request")[0] > 0


def test_a_new_visit_of_the_same_home_begins_with_what_describes_it(
    shown: WindowSwitcher, log: VisitLog
) -> None:
    do(shown, "file.continue")
    assert "no earlier visit" in Driver(shown.window).message
    spot = log.spots.add("Bed, left", "Bedroom")
    log.spot_details.set(spot.id, SpotDetails("lying on the back", 0.55, person="adult"))
    log.circumstances.set(Circumstances(weather="rain", rod_place="lawn"))
    shown.window.controller.refresh(force=True)
    do(shown, "file.continue", log.path.stem)
    assert shown.window.question.question is not None and "Not copied" in shown.window.question.question.text
    type_in(shown, "a year later")
    new = shown.window.controller.log
    assert new.path.stem == "a year later" and [spot.name for spot in new.spots.all()] == ["Bed, left"]
    assert list(new.spot_details.all().values()) == [SpotDetails("lying on the back", 0.55)]
    assert new.circumstances.current() == Circumstances(rod_place="lawn") and not new.readings.all()


def test_a_visit_opened_while_visits_are_compared_is_shown_there(
    shown: WindowSwitcher, log: VisitLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = log.path.with_name("other.visit")
    with contextlib.closing(VisitLog.create(other)) as visit:
        visit.spots.add("Desk")
    shown.window.navigator.go_to(REPORT)
    shown.window.pages.report.show_page(1)
    choose(shown, monkeypatch, other)
    window = shown.window
    assert window.controller.log.path.samefile(other) and window.navigator.stage is REPORT
    assert window.pages.report.page is window.pages.report.compare


def test_another_visit_of_the_folder_is_two_clicks_away_and_back(
    shown: WindowSwitcher, log: VisitLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    log.spots.add("Bed")
    older, newer = (log.path.with_name(f"{name}.visit") for name in ("older", "newer"))
    for at, path in enumerate((older, newer)):
        with contextlib.closing(VisitLog.create(path)) as visit:
            visit.spots.add("Desk")
        os.utime(path, (1_700_000_000 + at, 1_700_000_000 + at))
    do(shown, "file.visits")
    prompt = shown.window.question.question
    assert prompt is not None
    assert [a.text.split(" (")[0] for a in prompt.answers[:3]] == ["newer", "older", "Begin a new visit"]
    assert "Another one: choose its file..." in [a.text for a in prompt.answers]
    Driver(shown.window).answer("newer")
    QApplication.processEvents()
    assert shown.window.controller.log.path == newer and "newer" in shown.window.windowTitle()
    assert [spot.name for spot in shown.window.controller.snapshot.spots] == ["Desk"]
    choose(shown, monkeypatch, log.path)
    assert [spot.name for spot in shown.window.controller.snapshot.spots] == ["Bed"]


def test_a_new_visit_is_begun_under_a_name_and_never_over_another(
    shown: WindowSwitcher, log: VisitLog
) -> None:
    do(shown, "file.visits", "Begin a new visit")
    line = shown.window.question.line
    assert line is not None and line.text().startswith("20"), "named by the time of day"
    type_in(shown, "mill house: upper/flat")
    assert shown.window.controller.log.path == log.path.with_name("mill house upper flat.visit")
    do(shown, "file.new")
    type_in(shown, "house")
    assert "exists already" in shown.window.controller.message.text
    assert shown.window.controller.log.path.stem == "mill house upper flat", "stays where it is"


@pytest.mark.parametrize("text", ["nothing here", "notes.txt", "house.visit"])
def test_what_cannot_be_opened_leaves_the_visit_open(
    shown: WindowSwitcher, log: VisitLog, text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    notes = log.path.with_name("notes.txt")
    notes.write_text("shopping list")
    choose(shown, monkeypatch, log.path.with_name(text))
    assert shown.window.controller.message.refused and shown.window.controller.log.path == log.path
    assert notes.read_text() == "shopping list"
    assert shown.window.controller.log.spots.add("Bed").name == "Bed", "and its log is still open"


@pytest.mark.parametrize(("answer", "stops"), [("Recording goes on", False), ("Stop recording", True)])
def test_leaving_a_visit_that_is_recorded_asks_as_closing_does(
    demo: DemoRecorder, shown: WindowSwitcher, log: VisitLog, answer: str, stops: bool
) -> None:
    with contextlib.closing(VisitLog.create(log.path.with_name("other.visit"))) as other:
        other.spots.add("Desk")
    do(shown, "file.visits", "other")
    assert shown.window.question.question is not None
    assert shown.window.question.question.title == "Does the recording of this visit go on?"
    Driver(shown.window).press("Esc")
    assert shown.window.controller.log.path == log.path and not stop_asked(log)
    do(shown, "file.visits", "other", answer)
    assert shown.window.controller.log.path.stem == "other" and stop_asked(log) is stops
    demo.still(0.9, 2)
    assert len(log.samples.after().volts) == 110, "what was recorded goes on being recorded"


def test_two_visits_at_once_each_with_its_recorder(
    tmp_path: Path, clock: ManualClock, start: FakeStart, heard: Heard
) -> None:
    logs = [VisitLog.create(tmp_path / f"{name}.visit", clock) for name in ("east", "west")]
    demos = [DemoRecorder(log, clock, seed=seed) for seed, log in enumerate(logs)]
    levels = (0.3, 0.8)
    windows = []
    for log in logs:
        log.spots.add("Bed")
        log.facts.set("condition", EVERYTHING_ON)
        windows.append(Window(VisitController(log, clock, start), sounds=heard, polls=False))  # type: ignore[arg-type]
    for _ in range(20):
        for demo, volts in zip(demos, levels, strict=True):
            demo.still(volts, 1)
    for window, volts in zip(windows, levels, strict=True):
        window.refresh()
        window.window_actions.readings.take()
        (reading,) = window.controller.log.readings.all()
        assert reading.volts == pytest.approx(volts, abs=0.01)
        assert len(window.controller.snapshot.trace) == 100
    for window, demo in zip(windows, demos, strict=True):
        window.may_close = True
        window.close()
        demo.close()
        window.controller.log.close()


# --- the empty form ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("opens", [True, False])
def test_the_empty_form_is_a_key_away(
    open_window: Callable[[], Driver], log: VisitLog, monkeypatch: pytest.MonkeyPatch, opens: bool
) -> None:
    asked: list[str] = []

    def open_url(url: QUrl) -> bool:
        asked.append(url.toLocalFile())
        return opens

    monkeypatch.setattr("gui.widgets.open_file.QDesktopServices.openUrl", open_url)
    log.spots.add("Bed <left>")
    mine = open_window()
    mine.do("file.form")
    path = log.path.with_name("house form.html")
    assert asked == [str(path)] and str(path) in mine.message
    written = path.read_text(encoding="utf-8")
    assert "Bed &lt;left&gt;" in written
    path.write_text(f"{written}my remark", encoding="utf-8")
    mine.do("file.form")
    assert mine.asked == "Replace the file?"
    mine.answer("Replace it")
    assert path.read_text(encoding="utf-8") == written


def test_another_language_opens_the_window_anew_on_the_same_visit_and_keeps_a_new_one(
    log: VisitLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(preferences, "languages", lambda: ("en", "xx"))
    monkeypatch.setattr(
        translation, "translations_of", lambda code: OtherLanguage() if code == "xx" else NullTranslations()
    )
    shown = WindowSwitcher(Window(VisitController(VisitLog.open(log.path))), (log.path,))
    try:
        shown.window.preferences.set(LANGUAGE, "xx")
        shown.window.apply_preferences()
        QApplication.processEvents()
        assert shown.window.controller.log.path == log.path and log.path.exists(), "nothing is in it yet"
        assert shown.window.controller.log.spots.add("Bed").name == "Bed"
        actions = [action.text() for action in shown.window.menuBar().actions()]
        assert actions and all(text.startswith("⟦") for text in actions)
    finally:
        translation.set_language("en")
        shown.window.may_close = True
        shown.window.close()
        shown.close()
