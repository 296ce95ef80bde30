"""The meters that were used."""

from __future__ import annotations

from logger.metrology.setup import UNKNOWN_METER, MeterFacts
from logger.report.document.blocks import Block, HeadingBlock, Pairs, Section, TableBlock
from logger.report.document.report_data import ReportData


def meter(data: ReportData) -> Section:
    """Build the section: each meter, as it was when readings were taken with it."""
    used: list[MeterFacts] = []
    for reading in data.valid_readings:
        if reading.context is not None and reading.context.setup.meter not in used:
            used.append(reading.context.setup.meter)
    if not used:
        used = [data.setup.meter]
    blocks: list[Block] = []
    for facts in used:
        if len(used) > 1:
            blocks.append(HeadingBlock(facts.name))
        blocks += _meter(facts)
    return Section("meter", "Meter", tuple(blocks))


def _meter(facts: MeterFacts) -> list[Block]:
    def assumed(name: str) -> str:
        return " (assumed: nobody has stated it)" if name in facts.assumed else ""

    return [
        Pairs(
            (
                ("Meter", "not described" if facts == UNKNOWN_METER else facts.name),
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
            ("Range up to, V", "% of reading", "counts", "one count, V"),
            tuple(
                (
                    f"{a.up_to_volts:g}",
                    f"{a.percent_of_reading:g}",
                    f"{a.counts:g}",
                    f"{a.resolution_volts:g}",
                )
                for a in facts.accuracy
            ),
            frozenset({0, 1, 2, 3}),
        ),
    ]
