"""Every remedy with its history: what was decided when, what was predicted, and what reading again has shown."""

from __future__ import annotations

from logger.metrology.uncertainty import shown_change
from logger.plan.planned_remedy import (
    PlannedRemedy,
    ProofVerdict,
    SpotChange,
)
from logger.plan.remedy_kinds import WHO_WORDS
from logger.report.document.blocks import Block, Section, TableBlock, Text
from logger.report.document.plan_sheet.effect_text import effect_text, prediction_text
from logger.report.document.plan_sheet.plan_sheet import day_of, named
from logger.report.document.report_data import ReportData
from logger.report.document.wording import condition_text, moment, moment_of
from logger.translation import marked, tr
from logger.visit.records.remedy_records import RemedyDecision, RemedyEntry

DECISION_WORDS = {
    RemedyDecision.PLANNED: marked("planned"),
    RemedyDecision.DONE: marked("done"),
    RemedyDecision.UNDONE: marked("undone again"),
    RemedyDecision.NOT_WANTED: marked("not wanted"),
}
"""Go through `tr` where they are shown."""

VERDICT_WORDS = {
    ProofVerdict.PROVEN: marked("proven"),
    ProofVerdict.NO_EFFECT: marked("no effect"),
    ProofVerdict.WORSE: marked("worse"),
    ProofVerdict.NOT_TOLD_APART: marked("not told apart"),
    ProofVerdict.NOT_READ: marked("not read again"),
    ProofVerdict.NOT_COMPARABLE: marked("not comparable"),
}
"""Go through `tr` where they are shown."""


def remedies(data: ReportData) -> Section | None:
    """Build the section; None where nothing was ever decided on a remedy."""
    kept = [remedy for remedy in data.plan.remedies if remedy.kept is not None]
    if not kept:
        return None
    blocks: list[Block] = [
        Text(
            tr(
                "A remedy counts as proven where reading the same spots again, with the same things on, is lower by "
                "more than the U of the difference at a spot that it acts on, and higher at none."
            )
        ),
        TableBlock(
            tr("Remedies and what was decided on them"),
            (tr("Remedy"), tr("Who"), tr("State"), tr("Decided"), tr("What it brings")),
            tuple(_row(remedy, data) for remedy in kept),
            small=True,
        ),
    ]
    changes = [_change_row(remedy, change, data) for remedy in kept for change in _changes(remedy)]
    if changes:
        blocks.append(
            TableBlock(
                tr("Read before and after (± with k = 2)"),
                (
                    tr("Remedy"),
                    tr("Spot"),
                    tr("Before"),
                    tr("After"),
                    tr("Difference"),
                    tr("Predicted"),
                    tr("On after it was done"),
                    tr("Result"),
                ),
                tuple(changes),
                small=True,
            )
        )
    return Section("remedies", tr("Remedies"), tuple(blocks))


def _row(remedy: PlannedRemedy, data: ReportData) -> tuple[str, ...]:
    status = tr("not wanted") if remedy.not_wanted else remedy.status_words
    assert remedy.kept is not None
    taken_over = (
        [tr("Taken over from the visit “{visit}”").format(visit=remedy.kept.from_visit)]
        if remedy.kept.from_visit
        else []
    )
    history = [*taken_over, *(_entry(entry, data) for entry in remedy.kept.entries)]
    return (
        named(remedy, data),
        remedy.kept.by_whom or tr(WHO_WORDS[remedy.facts.who]),
        status,
        "; ".join(history),
        " ".join(filter(None, (effect_text(remedy), "" if remedy.result else remedy.doubt))),
    )


def _entry(entry: RemedyEntry, data: ReportData) -> str:
    """One decision, with when it was entered and what was stated with it; one that takes another back says so."""
    what = tr("the decision before taken back") if entry.corrects else tr(DECISION_WORDS[entry.decision])
    stated = [
        tr("on {day}").format(day=day_of(entry.done_on)) if entry.done_on else "",
        tr("until {day}").format(day=day_of(entry.due)) if entry.due else "",
        entry.note,
    ]
    said = ", ".join(filter(None, (what, *stated)))
    return tr("{moment}: {what}").format(moment=moment_of(data, entry.utc_ns), what=said)


def _changes(remedy: PlannedRemedy) -> tuple[SpotChange, ...]:
    return remedy.result.changes if remedy.result is not None else ()


def _change_row(remedy: PlannedRemedy, change: SpotChange, data: ReportData) -> tuple[str, ...]:
    assert remedy.result is not None
    if change.difference is None:
        before, after, difference = "–", "–", change.why_not
    else:
        before, after, difference = shown_change(change.before, change.after, change.difference)
    visit = tr("{moment}, in “{visit}”") if change.before_visit else tr("{moment}")
    read = visit.format(moment=moment(data.local(change.before_utc_ns)), visit=change.before_visit)
    predicted = prediction_text((change.predicted,)) if change.predicted is not None else ""
    return (
        named(remedy, data),
        change.spot_name,
        tr("{value} ({moment})").format(value=before, moment=read),
        tr("{value} ({moment})").format(value=after, moment=moment(data.local(change.after_utc_ns))),
        difference,
        predicted or "–",
        condition_text(change.after_condition),
        tr(VERDICT_WORDS[remedy.result.verdict]),
    )
