"""The checks of meter and reference with their traces."""

from __future__ import annotations

from collections.abc import Sequence, Set

from logger.metrology.check_validity import Lapse
from logger.metrology.check_words import check_name, check_name_alone, verdict_word
from logger.metrology.checks import (
    CLOSING_CHECKS,
    REQUIRED_CHECKS,
    RISE_VOLTS,
    ZERO_LIMIT_VOLTS,
    CheckKind,
    CheckVerdict,
    step_budget,
)
from logger.metrology.posture import DEFAULT_SHARE
from logger.metrology.rounding import grouped, plain, rounded
from logger.metrology.uncertainty import AGREEMENT_VOLTS
from logger.name_list import joined
from logger.report.document.blocks import Block, Figure, Figures, Pairs, Section, TableBlock, Text
from logger.report.document.figures.trace import ROOM_ABOVE, trace_svg
from logger.report.document.report_data import Excerpt, ReportData
from logger.report.document.sections.circumstance_pairs import entered_pairs
from logger.report.document.wording import moment_of, value_text, with_mark
from logger.translation import marked, tr, tr_kept, tr_n, with_percent
from logger.visit.records.reading_records import CheckResult
from logger.visit.results.check_attempts import CheckAttempt
from logger.visit.results.check_review import FailedLater, not_closed
from logger.visit.results.reading_context import verdict_by_now


def checks(data: ReportData) -> Section | None:
    """Build the section, repeated checks included; None where no check was done."""
    left = [Text(_attempt_text(attempt, data)) for attempt in data.check_attempts]
    if not data.checks:
        return Section("checks", tr("Checks"), tuple(left)) if left else None
    rows: tuple[tuple[str, ...], ...] = tuple(
        (
            check_name_alone(check.kind),
            moment_of(data, check.utc_ns),
            _verdict(check, data),
            joined([tr("“{name}”").format(name=name) for name in check.spot_names]),
            " ".join([tr_kept(check.outcome.sentence), *_check_notes(check, data)]),
        )
        for check in data.checks
    )
    heads: tuple[str, ...] = (tr("Name of the check"), tr("Done"), tr("Verdict"), tr("Spot"), tr("Values"))
    if not any(row[3] for row in rows):
        heads, rows = (*heads[:3], *heads[4:]), tuple((*row[:3], *row[4:]) for row in rows)
    figures = tuple(
        Figure(
            trace_svg(
                f"check-{check.id}-{number}",
                tr("Trace of the {check}, {step}").format(check=check_name(check.kind), step=tr_kept(name)),
                excerpt,
                ROOM_ABOVE * max(other.level_volts for _, other in data.check_excerpts[check.id]),
            ),
            with_mark(
                tr("{check}, {step}: {value}").format(
                    check=check_name_alone(check.kind),
                    step=tr_kept(name),
                    value=_step_value(check, name, excerpt),
                ),
                check.simulated and not data.all_simulated,
            ),
        )
        for check in data.checks
        for number, (name, excerpt) in enumerate(data.check_excerpts[check.id], 1)
    )
    blocks: list[Block] = [
        Text(_limits(data)),
        TableBlock(
            tr("Checks of meter and reference"),
            heads,
            rows,
        ),
    ]
    done = {check.kind for check in data.checks}
    blocks += [Text(text) for text in _not_done(done)]
    blocks += left
    blocks += [Text(" ".join(said)) for said in [_closing(data)] if said]
    with_steps = {check.kind for check in data.checks if check.steps}
    undone_fields = [name for name, kind in _HOW_DONE.items() if kind not in with_steps]
    if how := entered_pairs(data, data.circumstances, "checks", *undone_fields):
        blocks.append(Pairs(how))
    blocks += [Text(text) for found in data.failed_later if (text := _failed_later(found, data))]
    if figures:
        several = any(len(found) > 1 for found in data.check_excerpts.values())
        blocks += [Text(tr("The pictures of one check have one scale."))] if several else []
        blocks.append(Figures(figures))
    return Section("checks", tr("Checks"), tuple(blocks))


def _attempt_text(attempt: CheckAttempt, data: ReportData) -> str:
    """Write which check was begun and left, and with which steps."""
    text = tr("Begun on {moment} and left before it was decided: {attempt}.")
    said = text.format(moment=moment_of(data, attempt.utc_ns), attempt=attempt.text)
    return with_mark(said, attempt.simulated and not data.all_simulated)


def _not_done(done: Set[CheckKind]) -> list[str]:
    """Write which checks were not done to their end, those that every reading needs first.

    Args:
        done: the kinds of those that have a result.
    """
    needed = [check_name(kind) for kind in REQUIRED_CHECKS if kind not in done]
    others = [check_name(kind) for kind in CheckKind if kind not in done and kind not in REQUIRED_CHECKS]
    out = []
    if needed:
        out.append(not_done_text(needed))
    if others:
        text = tr("Not done, and not needed for a reading: {checks}.")
        out.append(text.format(checks=joined(others)))
    return out


def not_done_text(checks: Sequence[str]) -> str:
    """Write which checks have no result.

    Args:
        checks: their names.
    """
    text = tr("These checks of meter and reference were not done, or not to the end: {checks}.")
    return text.format(checks=joined(checks))


def _closing(data: ReportData) -> list[str]:
    """Write which checks were done once more after the last reading and the last night, and which were not."""
    said = []
    if data.valid_readings:
        last_ns = max(reading.utc_ns for reading in data.valid_readings)
        ever = {check.kind for check in data.checks}
        undone = [kind for kind in not_closed(data.checks, last_ns) if kind in ever]
        if done := [check_name(kind) for kind in CLOSING_CHECKS if kind in ever and kind not in undone]:
            said.append(
                tr("Closing check, done after the last reading: {checks}.").format(checks=joined(done))
            )
        if undone:
            text = (
                tr("Not done again after the last reading, on {moment}: {checks}.")
                if done
                else tr(
                    "There is no closing check. Not done again after the last reading, on {moment}: {checks}. So it is "
                    "not shown that meter and reference were still as before."
                )
            )
            names = joined(list(map(check_name, undone)))
            said.append(text.format(checks=names, moment=moment_of(data, last_ns)))
    if data.nights:
        ended_ns = max(of.night.utc_ns(of.summary.end_s) for of in data.nights)
        if undone := not_closed(data.checks, ended_ns):
            text = tr("After the last night, which ended on {moment}, these were not done: {checks}.")
            names = joined(list(map(check_name, undone)))
            said.append(text.format(checks=names, moment=moment_of(data, ended_ns)))
    return said


_HOW_DONE = {
    "function_done": CheckKind.FUNCTION,
    "reference_improved": CheckKind.REFERENCE,
    "wire_moved": CheckKind.LEAD,
    "wire_back": CheckKind.LEAD,
    "second_rod": CheckKind.TWO_RODS,
}
"""Which check each of the circumstances of the checks belongs to."""


def _limits(data: ReportData) -> str:
    """Write by which limits the checks are decided, and what of the checks is not recorded."""
    text = tr(
        "The limits: the zero check {zero} V, a fifth of the usual target; the reference and the wire check the larger "
        "of {agree} V and {share}% of the larger value, to which a posture is assumed to repeat; the function check a "
        "rise of {rise} V (common practice, no source); the two-rod check {agree} V. But for the rise they are ours, "
        "no source. A check passes only where its value is within the limit with its ±, which is U, k = 2. “Done” is "
        "when the check was completed."
    ).format(
        zero=plain(ZERO_LIMIT_VOLTS),
        agree=plain(AGREEMENT_VOLTS),
        share=plain(100.0 * DEFAULT_SHARE),
        rise=plain(RISE_VOLTS),
    )
    if any(check.spot_names for check in data.checks):
        return with_percent(text)
    return " ".join((with_percent(text), tr("At which spot they were done is not recorded.")))


def _step_value(check: CheckResult, name: str, excerpt: Excerpt) -> str:
    """The value of a step as the check's sentence has it; without ± where its meter is not known."""
    span = next((step.span for step in check.steps if step.name == name), None)
    if check.setup is None or span is None:
        return tr("{volts} V").format(volts=rounded(excerpt.level_volts).volts)
    return value_text(step_budget((span.volts, span.u_volts), check.setup.meter))


_VERDICTS_IN_DOUBT = {
    CheckVerdict.PASSED: marked("passed, in doubt"),
    CheckVerdict.FAILED: marked("failed, in doubt"),
    CheckVerdict.NOT_DECIDED: marked("not decided, in doubt"),
    CheckVerdict.SHOWS_NOTHING: marked("shows nothing here, in doubt"),
    CheckVerdict.SKIPPED: marked("skipped, in doubt"),
}
_LAPSED = {
    Lapse.REFERENCE: marked("{verdict}; lapsed: other reference"),
    Lapse.METER: marked("{verdict}; lapsed: other meter"),
    Lapse.PORT: marked("{verdict}; lapsed: other port"),
    Lapse.PORT_SETTINGS: marked("{verdict}; lapsed: other port settings"),
    Lapse.LINE_FORM: marked("{verdict}; lapsed: the meter's lines have another form"),
    Lapse.SIMULATED: marked("{verdict}; does not count: it was simulated"),
    Lapse.MEASURED: marked("{verdict}; does not count here: it was measured, and this is simulated"),
    Lapse.STEPS: marked("{verdict}; does not count: its steps were not read alike"),
    Lapse.AGE: marked("{verdict}; lapsed: more than 24 hours old"),
}


def _verdict(check: CheckResult, data: ReportData) -> str:
    in_doubt = verdict_by_now(check, data.check_doubts) is CheckVerdict.IN_DOUBT
    kept = check.outcome.verdict
    verdict = tr(_VERDICTS_IN_DOUBT[kept]) if in_doubt else verdict_word(kept)
    marked_verdict = with_mark(verdict, check.simulated)
    lapse = data.check_lapses.get(check.id)
    return marked_verdict if lapse is None else tr(_LAPSED[lapse]).format(verdict=marked_verdict)


def _failed_later(found: FailedLater, data: ReportData) -> str:
    """Write what it means that a check failed after readings; empty where nothing was read before the first one."""
    between = sum(found.covers(r) for r in data.valid_readings)
    if found.passed is None:
        text = tr_n(
            "The {check} failed on {later} and had not been done before: {n} reading taken before it is in doubt.",
            "The {check} failed on {later} and had not been done before: {n} readings taken before it are in doubt.",
            between,
        ).format(check=check_name(found.kind), later=moment_of(data, found.failed.utc_ns), n=grouped(between))
        return text if between else ""
    text = tr(
        "The {check} passed on {moment} and failed on {later}: in between meter or reference changed."
    ).format(
        check=check_name(found.kind),
        moment=moment_of(data, found.passed.utc_ns),
        later=moment_of(data, found.failed.utc_ns),
    )
    if not between:
        none = tr("No reading was taken in between.")
        return f"{text} {none}"
    doubt = tr_n(
        "{n} reading taken in between is in doubt.", "{n} readings taken in between are in doubt.", between
    )
    return f"{text} {doubt.format(n=grouped(between))}"


def _check_notes(check: CheckResult, data: ReportData) -> list[str]:
    notes = []
    if check.id in data.check_doubts:
        notes.append(data.check_doubts[check.id])
    if check.id in data.check_lapses and data.check_lapses[check.id] is not Lapse.STEPS:
        notes.append(
            tr(
                "Done with another meter, port or reference than the one in use last: it proves nothing about that "
                "one."
            )
        )
    return notes
