"""Figures of the recorder: throughput, cost at 10 samples/s, memory over a night, kills.

python scripts/bench/recorder.py throughput        parse -> detect -> store, samples/s on one core
python scripts/bench/recorder.py cost [SECONDS]    CPU of the process at 10 samples/s from a pseudo-terminal
python scripts/bench/recorder.py night [HOURS]     memory after 10 minutes and at the end, accelerated clock
python scripts/bench/recorder.py kills [COUNT [SEED]]  SIGKILL at random moments, what is lost, integrity
python scripts/bench/recorder.py cuts [COUNT [SEED [RATE_HZ]]]  its journal's index is cut to nothing so often
python scripts/bench/recorder.py visible [COUNT]   from a byte on the terminal to a row another process reads
python scripts/bench/recorder.py full              a real disk of 3 MB (tmpfs, needs root) runs full and has room again
"""

from __future__ import annotations

import os
import random
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
import tty
from collections.abc import Callable
from pathlib import Path

import numpy as np
import psutil

from logger.clock import NS_PER_S, ManualClock
from logger.meter.reader import Arrival
from logger.recording.recorder import Recorder
from logger.visit import VisitLog
from logger.visit.storage.run_writer import RunWriter


def night_of_lines(samples: int, seed: int = 1) -> list[bytes]:
    """A still trace with a motion every few minutes and a load that switches, as a meter's lines."""
    rng = np.random.default_rng(seed)
    volts = 0.27 + 0.002 * rng.standard_normal(samples)
    volts += 0.08 * ((np.arange(samples) // 8000) % 2)
    for start in rng.integers(0, samples - 60, samples // 4000):
        volts[start : start + 40] += 0.8 * np.abs(rng.standard_normal(40))
    return [b"%.4f VAC\r\n" % value for value in volts]


def recorder_on_a_manual_clock(folder: Path) -> tuple[Recorder, RunWriter, ManualClock]:
    """A recorder fed by hand, as fast as it goes."""
    clock = ManualClock()
    path = folder / "bench.visit"
    VisitLog.create(path).close()
    writer = RunWriter(
        path, utc_ns=clock.utc_ns(), zone="UTC", utc_offset_s=0, port="bench", settings="{}",
        software="bench", pid=os.getpid(),
    )  # fmt: skip
    return Recorder(writer, clock, clock.steady_ns(), print), writer, clock


def feed(recorder: Recorder, clock: ManualClock, lines: list[bytes], rate_hz: float) -> None:
    """Lines at their rate on the manual clock, written as the recorder's loop would."""
    step_ns = round(NS_PER_S / rate_hz)
    for line in lines:
        clock.advance_ns(step_ns)
        recorder.handle(Arrival(clock.utc_ns(), clock.steady_ns(), line))
        if recorder.due_in_ns() <= 0:
            recorder.write()


def throughput() -> None:
    """Print how many samples a second are parsed, detected and stored."""
    samples = 200_000
    lines = night_of_lines(samples)
    with tempfile.TemporaryDirectory() as folder:
        recorder, writer, clock = recorder_on_a_manual_clock(Path(folder))
        started = time.process_time()
        # A replay: a second of the trace arrives at a time.
        for at in range(0, samples, 10):
            clock.advance_ns(NS_PER_S)
            for line in lines[at : at + 10]:
                recorder.handle(Arrival(clock.utc_ns(), clock.steady_ns(), line))
            if at % 10_000 == 0:
                recorder.write()
        recorder.end("bench")
        took = time.process_time() - started
        writer.close()
    print(
        f"parse -> detect -> store: {samples / took:,.0f} samples/s ({samples:,} in {took:.2f} s of processor time)"
    )


def cost(seconds: float) -> None:
    """Print the share of a core that a recorder takes at 10 lines/s, over so many seconds."""
    with Process(rate_hz=10) as process:
        started = time.monotonic()
        first = process.cpu_s()
        time.sleep(seconds)
        used = process.cpu_s() - first
        took = time.monotonic() - started
        print(f"recorder at 10 samples/s: {100 * used / took:.2f} % of a core over {took:.0f} s")


def night(hours: float) -> None:
    """Print how the recorder's memory grows over so many simulated hours."""
    rate_hz = 10.0
    lines = night_of_lines(round(hours * 3600 * rate_hz))
    process = psutil.Process()
    with tempfile.TemporaryDirectory() as folder:
        recorder, writer, clock = recorder_on_a_manual_clock(Path(folder))
        early = round(600 * rate_hz)
        feed(recorder, clock, lines[:early], rate_hz)
        after_10_minutes = process.memory_info().rss
        started = time.process_time()
        feed(recorder, clock, lines[early:], rate_hz)
        cpu_s = time.process_time() - started
        recorder.end("bench")
        at_the_end = process.memory_info().rss
        writer.close()
    growth_mb = (at_the_end - after_10_minutes) / 1e6
    print(
        f"night of {hours:g} h at 10 samples/s: memory grew by {growth_mb:.2f} MB after the first 10 minutes"
    )
    print(
        f"  parse, detect and store alone: {100 * cpu_s / (hours * 3600 - 600):.2f} % of a core in real time"
    )


class Process:
    """A real recorder process on a pseudo-terminal that sends numbered lines."""

    def __init__(self, rate_hz: float, folder: Path | None = None) -> None:
        self._rate_hz = rate_hz
        self._on = folder
        self.sent: list[float] = []
        """When each line was written to the terminal, by the steady clock; line i carries the number i."""

    def __enter__(self) -> Process:
        self._folder = tempfile.TemporaryDirectory(dir=self._on)
        self.visit = Path(self._folder.name) / "bench.visit"
        VisitLog.create(self.visit).close()
        self._meter, self._far = os.openpty()
        tty.setraw(self._far)
        self._process = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "logger",
                "record",
                "--port",
                os.ttyname(self._far),
                "--visit",
                str(self.visit),
            ],
            stdout=subprocess.DEVNULL,
        )
        log = VisitLog.open(self.visit)
        while log.recorder.live() is None:
            time.sleep(0.01)
        log.close()
        self._stop = threading.Event()
        self._sender = threading.Thread(target=self._send)
        self._sender.start()
        return self

    def _send(self) -> None:
        next_at = time.monotonic()
        while not self._stop.is_set():
            self.sent.append(time.monotonic())
            os.write(self._meter, b"%.5f VAC\r\n" % ((len(self.sent) - 1) / 1e5))
            next_at += 1 / self._rate_hz
            self._stop.wait(max(0.0, next_at - time.monotonic()))

    def _recording(self) -> psutil.Process:
        """The process that records: the other one waits for it (`logger.recording.restart`)."""
        (recording,) = psutil.Process(self._process.pid).children()
        return recording

    def cpu_s(self) -> float:
        """Processor time that the recorder has taken so far, in seconds."""
        times = self._recording().cpu_times()
        return times.user + times.system

    def kill(self) -> float:
        """SIGKILL; returns when."""
        recording = self._recording()
        at = time.monotonic()
        recording.kill()
        self._process.wait()
        return at

    def stop(self) -> None:
        """The meter sends no more, and the recorder ends in order."""
        self._stop.set()
        self._sender.join()
        self._process.terminate()
        self._process.wait()

    def __exit__(self, *_: object) -> None:
        self.stop()
        os.close(self._meter)
        os.close(self._far)
        self._folder.cleanup()


def kills(count: int, seed: int = 1) -> None:
    """Kill a recorder so often at random moments; print whether the files are whole and what was lost."""
    rng = random.Random(seed)
    worst = 0.0
    for i in range(count):
        rate_hz = rng.choice((10, 50, 100))
        with Process(rate_hz) as process:
            time.sleep(rng.uniform(0.2, 1.5))
            killed = process.kill()
            sent = [at for at in process.sent if at < killed]
            with sqlite3.connect(process.visit) as db:
                assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok", f"kill {i}"
            kept = kept_lines(process.visit)
        assert kept == list(range(len(kept))), f"kill {i}: a hole in the log"
        if len(kept) < len(sent):
            worst = max(worst, killed - sent[len(kept)])
    print(f"{count} kills at random moments: every file passes integrity_check; at most {worst:.3f} s lost")


WINDOW = """
import sys, time
from logger.visit import VisitLog
log = VisitLog.open(sys.argv[1])
while True:
    log.recorder.live(), log.events.after(), log.notices.after(), log.samples.after()
    time.sleep(0.1)
"""
"""Reads a log as a window does, ten times a second."""


def cuts(count: int, seed: int = 1, rate_hz: int = 10) -> None:
    """Cut the index of a recorder's journal so often at random moments; print what was lost, and who went on."""
    rng = random.Random(seed)
    with Process(rate_hz) as process:
        window = subprocess.Popen(
            [sys.executable, "-c", WINDOW, str(process.visit)], stderr=subprocess.DEVNULL
        )
        until(lambda: len(kept_lines(process.visit)) > 2 * rate_hz, "the first lines")
        window_pauses = 0
        for _ in range(count):
            time.sleep(rng.uniform(0.5, 2.0))
            os.truncate(f"{process.visit}-shm", 0)
            if window.poll() is not None:
                window_pauses += 1
                window = subprocess.Popen(
                    [sys.executable, "-c", WINDOW, str(process.visit)], stderr=subprocess.DEVNULL
                )
        time.sleep(10)
        window.kill()
        window.wait()
        process.stop()
        with sqlite3.connect(process.visit) as db:
            assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            (restarts,) = db.execute(
                "SELECT count(*) FROM notice WHERE kind = 'recorder restarted'"
            ).fetchone()
        db.close()
        kept, sent = set(kept_lines(process.visit)), len(process.sent)
        lost = sum(number not in kept for number in range(sent))
    print(
        f"{count} cuts of the journal's index at {rate_hz} lines/s: {lost} of {sent:,} lines lost, recorder started "
        f"again {restarts} times, reader (as a window) ended {window_pauses} times"
    )


def visible(count: int) -> None:
    """Print the delay from a line on the wire to its sample in another process."""
    with Process(rate_hz=10) as process:
        log = VisitLog.open(process.visit)
        delays = []
        seen = 0
        while seen < count:
            samples = log.samples.after(seen)
            now = time.monotonic()
            for value in samples.volts:
                delays.append(now - process.sent[round(value * 1e5)])
            seen += len(samples.volts)
            time.sleep(0.001)
        log.close()
    p50, p95 = np.percentile(np.array(delays) * 1000, [50, 95])
    print(
        f"from the byte on the terminal to the row another process reads: p50 {p50:.1f} ms, p95 {p95:.1f} ms"
    )


def full() -> None:
    """A disk that really is full: the recorder keeps in memory what it refuses and writes it when there is room."""
    with tempfile.TemporaryDirectory() as name:
        disk = Path(name)
        subprocess.run(["mount", "-t", "tmpfs", "-o", "size=3m", "tmpfs", name], check=True)
        try:
            ballast = disk / "ballast"
            ballast.write_bytes(bytes(1_900_000))
            with Process(rate_hz=200, folder=disk) as process:
                # The journal gives its room back to the file, so that a few kB are free now and then.
                until(
                    lambda: len(process.sent) - len(kept_lines(process.visit)) > 1_000, "the disk to be full"
                )
                written = kept_lines(process.visit)
                held_back = len(process.sent) - len(written)
                ballast.unlink()
                until(lambda: len(process.sent) - len(kept_lines(process.visit)) < 100, "what was held back")
                log = VisitLog.open(process.visit)
                told = [notice.kind for notice in log.notices.after() if notice.kind.startswith("disk")]
                log.close()
                kept = kept_lines(process.visit)
                with sqlite3.connect(process.visit) as db:
                    assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
                db.close()
            assert kept == list(range(len(kept))), "a hole in the log"
        finally:
            subprocess.run(["umount", "--lazy", name], check=True)
    print(
        f"full disk: {held_back:,} lines were kept in memory while it was full, all of them written when there was "
        f"room, none of {len(kept):,} missing; told: {', '.join(told)}"
    )


def kept_lines(visit: Path) -> list[int]:
    """The numbers of the lines that the log holds.

    By their texts: what lay in the port when it was opened is kept, and is no value of any moment.
    """
    with sqlite3.connect(visit) as db:
        rows = db.execute("SELECT raw FROM line ORDER BY id")
        kept = [round(float(raw.split()[0]) * 1e5) for (raw,) in rows]
    db.close()
    return kept


def until(condition: Callable[[], bool], what: str) -> None:
    """Wait for another process, two minutes at most."""
    limit = time.monotonic() + 120
    while not condition():
        assert time.monotonic() < limit, f"waited in vain for {what}"
        time.sleep(0.1)


def main() -> None:
    """Run what the command line names."""
    what, *rest = sys.argv[1:] or ["all"]
    if what in ("throughput", "all"):
        throughput()
    if what in ("cost", "all"):
        cost(float(rest[0]) if rest else 60)
    if what in ("night", "all"):
        night(float(rest[0]) if rest else 10)
    if what in ("kills", "all"):
        kills(*(int(number) for number in rest or ("20",)))
    if what == "full":
        full()
    if what in ("cuts", "all"):
        cuts(*(int(number) for number in rest or ("20",)))
    if what in ("visible", "all"):
        visible(int(rest[0]) if rest else 200)


if __name__ == "__main__":
    main()
