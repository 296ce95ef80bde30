"""What was going on when a run was cut off, worked out anew from its lines.

In: a run without an end. Out: the events that its recorder had not written yet. Its last heartbeat states them too, but
has no checksum; the lines have one. The detector gets the lines as it got them live (`logger.recording.recorder`), so
that it finds what it had found.
"""

from __future__ import annotations

import json
import sqlite3
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache

from logger.clock import NS_PER_S
from logger.meter.decimal_comma import DecimalComma
from logger.meter.last_digit import LastDigit
from logger.meter.lines import LineReading, LineStatus, read_line
from logger.meter.notice_draft import PORT_LOST
from logger.meter.stream_check import CONTRADICTING_NOTES
from logger.settling.detector import Detector
from logger.settling.events import Event, Settled, from_fields, span_s
from logger.settling.late_lines import LateLines
from logger.translation import tr
from logger.visit.records.recording_records import Run
from logger.visit.storage.run_meter import description_of

_Line = tuple[int, str, float | None, bytes]
"""t_ns, status, volts, raw."""

KEPT_READINGS = 4096
"""A trace shows the same numbers again and again: so many readings of a text are kept."""

MIN_COMMON_S = 1.0
"""Two spans that have so much of their time in common may be the same; a shorter one all of it."""

SAME_LEVEL_U = 3.0
"""Two levels of a span that differ by no more of the larger uncertainty are the same."""

SAME_LEVEL_VOLTS = 1e-6
"""Nor do levels that differ by no more: numbers are kept with so many digits."""


def left_open_events(db: sqlite3.Connection) -> dict[int, list[Event]]:
    """Of each run without an end (cut off, or still going on), by its id, what it would have written at its last line.

    Raises:
        sqlite3.DatabaseError: a page is damaged.
    """
    rows = db.execute("SELECT id FROM run WHERE id NOT IN (SELECT run_id FROM run_end) ORDER BY id")
    return {int(run_id): _open_events(db, int(run_id)) for (run_id,) in map(tuple, rows.fetchall())}


def _open_events(db: sqlite3.Connection, run_id: int) -> list[Event]:
    """The events of a run that its lines show and that were not written."""
    written = db.execute(
        "SELECT kind, start_t_ns, end_t_ns FROM event WHERE run_id = ?", (run_id,)
    ).fetchall()
    keys = {(kind, start_ns) for kind, start_ns, _ in map(tuple, written)}
    # An event of an older version's detector is as it was written; what overlaps it is not added.
    settled_until_s = max((row[2] for row in written if row[0] == Settled.kind), default=-1) / NS_PER_S
    return [
        event for event in _found(db, run_id)
        if (event.kind, round(span_s(event)[0] * NS_PER_S)) not in keys and span_s(event)[1] > settled_until_s
    ]  # fmt: skip


def _found(db: sqlite3.Connection, run_id: int) -> list[Event]:
    """All events of the lines of a run, in the order in which they became known."""
    read = lru_cache(KEPT_READINGS)(_reader(db, run_id))
    detector, digit_of = Detector(), LastDigit().digit_volts
    late: LateLines[_Line] = LateLines()
    events: list[Event] = []

    def keep(lines: Sequence[tuple[_Line, bool]]) -> None:
        for (t_ns, status, volts, raw), is_late in lines:
            if status == LineStatus.VOLTS and volts is not None:
                events.extend(detector.feed(t_ns / NS_PER_S, volts, digit_of(raw, read(raw))))
            elif status == LineStatus.OVERLOAD:
                events.extend(detector.overload(t_ns / NS_PER_S))
            elif not is_late:
                alone = read(raw)
                # Why a line was refused is not kept: one that is a voltage by itself was so for those beside it.
                is_value = alone.status is LineStatus.VOLTS or alone.note in CONTRADICTING_NOTES
                detector.refuse(t_ns / NS_PER_S, contradicts=is_value and status == LineStatus.UNREADABLE)

    losses_ns = deque(_port_losses_ns(db, run_id))
    for line in _lines(db, run_id):
        while losses_ns and line[0] > losses_ns[0]:
            losses_ns.popleft()
            keep(late.flush())
            detector.lose_port()
        keep(late.take(line[0] / NS_PER_S, line))
    keep(late.flush())
    return events + detector.finish()


def _lines(db: sqlite3.Connection, run_id: int) -> Iterator[_Line]:
    cursor = db.cursor()
    cursor.row_factory = None
    return cursor.execute("SELECT t_ns, status, volts, raw FROM line WHERE run_id = ? ORDER BY id", (run_id,))


def _port_losses_ns(db: sqlite3.Connection, run_id: int) -> list[int]:
    """When the port was lost, in nanoseconds since the start of the run, ascending."""
    rows = db.execute(
        "SELECT t_ns FROM notice WHERE run_id = ? AND kind = ? ORDER BY t_ns", (run_id, PORT_LOST)
    )
    return [int(row[0]) for row in rows.fetchall()]


def _reader(db: sqlite3.Connection, run_id: int) -> Callable[[bytes], LineReading]:
    (settings,) = db.execute("SELECT CAST(settings AS BLOB) FROM run WHERE id = ?", (run_id,)).fetchone()
    run = Run(run_id, 0, "", 0, "", bytes(settings).decode("utf-8", errors="replace"), "", None, "")
    description = description_of(run)
    return DecimalComma(read_line if description is None else description.read(), is_settled=True).read


def heartbeat_problems(db: sqlite3.Connection) -> Iterator[str]:
    """A sentence on each heartbeat of a run without an end that is not what the lines give.

    Args:
        db: connection to the log, of this version or any older one.
    """
    for run_id, found in left_open_events(db).items():
        row = db.execute("SELECT open_events FROM live WHERE run_id = ?", (run_id,)).fetchone()
        if row is not None and not _are_shown(db, run_id, _stated(row[0]), found):
            yield (
                tr(
                    "Recording {run}: the recorder's last note of its state has a settled value that the recorded "
                    "lines do not show. Everything goes by the lines, so nothing is wrong in readings or report."
                ).format(run=run_id)
            )


def _stated(text: str) -> list[Event] | None:
    try:
        return [from_fields(**fields) for fields in json.loads(text or "[]")]
    except (ValueError, TypeError, KeyError):
        return None


def _are_shown(
    db: sqlite3.Connection, run_id: int, stated: Sequence[Event] | None, found: Sequence[Event]
) -> bool:
    """Whether each settled span that is stated is one that was found, or the mean of the samples of its time."""
    spans = [event for event in found if isinstance(event, Settled)]
    return stated is not None and all(
        any(_is_same_span(event, span) for span in spans) or _is_mean_of_samples(db, run_id, event)
        for event in stated
        if isinstance(event, Settled)
    )


def _is_mean_of_samples(db: sqlite3.Connection, run_id: int, span: Settled) -> bool:
    """Whether the samples of a span's time have its level: the recorder had judged the lines around it otherwise."""
    (mean_volts,) = db.execute(
        "SELECT avg(volts) FROM line WHERE run_id = ? AND status = ? AND t_ns BETWEEN ? AND ?",
        (run_id, LineStatus.VOLTS, round(span.start_s * NS_PER_S), round(span.end_s * NS_PER_S)),
    ).fetchone()
    allowed_volts = SAME_LEVEL_U * span.u_volts + SAME_LEVEL_VOLTS
    return mean_volts is not None and abs(mean_volts - span.volts) <= allowed_volts


def _is_same_span(one: Settled, other: Settled) -> bool:
    """Whether two spans have a time and the level in common; where lines came late, one begins later."""
    allowed_volts = SAME_LEVEL_U * max(one.u_volts, other.u_volts) + SAME_LEVEL_VOLTS
    common_s = min(one.end_s, other.end_s) - max(one.start_s, other.start_s)
    return (
        common_s >= min(MIN_COMMON_S, one.end_s - one.start_s)
        and abs(one.volts - other.volts) <= allowed_volts
    )
