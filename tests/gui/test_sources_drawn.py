"""What the pages Breakers and Tonight really draw: large enough, with contrast, nothing cut and nothing overlapping."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise

import pytest
import wcag_contrast_ratio
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel

from gui.dev.demo import DemoRecorder
from gui.widgets import theme
from gui.widgets.appearance import Appearance
from gui.widgets.bar_chart import BarChart
from gui.widgets.bar_painter import Bar
from logger.metrology.setup import Setup
from logger.sweep.sweep_progress import plain_sweep
from logger.visit import VisitLog
from tests.support.drawn_text import Drawn, drawn_texts
from tests.support.window_driver import Driver

OWN_VOLTS = {
    "Bedroom outlets": 0.93, "Bedroom light": -0.12, "Study": 0.28, "Living room light above the long table": -0.24,
    "Hall and smoke alarms": 0.01, "Refrigerator": 0.02, "Router and telephone": 0.0, "Kitchen": 0.0, "Range": 0.0,
    "Bathroom": 0.0, "Washing machine": 0.0, "Water heater": 0.0, "Attic": 0.0, "Cellar": 0.0,
}  # fmt: skip
SIZES = [((960, 540), False), ((1280, 720), True)]
"""With whether it is dark."""
LEAST_HEIGHT_FOR_ALL = 720
"""Below, what must be read may be scrolled, but still nothing lies over another thing."""


def scenes(driver: Driver, demo: DemoRecorder, log: VisitLog) -> Iterator[str]:
    """The states that a person meets on the two pages, one after the other."""
    window = driver.window

    def settle() -> None:
        window.controller.refresh(force=True)
        window.redraw()
        window.sweep_controller.wait()
        window.redraw()
        QApplication.processEvents()

    driver.do("stage.sources", "page.next")
    yield "no circuit"
    driver.do("sweep.add")
    yield "asks for circuits"
    driver.type(", ".join(OWN_VOLTS))
    driver.press("Return")
    log.circuits.set_two_pole(log.circuits.all()[8].id, True)
    lamp = log.circuits.add("cord", "Lamp at the bed", log.circuits.all()[0].id)
    settle()
    yield "begins"
    driver.refused("sweep.essential")
    yield "the chosen row is no circuit"
    driver.press("Down")
    driver.do("sweep.essential")
    yield "asks why it stays on"
    driver.press("Esc")

    def volts(live: frozenset[int], at: int) -> float:
        share = (1.0, 0.6)[at]
        return abs(
            sum(OWN_VOLTS.get(s.name, 0.0) * share for s in log.circuits.all() if s.id in live) + 0.03j
        )

    for at, spot in enumerate(log.spots.all()[:2]):
        for count, combination in enumerate(plain_sweep(log.circuits.all())):
            log.readings.enter(
                spot.id,
                combination.label,
                round(volts(combination.live, at), 3),
                0.003,
                live=combination.live,
            )
            if at == 0 and count == 5:
                settle()
                yield "half way"
                driver.press("Space")
                yield "waiting"
                driver.press("Esc")
    settle()
    yield "swept"
    driver.press(*["Up"] * 20)
    yield "the first row"
    driver.do("page.next")
    settle()
    yield "tonight"
    driver.press("Space")
    demo.still(0.3, 2)
    settle()
    yield "tonight, awaited"
    driver.press("Esc")
    for _ in range(6):
        wanted = window.sweep_controller.wanted_for_tonight()
        if wanted is None:
            break
        spot, combination = wanted
        at = [s.id for s in log.spots.all()].index(spot.id)
        log.readings.enter(
            spot.id, combination.label, round(volts(combination.live, at), 3), 0.003, live=combination.live
        )
        settle()
    yield "confirmed"
    driver.do("tonight.details")
    settle()
    yield "legs and advice"
    driver.press("Down", "Down", "Down")
    yield "advice further down"
    first = plain_sweep(log.circuits.all())[1]
    for spot in log.spots.all()[:2]:
        log.readings.enter(spot.id, first.label, 9.3, 0.003, live=first.live)
    window.controller.refresh(force=True)
    settle()
    window.refresh()
    settle()
    yield "contradicting"
    driver.press("Down")
    driver.do("tonight.void")
    yield "asks why a reading is mistaken"
    driver.press("Esc")
    driver.do("page.previous")
    settle()
    yield "contradicting, on the page of breakers"
    assert lamp.kind == "cord"


def overlaps(driver: Driver) -> list[str]:
    """Labels of the page that have less room than their text needs, and parts that lie over each other."""
    page = driver.window.pages.sources.page
    parts = [
        item.widget()
        for index in range(page.column.count())
        if (item := page.column.itemAt(index)) is not None and item.widget() is not None
    ]
    shown = [part for part in parts if part.isVisible()]
    out = [
        part.text()
        for part in shown
        if isinstance(part, QLabel) and part.height() < part.heightForWidth(part.width()) - 1
    ]
    for above, below in pairwise(shown):
        if above.geometry().bottom() > below.geometry().top():
            out.append(f"{type(above).__name__} over {type(below).__name__}")
    return out


@pytest.mark.parametrize(("size", "dark"), SIZES)
def test_what_the_pages_draw(
    open_window: Callable[[], Driver],
    record: Callable[[], DemoRecorder],
    log: VisitLog,
    size: tuple[int, int],
    dark: bool,
) -> None:
    # Source: W3C, WCAG 2.1, success criterion 1.4.3: at least 4.5:1; computed by wcag-contrast-ratio (PyPI).
    log.setup.set(Setup(supply="split phase", reference="earth rod", on_battery=True, link_isolated=True))
    for name in ("Bed, left", "Bed, right", "Cot by the wall"):
        log.spots.add(name)
    demo = record()
    demo.still(0.3, 20)
    driver = open_window()
    driver.window.resize(*size)
    if dark:
        driver.do("view.dark")
    driver.window.refresh()
    least = 11 * theme._pixels_per_point() - 0.5
    seen = 0
    for name in scenes(driver, demo, log):
        QApplication.processEvents()
        texts = drawn_texts(driver.window.frame.side)
        seen += len(texts)
        wrong = [(name, *why) for text in texts if (why := faults(text, least))]
        assert wrong == []
        if size[1] >= LEAST_HEIGHT_FOR_ALL and not driver.asked:
            assert (name, overlaps(driver)) == (name, [])
    assert seen > 200


def faults(text: Drawn, least_pixels: float) -> list[object]:
    """What is wrong with a text as it is drawn."""

    def rgb(colour: str) -> tuple[float, ...]:
        return tuple(int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))

    out: list[object] = []
    if text.pixels < least_pixels:
        out += [text.text, text.pixels]
    if wcag_contrast_ratio.rgb(rgb(text.ink), rgb(text.ground)) < 4.5:
        out += [text.text, text.widget, text.ink, text.ground]
    if text.beyond > 1 or text.text.endswith("…"):
        out += [text.text, text.widget, "cut", text.beyond]
    return out


def test_a_chart_of_all_rows_is_never_scrolled_whatever_room_it_had_before() -> None:
    chart = BarChart(Appearance(theme.LIGHT, theme.Sizes.for_height(768)), "Spots", whole=True)
    chart.resize(300, 30)  # as Qt makes a part that no layout has placed yet
    chart.show_bars([Bar("Bed, left", "0.02 V", 0.02, 0.0), Bar("Bed, right", "0.03 V", 0.03, 0.0)], 1, 0.1)
    rows: list[int] = []
    chart.clicked.connect(rows.append)
    QTest.mouseClick(chart, Qt.MouseButton.LeftButton, pos=QPoint(20, 4))
    assert rows == [0], "the first spot stands first"
