"""On, off and their difference at each spot, in full."""

from __future__ import annotations

from logger.metrology.rounding import difference_as_shown, fixed, signed_as_shown
from logger.report.document.blocks import Section, TableBlock, Text
from logger.report.document.report_data import ReportData
from logger.report.document.wording import EXPANDED
from logger.translation import tr
from logger.visit.records.home_records import Spot


def on_off_values(data: ReportData) -> Section | None:
    """Build the section; None where there is no spot."""
    rows = []
    for spot in data.spots:
        result = data.results[spot.id]
        if result.on is None and result.off is None:
            continue
        difference = result.difference()
        on, off = (fixed(r.volts, 4) if r else "–" for r in (result.on, result.off))
        rows.append(
            (
                _spot_text(spot, result.simulated),
                on,
                off,
                signed_as_shown(difference_as_shown(off, on)) if difference else "–",
                fixed(difference.expanded_volts, 4) if difference else "–",
                result.meaning(data.setup.target_volts),
            )
        )
    never = [spot.name for spot in data.spots if spot.id not in {r.spot_id for r in data.valid_readings}]
    not_read = (Text(tr("Planned and not read: {spots}.").format(spots=", ".join(never))),) if never else ()
    if not rows:
        return Section("spots", tr("Spots"), not_read) if not_read else None
    table = TableBlock(
        tr("On, off and their difference, V"),
        (tr("Spot"), tr("On"), tr("Off"), tr("On − off"), EXPANDED, tr("What it means")),
        tuple(rows),
        frozenset({1, 2, 3, 4}),
    )
    return Section("spots", tr("Spots"), (table, *not_read))


def _spot_text(spot: Spot, simulated: bool) -> str:
    if spot.room:
        text = tr("{spot} ({room}), simulated") if simulated else tr("{spot} ({room})")
        return text.format(spot=spot.name, room=spot.room)
    return tr("{spot}, simulated").format(spot=spot.name) if simulated else spot.name
