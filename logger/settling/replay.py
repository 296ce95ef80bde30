"""A recorded trace through the detector: the same events as live."""

from __future__ import annotations

import csv
from collections import deque
from collections.abc import Sequence
from operator import attrgetter
from pathlib import Path

from logger.errors import StillvoltError
from logger.settling.detector import Detector
from logger.settling.events import Event
from logger.settling.late_lines import LateLines
from logger.translation import tr

HEADER = ["time_s", "volts"]


def replay(
    times_s: Sequence[float],
    volts: Sequence[float],
    digits_volts: Sequence[float] | None = None,
    port_lost_s: Sequence[float] = (),
) -> list[Event]:
    """Events of a trace, in the order in which they became known.

    Args:
        times_s: seconds, one per sample.
        volts: AC rms volts, one per sample; NaN is no sample, infinity an overload.
        digits_volts: what the last digit of each is worth, V, 0 where that is not known; None where nothing is known.
        port_lost_s: when the port was lost, ascending, by the notices of a visit log; a trace alone does not know.
    """
    detector = Detector()
    feed = detector.feed
    events: list[Event] = []
    late: LateLines[tuple[float, float, float]] = LateLines()
    digits_volts = [0.0] * len(times_s) if digits_volts is None else digits_volts
    losses_s = deque(port_lost_s)
    for row in zip(times_s, volts, digits_volts, strict=True):
        while losses_s and row[0] > losses_s[0]:
            losses_s.popleft()
            for sample, _ in late.flush():
                events += feed(*sample)
            detector.lose_port()
        for sample, is_late in late.take(row[0], row):
            if not is_late and (found := feed(*sample)):
                events += found
    for sample, _ in late.flush():
        events += feed(*sample)
    events += detector.finish()
    return sorted(events, key=attrgetter("known_at_s"))


def read_trace(path: Path) -> tuple[list[float], list[float], list[str]]:
    """Times, volts, and the volts as written, of a CSV file with the header `time_s,volts`.

    Words such as `nan` and `inf` are numbers here; further columns are left alone; empty lines are skipped.

    Raises:
        StillvoltError: the file cannot be read, or a line in it; names the file and the line.
    """
    times: list[float] = []
    values: list[float] = []
    numbers: list[str] = []
    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            rows = csv.reader(file)
            header = [name.strip() for name in next(rows, [])]
            if header[:2] != HEADER:
                raise StillvoltError(
                    tr("{file} does not start with the header time_s,volts.").format(file=path),
                    tr("Nothing was read."),
                    tr("Put that header on the first line, and seconds and volts below it."),
                )
            for row in rows:
                if not row:
                    continue
                try:
                    time_s, value = float(row[0]), float(row[1])
                except (ValueError, IndexError):
                    raise StillvoltError(
                        tr("{file}, line {number}: {text} is not a time and a voltage.").format(
                            file=path, number=rows.line_num, text=repr(",".join(row)[:60])
                        ),
                        tr("Nothing was written."),
                        tr("Correct or remove that line."),
                    ) from None
                times.append(time_s)
                values.append(value)
                numbers.append(row[1])
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise StillvoltError(
            tr("{path} cannot be read: {reason}.").format(path=path, reason=error), tr("Nothing was written.")
        ) from None
    return times, values, numbers
