"""The work of the recorder, without a thread or a loop: what the port gives becomes rows of a visit log.

In: bytes, losses and returns of the port; the passing of time. Out: batches of lines, events, notices and a heartbeat.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Protocol

from logger.clock import NS_PER_S, Clock, format_duration
from logger.errors import StillvoltError
from logger.meter.arrival_splitter import ArrivalSplitter
from logger.meter.date_watch import DateWatch
from logger.meter.decimal_comma import DecimalComma
from logger.meter.last_digit import LastDigit
from logger.meter.lines import CUT, LineReading, LineStatus, read_line
from logger.meter.meter_monitor import MeterMonitor
from logger.meter.notice_draft import PORT_LOST, NoticeDraft
from logger.meter.reader import Arrival, PortItem, PortLost
from logger.meter.stream_check import CONTRADICTING_NOTES, LIVE, StreamCheck
from logger.meter.stream_line import StreamLine
from logger.recording.agreement_watch import AgreementWatch
from logger.recording.recorder_lock import WaitingLines
from logger.recording.watch import disk_space
from logger.recording.watch.power import Power, PowerWatch, power
from logger.recording.watch.suspend import BUSY_NS, SuspendWatch
from logger.settling.detector import Detector
from logger.settling.late_lines import LateBurst, LateLines
from logger.settling.limits import MIN_LATE_LINES, SLOWEST_INTERVAL_S
from logger.translation import in_language, kept_text, tr, tr_n
from logger.visit.records.stop_source import StopSource
from logger.visit.storage.run_writer import Batch, Counts, Heartbeat, RunClosedError, RunEnd, RunWriter

WRITE_EVERY_NS = 30_000_000
"""Shortest time between two commits: a sample is visible to the window well within 100 ms, and a meter of 100
lines a second does not cost 100 commits."""

BEAT_EVERY_NS = NS_PER_S
"""A heartbeat is written this often even when no line comes."""

TICK_NS = 200_000_000
"""How often the detector learns that time passes without a line."""

RETRY_WRITE_NS = NS_PER_S
"""When the disk is full, how often writing is tried again."""

MAX_PENDING_LINES = 500_000
"""Lines kept in memory while the disk refuses them (14 hours at 10 lines/s, about 100 MB). Lines that come after them
are dropped, so that what is kept has no hole before its end."""

HELD = "held"
"""Status in the log of a line whose value is not the voltage of this moment (hold, maximum, relative, come late)."""

LATE_NOTE = kept_text("it came late, together with others: when it was measured is not known")

BACKLOG_NS = 60_000_000
"""What follows the first of many lines at once by no more than this had waited with them."""

LISTENS_NOT_NS = NS_PER_S
"""A longer pause between two ticks: the recorder itself did not run, and a silence in it says nothing of the meter."""


class ComputerWatch:
    """Watches the computer itself: battery, charger, room on the disk.

    Args:
        free_bytes: what the disk of the visit log still takes.
        ask_power: gives the state of battery and charger.
    """

    def __init__(self, free_bytes: Callable[[], int], ask_power: Callable[[], Power | None] = power) -> None:
        self._power = PowerWatch(ask_power)
        self._room = disk_space.DiskSpaceWatch(free_bytes)

    def poll(self, time_s: float, written_bytes: int) -> list[NoticeDraft]:
        """Notices that are due; both are asked every few seconds only, however often this is called."""
        return [*self._power.poll(time_s), *self._room.poll(time_s, written_bytes)]


class RunSink(Protocol):
    """Where a recorder's batches go: a visit log while the run goes on, or memory until it is over."""

    @property
    def stop_requested_by(self) -> StopSource | None:
        """Who has asked this run to stop; None while nobody has."""

    def write(self, batch: Batch, beat: Heartbeat) -> None:
        """Take a batch and the heartbeat, all or nothing."""

    def end(self, utc_ns: int, t_ns: int, reason: str) -> None:
        """Close the run.

        Args:
            utc_ns: the end by the wall clock.
            t_ns: the end in nanoseconds since the start of the run.
            reason: why it ended, as the log keeps it.
        """


KeepRest = Callable[[Batch, Heartbeat, RunEnd], Path | None]


# long: what waits, what is counted and when it was written change together, with each line and each refusal.
class Recorder:
    """Turns what the port gives into rows of a visit log.

    Args:
        writer: of the run.
        clock: gives the time of everything that the port reader has not stamped.
        started_steady_ns: the steady clock at the start of the run: the zero of its time line.
        notify: receives one sentence for the user whenever something happens to the recording.
        read: reads the meter's lines.
        computer: the watch over the computer; None in a simulation.
        scale_is_taught: what a count of the meter's lines is worth was taught by the user.
        keep_rest: keeps elsewhere what the writer does not take at the end; returns where, None where it cannot.
        digit_of: what the last digit of a line is worth, V; None takes it from the lines as they come.
        unit_is_stated: a description of the meter states how its lines are read.
        unit_is_fixed: the numbers are in one unit, whatever the range.
        taught_digit_volts: what the last digit was worth when a description stated the unit, V; 0 where nobody knows.
        baud: the port's rate, by which a pause within a line is too long; None where there is none.
    """

    def __init__(
        self,
        writer: RunSink,
        clock: Clock,
        started_steady_ns: int,
        notify: Callable[[str], None],
        read: Callable[[bytes], LineReading] = read_line,
        computer: ComputerWatch | None = None,
        scale_is_taught: bool = False,
        keep_rest: KeepRest | None = None,
        digit_of: Callable[[bytes, LineReading], float] | None = None,
        unit_is_stated: bool = False,
        unit_is_fixed: bool = False,
        taught_digit_volts: float = 0.0,
        baud: int | None = None,
    ) -> None:
        self._comma = DecimalComma(read)
        self._writer = writer
        self._clock = clock
        self._start_ns = started_steady_ns
        self._notify = notify
        self._splitter = ArrivalSplitter(baud)
        self._check = StreamCheck(LIVE, self._comma.read, scale_is_taught)
        self._is_too_slow = False
        """Whether it was noted that the meter sends too rarely."""
        self._late: LateLines[StreamLine] = LateLines()
        self._backlog_end_ns: int | None = None
        """Lines that came until then had waited for the port to be opened; None where none had."""
        self._detector = Detector()
        self._digit_of = LastDigit().digit_volts if digit_of is None else digit_of
        self._meter = MeterMonitor(unit_is_stated, unit_is_fixed, taught_digit_volts)
        self._ticked_ns = started_steady_ns
        self._dates = DateWatch()
        self._agreement = AgreementWatch()
        self._clocks = SuspendWatch(clock, None if computer is None else BUSY_NS)
        self._computer = computer
        self._written_bytes = 0
        self._batch = Batch()
        self._counts = Counts()
        self._last_refused = ""
        self._port_state = "open"
        self._port_message = ""
        self._written_ns = started_steady_ns
        self._refused_since_ns: int | None = None
        self._keep_rest = keep_rest
        self._dropped = 0
        self.waiting: WaitingLines | None = None
        """What waits in memory because the disk does not take it; None while it does."""

    def handle(self, item: PortItem) -> None:
        """Process what the port reader gave: bytes, a loss or a return of the port."""
        if isinstance(item, Arrival):
            self._handle_arrival(item)
        elif isinstance(item, PortLost):
            self._end_line(item.utc_ns, item.steady_ns)
            self._detector.lose_port()
            self._port_state, self._port_message = "lost", item.reason
            self._notice(PORT_LOST, item.reason, item.utc_ns, item.steady_ns)
        else:
            self._port_state, self._port_message = "open", ""
            self._meter.on_port_back()
            text = (
                kept_text("The port is back as {port} (before: {before}). Is it the same meter?")
                if item.before
                else kept_text("{port} is back.")
            )
            message = text.format(port=item.url, before=item.before)
            self._notice("port back", message, item.utc_ns, item.steady_ns)

    def tick(self) -> None:
        """Let the detector and the watches know that time has passed."""
        steady_ns = self._clock.steady_ns()
        t_ns = steady_ns - self._start_ns
        t_s = t_ns / NS_PER_S
        if self._computer is not None and steady_ns - self._ticked_ns > LISTENS_NOT_NS:
            self._meter.on_pause(t_s)
        self._ticked_ns = steady_ns
        self._deliver(self._check.take_silence(t_ns))
        waiting_since_ns = self._check.waiting_since_ns
        # A line that waits to be judged has come all the same.
        self._batch.events += self._detector.tick(
            t_s if waiting_since_ns is None else waiting_since_ns / NS_PER_S
        )
        if self._port_state == "open":
            for change in self._meter.on_silence(t_s):
                self._notice(change.kind, change.message)
        if self._computer is not None:
            for change in self._computer.poll(t_s, self._written_bytes):
                self._notice(change.kind, change.message)

    def note(self, change: NoticeDraft) -> None:
        """Write a notice that others drafted, in English."""
        self._notice(change.kind, change.message)

    def due_in_ns(self) -> int:
        """How long until `write` has something to do: 0 or less means now."""
        since = self._clock.steady_ns() - self._written_ns
        if self._refused_since_ns is not None:
            return RETRY_WRITE_NS - since
        if self._batch.lines or self._batch.events or self._batch.notices:
            return WRITE_EVERY_NS - since
        return BEAT_EVERY_NS - since

    def write(self) -> None:
        """Write what has gathered. A disk that refuses gives one notice; what it refused is kept in memory.

        Raises:
            RunClosedError: another recorder has closed the run.
        """
        utc_ns, steady_ns = self._clock.utc_ns(), self._clock.steady_ns()
        for change in self._clocks.poll():
            self._notice(change.kind, change.message, utc_ns, steady_ns)
        self._written_ns = steady_ns
        try:
            self._writer.write(self._batch, self._heartbeat(utc_ns, steady_ns))
        except sqlite3.OperationalError as error:
            self._on_write_refused(error, steady_ns)
            return
        self._written_bytes += sum(disk_space.ROW_BYTES + len(line[4]) for line in self._batch.lines)
        waited = len(self._batch.lines)
        self._batch = Batch()
        if self._refused_since_ns is not None:
            for_s = (steady_ns - self._refused_since_ns) / NS_PER_S
            self._on_write_taken_again(waited, for_s)

    def _heartbeat(self, utc_ns: int, steady_ns: int) -> Heartbeat:
        return Heartbeat(
            utc_ns=utc_ns,
            t_ns=steady_ns - self._start_ns,
            port_state=self._port_state,
            port_message=self._port_message,
            now=self._detector.now,
            open_events=self._detector.open_events(),
            counts=self._counts,
            last_refused=self._last_refused,
            warning=self._agreement.problem or self._meter.problem,
            frozen=self._meter.frozen,
        )

    def stop_requested_by(self) -> StopSource | None:
        """Who has requested the end of the run through the log; None while nobody has."""
        return self._writer.stop_requested_by

    def end(self, reason: str) -> None:
        """Close every open span, write all, close the run.

        Raises:
            StillvoltError: the visit log does not take the last lines, and what became of them.
        """
        utc_ns, steady_ns = self._clock.utc_ns(), self._clock.steady_ns()
        self._end_line(utc_ns, steady_ns)
        self._batch.events += self._detector.finish()
        end = RunEnd(utc_ns, steady_ns - self._start_ns, reason)
        try:
            self.write()
        except RunClosedError as error:
            self._refuse_overwritten(end)
            raise StillvoltError(error.what, f"{error.kept} {self._rest_kept(end)}") from error
        except sqlite3.DatabaseError:  # other pages than this process wrote are in the file
            self._refuse_overwritten(end)
            raise
        if self._refused_since_ns is not None:
            self._refuse_overwritten(end)
            raise StillvoltError(
                tr_n(
                    "The disk does not take the last line.",
                    "The disk does not take the last {n} lines.",
                    len(self._batch.lines),
                ).format(n=len(self._batch.lines)),
                " ".join(filter(None, (tr("Everything before them is kept."), self._rest_kept(end)))),
                tr("Make room on the disk before the next recording."),
            )
        try:
            self._writer.end(end.utc_ns, end.t_ns, reason)
        except sqlite3.DatabaseError:
            self._refuse_overwritten(end)
            raise
        self._refuse_overwritten(end)

    def _refuse_overwritten(self, end: RunEnd) -> None:
        """Look whether the file has all that was written into it; where not, keep the whole run elsewhere.

        Raises:
            StillvoltError: another program has overwritten or cut the file, and what became of the run.
        """
        if not isinstance(self._writer, RunWriter) or self._writer.is_kept():
            return
        whole = self._writer.written()
        whole.lines += self._batch.lines
        whole.events += self._batch.events
        whole.notices += self._batch.notices
        self._batch = whole
        raise StillvoltError(
            tr(
                "The visit log {file} does not hold this recording: another program has overwritten, cut or removed "
                "the file or its journal while it was recorded."
            ).format(file=self._writer.path),
            self._rest_kept(end),
            tr("Leave both files as they are, and look at the visit log with `stillvolt verify`."),
        )

    def _rest_kept(self, end: RunEnd) -> str:
        """Keep elsewhere what the writer does not take; returns a sentence that names the place."""
        if not self._batch.lines or self._keep_rest is None:
            return ""
        beat = self._heartbeat(end.utc_ns, end.t_ns + self._start_ns)
        path = self._keep_rest(self._batch, beat, end)
        n = len(self._batch.lines)
        if path is None:
            return tr_n(
                "The last line found no room anywhere, and is lost.",
                "The last {n} lines found no room anywhere, and are lost.",
                n,
            ).format(n=n)
        return tr_n(
            "The last line is kept as a visit of its own in {file}.",
            "The last {n} lines are kept as a visit of their own in {file}.",
            n,
        ).format(n=n, file=path)

    def _t_s(self, steady_ns: int) -> float:
        return (steady_ns - self._start_ns) / NS_PER_S

    def _handle_arrival(self, item: Arrival) -> None:
        t_ns = item.steady_ns - self._start_ns
        self._meter.on_bytes(t_ns / NS_PER_S)
        lines = self._splitter.feed(item)
        if item.starts_mid_line and len(lines) > MIN_LATE_LINES and self._backlog_end_ns is None:
            # A network link has kept them until somebody opened it.
            self._backlog_end_ns = t_ns + BACKLOG_NS
            self._notice(
                "late lines",
                kept_text(
                    "{n} lines came all at once as the port was opened: when they were measured is not known. They are "
                    "kept, and are no samples."
                ).format(n=len(lines)),
            )
        for raw, whole in lines:
            reading = self._comma.take(raw) if whole else CUT
            if whole:
                self._meter.on_received(t_ns / NS_PER_S, raw)
            self._deliver(self._check.take(StreamLine(item.utc_ns, t_ns, raw, reading)))

    def _deliver(self, lines: Iterable[StreamLine]) -> None:
        """Take lines that are judged, in the order in which they came."""
        for line in lines:
            self._keep(self._late.take(line.t_ns / NS_PER_S, line))
        if self._late.too_slow_s and not self._is_too_slow:
            self._is_too_slow = True
            self._notice(
                "slow meter",
                kept_text(
                    "The meter sends only every {seconds} s: too slow to settle. Set it to send more often, at least "
                    "every {slowest} s."
                ).format(seconds=f"{self._late.too_slow_s:.0f}", slowest=f"{SLOWEST_INTERVAL_S:.0f}"),
            )
        if burst := self._late.take_burst():
            self._notice(
                "late lines",
                _late_message(burst),
            )

    def _keep(self, lines: Iterable[tuple[StreamLine, bool]]) -> None:
        """Keep lines and give the detector their samples; each with whether it came late."""
        counts, events = self._counts, self._batch.events
        for (utc_ns, t_ns, raw, reading), came_late in lines:
            is_late = came_late or t_ns <= (self._backlog_end_ns or -1)
            if self._is_dropped():
                continue
            t_s = t_ns / NS_PER_S
            for change in self._meter.on_line(t_s, raw, reading):
                self._notice(change.kind, change.message, utc_ns, t_ns + self._start_ns)
            status, volts = reading.status, reading.volts
            if is_late and status in (LineStatus.VOLTS, LineStatus.OVERLOAD):
                self._batch.lines.append((utc_ns, t_ns, HELD, volts, raw))
                counts.not_ac_volts += 1
                self._last_refused = LATE_NOTE
                continue
            no_sample_note = self._meter.no_sample_note
            if status is LineStatus.VOLTS and (not reading.is_live or no_sample_note):
                # A frozen display would look perfectly settled, and so does the mean of two channels.
                self._batch.lines.append((utc_ns, t_ns, HELD, volts, raw))
                counts.not_ac_volts += 1
                self._last_refused = reading.note or no_sample_note
                self._detector.refuse(t_s)
                continue
            self._batch.lines.append((utc_ns, t_ns, status, volts, raw))
            if volts is not None:
                counts.volts += 1
                digit_volts = self._digit_of(raw, reading)
                self._meter.on_digit(digit_volts)
                events += self._detector.feed(t_s, volts, digit_volts)
                for change in self._dates.on_line(raw, utc_ns):
                    self._notice(change.kind, change.message, utc_ns, t_ns + self._start_ns)
            elif status is LineStatus.OVERLOAD:
                counts.overload += 1
                events += self._detector.overload(t_s)
            elif status is LineStatus.NOT_AC_VOLTS:
                counts.not_ac_volts += 1
                self._last_refused = reading.note
                self._detector.refuse(t_s)
            else:
                counts.unreadable += 1
                self._last_refused = reading.note
                self._detector.refuse(t_s, contradicts=reading.note in CONTRADICTING_NOTES)
            for change in self._agreement.poll(t_s, self._detector.disagreement):
                self._notice(change.kind, change.message, utc_ns, t_ns + self._start_ns)

    def _end_line(self, utc_ns: int, steady_ns: int) -> None:
        """Keep bytes that are no whole line, and deliver the lines that waited for it.

        They are never a sample, whatever they look like.

        Args:
            utc_ns: when the stream ended.
            steady_ns: the same by the steady clock.
        """
        piece = self._splitter.flush()
        if piece:
            self._deliver(self._check.take(StreamLine(utc_ns, steady_ns - self._start_ns, piece, CUT)))
        self._deliver(self._check.flush())
        self._keep(self._late.flush())
        self._deliver(())

    def _notice(
        self, kind: str, message: str, utc_ns: int | None = None, steady_ns: int | None = None
    ) -> None:
        utc_ns = self._clock.utc_ns() if utc_ns is None else utc_ns
        steady_ns = self._clock.steady_ns() if steady_ns is None else steady_ns
        self._batch.notices.append((utc_ns, steady_ns - self._start_ns, kind, message))
        self._notify(message)

    def _on_write_refused(self, error: sqlite3.OperationalError, steady_ns: int) -> None:
        self.waiting = WaitingLines(
            len(self._batch.lines),
            self._dropped,
            str(error),
            getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_FULL,
        )
        if self._refused_since_ns is None:
            self._refused_since_ns = steady_ns
            self._notice(
                "disk refuses",
                kept_text(
                    "The visit log cannot be written ({error}). What was recorded is kept; new lines are kept in "
                    "memory and written as soon as there is room."
                ).format(error=error),
            )

    @in_language("en")
    def _on_write_taken_again(self, waited: int, for_s: float) -> None:
        self._refused_since_ns = self.waiting = None
        text = (
            kept_text(
                "The disk takes data again after {duration}: {waited} lines that waited are kept; {dropped} lines that "
                "came after them are missing, as memory was full."
            )
            if self._dropped
            else kept_text(
                "The disk takes data again after {duration}: {waited} lines that waited are kept; nothing is missing."
            )
        )
        message = text.format(
            duration=format_duration(for_s), waited=f"{waited:,}", dropped=f"{self._dropped:,}"
        )
        self._dropped = 0
        self._notice("disk back", message)

    def _is_dropped(self) -> bool:
        """Whether a line that comes now finds no room: the disk refuses, and memory is at its bound."""
        if self._refused_since_ns is None or len(self._batch.lines) < MAX_PENDING_LINES:
            return False
        if not self._dropped:
            self._notice(
                "memory full",
                kept_text(
                    "The disk has taken nothing for so long that memory is full: the {n} lines that wait are kept, "
                    "those that come from now on are not. Make room on the disk."
                ).format(n=f"{len(self._batch.lines):,}"),
            )
        self._dropped += 1
        return True


def _late_message(burst: LateBurst) -> str:
    """What the user learns of lines that came late, or that come so and will for some time."""
    if burst.is_over:
        return kept_text(
            "{n} lines came late, all at once, after a silence of {seconds} s: when they were measured is not known. "
            "They are kept, and are no samples."
        ).format(n=burst.lines, seconds=f"{burst.silence_s:.0f}")
    return kept_text(
        "Lines came late, after a silence of {seconds} s: they come faster than the meter sends, so when they were "
        "measured is not known. They are kept, and are no samples, until they come in its rhythm again."
    ).format(seconds=f"{burst.silence_s:.0f}")
