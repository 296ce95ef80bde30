"""The trace around each reading."""

from __future__ import annotations

from logger.report.document.blocks import Figure, Figures, Section, Text
from logger.report.document.figures.trace import trace_svg
from logger.report.document.report_data import ReportData
from logger.report.document.wording import NBSP
from logger.visit.records.simulated_run import SIMULATED


def traces(data: ReportData) -> Section | None:
    """Build the section; None where no valid reading rests on samples."""
    figures = tuple(
        Figure(
            trace_svg(
                f"reading-{r.id}",
                f"Trace of reading {r.id}, {r.spot_name}, {r.condition}",
                data.excerpts[r.id],
            ),
            f"{r.id}. {r.spot_name}, {r.condition or 'condition not stated'}: {r.volts:.4f}{NBSP}V"
            + (f" ({SIMULATED})" if r.simulated else ""),
        )
        for r in data.valid_readings
        if r.id in data.excerpts
    )
    if not figures:
        return None
    explained = Text(
        "Each picture shows 15 s before and after the still span (shaded) that the reading is the mean of; the thick "
        "line is its level. Of a span longer than two minutes only the end is shown. Each has a scale of its own, V."
    )
    return Section("traces", "Traces of the readings", (explained, Figures(figures)))
