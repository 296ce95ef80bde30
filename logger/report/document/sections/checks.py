"""The checks of meter and reference with their traces."""

from __future__ import annotations

from logger.metrology.check_validity import lapse_of
from logger.report.document.blocks import Block, Figure, Figures, Section, TableBlock, Text
from logger.report.document.figures.trace import trace_svg
from logger.report.document.report_data import ReportData
from logger.report.document.wording import NBSP, counted, moment_of
from logger.visit.records.reading_records import CheckResult
from logger.visit.results.check_review import FailedLater


def checks(data: ReportData) -> Section | None:
    """Build the section, repeated checks included; None where no check was done."""
    if not data.checks:
        return None
    rows = tuple(
        (
            check.kind.capitalize(),
            moment_of(data, check.utc_ns),
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
    blocks += [Text(_failed_later(found, data)) for found in data.failed_later]
    if figures:
        blocks.append(Figures(figures))
    return Section("checks", "Checks", tuple(blocks))


def _verdict(check: CheckResult, data: ReportData) -> str:
    lapse = lapse_of(check.setup, data.setup)
    verdict = check.outcome.verdict.value
    return verdict if lapse is None else f"{verdict}; {lapse}"


def _failed_later(found: FailedLater, data: ReportData) -> str:
    """Write what it means that a check passed and then failed."""
    passed, failed = (moment_of(data, check.utc_ns) for check in (found.passed, found.failed))
    between = [r for r in data.valid_readings if found.covers(r)]
    text = (
        f"The {found.kind} passed on {passed} and failed on {failed}: in between meter or reference changed."
    )
    if not between:
        return f"{text} No reading was taken in between."
    is_or_are = "is" if len(between) == 1 else "are"
    return f"{text} {counted(len(between), 'reading')} taken in between {is_or_are} in doubt."


def _check_note(check: CheckResult, data: ReportData) -> str:
    notes = []
    if check.id in data.check_doubts:
        notes.append(data.check_doubts[check.id])
    if lapse_of(check.setup, data.setup) is not None:
        notes.append("Done with another meter or reference than stated last: it proves nothing for these.")
    return f" {' '.join(notes)}" if notes else ""
