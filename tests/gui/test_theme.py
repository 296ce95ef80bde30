"""Contrast, text sizes, colours: measured, in both themes and at every size of the window."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
import wcag_contrast_ratio
from PySide6.QtGui import QFontMetricsF
from pytestqt.qtbot import QtBot

from gui.dev.demo import DemoRecorder
from gui.model.route_controller import USUAL_SPOTS
from gui.model.stages import STAGES
from gui.model.visit_controller import VisitController
from gui.shell.help.help_window import HelpWindow
from gui.widgets import theme
from gui.widgets.appearance import Appearance
from gui.widgets.row_list import RowList
from gui.widgets.row_model import ListRow
from gui.widgets.theme import DARK, LIGHT, Sizes, Theme, contrast
from gui.window import Window
from logger.clock import ManualClock
from logger.metrology.checks import CheckKind
from logger.metrology.setup import ASSUMED_METER, Setup
from logger.settling.events import Step
from logger.visit import VisitLog
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from tests.support.drawn_text import Drawn, drawn_texts
from tests.support.window_driver import Driver, Heard


def wcag(one: str, other: str) -> float:
    """The contrast ratio of two #RRGGBB by wcag-contrast-ratio (PyPI)."""

    def rgb(colour: str) -> tuple[float, ...]:
        return tuple(int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))

    return float(wcag_contrast_ratio.rgb(rgb(one), rgb(other)))


def text_pairs(shown: Theme) -> list[tuple[str, str, str]]:
    """Every pair of text on ground that the window draws: what for, text colour, ground colour."""
    pairs = [
        (f"{rank} on {place}", getattr(shown, rank), getattr(shown, place))
        for rank in ("text", "quiet")
        for place in ("ground", "panel", "plot", "note")
    ]
    pairs += [
        ("the number while it is no value", shown.pale, shown.panel),
        ("chosen row", shown.on_chosen, shown.chosen),
        ("key", shown.on_key, shown.key),
        ("question", shown.on_ask, shown.ask),
        ("mistake", shown.error, shown.panel),
    ]
    pairs += [
        (f"state {state.value}", theme.ON_STATE, colour) for state, colour in theme.STATE_COLOURS.items()
    ]
    pairs.append(("step", theme.ON_STATE, theme.REDDISH_PURPLE))
    return pairs


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#000000", "#FFFFFF", 21.0),
        ("#FFFFFF", "#FFFFFF", 1.0),
        ("#777777", "#FFFFFF", 4.48),
        ("#767676", "#FFFFFF", 4.54),
    ],
)
def test_contrast_ratio(one: str, other: str, ratio: float) -> None:
    # Source: W3C, WCAG 2.1 definition of contrast ratio (21:1 for black on white); #767676 as the lightest grey
    # that passes 4.5:1 on white and #777777 as the first that fails: from memory.
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize("shown", [LIGHT, DARK], ids=["light", "dark"])
def test_contrast_ratio_agrees_with_an_implementation_that_is_not_ours(shown: Theme) -> None:
    # Source: wcag-contrast-ratio (PyPI), an implementation of WCAG 2.x by others.
    greys = [f"#{i:02X}{i:02X}{i:02X}" for i in range(256)]
    pairs = [(ink, ground) for _, ink, ground in text_pairs(shown)] + [(grey, "#3060C0") for grey in greys]
    for ink, ground in pairs:
        assert contrast(ink, ground) == pytest.approx(wcag(ink, ground), abs=1e-12)


@pytest.mark.parametrize("shown", [LIGHT, DARK], ids=["light", "dark"])
def test_every_text_on_every_ground_has_contrast(shown: Theme) -> None:
    # Source: W3C, WCAG 2.1, success criterion 1.4.3: at least 4.5:1.
    weak = [(name, wcag(ink, ground)) for name, ink, ground in text_pairs(shown) if wcag(ink, ground) < 4.5]
    assert weak == []


@pytest.mark.parametrize("shown", [LIGHT, DARK], ids=["light", "dark"])
def test_the_curve_and_state_shapes_stand_out(shown: Theme) -> None:
    # Source: W3C, WCAG 2.1, success criterion 1.4.11: graphics at least 3:1.
    assert contrast(shown.curve, shown.plot) >= 3
    assert all(contrast(theme.ON_STATE, ground) >= 3 for ground in theme.STATE_COLOURS.values())


def test_hues_are_the_published_ones() -> None:
    # Source: Okabe and Ito, Color Universal Design (2008), the eight-colour palette, as RGB.
    palette = {"#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7"}
    used = {*theme.STATE_COLOURS.values(), theme.REDDISH_PURPLE, theme.BLUE} - {theme.GREY}
    assert used <= palette


@pytest.mark.parametrize("height", [540, 720, 1080, 1440])
def test_no_text_is_smaller_than_11_points(height: int) -> None:
    sizes = Sizes.for_height(height)
    points = min(sizes.small, sizes.normal, sizes.large, sizes.value) / theme._pixels_per_point()
    assert points >= 11.0


# --- what is really drawn -------------------------------------------------------------------------------------


SIZES = [(960, 540), (1280, 720), (1920, 1080)]


def everything(driver: Driver, demo: DemoRecorder, log: VisitLog) -> Iterator[tuple[str, list[Drawn]]]:
    """Each sheet and each question in turn, empty and with a visit in it, in the states that a person meets."""
    window = driver.window

    def appearance(name: str) -> tuple[str, list[Drawn]]:
        window.refresh()
        window.redraw()
        return name, drawn_texts(window.frame.side)

    def look_at_all(name: str) -> tuple[str, list[Drawn]]:
        window.refresh()
        window.redraw()
        return name, drawn_texts(window)

    def pages(when: str) -> Iterator[tuple[str, list[Drawn]]]:
        shown = set()
        for stage in STAGES:
            driver.do(f"stage.{stage.name.lower()}")
            shown.add(window.pages.stack.currentIndex())
            yield appearance(f"{type(window.page).__name__}, {when}")
        for index in range(window.pages.stack.count()):
            if index not in shown:  # pages that no stage leads to
                window.pages.stack.setCurrentIndex(index)
                yield appearance(f"{type(window.page).__name__}, {when}")
        driver.do("stage.spots")
        yield look_at_all(f"the window, {when}")

    yield from pages("empty")
    log.setup.set(Setup(reference="building earth", on_battery=False, meter=ASSUMED_METER))
    for room in ("Bedroom", "Living room"):
        for place, reminder in USUAL_SPOTS:
            log.spots.add(f"{room}: {place}", room, reminder)
    log.spots.add("Cot by the wall")
    window.controller.snapshot.refresh(force=True)
    demo.still(0.888, 20)
    log.marks.add("bedside lamp plugged in")
    for condition in (EVERYTHING_ON, EVERYTHING_OFF):
        for spot in log.spots.all()[:4]:
            demo.move(0.888, 2.5, 6)
            demo.still(0.888, 3.5 if spot.id % 2 == 0 else 20)
            log.readings.take(spot.id, condition, override=spot.id % 2 == 0)
    log.readings.void(log.readings.all()[0].id, "moved")
    log.checks.skip(CheckKind.FUNCTION, "a sensitive person")
    window.controller.snapshot.refresh(force=True)
    yield from pages("a visit")
    for action_id in ("help.stage", "help.glossary", "help.actions"):
        driver.do(action_id)
        help_window = next(found for found in window.findChildren(HelpWindow) if found.isVisible())
        yield f"HelpPage {action_id}", drawn_texts(help_window)
    help_window.reject()
    driver.do("stage.connect")
    yield appearance("Connect, settings")
    driver.do("stage.spots")
    driver.press(*["Up"] * 9)
    for action_id in (
        "spots.room", "measure.condition", "measure.by_hand", "measure.outside_walk", "measure.mark", "spots.add",
        "spots.rename", "spots.reminder", "measure.round_off", "measure.void_last", "measure.hands_free_time",
        "measure.stop", "spots.remove",
    ):  # fmt: skip
        driver.do(action_id)
        assert driver.asked, action_id
        yield appearance(f"the question of {action_id}")
        driver.press("Esc")
    driver.do("stage.prepare")
    for item in window.pages.prepare.items():
        item.ask(window.pages.prepare.prompts)
        yield appearance(f"the question of {item.name}")
        driver.press("Esc")
    yield from steps(driver, demo, log, look_at_all)
    driver.do("stage.spots", "measure.condition")
    driver.answer("Everything on, as in the evening")
    driver.do("measure.hands_free")
    yield look_at_all("hands-free")
    demo.move(0.9, 2.5, 6)
    window.refresh()
    driver.do("measure.hands_free")
    driver.press("Space")
    yield look_at_all("moving, Space refused")
    demo.lines(*[b"OL"] * 20)
    yield look_at_all("overload")
    demo.pull_cable(4)
    yield look_at_all("port lost")
    driver.do("stage.night")
    for page in ("start", "morning", "before and after"):
        window.night_controller.wait()
        yield appearance(f"Night, {page}")
        for action_id in ("night.plan", "night.other", "night.compare"):
            if not driver.window.registry.why_not(action_id):
                driver.do(action_id)
                if driver.asked:
                    yield appearance(f"Night, {page}, the question of {action_id}")
                    driver.press("Esc")
        driver.do("page.next")
    driver.do("stage.spots")


def steps(
    driver: Driver, demo: DemoRecorder, log: VisitLog, appearance: Callable[[str], tuple[str, list[Drawn]]]
) -> Iterator[tuple[str, list[Drawn]]]:
    """The page Steps: nothing waits, steps wait, each question of it, effects of each verdict, one taken back."""
    driver.do("stage.sources")
    demo.still(0.40, 30)
    driver.window.refresh()
    driver.do("steps.ignore_all")
    yield appearance("Steps, nothing waits")
    for name in ("Bed lamp", "Aquarium with its heater, pump and light"):
        log.circuits.add("cord", name)
    for number in range(9):
        log.circuits.add("circuit", f"Circuit {number + 1}", two_pole=number == 2)
    for volts in (0.75, 0.30):
        demo.still(volts, 30)
        yield appearance(f"Steps, {volts} V waits")
        driver.do("steps.which")
        yield appearance(f"Steps, asks what {volts} V was")
        driver.type("x")
        yield appearance(f"Steps, asks what {volts} V was, a new name")
        driver.press("Esc")
        driver.do("steps.which")
        driver.answer("Bed lamp")
    for volts in (0.65, 0.30):
        demo.still(volts, 12)
    yield appearance("Steps, two wait")
    driver.do("steps.which")
    driver.type("aqua")
    yield appearance("Steps, type-ahead")
    driver.press("Esc")
    driver.do("steps.ignore")
    driver.press(*["Down"] * 4)
    yield appearance("Steps, another row is chosen")
    driver.window.pages.sources.steps.selection.choose(log.circuits.all()[0])
    for action_id in ("steps.circuit", "steps.rename", "steps.add"):
        driver.do(action_id)
        assert driver.asked, action_id
        yield appearance(f"Steps, the question of {action_id}")
        driver.press("Esc")
    live = log.recorder.live()
    assert live is not None
    log.step_labels.add(live.run_id, Step(7.0, 0.3, 0.6, 0.01, 9.0), None, "on", log.circuits.all()[0].id)
    driver.window.controller.refresh(force=True)
    yield appearance("Steps, one was taken back")


@pytest.fixture(scope="module", params=[LIGHT, DARK], ids=["light", "dark"])
def drawn(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[Drawn]]:
    """All texts of all scenes in a theme, at 1280x720."""
    clock = ManualClock()
    log = VisitLog.create(tmp_path_factory.mktemp("theme") / "house.visit", clock)
    demo = DemoRecorder(log, clock)
    window = Window(VisitController(log, clock, read_charger=lambda: True), sounds=Heard(), polls=False)
    window.show()
    window.activateWindow()
    driver = Driver(window)
    if request.param is DARK:
        driver.do("view.dark")
    assert window.appearance.theme is request.param
    scenes = dict(everything(driver, demo, log))
    assert window.appearance.theme is request.param
    window.may_close = True
    window.close()
    window.deleteLater()
    demo.close()
    log.close()
    return scenes


def test_every_sheet_was_looked_at(drawn: dict[str, list[Drawn]]) -> None:
    """What the tests below say is said of this much."""
    pages = {name.partition(",")[0] for name in drawn if "Page" in name}
    assert len(pages) >= 7 and len(drawn) >= 48
    texts = [each.text for scene in drawn.values() for each in scene]
    for text in ("SETTLED", "CHANGING", "OVERLOAD", "PORT LOST", "What is on now?", "Bedroom", "0.5 V"):
        assert text in texts, text


def test_no_text_is_drawn_smaller_than_11_points(drawn: dict[str, list[Drawn]]) -> None:
    least = 11 * theme._pixels_per_point() - 0.5  # a font's pixels are whole
    small = {(name, t.text, t.pixels) for name, scene in drawn.items() for t in scene if t.pixels < least}
    assert small == set()


def test_every_text_that_is_drawn_has_contrast(drawn: dict[str, list[Drawn]]) -> None:
    # Source: W3C, WCAG 2.1, success criterion 1.4.3: at least 4.5:1; computed by wcag-contrast-ratio (PyPI).
    weak = {
        (t.widget, t.text, t.ink, t.ground, round(wcag(t.ink, t.ground), 2), name)
        for name, scene in drawn.items()
        for t in scene
        if wcag(t.ink, t.ground) < 4.5
    }
    assert weak == set()


def test_no_text_is_cut(drawn: dict[str, list[Drawn]]) -> None:
    cut = {
        (name, t.widget, t.text, round(t.beyond))
        for name, scene in drawn.items()
        for t in scene
        if t.beyond > 1 or t.text.endswith("…")
    }
    assert cut == set()


@pytest.mark.parametrize("size", SIZES)
def test_no_text_is_drawn_smaller_than_11_points_at_any_size(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], size: tuple[int, int]
) -> None:
    record().still(0.3, 10)
    driver = open_window()
    driver.window.resize(*size)
    least = 11 * theme._pixels_per_point() - 0.5
    for action_id in (
        "stage.connect", "stage.prepare", "stage.check", "stage.spots", "stage.sources",
        "measure.condition",
    ):  # fmt: skip
        driver.do(action_id)
        assert min(text.pixels for text in drawn_texts(driver.window)) >= least


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("volts", [0.888, 8.88, 88.8])
def test_the_value_is_at_least_8_percent_of_the_windows_height(
    open_window: Callable[[], Driver], record: Callable[[], DemoRecorder], size: tuple[int, int], volts: float
) -> None:
    """Measured in the picture, settled and while moving: the rows of pixels that the digits' ink covers."""
    demo = record()
    driver = open_window()
    driver.window.resize(*size)
    for ink in (theme.LIGHT.text, theme.LIGHT.pale):
        if ink == theme.LIGHT.text:
            demo.still(volts, 20, noise_volts=volts * 0.005)
        else:
            demo.move(volts, 3 * volts, 6)
        driver.window.refresh()
        band = driver.window.readout
        image = band.grab().toImage()
        columns = range(round(band.width() * 0.25), round(band.width() * 0.33), 2)  # within the first digits
        rows = [
            y
            for y in range(image.height())
            if any(image.pixelColor(x, y).name() == ink.lower() for x in columns)
        ]
        assert (max(rows) - min(rows) + 1) / driver.window.height() >= 0.08


def test_d_goes_to_dark_and_back(open_window: Callable[[], Driver]) -> None:
    driver = open_window()
    driver.do("view.dark")
    assert driver.window.appearance.theme is DARK and driver.window.trace.appearance.theme is DARK
    driver.do("view.dark")
    assert driver.window.appearance.theme is LIGHT


def test_a_font_with_tall_lines_costs_a_list_no_rows(qtbot: QtBot, monkeypatch: pytest.MonkeyPatch) -> None:
    """Some system fonts leave room in each line for the marks of every script."""
    rows = RowList(Appearance(theme.LIGHT, theme.Sizes.for_height(600)), "Spots")
    qtbot.addWidget(rows)
    rows.show_rows([ListRow("Bed", "0.3 V", "below")], None)
    usual, large = rows.sizeHintForRow(0), theme.Sizes.for_height(1080).normal
    monkeypatch.setattr(QFontMetricsF, "lineSpacing", lambda metrics: 1.5 * metrics.height())
    theme._line_em.cache_clear()
    try:
        assert theme.line_height(theme.font(20)) == 20 * theme.MAX_LINE_EM
        assert rows.sizeHintForRow(0) <= usual * 1.05
        assert theme.Sizes.for_height(1080).normal < large
        assert theme.Sizes.for_height(600).small == rows.appearance.sizes.small, "never below the least size"
    finally:
        theme._line_em.cache_clear()
