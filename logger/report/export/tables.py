"""A visit as tables, each with its columns documented: what every export writes, whatever the file is.

Times are RFC 3339 text in UTC with nanoseconds (`2026-01-05T20:15:00.123456789Z`): `utc` by the computer's clock,
`steady_utc` on the steady time line of the run, which does not jump when the clock is set. `local` is the same moment
where it was recorded, to the second, with its offset. Voltages are AC rms volts, uncertainties standard ones.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from logger.clock import NS_PER_S
from logger.settling.events import Event, Step
from logger.sweep.labelled_steps import FoundStep, known_steps
from logger.sweep.sweep_progress import live_of
from logger.visit.records.records import Reading, Run
from logger.visit.results.on_off_result import SpotResult, budget_of
from logger.visit.results.span_review import SpanReview
from logger.visit.storage.time_zone import zone_of
from logger.visit.storage.visit_log import VisitLog

if TYPE_CHECKING:
    import pandas as pd

JOINED_BY = "; "
"""Between names that stand in one cell."""


@dataclass(frozen=True, slots=True)
class ExportColumn:
    """A column: its name, its unit ('' for text, numbers without one and times) and what it holds."""

    name: str
    unit: str
    meaning: str


@dataclass(frozen=True, slots=True)
class ExportTable:
    """A table, and how it is filled."""

    name: str
    about: str
    columns: tuple[ExportColumn, ...]
    rows: Callable[[VisitLog], pd.DataFrame]
    """Gives the columns in that order."""


def rfc3339(utc_ns: np.ndarray | int) -> np.ndarray:
    """RFC 3339 text in UTC, to the nanosecond, of UTC nanoseconds; shape as given."""
    return np.char.add(np.datetime_as_string(np.asarray(utc_ns, "datetime64[ns]"), unit="ns"), "Z")


def _texts(utc_ns: Sequence[int | None]) -> list[str]:
    """Of times that may be missing."""
    texts = rfc3339(np.array([ns or 0 for ns in utc_ns], np.int64)).tolist()
    return ["" if ns is None else text for ns, text in zip(utc_ns, texts, strict=True)]


def _locals(log: VisitLog, utc_ns: Sequence[int | None]) -> list[str]:
    """Where it was recorded; of what was stated before the first run, where that run was."""
    runs = log.runs.all()
    return ["" if ns is None or not runs else _local(runs, ns) for ns in utc_ns]


def _local(runs: Sequence[Run], utc_ns: int) -> str:
    run = next((run for run in reversed(runs) if run.started_utc_ns <= utc_ns), runs[0])
    return datetime.fromtimestamp(utc_ns // NS_PER_S, UTC).astimezone(zone_of(run)).isoformat()


def _setup(log: VisitLog) -> pd.DataFrame:
    setup, meter = log.setup.current(), log.setup.current().meter
    rows: list[tuple[str, object, str]] = [
        ("household", setup.household, ""),
        ("reference", setup.reference, ""),
        ("soil", setup.soil, ""),
        ("moisture", setup.moisture, ""),
        ("rod to main panel", setup.panel_distance_m, "m"),
        ("reference wire", setup.wire_length_m, "m"),
        ("supply", setup.supply, ""),
        ("mains frequency", setup.mains_hz, "Hz"),
        ("laptop on battery", setup.on_battery, ""),
        ("link isolated", setup.link_isolated, ""),
        ("target", setup.target_volts, "V"),
        ("source of the target", setup.target_source, ""),
        ("meter", meter.name, ""),
        ("input resistance", meter.input_resistance_ohm, "ohm"),
        ("input capacitance", meter.input_capacitance_farad, "F"),
        ("true rms", meter.true_rms, ""),
        ("calibrated on", meter.calibrated_on, ""),
        ("assumed of the meter", JOINED_BY.join(meter.assumed), ""),
    ]
    for accuracy in meter.accuracy:
        limit = f"{accuracy.percent_of_reading:g} % of reading + {accuracy.counts:g} counts"
        says = f"{limit} of {accuracy.resolution_volts:g} V"
        rows.append((f"accuracy up to {accuracy.up_to_volts:g} V", says, ""))
    return _frame(
        item=[name for name, _, _ in rows],
        value=["" if value is None else _stated(value) for _, value, _ in rows],
        unit=[unit for _, _, unit in rows],
    )


def _stated(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return repr(value) if isinstance(value, float) else str(value)


def _runs(log: VisitLog) -> pd.DataFrame:
    runs = log.runs.all()
    return _frame(
        run_id=[r.id for r in runs],
        started_utc=_texts([r.started_utc_ns for r in runs]),
        started_local=_locals(log, [r.started_utc_ns for r in runs]),
        ended_utc=_texts([r.ended_utc_ns for r in runs]),
        zone=[r.zone for r in runs],
        utc_offset_s=[r.utc_offset_s for r in runs],
        port=[r.port for r in runs],
        software=[r.software for r in runs],
        end_reason=[r.end_reason for r in runs],
    )


def _samples(log: VisitLog) -> pd.DataFrame:
    samples = log.samples.after()
    return _frame(
        line_id=samples.line_id,
        run_id=samples.run_id,
        utc=rfc3339(samples.utc_ns),
        steady_utc=rfc3339(samples.steady_utc_ns),
        volts=samples.volts,
    )


def _events(log: VisitLog) -> pd.DataFrame:
    events = log.events.after()
    return _frame(
        event_id=[e.id for e in events],
        run_id=[e.run_id for e in events],
        kind=[e.event.kind for e in events],
        start_steady_utc=_texts([e.start_utc_ns for e in events]),
        end_steady_utc=_texts([e.end_utc_ns for e in events]),
        start_local=_locals(log, [e.start_utc_ns for e in events]),
        **{
            name: [_field(e.event, name) for e in events]
            for name in ("volts", "u_volts", "peak_volts", "before_volts", "after_volts")
        },
    )


def _field(event: Event, name: str) -> float | None:
    value: float | None = getattr(event, name, None)
    return value


def _readings(log: VisitLog) -> pd.DataFrame:
    import pandas as pd

    readings = log.readings.all()
    rooms = {spot.id: spot.room for spot in log.spots.all()}
    budgets = [budget_of(r) for r in readings]
    standing = SpanReview()
    standing.append(log.events.after())
    return _frame(
        reading_id=[r.id for r in readings],
        utc=_texts([r.utc_ns for r in readings]),
        local=_locals(log, [r.utc_ns for r in readings]),
        room=[rooms.get(r.spot_id, "") for r in readings],
        spot=[r.spot_name for r in readings],
        condition=[r.condition for r in readings],
        volts=[r.volts for r in readings],
        u_volts=[r.u_volts for r in readings],
        u_combined_volts=[b.u_volts if b else None for b in budgets],
        expanded_volts=[b.expanded_volts if b else None for b in budgets],
        samples=[r.samples for r in readings],
        taken=[r.taken for r in readings],
        reference=[(r.context.setup.reference or "") if r.context else "" for r in readings],
        meter=[r.context.setup.meter.name if r.context else "" for r in readings],
        remarks=[JOINED_BY.join(r.context.remarks()) if r.context else "" for r in readings],
        doubt=[standing.of_reading(r) for r in readings],
        run_id=pd.array([r.run_id for r in readings], "Int64"),
        start_steady_utc=_texts([r.start_utc_ns for r in readings]),
        end_steady_utc=_texts([r.end_utc_ns for r in readings]),
        first_line_id=pd.array([r.first_line_id for r in readings], "Int64"),
        last_line_id=pd.array([r.last_line_id for r in readings], "Int64"),
        void_reason=[r.void_reason for r in readings],
        void_utc=_texts([r.void_utc_ns for r in readings]),
    )


def _budget(log: VisitLog) -> pd.DataFrame:
    lines = [(r.id, c) for r in log.readings.all() if (b := budget_of(r)) is not None for c in b.components]
    return _frame(
        reading_id=[reading_id for reading_id, _ in lines],
        component=[c.name for _, c in lines],
        type=[c.kind for _, c in lines],
        basis=[c.basis for _, c in lines],
        u_volts=[c.u_volts for _, c in lines],
    )


def _spots(log: VisitLog) -> pd.DataFrame:
    readings, spots, target_volts = log.readings.all(), log.spots.all(), log.setup.current().target_volts
    results = [SpotResult.of(readings, spot.id) for spot in spots]
    on = [budget_of(r.on) for r in results]
    off = [budget_of(r.off) for r in results]
    changes = [r.difference() for r in results]
    return _frame(
        spot_id=[s.id for s in spots],
        room=[s.room for s in spots],
        spot=[s.name for s in spots],
        reminder=[s.reminder for s in spots],
        on_reading_id=_ids([r.on for r in results]),
        off_reading_id=_ids([r.off for r in results]),
        on_volts=[r.on.volts if r.on else None for r in results],
        on_expanded_volts=[b.expanded_volts if b else None for b in on],
        off_volts=[r.off.volts if r.off else None for r in results],
        off_expanded_volts=[b.expanded_volts if b else None for b in off],
        difference_volts=[b.volts if b else None for b in changes],
        difference_expanded_volts=[b.expanded_volts if b else None for b in changes],
        form=[r.pair() for r in results],
        against_target=[r.verdict(target_volts) for r in results],
        meaning=[r.meaning(target_volts) for r in results],
    )


def _ids(readings: Sequence[Reading | None]) -> pd.api.extensions.ExtensionArray:
    import pandas as pd

    return pd.array([r.id if r else None for r in readings], "Int64")


def _checks(log: VisitLog) -> pd.DataFrame:
    rows = [(check, step) for check in log.checks.all() for step in (check.steps or (None,))]
    started = {run.id: run.started_utc_ns for run in log.runs.all()}
    return _frame(
        check_id=[c.id for c, _ in rows],
        utc=_texts([c.utc_ns for c, _ in rows]),
        local=_locals(log, [c.utc_ns for c, _ in rows]),
        kind=[str(c.kind) for c, _ in rows],
        verdict=[str(c.outcome.verdict) for c, _ in rows],
        sentence=[c.outcome.sentence for c, _ in rows],
        step=[s.name if s else "" for _, s in rows],
        volts=[s.span.volts if s else None for _, s in rows],
        u_volts=[s.span.u_volts if s else None for _, s in rows],
        start_steady_utc=_texts([started[s.span.run_id] + s.span.start_t_ns if s else None for _, s in rows]),
        end_steady_utc=_texts([started[s.span.run_id] + s.span.end_t_ns if s else None for _, s in rows]),
    )


def _sources(log: VisitLog) -> pd.DataFrame:
    import pandas as pd

    every = log.circuits.with_removed()
    listed = {s.id for s in log.circuits.all()}
    sources = [*log.circuits.all(), *(s for s in every.values() if s.id not in listed)]
    return _frame(
        source_id=[s.id for s in sources],
        kind=[s.kind for s in sources],
        name=[s.name for s in sources],
        circuit_id=pd.array([s.circuit_id for s in sources], "Int64"),
        circuit=[every[s.circuit_id].name if s.circuit_id in every else "" for s in sources],
        two_pole=["yes" if s.two_pole else "no" for s in sources],
        stays_because=[s.stays for s in sources],
        listed=["yes" if s.id in listed else "no" for s in sources],
    )


def _steps(log: VisitLog) -> pd.DataFrame:
    found = [FoundStep(e.run_id, e.event, True) for e in log.events.after() if isinstance(e.event, Step)]
    known = known_steps(found, log.step_labels.all())
    started = {run.id: run.started_utc_ns for run in log.runs.all()}
    spots = {spot.id: spot.name for spot in log.spots.all()}
    every = log.circuits.with_removed()
    at = [started[k.found.run_id] + k.found.t_ns for k in known]
    names = [k.name for k in known]
    return _frame(
        run_id=[k.found.run_id for k in known],
        steady_utc=_texts(at),
        local=_locals(log, at),
        spot=[spots.get(n.spot_id or 0, "") if n else "" for n in names],
        source=[every[n.source_id].name if n and n.source_id in every else "" for n in names],
        meaning=[n.meaning if n else "" for n in names],
        before_volts=[k.found.step.before_volts for k in known],
        after_volts=[k.found.step.after_volts for k in known],
        change_volts=[k.change_volts for k in known],
        u_volts=[k.found.step.u_volts for k in known],
        counts_by=["user" if k.found.by_word else "detector" for k in known],
    )


def _sweep(log: VisitLog) -> pd.DataFrame:
    sources = log.circuits.all()
    names = {s.id: s.name for s in log.circuits.with_removed().values()}
    rows = [(r, live) for r in log.readings.all() if (live := live_of(r, sources)) is not None]
    return _frame(
        reading_id=[r.id for r, _ in rows],
        utc=_texts([r.utc_ns for r, _ in rows]),
        local=_locals(log, [r.utc_ns for r, _ in rows]),
        spot=[r.spot_name for r, _ in rows],
        condition=[r.condition for r, _ in rows],
        live=[JOINED_BY.join(names[i] for i in sorted(live)) for _, live in rows],
        not_live=[JOINED_BY.join(s.name for s in sources if s.id not in live) for _, live in rows],
        stated=["one by one" if r.live is not None else "as a whole" for r, _ in rows],
        volts=[r.volts for r, _ in rows],
        u_volts=[r.u_volts for r, _ in rows],
        void_reason=[r.void_reason for r, _ in rows],
    )


def _refused_lines(log: VisitLog) -> pd.DataFrame:
    lines = log.samples.refused_lines()[::-1]
    return _frame(
        line_id=[line.id for line in lines],
        run_id=[line.run_id for line in lines],
        utc=_texts([line.utc_ns for line in lines]),
        status=[line.status for line in lines],
        raw=[repr(line.raw)[2:-1] for line in lines],
    )


def _marks(log: VisitLog) -> pd.DataFrame:
    marks = log.marks.all()
    return _frame(
        mark_id=[m.id for m in marks],
        utc=_texts([m.utc_ns for m in marks]),
        local=_locals(log, [m.utc_ns for m in marks]),
        text=[m.text for m in marks],
        void_reason=[m.void_reason for m in marks],
    )


def _notices(log: VisitLog) -> pd.DataFrame:
    notices = log.notices.after()
    return _frame(
        notice_id=[n.id for n in notices],
        run_id=[n.run_id for n in notices],
        utc=_texts([n.utc_ns for n in notices]),
        local=_locals(log, [n.utc_ns for n in notices]),
        kind=[n.kind for n in notices],
        message=[n.message for n in notices],
    )


def _frame(**columns: object) -> pd.DataFrame:
    import pandas as pd

    return pd.DataFrame(columns)


_UTC = ExportColumn("utc", "", "when, by the computer's clock")
_LOCAL = ExportColumn("local", "", "the same moment where it was recorded")
_RUN = ExportColumn("run_id", "", "stretch of recording, see runs")
_READING = ExportColumn("reading_id", "", "see readings")
_SPOT = ExportColumn("spot", "", "name of the spot as it was then")
_CONDITION = ExportColumn("condition", "", "what was live, as stated")
_VOID = ExportColumn("void_reason", "", "why it was declared mistaken; empty while it stands")
_START = ExportColumn("start_steady_utc", "", "beginning of the stretch it rests on, on the steady time line")
_END = ExportColumn("end_steady_utc", "", "end of that stretch")
_BEFORE = ExportColumn("before_volts", "V", "level before the step")
_AFTER = ExportColumn("after_volts", "V", "level after the step")

TABLES: tuple[ExportTable, ...] = (
    ExportTable(
        "setup",
        "What was stated of home, reference and meter, as it was last stated.",
        (
            ExportColumn("item", "", "what"),
            ExportColumn("value", "", "as stated; empty where nobody has"),
            ExportColumn("unit", "", "of the value"),
        ),
        _setup,
    ),
    ExportTable(
        "spots",
        "The spots in the order of the route, with the newest standing readings with everything on and off.",
        (
            ExportColumn("spot_id", "", "number of the spot in this visit"),
            ExportColumn("room", "", "where it is"),
            _SPOT,
            ExportColumn("reminder", "", "what has to be on when it is read"),
            ExportColumn("on_reading_id", "", "the reading with everything on, see readings"),
            ExportColumn("off_reading_id", "", "the reading with everything off"),
            ExportColumn("on_volts", "V", "value with everything on"),
            ExportColumn("on_expanded_volts", "V", "its expanded uncertainty, k = 2"),
            ExportColumn("off_volts", "V", "value with everything off"),
            ExportColumn("off_expanded_volts", "V", "its expanded uncertainty, k = 2"),
            ExportColumn("difference_volts", "V", "on minus off; empty where they are not comparable"),
            ExportColumn("difference_expanded_volts", "V", "its expanded uncertainty, k = 2"),
            ExportColumn("form", "V", "as it stands on the form: on (off), rounded"),
            ExportColumn("against_target", "", "the value with everything on against the target"),
            ExportColumn("meaning", "", "what the readings mean, in words"),
        ),
        _spots,
    ),
    ExportTable(
        "readings",
        "Every value taken at a spot, voided ones too.",
        (
            _READING,
            _UTC,
            _LOCAL,
            ExportColumn("room", "", "where the spot is"),
            _SPOT,
            _CONDITION,
            ExportColumn("volts", "V", "settled level"),
            ExportColumn("u_volts", "V", "standard uncertainty from scatter and resolution"),
            ExportColumn(
                "u_combined_volts", "V", "standard uncertainty with meter and reference, see budget"
            ),
            ExportColumn("expanded_volts", "V", "expanded uncertainty, k = 2"),
            ExportColumn("samples", "", "number of samples it rests on"),
            ExportColumn("taken", "", "settled, override (not settled), by hand"),
            ExportColumn("reference", "", "what the meter called zero"),
            ExportColumn("meter", "", "name of the meter"),
            ExportColumn("remarks", "", "what spoils the reference, checks that are not passed"),
            ExportColumn("doubt", "", "what the detector found later that speaks against it"),
            _RUN,
            _START,
            _END,
            ExportColumn("first_line_id", "", "first line of that stretch, see samples"),
            ExportColumn("last_line_id", "", "last line of that stretch"),
            _VOID,
            ExportColumn("void_utc", "", "when it was declared mistaken"),
        ),
        _readings,
    ),
    ExportTable(
        "budget",
        "The uncertainty budget of every reading (JCGM 100:2008), one row a component.",
        (
            _READING,
            ExportColumn("component", "", "where it comes from"),
            ExportColumn("type", "", "A from statistics, B otherwise"),
            ExportColumn("basis", "", "what it rests on"),
            ExportColumn("u_volts", "V", "standard uncertainty; sensitivity 1"),
        ),
        _budget,
    ),
    ExportTable(
        "checks",
        "Zero, reference and function checks, one row for each value that a check took.",
        (
            ExportColumn("check_id", "", "number of the check"),
            _UTC,
            _LOCAL,
            ExportColumn("kind", "", "zero check, reference check, function check"),
            ExportColumn("verdict", "", "passed, failed, not decided, skipped"),
            ExportColumn("sentence", "", "why"),
            ExportColumn("step", "", "which value of the check; empty where it was skipped"),
            ExportColumn("volts", "V", "settled level of that step"),
            ExportColumn("u_volts", "V", "its standard uncertainty from scatter and resolution"),
            _START,
            _END,
        ),
        _checks,
    ),
    ExportTable(
        "sources",
        "Circuits and cords of the home.",
        (
            ExportColumn("source_id", "", "number in this visit"),
            ExportColumn("kind", "", "circuit, cord"),
            ExportColumn("name", "", "as on the panel, or as the household calls it"),
            ExportColumn("circuit_id", "", "source_id of the circuit that a cord is plugged into"),
            ExportColumn("circuit", "", "its name"),
            ExportColumn("two_pole", "", "yes: the breaker switches two legs together"),
            ExportColumn("stays_because", "", "why it must stay on; empty: it may be switched off"),
            ExportColumn("listed", "", "no: taken off the list since"),
        ),
        _sources,
    ),
    ExportTable(
        "sweep",
        "Readings of which is known what was live: the breaker sweep, and everything on or off.",
        (
            _READING,
            _UTC,
            _LOCAL,
            _SPOT,
            _CONDITION,
            ExportColumn("live", "", "names of the circuits and cords that were live"),
            ExportColumn("not_live", "", "names of those that were not"),
            ExportColumn("stated", "", "one by one, or as a whole (everything on, everything off)"),
            ExportColumn("volts", "V", "settled level"),
            ExportColumn("u_volts", "V", "standard uncertainty from scatter and resolution"),
            _VOID,
        ),
        _sweep,
    ),
    ExportTable(
        "steps",
        "Lasting changes of level, with what the user said that they were.",
        (
            _RUN,
            ExportColumn("steady_utc", "", "when, on the steady time line"),
            _LOCAL,
            ExportColumn("spot", "", "where the body was"),
            ExportColumn("source", "", "circuit or cord that was switched; empty while nobody has said"),
            ExportColumn("meaning", "", "on, off, ignored; empty while nobody has said"),
            _BEFORE,
            _AFTER,
            ExportColumn("change_volts", "V", "after minus before"),
            ExportColumn("u_volts", "V", "standard uncertainty of the change"),
            ExportColumn("counts_by", "", "user: the detector has taken it back, the user's word stays"),
        ),
        _steps,
    ),
    ExportTable(
        "events",
        "What the detector found in the trace; a quantity that a kind of event has not is empty.",
        (
            ExportColumn("event_id", "", "number of the event"),
            _RUN,
            ExportColumn("kind", "", "settled, motion, step, gap, overload"),
            ExportColumn("start_steady_utc", "", "beginning, on the steady time line; of a step its moment"),
            ExportColumn("end_steady_utc", "", "end; of a step its moment"),
            ExportColumn("start_local", "", "beginning where it was recorded"),
            ExportColumn("volts", "V", "settled: level"),
            ExportColumn("u_volts", "V", "settled: standard uncertainty of the level; step: of the change"),
            ExportColumn("peak_volts", "V", "motion: highest value"),
            _BEFORE,
            _AFTER,
        ),
        _events,
    ),
    ExportTable(
        "marks",
        "Free text put at a moment, voided ones too.",
        (
            ExportColumn("mark_id", "", "number of the mark"),
            _UTC,
            _LOCAL,
            ExportColumn("text", "", "as typed"),
            _VOID,
        ),
        _marks,
    ),
    ExportTable(
        "notices",
        "What happened to the recording itself: port lost, clock set, disk full.",
        (
            ExportColumn("notice_id", "", "number of the notice"),
            _RUN,
            _UTC,
            _LOCAL,
            ExportColumn("kind", "", "what kind"),
            ExportColumn("message", "", "in words"),
        ),
        _notices,
    ),
    ExportTable(
        "runs",
        "Stretches of recording: a recorder listening to a port.",
        (
            _RUN,
            ExportColumn("started_utc", "", "beginning, by the computer's clock"),
            ExportColumn("started_local", "", "the same where it was recorded"),
            ExportColumn("ended_utc", "", "end; empty while it goes on"),
            ExportColumn("zone", "", "IANA name of the local time zone"),
            ExportColumn("utc_offset_s", "s", "local time minus UTC at the beginning"),
            ExportColumn("port", "", "the port's URL"),
            ExportColumn("software", "", "name and version"),
            ExportColumn("end_reason", "", "why it ended"),
        ),
        _runs,
    ),
    ExportTable(
        "refused_lines",
        "Lines of the meter that were no sample, kept as they came.",
        (
            ExportColumn("line_id", "", "number of the line"),
            _RUN,
            _UTC,
            ExportColumn("status", "", "overload, not_ac_volts, unreadable, held"),
            ExportColumn("raw", "", "as sent, bytes beyond ASCII as \\xNN"),
        ),
        _refused_lines,
    ),
    ExportTable(
        "samples",
        "Every value that the meter sent.",
        (
            ExportColumn("line_id", "", "number of the meter's line"),
            _RUN,
            _UTC,
            ExportColumn(
                "steady_utc", "", "when, on the steady time line, which never goes back within a run"
            ),
            ExportColumn("volts", "V", "AC rms volts"),
        ),
        _samples,
    ),
)
"""Everything that is exported, the samples last because they are long."""

PARQUET = ("samples", "events")
"""Tables that are long enough to be wanted in a columnar file; their times are UTC nanoseconds there."""
