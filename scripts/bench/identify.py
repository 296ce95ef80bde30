"""How fast a meter on a real pseudo-terminal is found, and how well pulls of its cable are recovered.

python scripts/bench/identify.py               each form: seconds until settings and form are known, at 2.5 lines/s
python scripts/bench/identify.py replug 100    the recorder at work while the cable is pulled so many times
"""

from __future__ import annotations

import argparse
import contextlib
import itertools
import os
import queue
import sys
import tempfile
import threading
import time
import tty
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # so that the tree itself can be imported

from logger.clock import SystemClock
from logger.errors import StillvoltError
from logger.meter.identification import KNOWN_QUERIES, IdentifiedMeter, identify
from logger.meter.port import PortSettings
from logger.recording.session import StopEvent, record
from logger.visit import VisitLog
from scripts.pty_meter import PtyMeter

SENDING = {
    "unit and function": "{:.3f} V AC",
    "plain number": "{:.4f}",
    "exponent": "{:+.5E}",
    "counter first": "17;{:.3f};V;AC",
    "JSON": '{{"value":{:.3f},"unit":"V","mode":"AC"}}',
    "to be taught": "{:.3f} 0.412 7",
}
ASKED = [(query, end) for query in KNOWN_QUERIES for end in ("\n", "\r\n", "\r")]
RATE_HZ = 2.5
LONGEST_RETURN_S = 30.0
"""A port that is not back by then never comes back."""


def lines(form: str) -> Iterator[bytes]:
    """Values that change, without end."""
    return (form.format(0.27 + count % 30 / 1000).encode() for count in itertools.count())


def answering(query: bytes, answer: bytes) -> str:
    """The name of a terminal with an instrument that answers one query."""
    meter, port = os.openpty()
    tty.setraw(port)

    def run() -> None:
        heard = b""
        while True:
            heard = (heard + os.read(meter, 100))[-200:]
            if query in heard:
                heard = b""
                os.write(meter, answer)

    threading.Thread(target=run, daemon=True).start()
    return os.ttyname(port)


def seconds() -> None:
    """Print how long each takes."""
    folder = Path(tempfile.mkdtemp())
    for name, form in SENDING.items():
        meter = PtyMeter(folder / "meter", lines(form), RATE_HZ)
        begun = time.perf_counter()
        found = identify(PortSettings(str(meter.path)), SystemClock())
        took_s = time.perf_counter() - begun
        meter.stop()
        assert isinstance(found, IdentifiedMeter), found
        assert found.needs_teaching == (name == "to be taught")
        print(f"{took_s:6.2f} s  sending {name}: {found.settings.framing()}, {found.rate_hz:.2f} lines/s")
    for query, end in ASKED:
        url = answering((query + end).encode(), b"+2.73000E-01\r\n")
        begun = time.perf_counter()
        found = identify(PortSettings(url), SystemClock(), queries=KNOWN_QUERIES)
        assert isinstance(found, IdentifiedMeter), found
        print(f"{time.perf_counter() - begun:6.2f} s  asked {query + end!r}: {found.settings.query!r}")


def replug(times: int, rate_hz: float = 20.0) -> None:
    """Pull the cable and put it back while the recorder is at work; compare log and deeds."""
    folder = Path(tempfile.mkdtemp())
    meter = PtyMeter(folder / "meter", lines("{:.3f} V AC"), rate_hz)
    stop = StopEvent()
    message: queue.SimpleQueue[str] = queue.SimpleQueue()
    visit = folder / "pulls.visit"
    recorder = threading.Thread(
        target=record,
        args=(visit, PortSettings(str(meter.path))),
        kwargs={"stop": stop, "notify": message.put},
    )
    recorder.start()
    pulled, put_back = [], []
    source = np.random.default_rng(1)
    while not _newest_utc_ns(visit):
        time.sleep(0.1)
    for _ in range(times):
        pulled.append(time.monotonic_ns())
        meter.pull()
        time.sleep(float(source.uniform(0.3, 1.5)))
        meter.put_back()
        put_back.append(time.monotonic_ns())
        time.sleep(2.0)
    # On a busy machine the port comes back later than that.
    give_up_s = time.monotonic() + LONGEST_RETURN_S
    while _newest_utc_ns(visit) <= put_back[-1] + time.time_ns() - time.monotonic_ns():
        if time.monotonic() > give_up_s or not recorder.is_alive():
            raise SystemExit(f"Nothing came after the last of {times} pulls: {_all(message)[-3:]}")
        time.sleep(0.1)
    stop.set()
    recorder.join()
    meter.stop()
    log = VisitLog.open(visit)
    samples = log.samples.after()
    utc_ns = np.asarray(samples.utc_ns)
    log.close()
    # Both clocks tick alike within a bench; the log has UTC.
    offset_ns = time.time_ns() - time.monotonic_ns()
    late_s, starts_off_s = [], []
    for out_ns, in_ns in zip(np.asarray(pulled) + offset_ns, np.asarray(put_back) + offset_ns, strict=True):
        before = utc_ns[utc_ns < out_ns + 20_000_000]
        after = utc_ns[utc_ns > in_ns]
        late_s.append((after[0] - in_ns) / 1e9)
        starts_off_s.append((out_ns - before[-1]) / 1e9)
    lost = [text for text in _all(message) if "was lost" in text]
    print(f"{times} pulls, {len(lost)} losses told; first sample after the cable was back: median "
          f"{np.median(late_s):.2f} s, longest {max(late_s):.2f} s")  # fmt: skip
    gaps_s = np.diff(utc_ns) / 1e9
    print(f"gaps in the log longer than 0.25 s: {int(np.sum(gaps_s > 0.25))}")
    print(
        f"last sample before a pull: at most {max(starts_off_s):.3f} s before it (a line every {1 / rate_hz:.3f} s)"
    )


def _newest_utc_ns(visit: Path) -> int:
    """When the newest sample came that the recorder has written; 0 before the first."""
    try:
        log = VisitLog.open(visit)
    except StillvoltError:  # it is being made
        return 0
    utc_ns = log.samples.after().utc_ns
    log.close()
    return int(utc_ns[-1]) if len(utc_ns) else 0


def _all(message: queue.SimpleQueue[str]) -> list[str]:
    out = []
    with contextlib.suppress(queue.Empty):
        while True:
            out.append(message.get_nowait())
    return out


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("what", nargs="?", choices=("seconds", "replug"), default="seconds")
    parser.add_argument("times", nargs="?", type=int, default=100)
    arguments = parser.parse_args()
    if arguments.what == "replug":
        replug(arguments.times)
    else:
        seconds()


if __name__ == "__main__":
    main()
