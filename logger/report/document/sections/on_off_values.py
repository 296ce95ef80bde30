"""On, off and their difference at each spot, in full."""

from __future__ import annotations

from logger.report.document.blocks import Section, TableBlock, Text
from logger.report.document.report_data import ReportData
from logger.report.document.wording import EXPANDED, signed_volts
from logger.visit.records.simulated_run import SIMULATED


def on_off_values(data: ReportData) -> Section | None:
    """Build the section; None where there is no spot."""
    rows = []
    for spot in data.spots:
        result = data.results[spot.id]
        if result.on is None and result.off is None:
            continue
        difference = result.difference()
        rows.append(
            (
                f"{spot.name}{f' ({spot.room})' if spot.room else ''}{f', {SIMULATED}' if result.simulated else ''}",
                *(f"{r.volts:.4f}" if r else "–" for r in (result.on, result.off)),
                signed_volts(difference.volts) if difference else "–",
                f"{difference.expanded_volts:.4f}" if difference else "–",
                result.meaning(data.setup.target_volts),
            )
        )
    never = [spot.name for spot in data.spots if spot.id not in {r.spot_id for r in data.valid_readings}]
    not_read = (Text(f"Planned and not read: {', '.join(never)}."),) if never else ()
    if not rows:
        return Section("spots", "Spots", not_read) if not_read else None
    table = TableBlock(
        "On, off and their difference, V",
        ("Spot", "On", "Off", "On − off", EXPANDED, "What it means"),
        tuple(rows),
        frozenset({1, 2, 3, 4}),
    )
    return Section("spots", "Spots", (table, *not_read))
