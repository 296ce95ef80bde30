"""Steps of the trace with their labels, and what follows from them."""

from __future__ import annotations

from logger.clock import NS_PER_S
from logger.metrology.rounding import grouped
from logger.report.document.blocks import Block, Section, TableBlock, Text
from logger.report.document.report_data import ReportData
from logger.report.document.wording import (
    NOT_STATED,
    condition_text,
    expanded,
    moment_of,
    step_volts,
    with_mark,
)
from logger.sweep.confirmation import effect_text
from logger.sweep.labelled_steps import KnownStep
from logger.sweep.read_unproved import switched_unproved
from logger.translation import marked, tr, tr_n
from logger.visit.records.condition import HOLDS_S
from logger.visit.records.home_records import Source, StepLabel


def steps(data: ReportData) -> Section | None:
    """Build the section; None where no step has a label."""
    labelled = [known for known in data.steps if known.label is not None]
    if not labelled:
        return None
    rows = []
    for known in labelled:
        assert known.label is not None
        source = data.every_source.get(known.label.source_id or 0)
        rows.append(
            (
                _when(data, known),
                _where(data, known, known.label.spot_id),
                with_mark(_label_text(known.label, source), known.simulated),
                _stated_on(data, known),
                *step_volts(known.found.step),
            )
        )
    blocks: list[Block] = [
        Text(
            tr(
                "The U of a step (k = 2) is that of its change alone: what meter and reference are off by is the same "
                "before and after. That of an effect also counts how well the posture repeats."
            )
        ),
        TableBlock(
            tr("Steps of the trace with what was switched"),
            (
                tr("When"),
                tr("Spot"),
                tr("What it was"),
                tr("Entered as on then"),
                tr("Before, V"),
                tr("After, V"),
                expanded(tr("Change")),
            ),
            tuple(rows),
            frozenset({4, 5, 6}),
            small=True,
        ),
    ]
    if data.effects:
        blocks.append(
            TableBlock(
                tr("What switching each of them on does"),
                (tr("Circuit or cord"), tr("Spot"), tr("Effect")),
                tuple(
                    (
                        data.every_source[source_id].name,
                        data.every_spot_name.get(spot_id or 0, tr(NOT_STATED)),
                        effect_text(effect),
                    )
                    for (spot_id, source_id), effect in data.effects.items()
                    if source_id in data.every_source
                ),
            )
        )
    blocks += [Text(text) for text in switched_unproved(data.steps, data.every_spot_name, data.every_source)]
    blocks += _without_name(len(data.steps) - len(labelled))
    return Section("steps", tr("Named steps and effects"), tuple(blocks))


def _without_name(count: int) -> list[Block]:
    if not count:
        return []
    text = tr_n(
        "{n} further step outside nights was given no name; those of moving and of readings are among them.",
        "{n} further steps outside nights were given no name; those of moving and of readings are among them.",
        count,
    )
    return [Text(text.format(n=grouped(count)))]


def _where(data: ReportData, known: KnownStep, spot_id: int | None) -> str:
    """Format at which spot a step was; before the first reading there, nothing measured shows that it was there."""
    name = data.every_spot_name.get(spot_id or 0, tr("not entered"))
    at_ns = data.step_utc_ns(known)
    read_before = any(r.spot_id == spot_id and r.utc_ns <= at_ns for r in data.readings)
    if spot_id is None or read_before:
        return name
    return tr("{spot} (assumed: before its first reading)").format(spot=name)


def _stated_on(data: ReportData, known: KnownStep) -> str:
    """What was entered to be on when a step was; what is entered later than a statement holds is not known."""
    at_ns = data.step_utc_ns(known)
    before = [(utc_ns, what) for utc_ns, what in data.stated_on if utc_ns <= at_ns]
    if not before or at_ns - before[-1][0] > HOLDS_S * NS_PER_S or not before[-1][1]:
        return tr(NOT_STATED)
    return condition_text(before[-1][1])


def _when(data: ReportData, known: KnownStep) -> str:
    """Format when a step was; of one that nobody saw, between which moments it lies."""
    at_ns, found = data.step_utc_ns(known), known.found
    if found.unseen_s is None:
        return moment_of(data, at_ns)
    begun, ended = (
        moment_of(data, at_ns + round((edge_s - found.step.time_s) * NS_PER_S)) for edge_s in found.unseen_s
    )
    text = tr("between {begun} and {ended}, in a gap; not used for the effect")
    return text.format(begun=begun, ended=ended)


_MEANINGS = {
    "on": marked("on"),
    "off": marked("off"),
    "ignored": marked("ignored"),
    "unnamed": marked("unnamed"),
}
_MEANINGS_OF_SOURCES = {
    "on": marked("{source} on"),
    "off": marked("{source} off"),
    "ignored": marked("{source} ignored"),
    "unnamed": marked("{source} unnamed"),
}
"""What a step was, by what the log calls it."""


def _label_text(label: StepLabel, source: Source | None) -> str:
    if source is None:
        return tr(_MEANINGS[label.meaning])
    return tr(_MEANINGS_OF_SOURCES[label.meaning]).format(source=source.name)
