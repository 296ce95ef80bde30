"""The zero, reference and function checks with their traces."""

from __future__ import annotations

from logger.metrology.check_validity import lapse_of
from logger.report.document.blocks import Block, Figure, Figures, Section, TableBlock
from logger.report.document.figures.trace import trace_svg
from logger.report.document.report_data import ReportData
from logger.report.document.wording import NBSP, moment
from logger.visit.records.reading_records import CheckResult


def checks(data: ReportData) -> Section | None:
    """Build the section, repeated checks included; None where no check was done."""
    if not data.checks:
        return None
    rows = tuple(
        (
            check.kind.capitalize(),
            moment(data.local(check.utc_ns)),
            _verdict(check, data),
            check.outcome.sentence + _check_note(check, data),
        )
        for check in data.checks
    )
    figures = tuple(
        Figure(
            trace_svg(f"check-{check.id}-{number}", f"Trace of the {check.kind}, {name}", excerpt),
            f"{check.kind.capitalize()}, {name}: {excerpt.level_volts:.4f}{NBSP}V",
        )
        for check in data.checks
        for number, (name, excerpt) in enumerate(data.check_excerpts[check.id], 1)
    )
    blocks: list[Block] = [
        TableBlock("Checks of meter and reference", ("Check", "Done", "Verdict", "Values"), rows)
    ]
    if figures:
        blocks.append(Figures(figures))
    return Section("checks", "Checks", tuple(blocks))


def _verdict(check: CheckResult, data: ReportData) -> str:
    lapse = lapse_of(check.setup, data.setup)
    verdict = check.outcome.verdict.value
    return verdict if lapse is None else f"{verdict}; {lapse}"


def _check_note(check: CheckResult, data: ReportData) -> str:
    notes = []
    if check.id in data.check_doubts:
        notes.append(data.check_doubts[check.id])
    if lapse_of(check.setup, data.setup) is not None:
        notes.append("Done with another meter or reference than stated last: it proves nothing for these.")
    return f" {' '.join(notes)}" if notes else ""
