"""What was stated of home, reference and meter."""

from __future__ import annotations

from logger.report.export.table import JOINED_BY, ExportColumn, ExportTable
from logger.visit.storage.visit_log import VisitLog

Item = tuple[str, object, str]
"""Name, value and unit."""


def _rows(log: VisitLog) -> list[Item]:
    setup = log.setup.current()
    meter, practitioner = setup.meter, log.practitioner.current()
    rows: list[Item] = [
        ("household", setup.household, ""),
        ("reference", setup.reference, ""),
        ("soil", setup.soil, ""),
        ("moisture", setup.moisture, ""),
        ("rod to main panel", setup.panel_distance_m, "m"),
        ("reference wire", setup.wire_length_m, "m"),
        ("supply", setup.supply, ""),
        ("mains frequency", setup.mains_hz, "Hz"),
        ("laptop on battery", setup.on_battery, ""),
        ("link isolated", setup.link_isolated, ""),
        ("target", setup.target_volts, "V"),
        ("source of the target", setup.target_source, ""),
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
        ("practitioner", practitioner.name, ""),
        ("firm", practitioner.firm, ""),
        ("licence", practitioner.licence, ""),
        ("telephone", practitioner.telephone, ""),
        ("e-mail", practitioner.email, ""),
    ]
    rows += _circumstances(log)
    rows.append(("calibration certificate", meter.certificate, ""))
    for accuracy in meter.accuracy:
        limit = f"{accuracy.percent_of_reading:g} % of reading + {accuracy.counts:g} counts"
        text = f"{limit} of {accuracy.resolution_volts:g} V"
        if accuracy.specified_from_volts:
            text += f", specified from {accuracy.specified_from_volts:g} V"
        rows.append((f"accuracy up to {accuracy.up_to_volts:g} V", text, ""))
    return rows


def _circumstances(log: VisitLog) -> list[Item]:
    now = log.circumstances.current()
    return [
        ("footwear", now.footwear, ""),
        ("bedding", now.bedding, ""),
        ("person measured", now.person, ""),
        ("length of the rod", now.rod_length_m, "m"),
        ("depth of the rod", now.rod_depth_m, "m"),
        ("place of the rod", now.rod_place, ""),
        ("lead", now.lead, ""),
        ("probe", now.probe, ""),
        ("weather", now.weather, ""),
    ]


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return repr(value) if isinstance(value, float) else str(value)


SETUP: ExportTable[Item] = ExportTable(
    "setup",
    "What was stated of home, reference and meter, as it was last stated.",
    _rows,
    (
        ExportColumn("item", "", "what", lambda item: item[0]),
        ExportColumn("value", "", "as stated; empty where nobody has", lambda item: _text(item[1])),
        ExportColumn("unit", "", "of the value", lambda item: item[2]),
    ),
)
