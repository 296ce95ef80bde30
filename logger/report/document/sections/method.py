"""How it was measured."""

from __future__ import annotations

from logger.metrology.rounding import plain
from logger.metrology.target import target_source_text
from logger.report.document.blocks import Pairs, Section, Text
from logger.report.document.report_data import ReportData
from logger.report.document.wording import NOT_STATED, SUPPLIES
from logger.translation import tr


def method(data: ReportData) -> Section:
    """Build the section."""
    setup = data.setup
    not_stated = tr(NOT_STATED)
    mains = (
        tr("{hertz} Hz").format(hertz=plain(setup.mains_hz)) if setup.mains_hz else tr("frequency not stated")
    )
    supply = tr(SUPPLIES[setup.supply]) if setup.supply else not_stated
    target = tr("{volts} V; source: {source}").format(
        volts=plain(setup.target_volts), source=target_source_text(setup.target_source, setup.target_volts)
    )
    return Section(
        "method",
        tr("Method"),
        (
            Text(
                tr(
                    "Body voltage is the AC rms voltage between a person's skin and the reference, read "
                    "through a meter of known input impedance. The person holds the probe and keeps still; "
                    "movement lifts the value, so only a steady span of the trace is taken as a reading. "
                    "The program looks for such spans while recording; what has a motion, a lasting step, "
                    "a drift, a gap or an overload in it is left out; motion that is found later stands "
                    "beside the reading. A reading is the mean of its span. “Everything off” means everything that may "
                    "be switched off."
                )
            ),
            Text(
                tr(
                    "Another meter input, another reference or another posture gives other values at the same spot. "
                    "Compare two visits only where these are the same. All is worked out with every digit and rounded "
                    "only where it is shown, so what is added up of shown values may be off by one in the last place."
                )
            ),
            Pairs(
                (
                    (tr("Household"), setup.household or not_stated),
                    (tr("Supply"), f"{supply}, {mains}"),
                    (tr("Target"), target),
                )
            ),
        ),
    )
