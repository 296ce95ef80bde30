"""What works beside the window ends with it, however the window ends."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

WINDOW = """
import time
from gui.model.cached_task import single_process
from logger.translation import shown_language, set_language
set_language("de")
print("works in", single_process().submit(shown_language).result(), flush=True)
time.sleep(60)
"""


def test_no_process_is_left_by_a_window_that_was_ended_from_outside() -> None:
    root = str(Path(__file__).parents[2])
    with subprocess.Popen(
        [sys.executable, "-c", WINDOW],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": root},
    ) as window:
        assert window.stdout is not None and window.stdout.readline() == "works in de\n"  # as the window does
        window.send_signal(signal.SIGTERM)
        # Each process that it has started holds the output open.
        assert window.communicate(timeout=20) == ("", None)
