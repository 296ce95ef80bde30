"""Steps of the trace with their labels, and what follows from them."""

from __future__ import annotations

from logger.clock import NS_PER_S
from logger.report.document.blocks import Block, Section, TableBlock, Text
from logger.report.document.report_data import ReportData
from logger.report.document.wording import moment_of, signed_volts
from logger.sweep.confirmation import effect_text
from logger.sweep.labelled_steps import KnownStep
from logger.visit.records.simulated_run import SIMULATED


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
                (f"{source.name} {known.label.meaning}" if source else known.label.meaning)
                + (f" ({SIMULATED})" if known.simulated else ""),
                f"{known.found.step.before_volts:.4f}",
                f"{known.found.step.after_volts:.4f}",
                signed_volts(known.change_volts),
                f"{known.found.step.u_volts:.4f}",
            )
        )
    blocks: list[Block] = [
        TableBlock(
            "Steps of the trace with what was switched",
            ("When", "Spot", "What it was", "Before, V", "After, V", "Change, V", "u, V"),
            tuple(rows),
            frozenset({3, 4, 5, 6}),
        )
    ]
    if data.effects:
        blocks.append(
            TableBlock(
                "What switching each of them on does",
                ("Circuit or cord", "Spot", "Effect"),
                tuple(
                    (
                        data.every_source[source_id].name,
                        data.every_spot_name.get(spot_id or 0, "not stated"),
                        effect_text(effect),
                    )
                    for (spot_id, source_id), effect in data.effects.items()
                    if source_id in data.every_source
                ),
            )
        )
    unlabelled = len(data.steps) - len(labelled)
    if unlabelled:
        blocks.append(Text(f"{unlabelled} further steps outside nights have no name."))
    return Section("steps", "Named steps and effects", tuple(blocks))


def _where(data: ReportData, known: KnownStep, spot_id: int | None) -> str:
    """Format at which spot a step was; before the first reading there, nothing measured shows that it was there."""
    name = data.every_spot_name.get(spot_id or 0, "not entered")
    at_ns = data.step_utc_ns(known)
    read_before = any(r.spot_id == spot_id and r.utc_ns <= at_ns for r in data.readings)
    return name if spot_id is None or read_before else f"{name} (assumed: before its first reading)"


def _when(data: ReportData, known: KnownStep) -> str:
    """Format when a step was; of one that nobody saw, between which moments it lies."""
    at_ns, found = data.step_utc_ns(known), known.found
    if found.unseen_s is None:
        return moment_of(data, at_ns)
    begun, ended = (
        moment_of(data, at_ns + round((edge_s - found.step.time_s) * NS_PER_S)) for edge_s in found.unseen_s
    )
    return f"between {begun} and {ended}, in a gap; not used for the effect"
