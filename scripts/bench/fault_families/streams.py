"""Lines with a lost, doubled or split byte, from a file and live; searches for a meter where there is none."""

from __future__ import annotations

import json
import random
import time
from collections.abc import Iterator
from itertools import count

from scripts.bench.damaged_lines import FORMS, KINDS, Counts, as_recorded, damaged, stream
from scripts.bench.fault_families.messages import steady_lines
from scripts.bench.fault_families.trials import LIMIT_S, Bench, Tally, ended, rows
from scripts.pty_meter import PtyMeter

DAMAGED = 2000
"""In each form; the campaign over a million lines is `damaged_lines.py`."""
SHARE = 0.05
LIVE_S = 40.0
LIVE_RATE_HZ = 50.0
FALSE_FROM = 0.02
IDENTIFY_LIMIT_S = 180.0


def streams(bench: Bench, tally: Tally) -> None:
    """Files of lines, in each form: a false sample is one that is off by more than 2 %."""
    for form in bench.chosen(FORMS):
        lines = list(stream(form, bench.random.randrange(10**6), SHARE, bench.repeats(DAMAGED)))
        counts = Counts()
        with bench.place() as place:
            file = place / "stream.txt"
            file.write_bytes(b"".join(line.raw + b"\n" for line in lines))
            result = bench.run("lines", file, limit_s=600.0)
        if kind := result.done():
            tally.add(f"lines of {form}", kind, result.text)
            continue
        for line, text in zip(lines, result.out.splitlines(), strict=True):
            reading = json.loads(text)
            counts.take(line, *as_recorded(reading))
        false = sum(counts.false.values())
        tally.add(f"damaged lines of {form}", "", count=counts.damaged - false)
        tally.add(f"damaged lines of {form}", "falsified", str(counts.examples[:2]), count=false)
        tally.add(f"undamaged lines of {form}", "", count=counts.undamaged - counts.lost)
        tally.add(f"undamaged lines of {form}", "lost", str(counts.examples[:2]), count=counts.lost)


def live_streams(bench: Bench, tally: Tally) -> None:
    """A meter on a bad cable, recorded."""
    with bench.place() as place:
        source = random.Random(bench.seed)
        sent: list[bytes] = []
        truth = 0.273

        def lines() -> Iterator[bytes]:
            for number in count():
                line = b"%.3f V" % (truth + number % 5 / 1000)
                if source.random() < SHARE:
                    line = damaged(source, line, source.choice(KINDS))
                    sent.append(line)
                yield line

        visit = place / "home.visit"
        meter = PtyMeter(place / "meter", lines(), LIVE_RATE_HZ)
        live_s = LIVE_S if bench.scale >= 0.1 else 3.0
        words = ("record", "--port", place / "meter", "--visit", visit, "--for", f"{live_s}")
        with bench.started(*words) as process:
            result = ended(process, live_s + LIMIT_S)
        meter.stop()
        found = [volts for (volts,) in rows(visit, "SELECT volts FROM line WHERE status = 'volts'")]
        false = [volts for volts in found if abs(volts - truth) > FALSE_FROM * truth + 0.005]
        tally.add("a bad cable, recorded", result.done(), result.text)
        tally.add("samples of a bad cable", "", count=len(found) - len(false))
        tally.add("samples of a bad cable", "falsified", str(false[:5]), count=len(false))
        if len(found) < 0.5 * live_s * LIVE_RATE_HZ:
            tally.add("samples of a bad cable", "lost", f"{len(found)} samples in {live_s} s")


def searches(bench: Bench, tally: Tally) -> None:
    """`identify` ends, and is not sure of what is no meter."""
    source = random.Random(bench.seed)
    noise = (bytes(source.randrange(256) for _ in range(12)) for _ in count())
    for what, lines, rate_hz in (
        ("noise", noise, 50.0), ("nothing", iter(()), 1.0), ("a meter that is switched on late", _late(40), 10.0),
        ("a pulled cable", steady_lines(), 2.0), ("a meter", steady_lines(), 10.0),
    ):  # fmt: skip
        with bench.place() as place:
            meter = PtyMeter(place / "meter", lines, rate_hz)
            with bench.started("identify", "--port", place / "meter") as process:
                if what == "a pulled cable":
                    time.sleep(1.5)
                    meter.pull()
                result = ended(process, IDENTIFY_LIMIT_S)
            meter.stop()
            sure = result.status == 0 and what in ("noise", "nothing", "a pulled cable")
            kind = result.done() if what == "a meter" else result.failure() or ("falsified" if sure else "")
            if not kind and not result.text.strip():
                kind = "not told"
            tally.add(f"identify, {what}", kind, result.text)


def _late(silent_lines: int) -> Iterator[bytes]:
    for number, line in enumerate(steady_lines()):
        yield b"" if number < silent_lines else line
