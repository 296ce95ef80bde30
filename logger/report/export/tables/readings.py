"""Every reading, and its uncertainty budget."""

from __future__ import annotations

from dataclasses import dataclass

from logger.metrology.uncertainty import Budget, Component
from logger.plain_text import without_folders
from logger.report.export.table import (
    JOINED_BY,
    ExportColumn,
    ExportTable,
    condition,
    end_steady_utc,
    integers,
    local,
    reading_id,
    run_id,
    simulated,
    spot,
    start_steady_utc,
    utc,
    utc_texts,
    void_reason,
)
from logger.report.reading_doubts import doubts_in
from logger.sweep.words_of_the_list import remark_by_words
from logger.visit.records.reading_corrections import CONDITION, REFERENCE, SPOT, VALID, VOID
from logger.visit.records.reading_records import Reading
from logger.visit.results.correction_history import footnote
from logger.visit.results.on_off_result import budget_of
from logger.visit.storage.visit_log import VisitLog


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """A reading with what belongs to it."""

    reading: Reading
    room: str
    budget: Budget | None
    doubt: str
    by_words: str


def _readings(log: VisitLog) -> list[ReadingLine]:
    rooms = {spot.id: spot.room for spot in log.spots.all()}
    doubts, sources = doubts_in(log).readings, log.circuits.all()
    return [
        ReadingLine(
            r, rooms.get(r.spot_id, ""), budget_of(r), doubts.get(r.id, ""), remark_by_words(r, sources)
        )
        for r in log.present_readings()
    ]


def _reason(reading: Reading) -> str:
    """The reasons of the corrections of spot, condition and reference that hold, and of voids that were withdrawn."""
    kinds = {SPOT, CONDITION, REFERENCE} if footnote(reading) else set()
    if any(c.kind == VALID for c in reading.corrections):
        kinds |= {VOID, VALID}
    return JOINED_BY.join(dict.fromkeys(c.reason for c in reading.corrections if c.kind in kinds))


def _yes_no(answer: bool | None) -> str:
    return "" if answer is None else "yes" if answer else "no"


def _stated_later(reading: Reading) -> list[str]:
    """What of the set-up was stated only after a reading, named as in the table of the set-up."""
    names = {
        "reference": "reference",
        "on_battery": "laptop on battery",
        "link_isolated": "link isolated",
    }
    later = reading.context.answered_later if reading.context else frozenset()
    return [words for name, words in names.items() if name in later]


READINGS: ExportTable[ReadingLine] = ExportTable(
    "readings",
    "Every value taken at a spot, voided ones too.",
    _readings,
    (
        reading_id(lambda line: line.reading.id),
        utc(lambda line: line.reading.utc_ns),
        local(lambda line: line.reading.utc_ns),
        ExportColumn("room", "", "where the spot is", lambda line: line.room),
        spot(lambda line: line.reading.spot_name),
        condition(lambda line: line.reading.condition),
        ExportColumn("volts", "V", "settled level", lambda line: line.reading.volts),
        ExportColumn(
            "u_volts", "V", "standard uncertainty from scatter and resolution", lambda line: line.reading.u_volts
        ),
        ExportColumn(
            "u_combined_volts", "V", "standard uncertainty with meter and reference, see budget",
            lambda line: line.budget.u_volts if line.budget else None,
        ),
        ExportColumn(
            "expanded_volts", "V", "expanded uncertainty, k = 2",
            lambda line: line.budget.expanded_volts if line.budget else None,
        ),
        ExportColumn("samples", "", "number of samples it rests on", lambda line: line.reading.samples),
        ExportColumn("taken", "", "settled, override (not settled), by hand", lambda line: line.reading.taken),
        ExportColumn(
            "reference", "", "what the meter called zero",
            lambda line: (line.reading.context.setup.reference or "") if line.reading.context else "",
        ),
        ExportColumn(
            "posture", "", "how the person was there when it was taken, as in spot_details",
            lambda line: line.reading.details.posture,
        ),
        ExportColumn(
            "height_m", "m", "of the body's measured place above the floor then",
            lambda line: line.reading.details.height_m,
        ),
        ExportColumn("person", "", "who was measured", lambda line: line.reading.details.person),
        ExportColumn(
            "laptop_on_battery", "", "whether the laptop was on battery; empty where nobody has stated it",
            lambda line: _yes_no(line.reading.context.setup.on_battery) if line.reading.context else "",
        ),
        ExportColumn(
            "link_isolated", "", "whether the link to the meter was isolated; empty where nobody has stated it",
            lambda line: _yes_no(line.reading.context.setup.link_isolated) if line.reading.context else "",
        ),
        ExportColumn(
            "stated_later", "", "what was stated only after the reading: reference, laptop on battery, link isolated; "
            "the first answer stands for it, and its uncertainty counts the worse of both",
            lambda line: JOINED_BY.join(_stated_later(line.reading)),
        ),
        ExportColumn(
            "meter", "", "name of the meter",
            lambda line: line.reading.context.setup.meter.name if line.reading.context else "",
        ),
        ExportColumn(
            "port", "", "URL of the port that the meter was on; empty where that was not kept",
            lambda line: (
                without_folders(line.reading.context.connection.port)
                if line.reading.context and line.reading.context.connection
                else ""
            ),
        ),
        ExportColumn(
            "remarks", "", "what spoils the reference, checks that are not passed, that no list uses it",
            lambda line: JOINED_BY.join(
                [
                    *(line.reading.context.remarks(line.reading.volts) if line.reading.context else ()),
                    *filter(None, (line.by_words,)),
                ]
            ),
        ),
        ExportColumn(
            "doubt", "", "what speaks against it by now, as in the report; empty where nothing does",
            lambda line: line.doubt,
        ),
        run_id(lambda line: line.reading.run_id, integers),
        start_steady_utc(lambda line: line.reading.start_utc_ns),
        end_steady_utc(lambda line: line.reading.end_utc_ns),
        ExportColumn(
            "first_line_id", "", "first line of that stretch, see samples",
            lambda line: line.reading.first_line_id, integers,
        ),
        ExportColumn(
            "last_line_id", "", "last line of that stretch", lambda line: line.reading.last_line_id, integers
        ),
        void_reason(lambda line: line.reading.void_reason),
        ExportColumn(
            "void_utc", "", "when it was declared mistaken", lambda line: line.reading.void_utc_ns, utc_texts
        ),
        simulated(lambda line: line.reading.simulated),
        ExportColumn(
            "taken_spot", "", "spot that it was taken for; another one than spot where it was corrected",
            lambda line: line.reading.as_taken.spot_name,
        ),
        ExportColumn(
            "taken_condition", "", "what was stated to be live when it was taken; another than condition where that "
            "was corrected", lambda line: line.reading.as_taken.condition,
        ),
        ExportColumn(
            "taken_reference", "", "what the meter was stated to call zero when it was taken; another than reference "
            "where that was corrected or first stated later",
            lambda line: (answers.reference or "") if (answers := line.reading.as_taken.answers) else "",
        ),
        ExportColumn(
            "corrections", "", "number of its corrections, voids too, see corrections",
            lambda line: len(line.reading.corrections),
        ),
        ExportColumn(
            "correction_reason", "", "why spot, condition or reference was corrected, or a void made and withdrawn; "
            "empty where none was",
            lambda line: _reason(line.reading),
        ),
    ),
)  # fmt: skip


def _components(log: VisitLog) -> list[tuple[int, Component]]:
    budgets = [(r.id, b) for r in log.readings.all() if (b := budget_of(r)) is not None]
    return [(of_reading, component) for of_reading, budget in budgets for component in budget.components]


BUDGET: ExportTable[tuple[int, Component]] = ExportTable(
    "budget",
    "The uncertainty budget of every reading (JCGM 100:2008), one row a component.",
    _components,
    (
        reading_id(lambda row: row[0]),
        ExportColumn("component", "", "where it comes from", lambda row: row[1].name),
        ExportColumn("type", "", "A from statistics, B otherwise", lambda row: row[1].kind),
        ExportColumn("basis", "", "what it rests on", lambda row: row[1].basis),
        ExportColumn("u_volts", "V", "standard uncertainty; sensitivity 1", lambda row: row[1].u_volts),
    ),
)
