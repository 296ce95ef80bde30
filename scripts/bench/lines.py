"""How fast lines are read, and whether anything breaks the reading.

python scripts/bench/lines.py                    lines/s for common forms
python scripts/bench/lines.py --fuzz 1000000     damaged lines: no exception, no false sample, every digit counts
"""

from __future__ import annotations

import argparse
import random
import re
import time
import zlib

from logger.meter.lines import MISTAKE_NOTE, LineReading, LineStatus, read_any_line, read_line
from logger.meter.splitter import LineSplitter

FORMS = (
    "{:.4f}",
    "{:.3f} V",
    "{:+.8E}",
    "{:.3f} VAC",
    "ACV {:.4f}",
    "{:.3f} V, 50.0 Hz",
    '{{"value":{:.4f},"unit":"V","mode":"AC"}}',
    "17;{:.3f};V;AC",
    "12:31:05,{:.3f}",
)
SEEDS = (
    *FORMS,
    "{:.1f} mV AC",
    "OL V",
    "{:.3f} V DC",
    "HOLD {:.3f} V",
    "-{:.3f} V",
    "V={:.3f} f=50.0",
    "9.9E37",
    "{:.3f} kOhm",
)
ALPHABET = b"0123456789.,+-eE VAC;:=\t\x00\x11\xff{}\"'mkuDROLHz\xb5#*/"
"""Damage is drawn from the characters that meters use, where it does most harm."""


def measure(form: str, lines: int = 100_000) -> float:
    """Lines/s of one form with values that change from line to line, split and read; the best of three.

    Processor time, so that other work on the machine does not count.
    """
    source = random.Random(1)
    stream = b"".join(form.format(source.uniform(0.05, 4.0)).encode() + b"\r\n" for _ in range(lines))
    took_s = []
    for _ in range(3):
        splitter = LineSplitter()
        started = time.process_time()
        samples = 0
        for begin in range(0, len(stream), 4096):
            for line, _whole in splitter.feed(stream[begin : begin + 4096]):
                samples += read_line(line).status is LineStatus.VOLTS
        took_s.append(time.process_time() - started)
        assert samples == lines, form
    return lines / min(took_s)


def damaged(source: random.Random) -> bytes:
    """A line of a meter with up to three damaged places, or noise."""
    if source.random() < 0.1:
        return source.randbytes(source.randrange(40))
    line = bytearray(source.choice(SEEDS).format(source.uniform(0.0, 400.0)).encode())
    for _ in range(source.randrange(4)):
        place = source.randrange(len(line) + 1)
        piece = bytes([source.choice(ALPHABET) if source.random() < 0.8 else source.randrange(256)])
        line[place : place + source.randrange(2)] = piece if source.random() < 0.8 else b""
    return bytes(line)


def check(line: bytes) -> str:
    """What is wrong with the reading of a line; empty when nothing is."""
    reading = read_line(line)
    if reading.note == MISTAKE_NOTE:
        return "an exception inside"
    if reading != read_any_line(line):
        return "the memory of shapes gives another reading"
    if reading.status is not LineStatus.VOLTS:
        return "volts without being a sample" if reading.volts is not None else ""
    if reading.volts is None or not 0 <= reading.volts <= 100_000:
        return "a sample that is no AC voltage"
    if not re.search(rb"[0-9]", line):
        return "a sample from a line without digits"
    if reading.number_span is not None and line.isascii():
        wrong = check_digits(line, reading)
        if wrong:
            return wrong
    if re.search(rb"(?<![A-Za-z0-9])(?:DC|DCV|VDC)(?![A-Za-z+])", line) and not re.search(rb"AC", line):
        return "a sample from a line on DC volts"
    return ""


def check_digits(line: bytes, reading: LineReading) -> str:
    """Change one digit of the number, a different one for each line, to another digit."""
    assert reading.number_span is not None
    start, end = reading.number_span
    digits = [place for place in range(start, end) if chr(line[place]).isdigit()]
    if not digits or line[start : start + 1] == b"-":
        return ""  # what is a little below zero is zero, whatever its digits
    draw = zlib.crc32(line)
    place = digits[draw % len(digits)]
    other = (line[place] - ord("0") + 1 + draw // len(digits) % 9) % 10 + ord("0")
    changed = read_line(line[:place] + bytes([other]) + line[place + 1 :])
    same = (changed.status, changed.volts) == (reading.status, reading.volts)
    return f"digit {place} may change without changing the reading" if same else ""


def fuzz(count: int, seed: int) -> list[tuple[bytes, str]]:
    """Read `count` damaged lines; return those that were read wrongly."""
    source = random.Random(seed)
    lines = (damaged(source) for _ in range(count))
    return [(line, wrong) for line in lines if (wrong := check(line))]


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--fuzz", type=int, default=0, metavar="LINES")
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    if arguments.fuzz:
        started = time.perf_counter()
        wrong = fuzz(arguments.fuzz, arguments.seed)
        print(
            f"{arguments.fuzz} damaged lines in {time.perf_counter() - started:.0f} s, {len(wrong)} read wrongly"
        )
        for line, what in wrong[:20]:
            print(f"  {line!r}: {what}")
        return
    for form in FORMS:
        print(f"{measure(form):12,.0f} lines/s  {form}")


if __name__ == "__main__":
    main()
