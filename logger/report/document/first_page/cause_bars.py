"""What causes what: the bars of what gives how much at each swept spot, and of confirmed steps."""

from __future__ import annotations

from dataclasses import dataclass

from logger.metrology.rounding import form_volts
from logger.report.document.figures.bar_chart import BarRow, bar_chart_svg
from logger.report.document.report_data import ReportData
from logger.report.document.wording import counted, reading_text
from logger.sweep.confirmation import ConfirmationVerdict
from logger.sweep.plan_text import contradiction_text, more_than_all_text
from logger.sweep.solver.switching_problem import NEGLIGIBLE_VOLTS
from logger.sweep.spot_plan import SpotPlan
from logger.visit.records.simulated_run import SIMULATED

MAX_BARS = 6
MIN_BARS = 3
"""The largest are shown, at several swept spots fewer at each; the rest stands in the table of the sweep."""

HALF_WIDTH = 330.0
"""Of a picture in one of the two columns."""


@dataclass(frozen=True, slots=True)
class Cause:
    """What gives how much at a spot: a picture, and a sentence on what is not in it."""

    title: str
    picture: str
    rest: str


def causes(data: ReportData) -> list[Cause]:
    """Draw the bars of each swept spot, then those of the confirmed steps."""
    target = data.setup.target_volts
    spots = data.tonight.spots if data.tonight else ()
    max_bars = max(MAX_BARS // max(len(spots), 1), MIN_BARS)
    found = [_cause_at(spot, target, max_bars) for spot in spots]
    confirmed = _confirmed_rows(data)
    if confirmed:
        title = "Confirmed by switching on and off again"
        found.append(
            Cause(title, bar_chart_svg("confirmed", title, confirmed, target, HALF_WIDTH, key=False), "")
        )
    return found


def _cause_at(spot: SpotPlan, target_volts: float, max_bars: int) -> Cause:
    bars = sorted(spot.contributions, key=lambda bar: -bar.volts)
    shown = [bar for bar in bars if bar.volts > NEGLIGIBLE_VOLTS][:max_bars]
    title = f"What gives how much at “{spot.name}”"
    if not spot.is_consistent:
        return Cause(title, "", contradiction_text(spot, reading_text))
    if not shown:
        return Cause(title, "", "No single circuit or cord gives a noticeable part.")
    rows = [
        BarRow(
            bar.source.name,
            bar.volts,
            bar.u_volts,
            f"{form_volts(bar.volts)} V" + (", stays on" if bar.source.stays else ""),
            bool(bar.source.stays),
        )
        for bar in shown
    ]
    picture = bar_chart_svg(f"causes-{spot.spot_id}", title, rows, target_volts, HALF_WIDTH, key=False)
    others = len(bars) - len(shown)
    less = "less" if len(shown) == max_bars else "next to nothing"
    rest = (
        f"{counted(others, 'other circuit or cord', 'other circuits and cords')}: {less}." if others else ""
    )
    return Cause(title, picture, " ".join(filter(None, (rest, more_than_all_text(spot)))))


def _confirmed_rows(data: ReportData) -> list[BarRow]:
    rows = []
    for (spot_id, source_id), effect in data.effects.items():
        source = data.every_source.get(source_id)
        if effect.verdict is not ConfirmationVerdict.CONFIRMED or source is None:
            continue
        where = f" ({data.every_spot_name[spot_id]})" if spot_id in data.every_spot_name else ""
        less = "less " if effect.volts < 0 else ""
        rows.append(
            BarRow(
                f"{source.name}{where}",
                abs(effect.volts),
                effect.u_volts,
                f"{less}{form_volts(abs(effect.volts))} V" + (f", {SIMULATED}" if effect.simulated else ""),
            )
        )
    return sorted(rows, key=lambda row: -row.volts)
