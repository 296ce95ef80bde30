"""Figures of the window: frame time, time to open, and from a byte on the tty to the changed pixel.

    python scripts/bench/window.py [frames] [open] [latency]

A frame's time is that of the processor, so that other work on the computer does not count. The other two are on the
clock.

Runs in a real window; without a display it starts Xvfb (1280x720) for itself. Latency is measured at the X server: a
real pseudo-terminal, a recorder process, the window, and the pixels read back from the screen every few milliseconds.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from PySide6.QtCore import QPoint, QTimer
from PySide6.QtWidgets import QApplication

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from gui.app import make_application
from gui.model.visit_controller import VisitController
from gui.window import Window
from logger.clock import NS_PER_S
from logger.meter.port import PortSettings
from logger.settling.events import Now, Settled, State
from logger.visit import VisitLog
from logger.visit.storage.run_writer import Batch, Counts, Heartbeat, RunWriter
from scripts.pty_meter import PtyMeter

RATE_HZ = 10.0
NIGHT_SAMPLES = 324_000
SHORT_SAMPLES = 1_200
FRAMES = 150
OPENINGS = 6
LATENCY_S = 40.0
LOOK_MS = 3


def filled(folder: Path, count: int) -> tuple[VisitLog, RunWriter, float]:
    """A visit log with that many samples at 10/s, a settled span each minute, its recorder still beating."""
    log = VisitLog.create(folder / f"{count}.visit")
    length_s = count / RATE_HZ
    start_ns = time.time_ns() - round(length_s * NS_PER_S)
    writer = RunWriter(
        log.path, utc_ns=start_ns, zone="UTC", utc_offset_s=0, port="bench", settings='{"url": "bench"}',
        software="bench", pid=1,
    )  # fmt: skip
    volts = 0.3 + 0.02 * np.random.default_rng(1).standard_normal(count)
    times_ns = (np.arange(count) / RATE_HZ * NS_PER_S).astype(np.int64)
    rows = [
        (start_ns + int(t), int(t), "volts", float(v), b"x") for t, v in zip(times_ns, volts, strict=True)
    ]
    spans = [Settled(s, s + 50, 0.3, 0.01, s + 4, 500) for s in range(0, int(length_s) - 60, 60)]
    beat(writer, length_s, rows, spans, length_s)
    return log, writer, length_s


def beat(
    writer: RunWriter,
    at_s: float,
    rows: list[tuple[int, int, str, float, bytes]],
    events: list[Settled],
    length_s: float,
) -> None:
    """Write rows and a heartbeat: the settled span grows that began 30 s before the first `length_s` were over."""
    now = Now(State.SETTLED, max(length_s - 30, 0), 0.3, 0.005, 300)
    writer.write(
        Batch(lines=list(rows), events=list(events)),
        Heartbeat(time.time_ns(), round(at_s * NS_PER_S), "open", "", now, [], Counts(volts=1), ""),
    )


def frames() -> None:
    """Time of one frame: read the new sample, bring every part up to date, paint what of the window has changed.

    Both windows are there from the start and take turns, so that another program's load falls on both alike.
    """
    make_application()
    with tempfile.TemporaryDirectory() as folder:
        visits = [filled(Path(folder), count) for count in (SHORT_SAMPLES, NIGHT_SAMPLES)]
        windows = [Window(VisitController(log), polls=False) for log, _, _ in visits]
        at_s = [length_s for _, _, length_s in visits]
        for name, span_s in (("2 min in sight", 120.0), ("all in sight", None)):
            took_ms: list[list[float]] = [[], []]
            for turn in range(2 * FRAMES):
                which = turn % 2
                window, writer = windows[which], visits[which][1]
                if not window.isVisible():
                    windows[1 - which].hide()
                    window.show()
                    window.trace.time_window.set_span(span_s)
                    window.redraw()
                    QApplication.processEvents()
                at_s[which] += 1 / RATE_HZ
                line = (time.time_ns(), round(at_s[which] * NS_PER_S), "volts", 0.31, b"x")
                beat(writer, at_s[which], [line], [], visits[which][2])
                began = time.thread_time()
                window.refresh()
                QApplication.sendPostedEvents()
                QApplication.processEvents()
                took_ms[which].append((time.thread_time() - began) * 1000)
            short, night = (statistics.median(times) for times in took_ms)
            print(
                f"frame, {name}: {short:.1f} ms with 2 min loaded, {night:.1f} ms with {NIGHT_SAMPLES:,} samples "
                f"loaded, ratio {night / short:.2f}"
            )
        for window, (log, writer, _) in zip(windows, visits, strict=True):
            window.may_close = True
            window.close()
            writer.close()
            log.close()


def openings() -> None:
    """From the command to the window on the screen, warm, on a new visit and on one with a night in it."""
    for what, count in (("new visit", 0), (f"visit with {NIGHT_SAMPLES:,} samples", NIGHT_SAMPLES)):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "new.visit"
            if count:
                log, writer, _ = filled(Path(folder), count)
                path = log.path
                writer.end(time.time_ns(), 0, "ended")
                writer.close()
                log.close()
            took_s = []
            for _ in range(OPENINGS):
                began = time.perf_counter()
                window = subprocess.Popen([sys.executable, "-m", "logger", "--visit", str(path)])
                look = ["xdotool", "search", "--onlyvisible", "--name", "Stillvolt"]
                while subprocess.run(look, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL).returncode:
                    assert window.poll() is None, "the window did not open"
                    time.sleep(0.01)
                took_s.append(time.perf_counter() - began)
                time.sleep(0.5)
                window.terminate()
                window.wait()
        print(f"open, {what}: {statistics.median(took_s[1:]):.2f} s warm (first {took_s[0]:.2f} s)")


def restless() -> Iterator[bytes]:
    """Values that never settle and whose digits change with each line."""
    random = np.random.default_rng(1)
    while True:
        yield f"{random.uniform(1, 9.9):.2f} V".encode()


def latency() -> None:
    """From a byte written to the tty to the changed pixel, at 10 lines/s."""
    application = make_application()
    with tempfile.TemporaryDirectory() as folder:
        port = Path(folder) / "meter"
        meter = PtyMeter(port, restless(), RATE_HZ)
        log = VisitLog.create(Path(folder) / "latency.visit")
        window = Window(VisitController(log))
        window.show()
        window.controller.recording.start(PortSettings(str(port)))
        band = window.readout
        changes_ns: list[int] = []
        seen = b""

        def look() -> None:
            nonlocal seen
            left, width = round(band.width() * 0.26), round(band.width() * 0.12)
            top = band.mapTo(window, QPoint(0, band.height() // 3)).y()  # the menu bar is above it
            grabbed = window.screen().grabWindow(window.winId(), left, top, width, band.height() // 3)
            now = bytes(grabbed.toImage().constBits())
            if now != seen:
                seen = now
                changes_ns.append(time.monotonic_ns())

        timer = QTimer(interval=LOOK_MS)
        timer.timeout.connect(look)
        timer.start()
        QTimer.singleShot(round(LATENCY_S * 1000), lambda: application.exit(0))
        application.exec()
        window.controller.recording.stop()
        window.may_close = True
        window.close()
        time.sleep(1.0)
        meter.stop()
        log.close()
    # Each line changes the number, so each change belongs to the newest line written before it; the first seconds,
    # in which the recorder starts and its first lines come at once, are left out.
    written = np.array(meter.all_written_ns)
    changes = np.array(changes_ns)
    changes = changes[changes > written[0] + 5 * NS_PER_S]
    if not len(changes):
        raise SystemExit(
            f"latency: {len(written)} lines were written, and the number on the screen never changed"
        )
    took_ms = np.array([(c - written[written < c].max()) / 1e6 for c in changes])
    expected = int(((written > changes[0]) & (written < changes[-1])).sum())
    print(
        f"from the byte on the tty to the changed pixel: median {np.median(took_ms):.0f} ms, "
        f"p95 {np.percentile(took_ms, 95):.0f} ms, most {took_ms.max():.0f} ms "
        f"({len(changes)} changes seen, {expected} lines written; the screen was read every {LOOK_MS} ms)"
    )


def main() -> int:
    """Returns the exit code."""
    if not os.environ.get("DISPLAY"):
        return subprocess.call(
            ["xvfb-run", "-a", "-s", "-screen 0 1280x720x24 -noreset", sys.executable, *sys.argv]
        )
    wanted = sys.argv[1:] or ["frames", "open", "latency"]
    for name, measure in (("frames", frames), ("open", openings), ("latency", latency)):
        if name in wanted:
            measure()
    return 0


if __name__ == "__main__":
    sys.exit(main())
