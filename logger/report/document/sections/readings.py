"""Every reading with its uncertainty and remarks."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from logger.clock import NS_PER_S
from logger.metrology.context import SIMULATED_REMARK
from logger.metrology.lengths import length_text
from logger.metrology.rounding import plain, rounded
from logger.metrology.uncertainty import Budget
from logger.name_list import joined
from logger.report.document.blocks import Block, Section, TableBlock, Text
from logger.report.document.report_data import ReportData
from logger.report.document.sections.correction_notes import correction_notes, number_text
from logger.report.document.wording import condition_text, expanded, moment_of, volts_with_u
from logger.report.stated_answers import numbers_text
from logger.sweep.plan_text import swapped_with
from logger.sweep.words_of_the_list import remark_by_words
from logger.translation import marked, tr, tr_n
from logger.visit.records.home_details import SpotDetails
from logger.visit.records.reading_records import Reading
from logger.visit.results.detail_differences import other_body
from logger.visit.results.detail_words import short_spot_text
from logger.visit.results.on_off_result import budget_of, mixed

_TAKEN = {"override": marked("taken not settled"), "by hand": marked("taken by hand")}
"""How a reading was taken that is no settled value, by what the log calls it."""


def readings(data: ReportData) -> Section | None:
    """Build the section; None where there is no valid reading."""
    if not data.valid_readings:
        return None
    swapped = swapped_with(data.tonight.spots) if data.tonight is not None else {}
    ways: dict[int, dict[SpotDetails, None]] = {}
    for reading in data.valid_readings:
        ways.setdefault(reading.spot_id, {})[reading.details] = None
    rows = tuple(
        _row(data, reading, swapped.get(reading.id, []), list(ways[reading.spot_id]))
        for reading in data.valid_readings
    )
    heads: tuple[str, ...] = (
        tr("No."),
        tr("Taken"),
        tr("Spot"),
        tr("Condition"),
        expanded(tr("Value")),
        tr("Samples"),
        tr("Span, s"),
        tr("Remarks"),
    )
    if not any(row[-1] for row in rows):
        heads, rows = heads[:-1], tuple(row[:-1] for row in rows)
    blocks: list[Block] = [
        Text(" ".join(_explained(data))),
        TableBlock(
            tr("Readings in the order in which they were taken"),
            heads,
            rows,
            frozenset({0, 4, 5, 6}),
            small=True,
        ),
    ]
    blocks += correction_notes(data, data.valid_readings)
    if not_comparable := mixed(data.readings):
        blocks += [Text(line) for line in not_comparable.splitlines()]
    return Section("readings", tr("Readings"), tuple(blocks))


def _value(data: ReportData, reading: Reading, budget: Budget | None) -> str:
    """The value with U; without it where nothing is known of that, or where its repeats contradict it."""
    if budget is None or reading.id in data.contradicting:
        return rounded(reading.volts).volts
    return volts_with_u(budget)


def _explained(data: ReportData) -> list[str]:
    out = [
        tr(
            "“Taken” is the time when the reading was taken. Its value is the mean of the steady span that "
            "ended before. U is the expanded uncertainty (k = 2). Each value has as many decimals as its U; "
            "the export has all digits."
        )
    ]
    if interval := _interval_text(data):
        out.append(interval)
    if data.all_simulated:
        out.append(tr("All of them are simulated, not measured."))
    doubted = [reading for reading in data.valid_readings if reading.id in data.doubts]
    if doubted:
        text = tr_n(
            "Something speaks against reading {numbers}. It counts until somebody voids it: the program does not "
            "decide whether it is mistaken.",
            "Something speaks against readings {numbers}. They count until somebody voids them: the program does not "
            "decide whether they are mistaken.",
            len(doubted),
        )
        out.append(text.format(numbers=joined([str(reading.id) for reading in doubted])))
    void = [reading for reading in data.readings if reading.void_reason is not None]
    if void:
        text = tr_n(
            "Reading {numbers} was voided and stands in “Voided readings”.",
            "Readings {numbers} were voided and stand in “Voided readings”.",
            len(void),
        )
        out.append(text.format(numbers=joined([str(reading.id) for reading in void])))
    return out


def _interval_text(data: ReportData) -> str:
    """Write how often the meter gave a value; empty where no reading rests on samples."""
    intervals = [float(np.median(np.diff(e.times_s))) for e in data.excerpts.values() if len(e.times_s) > 1]
    if not intervals:
        return ""
    low, high = (plain(round(pick(intervals), 2)) for pick in (min, max))
    if low == high:
        return tr("The meter gave a value every {seconds} s.").format(seconds=low)
    return tr("The meter gave a value every {low} s to {high} s.").format(low=low, high=high)


def _row(
    data: ReportData, reading: Reading, swapped: Sequence[int], ways: Sequence[SpotDetails]
) -> tuple[str, ...]:
    """The cells of a reading.

    Args:
        data: of the report.
        reading: of the row.
        swapped: ids of the readings that it may have been swapped with by mistake.
        ways: the descriptions of all readings of its spot, each once.
    """
    budget = budget_of(reading)
    remarks = (
        reading.context.remarks(reading.volts)
        if reading.context
        else [tr("nothing kept of meter and reference")]
    )
    if data.all_simulated:
        remarks = [remark for remark in remarks if remark != tr(SIMULATED_REMARK)]
    elif reading.simulated and reading.context is None:
        remarks.insert(0, tr(SIMULATED_REMARK))
    if reading.taken != "settled":
        remarks.insert(
            0,
            tr(_TAKEN[reading.taken]) if reading.taken in _TAKEN else tr("taken in a way that is not known"),
        )
    if data.is_removed(reading.spot_id):
        remarks.insert(0, tr("spot removed from the list"))
    if by_words := remark_by_words(reading, data.sources):
        remarks.append(by_words)
    if body := _other_body_text(reading, ways):
        remarks.append(body)
    if swapped:
        text = tr_n(
            "may have been swapped with reading {numbers}", "may have been swapped with one of the readings {numbers}",
            len(swapped),
        )  # fmt: skip
        remarks.append(text.format(numbers=numbers_text(swapped)))
    if reading.id in data.doubts:
        remarks.append(data.doubts[reading.id])
    start_ns, end_ns = reading.start_utc_ns, reading.end_utc_ns
    span = (
        plain(round((end_ns - start_ns) / NS_PER_S, 2))
        if start_ns is not None and end_ns is not None
        else "–"
    )
    return (
        number_text(reading),
        moment_of(data, reading.utc_ns),
        reading.spot_name,
        condition_text(reading.condition),
        _value(data, reading, budget),
        str(reading.samples),
        span,
        "; ".join(remarks),
    )


def _other_body_text(reading: Reading, ways: Sequence[SpotDetails]) -> str:
    """How the person was there, where another reading of the spot was taken otherwise; empty where none was."""
    found = next((d for other in ways if (d := other_body(reading.details, other)) is not None), None)
    if found is None:
        return ""
    text = tr("taken with {how}: not all readings here were taken in the same way")
    return text.format(how=short_spot_text(found[0], length_text))
