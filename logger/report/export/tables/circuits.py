"""Circuits and cords, and the readings of which is known what was live."""

from __future__ import annotations

from dataclasses import dataclass

from logger.report.export.table import (
    JOINED_BY,
    ExportColumn,
    ExportTable,
    condition,
    integers,
    local,
    reading_id,
    simulated,
    spot,
    utc,
    void_reason,
)
from logger.sweep.sweep_progress import not_known_at_reading, supposed_live_at_reading
from logger.sweep.switch_off_plan import switch_off_plan
from logger.visit.records.home_details import SourceDetails
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading
from logger.visit.results.contradicting_repeats import contradicting_repeats
from logger.visit.storage.visit_log import VisitLog


@dataclass(frozen=True, slots=True)
class SourceLine:
    """A circuit or cord."""

    source: Source
    circuit: str
    """Name of the circuit that a cord is plugged into."""
    listed: bool
    details: SourceDetails


def _sources(log: VisitLog) -> list[SourceLine]:
    listed, every = log.circuits.all(), log.circuits.with_removed()
    details = log.source_details.all()
    ids = {source.id for source in listed}
    names = {source.id: source.name for source in every.values()}
    return [
        SourceLine(
            source,
            names.get(source.circuit_id or 0, ""),
            source.id in ids,
            details.get(source.id, SourceDetails()),
        )
        for source in [*listed, *(source for source in every.values() if source.id not in ids)]
    ]


SOURCES: ExportTable[SourceLine] = ExportTable(
    "sources",
    "Circuits and cords of the home.",
    _sources,
    (
        ExportColumn("source_id", "", "number in this visit", lambda line: line.source.id),
        ExportColumn("kind", "", "circuit, cord", lambda line: line.source.kind),
        ExportColumn("name", "", "as on the panel, or as the household calls it", lambda line: line.source.name),
        ExportColumn(
            "circuit_id", "", "source_id of the circuit that a cord is plugged into",
            lambda line: line.source.circuit_id, integers,
        ),
        ExportColumn("circuit", "", "its name", lambda line: line.circuit),
        ExportColumn(
            "two_pole", "", "yes: the breaker switches two legs together",
            lambda line: "yes" if line.source.two_pole else "no",
        ),
        ExportColumn(
            "stays_because", "", "why it must stay on; empty: it may be switched off", lambda line: line.source.stays
        ),
        ExportColumn(
            "listed", "", "no: taken off the list since", lambda line: "yes" if line.listed else "no"
        ),
        ExportColumn(
            "panel", "", "as marked; this and what follows: empty where not recorded",
            lambda line: line.details.panel,
        ),
        ExportColumn("panel_number", "", "as printed at the panel", lambda line: line.details.number),
        ExportColumn("rating", "", "of the breaker, as marked", lambda line: line.details.rating),
        ExportColumn("leg", "", "leg or phase as marked at the panel", lambda line: line.details.leg),
        ExportColumn(
            "residual_current_device", "", "that it is behind, and with which others",
            lambda line: line.details.residual_current_device,
        ),
        ExportColumn("feeds", "", "what it feeds", lambda line: line.details.feeds),
        ExportColumn("outlet", "", "of a cord: which outlet", lambda line: line.details.outlet),
        ExportColumn("poles", "", "what the breaker switches", lambda line: line.details.poles),
        ExportColumn("plug", "", "of a cord: its plug, and where its switch is", lambda line: line.details.plug),
        ExportColumn(
            "shown_off", "", "how it was shown that the breaker takes the voltage off",
            lambda line: line.details.shown_off,
        ),
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class SweepLine:
    """A reading of which is known what was live."""

    reading: Reading
    live: str
    not_live: str
    listed_later: str
    """Names of the sources that were listed after it: what they were follows from its condition alone, or nobody knows
    it."""
    contradicts: bool
    """Whether it contradicts other readings of the sweep at its spot, or its own repeats do."""


def _sweep(log: VisitLog) -> list[SweepLine]:
    sources = log.circuits.all()
    every = log.circuits.with_removed()
    names = {source.id: source.name for source in every.values()}
    readings = log.present_readings()
    known = [(r, live) for r in readings if (live := supposed_live_at_reading(r, sources)) is not None]
    plan = switch_off_plan(
        readings, [(spot.id, spot.name) for spot in log.spots.all()], sources, log.setup.current()
    )
    suspects = {r.id for spot in plan.spots for r in spot.suspects} if plan else set()
    suspects |= {r.id for group in contradicting_repeats(readings) for r in group}
    return [
        SweepLine(
            reading,
            JOINED_BY.join(names[i] for i in sorted(live)),
            JOINED_BY.join(
                source.name
                for source in sources
                if source.id not in live and source not in not_known_at_reading(reading, sources)
            ),
            JOINED_BY.join(source.name for source in sources if not reading.was_listed(source.id)),
            reading.id in suspects,
        )
        for reading, live in known
    ]


SWEEP: ExportTable[SweepLine] = ExportTable(
    "sweep",
    "Readings of which is known what was live: the breaker sweep, and everything on or off.",
    _sweep,
    (
        reading_id(lambda line: line.reading.id),
        utc(lambda line: line.reading.utc_ns),
        local(lambda line: line.reading.utc_ns),
        spot(lambda line: line.reading.spot_name),
        condition(lambda line: line.reading.condition),
        ExportColumn("live", "", "names of the circuits and cords that were live", lambda line: line.live),
        ExportColumn("not_live", "", "names of those that were not", lambda line: line.not_live),
        ExportColumn(
            "stated", "", "one by one, or as a whole (everything on, everything off)",
            lambda line: "one by one" if line.reading.live is not None else "as a whole",
        ),
        ExportColumn(
            "listed_later", "",
            "names of those that nobody had listed when it was taken; whether one that is neither in `live` nor in "
            "`not_live` was on is not known, and the reading does not count in the sweep",
            lambda line: line.listed_later,
        ),
        ExportColumn("volts", "V", "settled level", lambda line: line.reading.volts),
        ExportColumn(
            "u_volts", "V", "standard uncertainty from scatter and resolution", lambda line: line.reading.u_volts
        ),
        ExportColumn(
            "contradicts", "", "yes: it contradicts other readings of the sweep at its spot, or its repeats do",
            lambda line: "yes" if line.contradicts else "no",
        ),
        void_reason(lambda line: line.reading.void_reason),
        simulated(lambda line: line.reading.simulated),
    ),
)  # fmt: skip
