"""Figures of the stage Night on a ten-hour night at 10 samples/s, beside the same window on an empty visit.

    python scripts/bench/night_window.py

Runs in a real window; without a display it starts Xvfb (1280x720) for itself.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from PySide6.QtWidgets import QApplication

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from gui.app import make_application
from gui.model.stages import SPOTS
from gui.model.visit_controller import VisitController
from gui.window import Window
from logger.clock import NS_PER_S
from logger.settling.events import Event, Gap, Motion, Now, Settled, State, Step
from logger.visit import VisitLog
from logger.visit.storage.run_checksum import LineRow
from logger.visit.storage.run_writer import Batch, Counts, Heartbeat, RunWriter
from scripts.bench.window import RATE_HZ

SAMPLES = 360_000
TURNS = 12
KEYS = ["+"] * 15 + ["Left"] * 4 + ["-"] * 15
"""From the whole night to one second and back."""


def night(folder: Path, name: str, count: int) -> VisitLog:
    """A visit with a night in it that is over: still spans, motion, steps, a gap each hour."""
    log = VisitLog.create(folder / f"{name}.visit")
    if not count:
        return log
    length_s = count / RATE_HZ
    start_ns = time.time_ns() - round(2 * length_s * NS_PER_S)
    writer = RunWriter(
        log.path, utc_ns=start_ns, zone="UTC", utc_offset_s=0, port="bench", settings='{"url": "bench"}',
        software="bench", pid=1,
    )  # fmt: skip
    times_s = np.arange(count) / RATE_HZ
    heater = (times_s % 2460 < 840) * 0.07
    volts = 0.3 + heater + 0.004 * np.random.default_rng(1).standard_normal(count)
    rows: list[LineRow] = [
        (start_ns + int(t), int(t), "volts", float(v), b"0.300 V")
        for t, v in zip((times_s * NS_PER_S).astype(np.int64), volts, strict=True)
    ]
    events: list[Event] = []
    for at in range(0, int(length_s) - 60, 60):
        events.append(Settled(at, at + 50, 0.3, 0.01, at + 4, 500))
        events.append(
            Motion(at + 51, at + 59, 1.1, at + 59)
            if at % 600 == 0
            else Settled(at + 51, at + 59, 0.3, 0.01, at + 59, 80)
        )
    for at in range(0, int(length_s) - 840, 2460):
        events += [Step(at + 0.5, 0.3, 0.37, 0.002, at + 4), Step(at + 840.5, 0.37, 0.3, 0.002, at + 844)]
    events += [Gap(at + 50, at + 51, at + 51) for at in range(3600, int(length_s), 3600)]
    writer.write(
        Batch(lines=rows, events=sorted(events, key=lambda e: e.known_at_s)),
        Heartbeat(
            start_ns + round(length_s * NS_PER_S), round(length_s * NS_PER_S), "open", "",
            Now(State.SETTLED, length_s - 5, 0.3, 0.005, 300), [], Counts(volts=count), "",
        ),
    )  # fmt: skip
    writer.end(start_ns + round(length_s * NS_PER_S), round(length_s * NS_PER_S), "ended")
    writer.close()
    return log


def main() -> int:
    """Returns the exit code."""
    if not os.environ.get("DISPLAY"):
        return subprocess.call(
            ["xvfb-run", "-a", "-s", "-screen 0 1280x720x24 -noreset", sys.executable, *sys.argv]
        )
    application = make_application()
    with tempfile.TemporaryDirectory() as folder:
        logs = [night(Path(folder), "night", SAMPLES), night(Path(folder), "empty", 0)]
        began = time.perf_counter()
        controllers = [VisitController(log) for log in logs]
        print(f"the log of {SAMPLES:,} samples read: {time.perf_counter() - began:.2f} s")
        windows = [Window(controller, polls=False) for controller in controllers]
        for window in windows:
            window.show()
            application.processEvents()

        def painted(window: Window) -> None:
            window.repaint()
            window.trace.plot.viewport().repaint()

        windows[0].navigator.go_to(SPOTS)
        painted(windows[0])
        began = time.perf_counter()
        windows[0].registry.trigger("stage.night")
        painted(windows[0])
        print(f"key 6 to the whole night painted: {time.perf_counter() - began:.3f} s (asked: 0.5 s)")

        def frame_ms(window: Window) -> float:
            """One frame of everything, as often as the window looks at the log."""
            at = time.perf_counter()
            window.refresh()
            window.redraw()
            painted(window)
            QApplication.processEvents()
            took_s = time.perf_counter() - at
            time.sleep(0.033)
            return took_s * 1000

        meanwhile_ms = []
        while windows[0].night_controller.is_computing:
            meanwhile_ms.append(frame_ms(windows[0]))
        there_s = time.perf_counter() - began
        afterwards_ms = [frame_ms(windows[0]) for _ in meanwhile_ms]
        print(
            f"summary there after {there_s:.2f} s, its process started and all (asked: 2 s); a whole frame meanwhile "
            f"{statistics.median(meanwhile_ms):.0f} ms (longest {max(meanwhile_ms):.0f}), afterwards "
            f"{statistics.median(afterwards_ms):.0f} ms (longest {max(afterwards_ms):.0f})"
        )
        windows[1].registry.trigger("stage.night")
        press = {
            "+": lambda w: w.trace.zoom(0.5),
            "-": lambda w: w.trace.zoom(2.0),
            "Left": lambda w: w.trace.pan(-0.25),
        }
        took_ms: dict[str, list[list[float]]] = {"by the clock": [[], []], "CPU": [[], []]}
        for _ in range(TURNS):
            for key in KEYS:
                for which, window in enumerate(windows):  # in turns: another program's load falls on both
                    at, cpu = time.perf_counter(), time.thread_time()
                    press[key](window)
                    window.trace.plot.viewport().repaint()
                    took_ms["by the clock"][which].append((time.perf_counter() - at) * 1000)
                    took_ms["CPU"][which].append((time.thread_time() - cpu) * 1000)
        print(
            f"zoom and pan, {len(KEYS)} frames from all to 1 s and back (asked: 16 ms more than an empty plot)"
        )
        for how, times in took_ms.items():
            # Of each press the median of the turns: what another program took in between falls out.
            full, empty = (np.median(np.reshape(each, (TURNS, len(KEYS))), axis=0) for each in times)
            more = full - empty
            print(
                f"  {how}: night {np.median(full):.1f} ms, empty {np.median(empty):.1f} ms; more than it: median "
                f"{np.median(more):.1f} ms, most {more.max():.1f} ms at press {int(np.argmax(more)) + 1}"
            )
        for window, log in zip(windows, logs, strict=True):
            window.may_close = True
            window.close()
            log.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
