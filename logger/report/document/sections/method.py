"""How it was measured."""

from __future__ import annotations

from logger.metrology.target import target_source_text
from logger.report.document.blocks import Pairs, Section, Text
from logger.report.document.report_data import ReportData


def method(data: ReportData) -> Section:
    """Build the section."""
    setup = data.setup
    mains = f"{setup.mains_hz:g} Hz" if setup.mains_hz else "frequency not stated"
    return Section(
        "method",
        "Method",
        (
            Text(
                "Body voltage is the AC rms voltage between a person's skin and the reference, read through a meter of "
                "known input impedance. The person holds the probe and keeps still; movement lifts the value, so only "
                "a still span of the trace is taken as a reading. The program looks for such spans while recording; a "
                "motion, a lasting step, a drift, a gap and an overload are told apart from them. A reading is the "
                "mean of its span. A spot read with everything on and with everything off stands as “on (off)”, "
                "such as 0.9 (0.05); “off” means everything that may be switched off."
            ),
            Text(
                "Another meter input, another reference or another posture gives other values at the same spot; "
                "values of two visits are comparable only where these agree."
            ),
            Pairs(
                (
                    ("Household", setup.household or "not stated"),
                    ("Supply", f"{setup.supply or 'not stated'}, {mains}"),
                    (
                        "Target",
                        f"{setup.target_volts:g} V; source: {target_source_text(setup.target_source)}",
                    ),
                )
            ),
        ),
    )
