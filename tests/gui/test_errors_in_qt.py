"""What raises where Qt calls back (a paintEvent, a slot) fails its test; proven on tests made for it.

Python prints such an error and goes on, so a window could be painted wrongly in every test and none would fail.
"""

from __future__ import annotations

from pathlib import Path

import pytest

pytest_plugins = ["pytester"]

PYPROJECT = Path(__file__).parents[2] / "pyproject.toml"

FAULTY = """
from PySide6.QtCore import QObject
from PySide6.QtWidgets import QWidget


class Faulty(QWidget):
    def paintEvent(self, event):
        raise ValueError("while painting")


def raises(name):
    raise ValueError("in a slot")


def test_paint_at_once(qtbot):
    widget = Faulty()
    qtbot.addWidget(widget)
    widget.grab()


def test_paint_by_the_event_loop(qtbot):
    widget = Faulty()
    qtbot.addWidget(widget)
    with qtbot.waitExposed(widget):
        widget.show()


def test_slot(qapp):
    sender = QObject()
    sender.objectNameChanged.connect(raises)
    sender.setObjectName("changed")


def test_without_error(qtbot):
    widget = QWidget()
    qtbot.addWidget(widget)
    widget.grab()
"""


def test_an_error_in_a_paint_event_or_a_slot_fails_its_test(pytester: pytest.Pytester) -> None:
    """With the settings of this project, which could switch that off."""
    pytester.makepyfile(test_faulty=FAULTY)
    found = pytester.runpytest(
        "-c", str(PYPROJECT), "--rootdir", str(pytester.path), "test_faulty.py", "-n", "0"
    )
    found.assert_outcomes(passed=1, failed=3)
    found.stdout.fnmatch_lines(
        [
            "*test_paint_at_once*",
            "*ValueError:*while painting*",
            "*test_paint_by_the*",
            "*ValueError:*while painting*",
        ]
    )
    found.stdout.fnmatch_lines(["*ValueError: in a slot*"])
