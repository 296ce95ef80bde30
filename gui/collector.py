"""Python's garbage collector, run between two events of the window and nowhere else.

By itself it runs wherever something is made: in a thread beside the window, whose parts only the window's own thread
may free, or within one of Qt's `disconnect`s, which waits for ever where a part is freed that has the same lock.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

from PySide6.QtCore import QTimer

INTERVAL_MS = 250
"""Between two looks at how much was made. No source, ours: some thousands of objects by then, freed in milliseconds."""


def collect_what_is_due() -> None:
    """Collect the generations of which so much was made that the collector by itself would."""
    limits = gc.get_threshold()
    for generation in (2, 1, 0):
        if gc.get_count()[generation] > limits[generation]:
            gc.collect(generation)
            return


@contextmanager
def collecting_between_events() -> Iterator[None]:
    """Have the collector run by a timer of the event loop, as long as the loop goes on."""
    timer = QTimer(interval=INTERVAL_MS)
    timer.timeout.connect(collect_what_is_due)
    gc.disable()
    timer.start()
    try:
        yield
    finally:
        timer.stop()
        gc.enable()
