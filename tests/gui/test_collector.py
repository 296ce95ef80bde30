"""When Python's garbage collector runs in the window's process."""

from __future__ import annotations

import gc
import weakref

from PySide6.QtCore import QObject
from pytestqt.qtbot import QtBot

from gui.collector import collecting_between_events


def test_what_is_garbage_goes_with_the_event_loop_and_not_where_something_is_made(qtbot: QtBot) -> None:
    thresholds = gc.get_threshold()
    gc.collect()
    gc.set_threshold(50, 1, 1)
    try:
        with collecting_between_events():
            part = QObject()
            part.itself = part  # type: ignore[attr-defined]
            gone = weakref.ref(part)
            del part
            made: list[list[int]] = [[] for _ in range(1000)]
            assert made and gone() is not None
            qtbot.waitUntil(lambda: gone() is None, timeout=5000)
        assert gc.isenabled()
    finally:
        gc.set_threshold(*thresholds)
