"""What was stated of home and reference, and the meters that the values were read with."""

from __future__ import annotations

from logger.metrology.setup import MeterFacts, Setup
from logger.report.export.table import JOINED_BY, ExportColumn, ExportTable
from logger.report.used_meters import used_meters_of_log
from logger.visit.records.circumstances import CIRCUMSTANCE_FIELDS, Circumstances
from logger.visit.storage.visit_log import VisitLog

Item = tuple[str, object, str]
"""Name, value and unit."""


def _rows(log: VisitLog) -> list[Item]:
    setup = log.setup.current()
    # What was stated of a rod is none of the building's earth, which may have been stated since.
    rod = Setup() if setup.reference == "building earth" else setup
    practitioner = log.practitioner.current()
    # The one that was taken up last comes first: its items are those without a number.
    meters = list(reversed(used_meters_of_log(log)))
    meter = meters[0]
    rows: list[Item] = [
        ("household", setup.household, ""),
        ("reference", setup.reference, ""),
        ("soil", rod.soil, ""),
        ("moisture", rod.moisture, ""),
        ("rod to main panel", rod.panel_distance_m, "m"),
        ("reference wire", rod.wire_length_m, "m"),
        ("supply", setup.supply, ""),
        ("mains frequency", setup.mains_hz, "Hz"),
        ("laptop on battery", setup.on_battery, ""),
        ("link isolated", setup.link_isolated, ""),
        ("target", setup.target_volts, "V"),
        ("source of the target", setup.target_source, ""),
        *_of_meter(meter),
        ("practitioner", practitioner.name, ""),
        ("firm", practitioner.firm, ""),
        ("licence", practitioner.licence, ""),
        ("telephone", practitioner.telephone, ""),
        ("e-mail", practitioner.email, ""),
    ]
    rows += _circumstances(log, is_rod=rod is setup)
    rows += _limits_of_meter(meter)
    for number, other in enumerate(meters[1:], 2):
        items = [*_of_meter(other), *_limits_of_meter(other)]
        rows += [(f"{item} (meter {number})", value, unit) for item, value, unit in items]
    return rows


def _of_meter(meter: MeterFacts) -> list[Item]:
    return [
        ("meter", meter.name, ""),
        ("make of the meter", meter.make, ""),
        ("model of the meter", meter.model, ""),
        ("serial number of the meter", meter.serial_number, ""),
        ("input resistance", meter.input_resistance_ohm, "ohm"),
        ("input capacitance", meter.input_capacitance_farad, "F"),
        ("true rms", meter.true_rms, ""),
        ("calibrated on", meter.calibrated_on, ""),
        ("calibration holds for", meter.calibration_interval_months, "months"),
        ("assumed of the meter", JOINED_BY.join(meter.assumed), ""),
    ]


def _limits_of_meter(meter: MeterFacts) -> list[Item]:
    rows: list[Item] = [("calibration certificate", meter.certificate, "")]
    for accuracy in meter.accuracy:
        limit = f"{accuracy.percent_of_reading:g} % of reading + {accuracy.counts:g} counts"
        text = f"{limit} of {accuracy.resolution_volts:g} V"
        if accuracy.specified_from_volts:
            text += f", specified from {accuracy.specified_from_volts:g} V"
        rows.append((f"accuracy up to {accuracy.up_to_volts:g} V", text, ""))
    return rows


def _circumstances(log: VisitLog, *, is_rod: bool) -> list[Item]:
    now, none = log.circumstances.current(), Circumstances()
    return [
        (
            field.exported or field.label.casefold(),
            getattr(none if field.only_with_rod and not is_rod else now, name),
            "m" if field.is_length else "",
        )
        for name, field in CIRCUMSTANCE_FIELDS.items()
    ]


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return repr(value) if isinstance(value, float) else str(value)


SETUP: ExportTable[Item] = ExportTable(
    "setup",
    "What was stated of home and reference, as it was last stated, and the meters that the values were read with.",
    _rows,
    (
        ExportColumn("item", "", "what", lambda item: item[0]),
        ExportColumn(
            "value",
            "",
            "as stated; empty where nobody has, and of a rod where it is none",
            lambda item: _text(item[1]),
        ),
        ExportColumn("unit", "", "of the value", lambda item: item[2]),
    ),
)
