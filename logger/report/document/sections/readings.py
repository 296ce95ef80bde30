"""Sections for the next professional: every reading with its trace, what cannot be compared, voided ones, marks."""

from __future__ import annotations

from logger.report.document.blocks import (
    EXPANDED,
    NBSP,
    Block,
    Figure,
    Figures,
    Section,
    TableBlock,
    Text,
    moment,
    signed,
)
from logger.report.document.figures import trace_picture
from logger.report.document.report_data import ReportData
from logger.visit.records.records import Reading
from logger.visit.results.on_off_result import budget_of, mixed

TAKEN_WORDS = {"settled": "settled", "override": "not settled", "by hand": "by hand"}


def spots(facts: ReportData) -> Section | None:
    """On, off and on minus off of each spot, in full."""
    rows = []
    for spot in facts.spots:
        result = facts.results[spot.id]
        if result.on is None and result.off is None:
            continue
        difference = result.difference()
        rows.append(
            (
                f"{spot.name}{f' ({spot.room})' if spot.room else ''}",
                *(f"{r.volts:.4f}" if r else "–" for r in (result.on, result.off)),
                signed(difference.volts) if difference else "–",
                f"{difference.expanded_volts:.4f}" if difference else "–",
                result.meaning(facts.setup.target_volts),
            )
        )
    if not rows:
        return None
    table = TableBlock(
        "On, off and their difference, V",
        ("Spot", "On", "Off", "On − off", EXPANDED, "What it means"),
        tuple(rows),
        frozenset({1, 2, 3, 4}),
    )
    return Section("spots", "Spots", (table,))


def readings(facts: ReportData) -> Section | None:
    """Every reading that stands, and the trace around it."""
    if not facts.standing:
        return None
    rows = tuple(_row(facts, reading) for reading in facts.standing)
    heads: tuple[str, ...] = (
        "No.",
        "Taken",
        "Spot",
        "Condition",
        "V",
        EXPANDED,
        "Samples",
        "Span, s",
        "Remarks",
    )
    if not any(row[-1] for row in rows):
        heads, rows = heads[:-1], tuple(row[:-1] for row in rows)
    blocks: list[Block] = [
        TableBlock(
            "Readings in the order in which they were taken",
            heads,
            rows,
            frozenset({0, 4, 5, 6, 7}),
            small=True,
        )
    ]
    if not_comparable := mixed(facts.readings):
        blocks += [Text(line) for line in not_comparable.splitlines()]
    return Section("readings", "Readings", tuple(blocks))


def traces(facts: ReportData) -> Section | None:
    """The stretch that each reading rests on, 15 s before and after it."""
    figures = tuple(
        Figure(
            trace_picture(
                f"reading-{r.id}",
                f"Trace of reading {r.id}, {r.spot_name}, {r.condition}",
                facts.excerpts[r.id],
            ),
            f"{r.id}. {r.spot_name}, {r.condition or 'condition not stated'}: {r.volts:.4f}{NBSP}V",
        )
        for r in facts.standing
        if r.id in facts.excerpts
    )
    if not figures:
        return None
    said = Text(
        "Each picture shows 15 s before and after the still span (shaded) that the reading is the mean of; the thick "
        "line is its level. Of a span longer than two minutes only the end is shown. Each has a scale of its own, V."
    )
    return Section("traces", "Traces of the readings", (said, Figures(figures)))


def _row(facts: ReportData, reading: Reading) -> tuple[str, ...]:
    budget = budget_of(reading)
    remarks = reading.context.remarks() if reading.context else ["nothing kept of meter and reference"]
    if reading.taken != "settled":
        remarks.insert(0, f"taken {TAKEN_WORDS[reading.taken]}")
    if reading.id in facts.doubts:
        remarks.append(facts.doubts[reading.id])
    start_ns, end_ns = reading.start_utc_ns, reading.end_utc_ns
    span = f"{(end_ns - start_ns) / 1e9:.1f}" if start_ns is not None and end_ns is not None else "–"
    return (
        str(reading.id),
        moment(facts.local(reading.utc_ns)),
        reading.spot_name,
        reading.condition or "not stated",
        f"{reading.volts:.5f}",
        f"{budget.expanded_volts:.5f}" if budget else "–",
        str(reading.samples),
        span,
        "; ".join(remarks),
    )


def voided(facts: ReportData) -> Section | None:
    """Readings that were declared mistaken: they stay in the log."""
    rows = tuple(
        (
            str(r.id),
            moment(facts.local(r.utc_ns)),
            r.spot_name,
            r.condition or "not stated",
            f"{r.volts:.5f}",
            r.void_reason,
        )
        for r in facts.readings
        if r.void_reason is not None
    )
    if not rows:
        return None
    table = TableBlock(
        "Voided readings: kept in the log, counted nowhere",
        ("No.", "Taken", "Spot", "Condition", "V", "Voided because"),
        rows,
        frozenset({0, 4}),
    )
    return Section("voided", "Voided readings", (table,))


def marks(facts: ReportData) -> Section | None:
    """Free text at moments of the log."""
    rows = tuple(
        (
            moment(facts.local(m.steady_utc_ns if m.steady_utc_ns is not None else m.utc_ns)),
            m.text,
            "" if m.void_reason is None else f"voided: {m.void_reason}",
        )
        for m in facts.marks
    )
    if not rows:
        return None
    return Section("marks", "Marks", (TableBlock("Marks set by hand", ("When", "Text", "Voided"), rows),))
