"""Steps with their labels, and every event of the detector."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from logger.clock import NS_PER_S
from logger.report.export.table import (
    ExportColumn,
    ExportTable,
    after_volts,
    before_volts,
    local,
    local_texts,
    run_id,
    simulated,
    simulated_by_run,
    utc_texts,
)
from logger.sweep.labelled_steps import KnownStep, detected_steps, every_known_step
from logger.visit.records.recording_records import LoggedEvent
from logger.visit.records.simulated_run import SIMULATED
from logger.visit.storage.visit_log import VisitLog


@dataclass(frozen=True, slots=True)
class StepLine:
    """A step with what its label says."""

    known: KnownStep
    utc_ns: int
    """On the steady time line."""
    spot: str
    source: str
    simulated: bool


def _steps(log: VisitLog) -> list[StepLine]:
    found = detected_steps(log.events.after())
    started_ns = {run.id: run.started_utc_ns for run in log.runs.all()}
    spots = {spot.id: spot.name for spot in log.spots.all()}
    simulated_ids = log.runs.simulated_ids()
    sources = {source.id: source.name for source in log.circuits.with_removed().values()}
    return [
        StepLine(
            known,
            started_ns[known.found.run_id] + known.found.t_ns,
            spots.get(known.label.spot_id or 0, "") if known.label else "",
            sources.get(known.label.source_id or 0, "") if known.label else "",
            known.simulated,
        )
        for known in every_known_step(found, log.step_labels.all(), simulated_ids, log.checks.all())
    ]


def _unseen_ns(line: StepLine, edge: int) -> int | None:
    """Return beginning (0) or end (1) of the gap that a step lies in, on the steady time line; None for one seen."""
    found = line.known.found
    if found.unseen_s is None:
        return None
    return line.utc_ns + round((found.unseen_s[edge] - found.step.time_s) * NS_PER_S)


STEPS: ExportTable[StepLine] = ExportTable(
    "steps",
    "Lasting changes of level, with what the user said that they were.",
    _steps,
    (
        run_id(lambda line: line.known.found.run_id),
        ExportColumn("steady_utc", "", "when, on the steady time line", lambda line: line.utc_ns, utc_texts),
        local(lambda line: line.utc_ns),
        ExportColumn(
            "earliest_steady_utc", "",
            "a step within a gap or overload, whose moment nobody saw: the beginning of that; else empty",
            lambda line: _unseen_ns(line, 0), utc_texts,
        ),
        ExportColumn(
            "latest_steady_utc", "", "likewise the end", lambda line: _unseen_ns(line, 1), utc_texts
        ),
        ExportColumn("spot", "", "where the body was", lambda line: line.spot),
        ExportColumn(
            "source", "", "circuit or cord that was switched; empty while nobody has said", lambda line: line.source
        ),
        ExportColumn(
            "meaning", "", "on, off, ignored; empty while nobody has said",
            lambda line: line.known.label.meaning if line.known.label else "",
        ),
        before_volts(lambda line: line.known.found.step.before_volts),
        after_volts(lambda line: line.known.found.step.after_volts),
        ExportColumn("change_volts", "V", "after minus before", lambda line: line.known.change_volts),
        ExportColumn(
            "u_volts", "V", "standard uncertainty of the change", lambda line: line.known.found.step.u_volts
        ),
        ExportColumn(
            "counts_by", "", "user: the detector has taken it back, the user's word stays",
            lambda line: "user" if line.known.found.kept_by_label else "detector",
        ),
        ExportColumn(
            "belongs_to", "", "home; check: a cord held near, a wire or rod changed, a probe on a wire, for a check",
            lambda line: "check" if line.known.in_check else "home",
        ),
        simulated(lambda line: line.simulated),
    ),
)  # fmt: skip


def _quantity(name: str) -> Callable[[LoggedEvent], float | None]:
    """Return a getter of a quantity that only some kinds of event have."""

    def get(logged: LoggedEvent) -> float | None:
        value: float | None = getattr(logged.event, name, None)
        return value

    return get


EVENTS: ExportTable[LoggedEvent] = ExportTable(
    "events",
    "What the detector found in the trace; a quantity that a kind of event has not is empty.",
    lambda log: log.events.with_open(),
    (
        ExportColumn("event_id", "", "number of the event", lambda logged: logged.id),
        run_id(lambda logged: logged.run_id),
        ExportColumn("kind", "", "settled, motion, step, gap, overload", lambda logged: logged.event.kind),
        ExportColumn(
            "start_steady_utc", "",
            "beginning, on the steady time line; of a step its moment, within a gap the middle of that: see steps",
            lambda logged: logged.start_utc_ns, utc_texts,
        ),
        ExportColumn(
            "end_steady_utc", "", "end; of a step its moment", lambda logged: logged.end_utc_ns, utc_texts
        ),
        ExportColumn(
            "start_local", "", "beginning where it was recorded", lambda logged: logged.start_utc_ns, local_texts
        ),
        ExportColumn("volts", "V", "settled: level", _quantity("volts")),
        ExportColumn(
            "u_volts", "V", "settled: standard uncertainty of the level; step: of the change", _quantity("u_volts")
        ),
        ExportColumn("peak_volts", "V", "motion: highest value", _quantity("peak_volts")),
        before_volts(_quantity("before_volts")),
        after_volts(_quantity("after_volts")),
        ExportColumn(
            SIMULATED, "", "yes: no meter was there, and nothing was measured",
            lambda logged: logged.run_id, simulated_by_run,
        ),
    ),
)  # fmt: skip
