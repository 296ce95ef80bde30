"""What damaged lines of a meter's stream make of its samples.

python scripts/bench/damaged_lines.py                          a short run, as the recorder reads the stream
python scripts/bench/damaged_lines.py --damaged 100000         so many damaged lines in each form
python scripts/bench/damaged_lines.py --alike 2                so many lines in a row are damaged in the same way
python scripts/bench/damaged_lines.py --tree FOLDER            as `stillvolt lines` of that source tree reads it

Each form is sent as a meter sends it: levels that last, noise, people who walk, a meter that changes its range. In some
of the lines one byte is lost, doubled or split. Counted are false samples (more than 2 % from what the undamaged line
said), undamaged lines that were not read as they are, and how long an undamaged line of a new range waited.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import random
import re
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple

from logger.clock import NS_PER_S
from logger.meter.decimal_comma import DecimalComma
from logger.meter.lines import LineStatus, read_line
from logger.meter.stream_check import LIVE, StreamCheck
from logger.meter.stream_line import StreamLine

FALSE_FROM = 0.02
"""A sample further from the truth than this share is false."""

RATES_HZ = (2.0, 2.5, 4.0, 10.0)
KINDS = ("lost", "doubled", "split by a line end", "split by a blank", "split into two bytes")
ALIKE_KINDS = ("point lost", "point became a digit", "digit lost", "digit doubled", "digit put in")
"""What a link does that drops or changes the same byte of some lines in a row."""
PRINTABLE = bytes(range(0x20, 0x7F))


class Display:
    """A meter that changes its range: up when it is full, down when a ninth of it is left."""

    def __init__(
        self, suffix: str = " V", comma: bool = False, millivolts: bool = False, counts: int = 6000
    ) -> None:
        self._suffix, self._comma, self._millivolts, self._counts = suffix, comma, millivolts, counts
        self._decimals = 4 if millivolts else 3

    def __call__(self, volts: float, number: int) -> tuple[str, float]:
        """The line and what it says in volts."""
        finest = 4 if self._millivolts else 3
        while round(volts * 10**self._decimals) >= self._counts and self._decimals > 1:
            self._decimals -= 1
        while volts * 10**self._decimals < self._counts * 0.09 and self._decimals < finest:
            self._decimals += 1
        shown = round(volts, self._decimals)
        if self._millivolts and self._decimals == 4:
            text = f"{shown * 1000:.1f} m{self._suffix.strip()}"
        else:
            text = f"{shown:.{self._decimals}f}{self._suffix}"
        return (text.replace(".", ",") if self._comma else text), shown


def printed(form: str, decimals: int, scale: float = 1.0) -> Callable[[float, int], tuple[str, float]]:
    """A meter that prints its value with so many decimals, of so many parts of a volt."""

    def line(volts: float, number: int) -> tuple[str, float]:
        value = round(volts * scale, decimals)
        clock = f"{number // 36000 % 24:02d}:{number // 600 % 60:02d}:{number // 10 % 60:02d}"
        text = form.format(value, n=number, clock=clock)
        return text, value / scale

    return line


def exponential(volts: float, number: int) -> tuple[str, float]:
    """A number as SCPI instruments send it."""
    text = f"{volts:+.5E}"
    return text, float(text)


def dropped_zeros(volts: float, number: int) -> tuple[str, float]:
    """A JSON object whose writer drops zeros at the end of a fraction."""
    value = round(volts, 4)
    return json.dumps({"value": value, "unit": "V", "mode": "AC"}), value


FORMS: dict[str, Callable[[], tuple[Callable[[float, int], tuple[str, float]], bytes]]] = {
    "0.273 V": lambda: (printed("{:.3f} V", 3), b"\r\n"),
    "0.2731": lambda: (printed("{:.4f}", 4), b"\n"),
    "+2.73100E-01": lambda: (exponential, b"\n"),
    "0.273VAC": lambda: (printed("{:.3f}VAC", 3), b"\r\n"),
    "ACV 0.2731": lambda: (printed("ACV {:.4f}", 4), b"\r\n"),
    "273.1 mV AC": lambda: (printed("{:.1f} mV AC", 1, 1000.0), b"\r\n"),
    "17;0.273;V;AC": lambda: (printed("{n};{:.3f};V;AC", 3), b"\n"),
    "12:31:05,0.273": lambda: (printed("{clock},{:.3f}", 3), b"\r\n"),
    '{"value":0.2731,"unit":"V","mode":"AC"}': lambda: (
        printed('{{"value":{:.4f},"unit":"V","mode":"AC"}}', 4), b"\n"),
    "0.273 V, 6.01 V by range": lambda: (Display(), b"\r\n"),
    "273,1 mV, 0,601 V by range": lambda: (Display(" V", comma=True, millivolts=True), b"\r\n"),
    '{"value": 0.27, ...} without last zeros': lambda: (dropped_zeros, b"\n"),
}  # fmt: skip


class SentLine(NamedTuple):
    """A line as the meter meant it."""

    time_s: float
    text: bytes
    volts: float


class ArrivedLine(NamedTuple):
    """A line as it came: its bytes, and the values of the undamaged lines that it holds parts of."""

    time_s: float
    raw: bytes
    volts: tuple[float, ...]
    damage: str
    """The kind of damage; empty for an undamaged line."""


def voltages(source: random.Random, rate_hz: float) -> Iterator[float]:
    """A body voltage as it goes through a visit: levels that last, steps, people who walk."""
    while True:
        level = math.exp(source.uniform(math.log(0.03), math.log(30.0)))
        noise = source.uniform(0.001, 0.01)
        drift = 0.0
        lasts = round(source.uniform(5.0, 60.0) * rate_hz)
        walk_at = source.randrange(lasts) if source.random() < 0.3 else -1
        walk_s, peak = source.uniform(1.5, 4.0), source.uniform(1.3, 5.0)
        for index in range(lasts):
            drift += source.gauss(0.0, 0.0005)
            since = (index - walk_at) / rate_hz
            walking = 0.0
            if walk_at >= 0 and 0.0 <= since < walk_s:
                walking = (peak - 1.0) * math.sin(math.pi * since / walk_s) ** 2
            yield max(level * (1.0 + drift + walking) * (1.0 + source.gauss(0.0, noise)), 0.002)


def damaged(source: random.Random, line: bytes, kind: str) -> bytes:
    """The bytes of a line, its end included, with one byte lost, doubled or split."""
    place = source.randrange(len(line))
    byte = line[place : place + 1]
    instead = {
        "lost": b"",
        "doubled": byte * 2,
        "split by a line end": b"\n" + byte,
        "split by a blank": b" " + byte,
        "split into two bytes": bytes(source.choices(PRINTABLE, k=2)),
    }[kind]
    return line[:place] + instead + line[place + 1 :]


def damaged_alike(kind: str, line: bytes, place: int, digit: bytes) -> bytes:
    """The bytes of a line in whose number one byte is damaged as in the lines beside it.

    Args:
        kind: in `ALIKE_KINDS`.
        line: the line, its end included.
        place: of the digit among those of the number.
        digit: what is put in.
    """
    numbers = list(re.finditer(rb"[0-9]+[.,][0-9]+", line))
    if not numbers:
        return line
    number = numbers[-1]
    point = number.start() + len(re.split(rb"[.,]", number[0])[0])
    digits = [at for at in range(number.start(), number.end()) if at != point]
    at = digits[place % len(digits)]
    first, last = {
        "point lost": (point, point + 1),
        "point became a digit": (point, point + 1),
        "digit lost": (at, at + 1),
        "digit doubled": (at, at),
        "digit put in": (at, at),
    }[kind]
    instead = {"point lost": b"", "digit lost": b"", "digit doubled": line[at : at + 1]}.get(kind, digit)
    return line[:first] + instead + line[last:]


def arrived_alike(
    source: random.Random, lines: Iterator[SentLine], share: float, count: int, alike: int
) -> Iterator[ArrivedLine]:
    """The stream, of which some lines in a row are damaged in the same way now and then.

    Args:
        source: of the damage.
        lines: as the meter meant them.
        share: how often such damage begins, of all lines.
        count: how many lines are damaged in all.
        alike: how many in a row.
    """
    left, kind, place, digit = 0, "", 0, b""
    while count:
        sent = next(lines)
        if not left and source.random() < share:
            left, kind = alike, source.choice(ALIKE_KINDS)
            place, digit = source.randrange(10), source.choice([b"%d" % i for i in range(10)])
        raw = damaged_alike(kind, sent.text, place, digit) if left else sent.text
        is_damaged = raw != sent.text
        count -= is_damaged
        yield ArrivedLine(sent.time_s, raw, (sent.volts,), kind if is_damaged else "")
        left = max(left - 1, 0)


def arrived(
    source: random.Random, lines: Iterator[SentLine], end: bytes, share: float, count: int
) -> Iterator[ArrivedLine]:
    """The stream cut into lines again.

    Args:
        source: of the damage.
        lines: as the meter meant them.
        end: what ends a line.
        share: of the lines that are damaged.
        count: how many lines are damaged in all.
    """
    rest = b""
    values: list[float] = []
    kinds: list[str] = []
    while count:
        sent = next(lines)
        data, kind = sent.text + end, ""
        if source.random() < share:
            kind = source.choice(KINDS)
            data = damaged(source, data, kind)
            count -= 1
        values.append(sent.volts)
        kinds.append(kind)
        *whole, rest = re.split(rb"[\r\n]", rest + data)
        for raw in filter(None, whole):
            yield ArrivedLine(sent.time_s, raw, tuple(values), next(filter(None, kinds), ""))
        if not rest:
            values, kinds = [], []
        elif any(whole):
            # What a damaged line end leaves behind belongs to this line and the next one.
            values, kinds = [sent.volts], [kind]


@dataclass(slots=True)
class Counts:
    """What became of the lines of one form."""

    damaged: int = 0
    false: Counter[str] = field(default_factory=Counter)
    undamaged: int = 0
    lost: int = 0
    delayed: int = 0
    longest_delay_s: float = 0.0
    examples: list[tuple[bytes, float | None, tuple[float, ...]]] = field(default_factory=list)

    def take(self, line: ArrivedLine, status: LineStatus | str, volts: float | None) -> None:
        """Count a line by how it was read.

        Args:
            line: as it came.
            status: how it was read.
            volts: the value that it was given.
        """
        is_sample = status == LineStatus.VOLTS
        far = volts is not None and all(abs(volts - truth) > FALSE_FROM * truth for truth in line.volts)
        if line.damage:
            self.damaged += 1
            if far:
                self.false[line.damage] += 1
        else:
            self.undamaged += 1
            if not is_sample or far:
                self.lost += 1
        if (line.damage and far) or (not line.damage and (far or not is_sample)):
            self.examples.append((line.raw, volts, line.volts))


def sent_lines(
    source: random.Random, line: Callable[[float, int], tuple[str, float]], rate_hz: float
) -> Iterator[SentLine]:
    """The lines of a meter without damage."""
    for number, volts in enumerate(voltages(source, rate_hz)):
        text, value = line(volts, number)
        yield SentLine(number / rate_hz, text.encode(), value)


def stream(name: str, seed: int, share: float, count: int, alike: int = 0) -> Iterator[ArrivedLine]:
    """The damaged stream of a form.

    Args:
        name: in `FORMS`.
        seed: of everything that is drawn.
        share: of the lines that are damaged.
        count: of damaged lines; of all lines where none is damaged.
        alike: so many lines in a row are damaged in the same way; 0 where each is damaged by itself.
    """
    source = random.Random(f"{seed} {name}")
    line, end = FORMS[name]()
    rate_hz = source.choice(RATES_HZ)
    lines = sent_lines(source, line, rate_hz)
    if share and alike:
        return arrived_alike(source, lines, share, count, alike)
    if share:
        return arrived(source, lines, end, share, count)
    return (ArrivedLine(sent.time_s, sent.text, (sent.volts,), "") for sent in islice(lines, count))


def count_recorded(lines: Iterator[ArrivedLine]) -> Counts:
    """Count what the recorder would make of the lines."""
    counts, comma = Counts(), DecimalComma(read_line)
    check = StreamCheck(LIVE, comma.read)
    waiting: list[ArrivedLine] = []

    def take(judged: list[StreamLine], now_s: float) -> None:
        for one in judged:
            line = waiting.pop(0)
            # A held, extreme or relative value is kept as such and is no sample.
            is_kept_apart = one.reading.status is LineStatus.VOLTS and not one.reading.is_live
            counts.take(line, "held", None) if is_kept_apart else counts.take(
                line, one.reading.status, one.reading.volts
            )
            delay_s = now_s - line.time_s
            if not line.damage and delay_s > 0.0:
                counts.delayed += 1
                counts.longest_delay_s = max(counts.longest_delay_s, delay_s)

    now_s = 0.0
    for line in lines:
        waiting.append(line)
        now_s = line.time_s
        t_ns = round(now_s * NS_PER_S)
        take(check.take(StreamLine(t_ns, t_ns, line.raw, comma.take(line.raw))), now_s)
    take(check.flush(), now_s)
    return counts


def count_from_file(lines: Iterator[ArrivedLine], tree: Path) -> Counts:
    """Count what `stillvolt lines` of a source tree makes of a file of the lines."""
    counts = Counts()
    all_lines = list(lines)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "stream.txt"
        file.write_bytes(b"".join(line.raw + b"\n" for line in all_lines))
        out = subprocess.run(
            [sys.executable, "-m", "logger", "lines", str(file)],
            cwd=tree,
            env=os.environ | {"PYTHONPATH": str(tree)},
            capture_output=True,
            check=True,
        ).stdout.splitlines()
    for line, text in zip(all_lines, out, strict=True):
        reading = json.loads(text)
        counts.take(line, *as_recorded(reading))
    return counts


def as_recorded(reading: Mapping[str, Any]) -> tuple[str, float | None]:
    """The status and the volts that a recorder would keep of a line, by what `stillvolt lines` says of it."""
    is_sample = not ("held" in reading or "refused" in reading)
    return (reading["status"], reading["volts"]) if is_sample else ("refused", None)


def main() -> None:
    """Print the counts of each form."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--damaged", type=int, default=2000, help="damaged lines in each form")
    parser.add_argument("--share", type=float, default=0.05, help="of the lines that are damaged")
    parser.add_argument(
        "--alike", type=int, default=0, help="lines in a row that are damaged in the same way"
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tree", type=Path, help="source tree whose `stillvolt lines` reads the streams")
    parser.add_argument("--form", action="append", help="only this form")
    parser.add_argument("--examples", type=int, default=0, help="so many lines read wrongly are shown")
    arguments = parser.parse_args()
    print(
        "| form | damaged lines | false samples | one in 10,000 | undamaged | of them not read | waited, longest |"
    )
    print("| --- | --- | --- | --- | --- | --- | --- |")
    total = Counts()
    for name in arguments.form or FORMS:
        lines = stream(name, arguments.seed, arguments.share, arguments.damaged, arguments.alike)
        counts = count_from_file(lines, arguments.tree) if arguments.tree else count_recorded(lines)
        print_row(f"`{name}`", counts)
        for raw, volts, truths in counts.examples[: arguments.examples]:
            print(f"    {raw!r} read as {volts}, meant {truths}")
        total.damaged += counts.damaged
        total.false += counts.false
        total.undamaged += counts.undamaged
        total.lost += counts.lost
        total.delayed += counts.delayed
        total.longest_delay_s = max(total.longest_delay_s, counts.longest_delay_s)
    print_row("all", total)
    kinds = ALIKE_KINDS if arguments.alike else KINDS
    print("False samples by damage:", ", ".join(f"{kind} {total.false[kind]}" for kind in kinds))


def print_row(name: str, counts: Counts) -> None:
    """Print the counts of a form as a row of a table."""
    false = sum(counts.false.values())
    of_10_000 = 1e4 * false / max(counts.damaged, 1)
    cells = (
        name,
        f"{counts.damaged:,}",
        f"{false:,}",
        f"{of_10_000:.2f}",
        f"{counts.undamaged:,}",
        f"{counts.lost:,}",
        f"{counts.delayed:,}, {counts.longest_delay_s:.1f} s",
    )
    print(f"| {' | '.join(cells)} |", flush=True)


if __name__ == "__main__":
    main()
