"""The meters that were used."""

from __future__ import annotations

from collections.abc import Sequence

from logger.meter.description import UNSPECIFIED_FACTOR
from logger.metrology.context import Context
from logger.metrology.setup import UNKNOWN_METER, MeterFacts
from logger.metrology.waveform import MAINS_DISTORTION
from logger.report.document.blocks import Block, HeadingBlock, Pairs, Section, TableBlock, Text
from logger.report.document.report_data import ReportData


def meter(data: ReportData) -> Section:
    """Build the section: each meter, as it was when readings were taken and nights recorded with it."""
    used: dict[MeterFacts, list[Context]] = {}
    taken = [reading.context for reading in data.valid_readings]
    for context in (*taken, *(found.night.context for found in data.nights)):
        if context is not None:
            used.setdefault(context.setup.meter, []).append(context)
    if not used:
        used = {data.setup.meter: []}
    blocks: list[Block] = []
    if data.simulation:
        blocks.append(Text(f"{data.simulation} What follows is as it was entered."))
    for facts, contexts in used.items():
        if len(used) > 1:
            blocks.append(HeadingBlock(facts.name))
        blocks += _meter(facts)
        blocks += [Text(sentence) for sentence in _consequences(facts, contexts, data.setup.mains_hz)]
    return Section("meter", "Meter", tuple(blocks))


def _consequences(facts: MeterFacts, contexts: Sequence[Context], mains_hz: float | None) -> list[str]:
    """Write what the meter's calibration and its response do to the readings."""
    out = []
    months = facts.calibration_interval_months
    factor = max((facts.overdue_factor(context.read_on) for context in contexts), default=1.0)
    if not facts.calibrated_on:
        out.append(
            "When the meter was calibrated is not known: its limits of error are counted as if they held still."
        )
    elif factor > 1.0:
        out.append(
            f"Its calibration was out of date, {months} months after {facts.calibrated_on}: the limits of error are "
            f"counted {factor:.1f} times as wide."
        )
    if not facts.true_rms:
        share = facts.waveform_share(mains_hz)
        out.append(
            f"A meter that is not true rms may be off by up to {share:.1%} of the reading where the mains is distorted "
            f"by {MAINS_DISTORTION:.0%}, since the body passes higher frequencies better than that of the mains. That "
            "has its line in the uncertainty."
        )
    if any(accuracy.specified_from_volts > 0.0 for accuracy in facts.accuracy):
        out.append(
            f"Below what a range is specified for, {UNSPECIFIED_FACTOR:g} times the limit of error of the lowest "
            "specified reading is counted."
        )
    return out


def _meter(facts: MeterFacts) -> list[Block]:
    def assumed(name: str) -> str:
        return " (assumed: nobody has stated it)" if name in facts.assumed else ""

    return [
        Pairs(
            (
                ("Meter", "not described" if facts == UNKNOWN_METER else facts.name),
                ("Make and model", f"{facts.make} {facts.model}".strip() or "not stated"),
                ("Serial number", facts.serial_number or "not stated"),
                (
                    "Input",
                    f"{facts.input_resistance_ohm / 1e6:g} Mohm{assumed('input_resistance_ohm')}, "
                    f"{facts.input_capacitance_farad * 1e12:g} pF{assumed('input_capacitance_farad')}",
                ),
                (
                    "True rms",
                    ("yes" if facts.true_rms else "no, or not known") + assumed("true_rms"),
                ),
                ("Calibrated on", facts.calibrated_on or "not known"),
            )
        ),
        TableBlock(
            "Limits of error by the data sheet" + assumed("accuracy"),
            ("Range up to, V", "specified from, V", "% of reading", "counts", "one count, V"),
            tuple(
                (
                    f"{a.up_to_volts:g}",
                    f"{a.specified_from_volts:g}",
                    f"{a.percent_of_reading:g}",
                    f"{a.counts:g}",
                    f"{a.resolution_volts:g}",
                )
                for a in facts.accuracy
            ),
            frozenset({0, 1, 2, 3, 4}),
        ),
    ]
