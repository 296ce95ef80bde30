"""The meters that were used."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from logger.meter.description import UNSPECIFIED_FACTOR
from logger.metrology.context import Context
from logger.metrology.rounding import fixed, plain
from logger.metrology.setup import SAME_COUNT, MeterFacts
from logger.metrology.waveform import MAINS_DISTORTION
from logger.report.document.blocks import Block, HeadingBlock, Pairs, Section, TableBlock, Text
from logger.report.document.report_data import ReportData
from logger.report.document.sections.circumstance_pairs import read_with_pairs
from logger.report.document.wording import NOT_STATED, day
from logger.report.stated_answers import numbers_text
from logger.report.used_meters import used_meters
from logger.translation import tr, tr_n
from logger.visit.records.reading_records import Reading


def meter(data: ReportData) -> Section:
    """Build the section: each meter, as it was when readings were taken and nights recorded with it."""
    taken = [reading.context for reading in data.valid_readings]
    of_nights = [found.night.context for found in data.nights]
    used = used_meters([*taken, *of_nights], data.recorded_meters, data.setup.meter)
    blocks: list[Block] = []
    if data.simulation:
        as_entered = tr("What follows is as it was entered.")
        blocks.append(Text(f"{data.simulation} {as_entered}"))
    for facts, contexts in used.items():
        if len(used) > 1:
            blocks.append(HeadingBlock(facts.name_shown()))
        blocks += _meter(facts)
        blocks += [Text(sentence) for sentence in _consequences(facts, contexts, data.setup.mains_hz)]
        blocks += [Text(sentence) for sentence in _counted_ranges(data.valid_readings, facts)]
    blocks.append(Pairs(read_with_pairs(data, "meter")))
    return Section("meter", tr("Meter"), tuple(blocks))


def _date(text: str) -> str:
    """A date as the language writes it; what is none stays as it was entered."""
    try:
        return day(datetime.fromisoformat(text)) if text else ""
    except ValueError:
        return text


def _consequences(facts: MeterFacts, contexts: Sequence[Context], mains_hz: float | None) -> list[str]:
    """Write what the meter's calibration and its response do to the readings."""
    out = []
    months = facts.calibration_interval_months
    factor = max((facts.overdue_factor(context.read_on) for context in contexts), default=1.0)
    if not facts.calibrated_on:
        out.append(
            tr(
                "When the meter was calibrated is not known: its limits of error are counted as if they held still."
            )
        )
    elif any(facts.is_calibrated_after(context.read_on) for context in contexts):
        text = tr(
            "The day entered for its calibration, {date}, is later than the readings: what it was like when they were "
            "taken is not known."
        )
        out.append(text.format(date=_date(facts.calibrated_on)))
    elif factor > 1.0:
        text = tr(
            "Its calibration was out of date, {n} months after {date}: the limits of error are counted {factor} times "
            "as wide."
        )
        out.append(text.format(n=months, date=_date(facts.calibrated_on), factor=fixed(factor, 1)))
    if not facts.true_rms:
        text = tr(
            "A meter that is not true rms may be off by up to {share}% of the reading where the mains is distorted by "
            "{distortion}%, since the body passes higher frequencies better than that of the mains. That has its line "
            "in the uncertainty."
        )
        share = fixed(100 * facts.waveform_share(mains_hz), 1)
        out.append(text.format(share=share, distortion=fixed(100 * MAINS_DISTORTION, 0)))
    if any(accuracy.specified_from_volts > 0.0 for accuracy in facts.accuracy):
        text = tr(
            "Below what a range is specified for, {factor} times the limit of error of the lowest specified reading is "
            "counted."
        )
        out.append(text.format(factor=plain(UNSPECIFIED_FACTOR)))
    return out


def _counted_ranges(readings: Sequence[Reading], facts: MeterFacts) -> list[str]:
    """Write which range each reading's limits of error are taken from, and what tells it; nothing of a single range.

    Args:
        readings: the valid ones.
        facts: the meter; readings of another one are left out.
    """
    if len(facts.accuracy) == 1:
        return []
    found: dict[tuple[float, str], list[int]] = {}
    for reading in readings:
        context = reading.context
        if context is None or context.setup.meter != facts:
            continue
        count = context.count_volts
        chosen = facts.accuracy_at(abs(reading.volts), count)
        told = count is not None and chosen.resolution_volts <= count * SAME_COUNT
        step = plain(count) if told and count is not None else ""
        found.setdefault((chosen.up_to_volts, step), []).append(reading.id)
    out = []
    for (up_to_volts, step), ids in sorted(found.items(), key=lambda one: one[1]):
        if step:
            text = tr_n(
                "The limit of error of reading {numbers} is that of the range up to {range} V: its samples go in steps "
                "of {step} V, the least count of the display, and that tells the range.",
                "The limits of error of readings {numbers} are those of the range up to {range} V: their samples go in "
                "steps of {step} V, the least count of the display, and that tells the range.",
                len(ids),
            )
        else:
            text = tr_n(
                "The samples of reading {numbers} do not tell the range: the limit of error of the smallest range that "
                "holds the value is counted, up to {range} V. On a higher range it would be wider.",
                "The samples of readings {numbers} do not tell the range: the limits of error of the smallest range "
                "that holds the value are counted, up to {range} V. On a higher range they would be wider.",
                len(ids),
            )
        out.append(text.format(numbers=numbers_text(ids), range=plain(up_to_volts), step=step))
    return out


def _meter(facts: MeterFacts) -> list[Block]:
    def stated(text: str, name: str) -> str:
        is_assumed = name in facts.assumed
        return tr("{text} (assumed: nobody has stated it)").format(text=text) if is_assumed else text

    not_stated, not_known = tr(NOT_STATED), tr("not known")
    ohms = tr("{megohms} Mohm").format(megohms=plain(facts.input_resistance_ohm / 1e6))
    farads = tr("{picofarads} pF").format(picofarads=plain(facts.input_capacitance_farad * 1e12))
    return [
        Pairs(
            (
                (tr("Meter"), facts.name_shown()),
                (tr("Make and model"), f"{facts.make} {facts.model}".strip() or not_stated),
                (tr("Serial number"), facts.serial_number or not_stated),
                (
                    tr("Input"),
                    f"{stated(ohms, 'input_resistance_ohm')}, {stated(farads, 'input_capacitance_farad')}",
                ),
                (
                    tr("True rms"),
                    stated(tr("yes") if facts.true_rms else tr("no, or not known"), "true_rms"),
                ),
                (tr("Calibrated on"), _date(facts.calibrated_on) or not_known),
                (tr("Calibration certificate"), facts.certificate or not_stated),
            )
        ),
        TableBlock(
            stated(tr("Limits of error by the data sheet"), "accuracy"),
            (
                tr("Range up to, V"),
                tr("specified from, V"),
                tr("% of reading"),
                tr("counts"),
                tr("one count, V"),
            ),
            tuple(
                (
                    plain(a.up_to_volts),
                    plain(a.specified_from_volts),
                    plain(a.percent_of_reading),
                    plain(a.counts),
                    plain(a.resolution_volts),
                )
                for a in facts.accuracy
            ),
            frozenset({0, 1, 2, 3, 4}),
        ),
    ]
