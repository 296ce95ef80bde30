"""The trace around each reading."""

from __future__ import annotations

from logger.report.document.blocks import MANY_FIGURES, Figure, Figures, Section, Text
from logger.report.document.figures.trace import NARROW, ROOM_ABOVE, WIDE, trace_svg
from logger.report.document.report_data import ReportData
from logger.report.document.wording import condition_text, reading_text, with_mark
from logger.translation import tr
from logger.visit.records.reading_records import Reading

LOW_SHARE = 0.2
"""Under this share of the highest level of its spot a trace would be a line at the foot of the picture."""


def traces(data: ReportData) -> Section | None:
    """Build the section; None where no valid reading rests on samples."""
    shown = [reading for reading in data.valid_readings if reading.id in data.excerpts]
    if not shown:
        return None
    highest_volts = _scales(data, shown)
    shape = NARROW if len(shown) > MANY_FIGURES else WIDE
    figures = tuple(
        Figure(
            trace_svg(
                f"reading-{r.id}",
                tr("Trace of reading {number}, {spot}, {condition}").format(
                    number=r.id, spot=r.spot_name, condition=condition_text(r.condition)
                ),
                data.excerpts[r.id],
                highest_volts[r.id],
                shape,
            ),
            with_mark(
                tr("{number}. {spot}, {condition}: {value}").format(
                    number=r.id,
                    spot=r.spot_name,
                    condition=condition_text(r.condition),
                    value=reading_text(r),
                ),
                r.simulated and not data.all_simulated,
            ),
        )
        for r in shown
    )
    explained = Text(
        tr(
            "Each picture shows volts over seconds: up to 15 s before and after the steady span (shaded) that the "
            "reading is the mean of; the thick line is its level. Of a span longer than two minutes only the end is "
            "shown. All pictures of a spot have the same scale, from 0 V. Only readings below a fifth of the spot's "
            "highest level have a finer scale, and that is the same for all of these. Motion, or what was read "
            "before, may run out of the picture at the top."
        )
    )
    return Section("traces", tr("Traces of the readings"), (explained, Figures(figures)))


def _scales(data: ReportData, shown: list[Reading]) -> dict[int, float]:
    """To how many volts the picture of each reading goes, by its id: two scales for a spot, a coarse and a fine one."""
    levels: dict[int, dict[int, float]] = {}
    for reading in shown:
        levels.setdefault(reading.spot_id, {})[reading.id] = data.excerpts[reading.id].level_volts
    out: dict[int, float] = {}
    for of_spot in levels.values():
        limit_volts = LOW_SHARE * max(of_spot.values())
        for group in (
            {key: volts for key, volts in of_spot.items() if volts >= limit_volts},
            {key: volts for key, volts in of_spot.items() if volts < limit_volts},
        ):
            out |= dict.fromkeys(group, ROOM_ABOVE * max(group.values(), default=0.0))
    return out
