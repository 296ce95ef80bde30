"""A trace logged elsewhere becomes a run of a visit log, through the recorder's own code and the same detector.

The trace is read and put through the detector in memory first; then the run is written in one transaction. So a file
that is refused, a full disk or a killed program leaves nothing half done in a log from which nothing can be deleted.
A temporary log that is moved into place would do the same for a new visit only: an existing one may be open in a
window, and must stay the file that it is.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import tzlocal

from logger import __version__
from logger.clock import NS_PER_S, Clock, ManualClock, SystemClock, from_to
from logger.errors import StillvoltError
from logger.meter.description import MeterDescription
from logger.meter.description_toml import as_toml
from logger.meter.frozen_display import CONSTANT_NOTICE, FROZEN_NOTICE, frozen_for_s
from logger.meter.lines import LineReading, LineStatus
from logger.meter.notice_draft import NoticeDraft
from logger.meter.port import PortSettings
from logger.meter.reader import Arrival
from logger.metrology.setup import UNKNOWN_METER, MeterFacts, Reference, Setup
from logger.recording.recorder import Recorder
from logger.recording.recorder_lock import sole_recorder
from logger.recording.trace_digits import digits_of
from logger.recording.trace_file import TraceFile, read_trace_file
from logger.settling.events import Gap
from logger.settling.limits import SLOWEST_INTERVAL_S
from logger.translation import in_language, kept_text, tr, tr_kept
from logger.visit.records.imported_trace import ImportedTrace, row_volts
from logger.visit.records.simulated_run import SIMULATED_NOTE, simulation_settings
from logger.visit.storage.file_name import is_file
from logger.visit.storage.read_only import damage_in_words, open_checked
from logger.visit.storage.run_writer import Batch, FinishedRun, Heartbeat, RunEnd, RunStart
from logger.visit.storage.time_zone import format_offset
from logger.visit.storage.visit_log import VisitLog

IMPORTED_NOTICE = "imported"
"""Kind of the notice that an imported run begins with."""

UNIT_ASSUMED = kept_text(
    "Unit assumed: volts. The column's name alone says so. If the values are millivolts, import the trace into another "
    "visit with --unit mV; if they are volts, --unit V states it."
)

END_REASON = kept_text("the end of the imported trace")

MAX_GAP_SHARE = 0.5
"""Where a gap follows so large a share of the rows, the trace has no rhythm in which a level could be found."""

_RFC_3339 = re.compile(r"(\d{4}-\d\d-\d\d)[Tt ](\d\d:\d\d:\d\d)(\.\d+)?([Zz]|[+-]\d\d:\d\d)", re.ASCII)
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_LATEST = datetime(2200, 1, 1, tzinfo=UTC)
"""Nanoseconds since 1970 fit the log's integers up to 2262."""


@dataclass(frozen=True, slots=True)
class ImportedRun:
    """What an import has added to a visit log.

    Args:
        run_id: id of the new run.
        samples: how many samples it has.
        start: local time of the first sample, in the zone that was stated.
        end: local time of the last sample.
        events: how many events of each kind the detector has found.
        messages: sentences for the user: what needs a look.
    """

    run_id: int
    samples: int
    start: datetime
    end: datetime
    events: dict[str, int]
    messages: tuple[str, ...]


def read_began(text: str) -> datetime:
    """The moment that an RFC 3339 text states, with its offset.

    Raises:
        StillvoltError: it is none, or it has no offset, without which nobody knows which moment it is.
    """
    match = _RFC_3339.fullmatch(text.strip())
    if match is None:
        raise _not_a_moment(text)
    day, time, fraction, offset = match.groups(default="")
    try:
        began = datetime.fromisoformat(f"{day}T{time}{fraction[:7]}{offset.upper()}")
        if not _EPOCH <= began < _LATEST:
            raise _not_a_moment(text)
    except (ValueError, OverflowError):
        raise _not_a_moment(text) from None
    return began


def _not_a_moment(text: str) -> StillvoltError:
    return StillvoltError(
        tr("--began is {typed}, which is not an RFC 3339 time with its offset from UTC.").format(
            typed=repr(text)
        ),
        tr("Nothing was written."),
        tr("Give it as 2026-11-25T21:30:00+01:00 (or with Z for UTC)."),
    )


def import_trace(
    trace: Path,
    visit: Path,
    began: datetime,
    *,
    meter: MeterDescription | None = None,
    reference: Reference | None = None,
    clock: Clock | None = None,
    unit: str | None = None,
    is_future: bool = False,
) -> ImportedRun:
    """Add a trace to a visit log as a run; a new log is made if there is none.

    Args:
        trace: a CSV file with the header `time_s,volts`.
        visit: the visit log.
        began: the moment of the trace's second 0, with its offset from UTC.
        meter: the meter that it was logged with; it becomes the visit's where nothing was recorded before.
        reference: what the meter called zero; it becomes the visit's where nothing was recorded before.
        clock: injected time.
        unit: a key of `UNITS`, the unit of the values as the user states it; None for volts that nobody has stated.
        is_future: the user states that the trace ends later than this computer's clock.

    Raises:
        StillvoltError: the trace or the log cannot be used, a recorder is at work on the log, or the log holds a run
            of that time or later or one against another reference, or it is open whether the values are volts or the
            time is right. Nothing was written.
    """
    clock = clock or SystemClock()
    read = read_trace_file(trace, unit)
    source = ImportedTrace(
        read.name, read.sha256, began.isoformat(), read.unit_exponent, read.is_unit_assumed
    )
    run = _finished_run(read, source, began, meter)
    ends_after_now = run.end.utc_ns > clock.utc_ns()
    if ends_after_now and not is_future:
        raise StillvoltError(
            tr("By this computer's clock the trace ends in the future, {moment}.").format(
                moment=_utc(run.end.utc_ns)
            ),
            tr("Nothing was written."),
            tr(
                "Check the start time (--began). If it is right and the computer's clock is wrong, add --future."
            ),
        )
    with sole_recorder(visit):
        is_new = not is_file(visit)
        log = VisitLog.create(visit, clock) if is_new else open_checked(visit, clock)
        try:
            with damage_in_words(visit):
                stated, damage = log.setup.current(), log.integrity().summary()
                run_id = _add(log, run, meter, reference)
        except BaseException:
            log.close()
            if is_new:
                visit.unlink()  # nothing was imported: no empty log is left under that name
            raise
        log.close()
    start, end = (_local_at(began, row.t_ns) for row in (read.rows[0], read.rows[-1]))
    return ImportedRun(
        run_id,
        len(read.rows),
        start,
        end,
        dict(Counter(event.kind for event in run.batch.events)),
        (
            *filter(None, (damage,)),
            *_messages(stated, meter, ends_after_now),
            *((tr_kept(UNIT_ASSUMED),) if read.is_unit_assumed else ()),
            *_doubts(run, began),
            *([tr(SIMULATED_NOTE)] if read.simulated else ()),
            *read.unread_messages(),
        ),
    )


def _add(log: VisitLog, run: FinishedRun, meter: MeterDescription | None, reference: Reference | None) -> int:
    """Add the run to a visit log; returns its id.

    Args:
        log: the visit log.
        run: it.
        meter: the meter that it was logged with.
        reference: what the meter called zero.

    Raises:
        StillvoltError: the log has other lines than were recorded, holds a run of that time or later, or what is stated
            contradicts what it holds. Nothing was written.
    """
    log.refuse_changed_lines()
    _refuse_other_runs_time(log, run)
    stated = log.setup.current()
    if reference is not None:
        _refuse_other_reference(log, stated, reference)
    if meter is not None:
        _refuse_changed_meter(log, stated, meter)
    # The visit's meter would count for what was recorded before as well; this run has its own.
    for_visit = meter if not log.runs.spans_utc_ns() else None
    return log.imported_runs.add(run, lambda setup: _completed(setup, for_visit, reference))


class _RunInMemory:
    """Gathers what a recorder writes until its run is over."""

    stop_requested_by = None

    def __init__(self, start: RunStart) -> None:
        self._start = start
        self._batch = Batch()
        self._beat: Heartbeat | None = None
        self.finished: FinishedRun | None = None

    def write(self, batch: Batch, beat: Heartbeat) -> None:
        """Keep a batch; see `RunSink`."""
        self._batch.lines += batch.lines
        self._batch.events += batch.events
        self._batch.notices += batch.notices
        self._beat = beat

    def end(self, utc_ns: int, t_ns: int, reason: str) -> None:
        """Finish the run; see `RunSink`.

        Args:
            utc_ns: the end by the wall clock.
            t_ns: the end in nanoseconds since the start of the run.
            reason: why it ended, as the log keeps it.
        """
        assert self._beat is not None, "a recorder writes before it ends its run"
        self.finished = FinishedRun(self._start, self._batch, self._beat, RunEnd(utc_ns, t_ns, reason))


@in_language("en")
def _finished_run(
    trace: TraceFile, source: ImportedTrace, began: datetime, meter: MeterDescription | None
) -> FinishedRun:
    """Put a trace through a recorder whose clock follows the trace; what it keeps is in English.

    Args:
        trace: the trace.
        source: what the log keeps of its file.
        began: the moment of its second 0.
        meter: the meter that the run states; None for none.
    """
    sink = _RunInMemory(_run_start(trace, source, began, meter))
    clock = ManualClock(_utc_ns(began))
    start_ns = clock.steady_ns()
    digits = digits_of(trace.numbers(), trace.unit_exponent)
    digit_of = dict(zip((row.raw for row in trace.rows), digits, strict=True))

    def read_row(raw: bytes) -> LineReading:
        """Read a row as the recorder reads a line of a meter."""
        return LineReading(LineStatus.VOLTS, row_volts(raw, source.unit_exponent))

    recorder = Recorder(
        sink, clock, start_ns, lambda _: None, read_row, digit_of=lambda raw, _: digit_of.get(raw, 0.0),
        unit_is_stated=True,
        unit_is_fixed=True,
    )  # fmt: skip
    recorder.note(
        NoticeDraft(
            IMPORTED_NOTICE,
            kept_text(
                "Imported from {file}, not recorded here: {n} rows, begun {began} as stated at the import, SHA-256 "
                "{digest}."
            ).format(file=trace.name, n=f"{len(trace.rows):,}", began=began.isoformat(), digest=trace.sha256),
        )
    )
    if source.is_unit_assumed:
        recorder.note(NoticeDraft("unit assumed", UNIT_ASSUMED))
    # The detector learns of time from the samples alone, as in a replay, which so gives the same events.
    for row in trace.rows:
        clock.advance_ns(start_ns + row.t_ns - clock.steady_ns())
        recorder.handle(Arrival(clock.utc_ns(), clock.steady_ns(), row.raw + b"\n"))
    recorder.end(END_REASON)
    assert sink.finished is not None
    return sink.finished


def _run_start(
    trace: TraceFile, source: ImportedTrace, began: datetime, meter: MeterDescription | None
) -> RunStart:
    """What the log keeps of the start of an imported run.

    Args:
        trace: the trace.
        source: what the log keeps of its file.
        began: the moment of its second 0.
        meter: the meter that it was logged with; None where nobody stated it.
    """
    offset = began.utcoffset() or timedelta()
    settings = PortSettings(f"file:{trace.name}", meter=meter.name if meter else None).to_json()
    settings |= {"description": as_toml(meter)} if meter else {}
    settings |= source.as_settings()
    settings |= simulation_settings(settings["url"], is_origin=trace.simulated)
    return RunStart(
        utc_ns=_utc_ns(began),
        zone=_zone_name(began, offset),
        utc_offset_s=int(offset.total_seconds()),
        port=f"file:{trace.name}",
        settings=json.dumps(settings),
        software=f"Stillvolt {__version__} (imported)",
        pid=0,  # no process of its own
    )


def _utc_ns(moment: datetime) -> int:
    return (moment - _EPOCH) // timedelta(microseconds=1) * 1000


def _local_at(began: datetime, t_ns: int) -> datetime:
    """The moment so many nanoseconds after the beginning, with the offset of then where the zone is known.

    Args:
        began: the moment of the trace's second 0.
        t_ns: time since then, ns.
    """
    moment = began.astimezone(UTC) + timedelta(seconds=t_ns / NS_PER_S)
    offset = began.utcoffset() or timedelta()
    return moment.astimezone(None if began.astimezone().utcoffset() == offset else began.tzinfo)


def _zone_name(began: datetime, offset: timedelta) -> str:
    """This computer's zone where it had that offset at that moment, else the offset itself."""
    if began.astimezone().utcoffset() == offset:
        return tzlocal.get_localzone_name()
    return format_offset(int(offset.total_seconds())) if offset else "UTC"


def _refuse_other_runs_time(log: VisitLog, run: FinishedRun) -> None:
    """Refuse a run that is not after all others: the log is read in order of time, the lines of each run together."""
    began_ns, ended_ns = run.start.utc_ns, run.start.utc_ns + run.end.t_ns
    for other_id, start_ns, end_ns in log.runs.spans_utc_ns():
        if began_ns >= end_ns:
            continue
        places = {
            "trace": from_to(_utc(began_ns), _utc(ended_ns)),
            "run": other_id,
            "times": from_to(_utc(start_ns), _utc(end_ns)),
            "file": log.path,
        }
        if ended_ns > start_ns:
            raise StillvoltError(
                tr("The trace ({trace}) overlaps recording {run} ({times}) of {file}.").format(**places),
                tr("Nothing was written."),
                tr("Check the start time (--began), or choose another visit."),
            )
        raise StillvoltError(
            tr(
                "The trace ({trace}) lies before recording {run} ({times}) of {file}, and a visit log is "
                "written in order of time."
            ).format(**places),
            tr("Nothing was written."),
            tr("Import it into a visit of its own."),
        )


def _refuse_other_reference(log: VisitLog, stated: Setup, reference: Reference) -> None:
    """Refuse a trace against another reference than the visit's, which has one for all that is recorded in it.

    Args:
        log: the visit log.
        stated: its set-up.
        reference: that of the trace.
    """
    if stated.reference == reference:
        return
    if stated.reference is not None:
        raise StillvoltError(
            tr("The trace is against the {reference}, and the visit {file} is against the {stated}.").format(
                reference=tr(reference), file=log.path, stated=tr(stated.reference)
            ),
            tr("Nothing was written: values against two references cannot be compared."),
            tr("Import the trace into a visit of its own."),
        )
    if log.runs.spans_utc_ns():
        raise StillvoltError(
            tr("{file} holds a recording for which no reference is stated.").format(file=log.path),
            tr(
                "Nothing was written: the {reference} of the trace would count for that recording as well."
            ).format(reference=tr(reference)),
            tr(
                "Import the trace into a visit of its own, or state the visit's reference in the window, on the stage "
                "Prepare, and import the trace then."
            ),
        )


def _refuse_changed_meter(log: VisitLog, stated: Setup, meter: MeterDescription) -> None:
    """Refuse a meter that has the name of the visit's, and other data: nobody could tell by which one it is judged.

    Args:
        log: the visit log.
        stated: its set-up.
        meter: that of the trace.
    """
    if stated.meter.name == meter.name and stated.meter != MeterFacts.of(meter):
        raise StillvoltError(
            tr(
                "The kept description of the meter {meter} has other data than the meter {meter} that is stated in "
                "{file}."
            ).format(meter=repr(meter.name), file=log.path),
            tr("Nothing was written."),
            tr(
                "State the kept one in the window, on the stage Prepare, and import the trace then, or import it into "
                "a visit of its own."
            ),
        )


def _utc(utc_ns: int) -> str:
    """The moment as RFC 3339 in UTC, to the second."""
    return f"{_EPOCH + timedelta(seconds=utc_ns // NS_PER_S):%Y-%m-%dT%H:%M:%SZ}"


def _completed(setup: Setup, meter: MeterDescription | None, reference: Reference | None) -> Setup:
    """The set-up with what it lacks; what is stated in it stays.

    Args:
        setup: as it is.
        meter: the meter that becomes the visit's; None for none.
        reference: the reference of the import; None for none.
    """
    if meter is not None and setup.meter == UNKNOWN_METER:
        setup = replace(setup, meter=MeterFacts.of(meter))
    if reference is not None and setup.reference is None:
        setup = replace(setup, reference=reference)
    return setup


def _doubts(run: FinishedRun, began: datetime) -> list[str]:
    """What of an imported trace can be no measurement, or gives no level, in sentences.

    Args:
        run: the run that the trace became.
        began: the moment of its second 0.
    """
    out = []
    for utc_ns, _, kind, text in run.batch.notices:
        if kind in (FROZEN_NOTICE, CONSTANT_NOTICE) and frozen_for_s(text) is not None:
            at = _local_at(began, utc_ns - run.start.utc_ns).isoformat(" ", "seconds")
            out.append(tr("By {time}: {notice}").format(time=at, notice=tr_kept(text)))
    gaps = sum(isinstance(event, Gap) for event in run.batch.events)
    if gaps > 1 and gaps >= MAX_GAP_SHARE * len(run.batch.lines):
        every_s = run.end.t_ns / NS_PER_S / max(len(run.batch.lines) - 1, 1)
        out.append(
            tr(
                "The rows are about {apart} s apart, which is too rare to find a level: at least one in {seconds} s is "
                "needed."
            ).format(apart=f"{every_s:.0f}", seconds=f"{SLOWEST_INTERVAL_S:.0f}")
        )
    return out


def _messages(stated: Setup, meter: MeterDescription | None, ends_after_now: bool) -> list[str]:
    """What the user should know of an import that was done.

    Args:
        stated: the set-up before the import.
        meter: the meter of the import; None for none.
        ends_after_now: whether the trace ends later than now.
    """
    out = []
    if meter is not None and stated.meter not in (UNKNOWN_METER, MeterFacts.of(meter)):
        out.append(
            tr(
                "The visit's meter stays {stated}, as it is stated there; what was imported now counts with {meter}."
            ).format(stated=repr(stated.meter.name), meter=repr(meter.name))
        )
    if ends_after_now:
        out.append(tr("By this computer's clock the trace ends in the future: see whether --began is right."))
    return out
