"""What causes what: the bars of what gives how much at each swept spot, and of confirmed steps."""

from __future__ import annotations

from dataclasses import dataclass

from logger.metrology.rounding import form_volts, grouped
from logger.report.document.figures.bar_chart import BarRow, bar_chart_svg
from logger.report.document.report_data import ReportData
from logger.report.document.wording import reading_text
from logger.sweep.confirmation import ConfirmationVerdict, Effect
from logger.sweep.plan_text import contradiction_text, more_than_all_text
from logger.sweep.solver.switching_problem import NEGLIGIBLE_VOLTS
from logger.sweep.spot_plan import SpotPlan
from logger.translation import tr, tr_n

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
    at_spots = [(spot, _shown_at(spot, data, max_bars)) for spot in spots]
    found = [_cause_at(spot, shown, target, max_bars) for spot, shown in at_spots]
    confirmed = _confirmed_rows(
        data, {(spot.spot_id, bar.source_id) for spot, shown in at_spots for bar in shown}
    )
    if confirmed:
        title = tr("Confirmed by switching on and off again")
        found.append(
            Cause(title, bar_chart_svg("confirmed", title, confirmed, target, HALF_WIDTH, key=False), "")
        )
    return found


@dataclass(frozen=True, slots=True)
class _Bar:
    """What a circuit or cord gives at a spot, as it is shown there.

    Args:
        source_id: of the circuit or cord.
        row: the bar.
    """

    source_id: int
    row: BarRow


def _shown_at(spot: SpotPlan, data: ReportData, max_bars: int) -> list[_Bar]:
    """The largest bars of a spot; of what was switched there by itself and confirmed, that change.

    The change is measured at once before and after. What the readings of the sweep give of the same is as wide as the
    unknown phase of all others leaves it, and two figures of one thing would be a riddle.
    """
    bars = []
    for given in spot.contributions if spot.is_consistent else ():
        effect = data.effects.get((spot.spot_id, given.source.id))
        volts, u_volts = given.volts, given.u_volts
        confirmed = effect if effect is not None and effect.is_confirmed_rise else None
        if confirmed is not None:
            volts, u_volts = confirmed.volts, confirmed.u_volts
        text = _amount_text(form_volts(volts), bool(given.source.stays), confirmed)
        if volts > NEGLIGIBLE_VOLTS:
            row = BarRow(given.source.name, volts, u_volts, text, bool(given.source.stays))
            bars.append(_Bar(given.source.id, row))
    return sorted(bars, key=lambda bar: -bar.row.volts)[:max_bars]


def _amount_text(volts: str, stays_on: bool, confirmed: Effect | None) -> str:
    """Write what a circuit or cord gives, and what is to be known of it.

    Args:
        volts: as they are shown.
        stays_on: whether it must stay on.
        confirmed: what switching it on and off again has confirmed; None where that confirmed nothing.
    """
    if confirmed is None:
        text = tr("{volts} V, stays on") if stays_on else tr("{volts} V")
    elif confirmed.simulated:
        text = (
            tr("{volts} V, stays on, confirmed, simulated")
            if stays_on
            else tr("{volts} V, confirmed, simulated")
        )
    else:
        text = tr("{volts} V, stays on, confirmed") if stays_on else tr("{volts} V, confirmed")
    return text.format(volts=volts)


def _cause_at(spot: SpotPlan, shown: list[_Bar], target_volts: float, max_bars: int) -> Cause:
    title = tr("What gives how much at “{spot}”").format(spot=spot.name)
    if not spot.is_consistent:
        return Cause(title, "", contradiction_text(spot, reading_text))
    if not shown:
        return Cause(title, "", tr("No single circuit or cord gives a noticeable part."))
    rows = [bar.row for bar in shown]
    picture = bar_chart_svg(f"causes-{spot.spot_id}", title, rows, target_volts, HALF_WIDTH, key=False)
    others = len(spot.contributions) - len(shown)
    rest = ""
    if others and len(shown) == max_bars:
        text = tr_n("{n} other circuit or cord: less.", "{n} other circuits and cords: less.", others)
        rest = text.format(n=grouped(others))
    elif others:
        text = tr_n(
            "{n} other circuit or cord: next to nothing.",
            "{n} other circuits and cords: next to nothing.",
            others,
        )
        rest = text.format(n=grouped(others))
    return Cause(title, picture, " ".join(filter(None, (rest, more_than_all_text(spot)))))


def _confirmed_rows(data: ReportData, shown: set[tuple[int, int]]) -> list[BarRow]:
    """The confirmed changes that no bar of a spot shows yet.

    Args:
        data: of the report.
        shown: ids of spot and of circuit or cord of the bars that are there.
    """
    rows = []
    for (spot_id, source_id), effect in data.effects.items():
        source = data.every_source.get(source_id)
        if (
            effect.verdict is not ConfirmationVerdict.CONFIRMED
            or source is None
            or (spot_id, source_id) in shown
        ):
            continue
        name = source.name
        if spot_id in data.every_spot_name:
            name = tr("{source} ({spot})").format(source=name, spot=data.every_spot_name[spot_id])
        rows.append(BarRow(name, abs(effect.volts), effect.u_volts, _change_text(effect)))
    return sorted(rows, key=lambda row: -row.volts)


def _change_text(effect: Effect) -> str:
    """Write a confirmed change; one that lowers the value is marked as such."""
    if effect.volts < 0:
        text = tr("less {volts} V, simulated") if effect.simulated else tr("less {volts} V")
    else:
        text = tr("{volts} V, simulated") if effect.simulated else tr("{volts} V")
    return text.format(volts=form_volts(abs(effect.volts)))
