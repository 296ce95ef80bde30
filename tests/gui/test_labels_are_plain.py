"""What a visit holds is shown as it is written: no label reads it as HTML."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QTextEdit, QWidget

from gui.model.stages import STAGES
from logger.metrology.setup import Setup
from logger.visit import VisitLog
from tests.support.window_driver import Driver

MARKUP = "<b>b</b><img src='file:///etc/hostname'>"


def test_no_part_of_the_window_reads_a_name_as_html(open_window: Callable[[], Driver], log: VisitLog) -> None:
    log.setup.set(Setup(household=MARKUP, soil=MARKUP))
    spot = log.spots.add(MARKUP, MARKUP, MARKUP)
    circuit = log.circuits.add("circuit", MARKUP)
    log.circuits.set_essential(circuit.id, MARKUP)
    log.readings.enter(spot.id, MARKUP, 0.2, 0.01)
    log.readings.void(log.readings.enter(spot.id, "everything on", 0.3, 0.01).id, MARKUP)
    log.marks.add(MARKUP)
    driver = open_window()
    shown = 0
    for stage in STAGES:
        driver.window.navigator.go_to(stage)
        driver.window.redraw()
        for part in driver.window.findChildren(QWidget):
            if isinstance(part, QLabel):
                shown += MARKUP in part.text()
                assert part.textFormat() == Qt.TextFormat.PlainText or "<" not in part.text(), part.text()
            assert not isinstance(part, QTextEdit) or not part.acceptRichText()
            assert "<" not in part.toolTip()
    assert shown, "the names are shown in labels, so that the test looks at something"
