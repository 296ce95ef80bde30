"""The trace around each reading."""

from __future__ import annotations

from logger.metrology.rounding import fixed
from logger.report.document.blocks import Figure, Figures, Section, Text
from logger.report.document.figures.trace import trace_svg
from logger.report.document.report_data import ReportData
from logger.report.document.wording import condition_text, with_mark
from logger.translation import tr


def traces(data: ReportData) -> Section | None:
    """Build the section; None where no valid reading rests on samples."""
    figures = tuple(
        Figure(
            trace_svg(
                f"reading-{r.id}",
                tr("Trace of reading {number}, {spot}, {condition}").format(
                    number=r.id, spot=r.spot_name, condition=condition_text(r.condition)
                ),
                data.excerpts[r.id],
            ),
            with_mark(
                tr("{number}. {spot}, {condition}: {volts} V").format(
                    number=r.id,
                    spot=r.spot_name,
                    condition=condition_text(r.condition),
                    volts=fixed(r.volts, 4),
                ),
                r.simulated,
            ),
        )
        for r in data.valid_readings
        if r.id in data.excerpts
    )
    if not figures:
        return None
    explained = Text(
        tr(
            "Each picture shows 15 s before and after the still span (shaded) that the reading is the mean of; the "
            "thick line is its level. Of a span longer than two minutes only the end is shown. Each has a scale of "
            "its own, V."
        )
    )
    return Section("traces", tr("Traces of the readings"), (explained, Figures(figures)))
