"""What causes what: the bars of what gives how much at each swept spot, and of confirmed steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from logger.metrology.rounding import as_number, fixed, grouped, plain, rounded
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.name_list import joined, quoted
from logger.report.document.figures.bar_chart import BarRow, bar_chart_svg
from logger.report.document.first_page.amounts import Amount, amount_at
from logger.report.document.report_data import ReportData
from logger.sweep.confirmation import ConfirmationVerdict, Effect
from logger.sweep.plan_text import contradiction_reason, more_than_all_text
from logger.sweep.solver.switching_problem import NEGLIGIBLE_VOLTS
from logger.sweep.spot_plan import SourceContribution, SpotPlan
from logger.sweep.switch_off_plan import PlanState
from logger.translation import tr, tr_n, with_percent

MAX_BARS = 6
MIN_BARS = 3
"""The largest are shown, at several swept spots fewer at each, but for what is on tonight's list; the rest stands in
the table of the sweep."""

MAX_SPOTS_NOTED = 2
"""At so many swept spots what has no bar is noted below the bars of each; at more a sentence stands for all."""

MAX_SPOTS_DRAWN = 2
"""Swept spots that have bars here; more have theirs in the section of the sweep alone."""

WIDTH = 248.0
"""Of a picture, which stands beside the table of spots."""


@dataclass(frozen=True, slots=True)
class Cause:
    """What gives how much at a spot: a picture, and a sentence on what is not in it."""

    title: str
    picture: str
    rest: str


def causes(data: ReportData) -> list[Cause]:
    """Draw the bars of each swept spot, then those of the confirmed steps."""
    at_spots = _shown_at_spots(data)
    found = [_cause_at(spot, shown, data, _count_swept(data)) for spot, shown in at_spots]
    shown_ids = {(spot.spot_id, bar.given.source.id) for spot, shown in at_spots for bar in shown.bars}
    confirmed = _confirmed_rows(data, shown_ids)
    if confirmed:
        title = tr("Confirmed by switching on and off again")
        target = data.setup.target_volts
        found.append(Cause(title, bar_chart_svg("confirmed", title, confirmed, target, WIDTH, key=False), ""))
    return found


def bars_key(data: ReportData) -> str:
    """Write what the marks and words of the bars mean; empty where there is no bar."""
    bars = [bar for _, at_spot in _shown_at_spots(data) for bar in at_spot.bars]
    if not bars:
        return ""
    text = tr("Thin line: where the true value very likely is (about {percent}%). Dashed: the target.")
    out = [*_cancelling(data), *_with_cords(bars, data), with_percent(text.format(percent=95))]
    if any(bar.amount.confirmed for bar in bars):
        out.append(tr("Confirmed: switched on and off again, and the value followed."))
    plainly = [bar.amount for bar in bars if not bar.amount.confirmed and not bar.amount.estimate]
    if any(amount.read for amount in plainly):
        out.append(tr("Measured: with only this breaker on."))
    if any(not amount.read for amount in plainly):
        out.append(tr("Worked out: from the readings of several breakers."))
    if any(bar.amount.estimate for bar in bars):
        out.append(tr("About: not certain yet."))
    return " ".join(out)


def _cancelling(data: ReportData) -> list[str]:
    """That the values of the bars do not add up, where a circuit alone gives more than everything on; else nothing."""
    spots = data.tonight.spots if data.tonight else ()
    cancelling = [quoted(spot.name) for spot in spots if more_than_all_text(spot)]
    if not cancelling or len(spots) == 1:
        return []
    if len(spots) > MAX_SPOTS_DRAWN:
        return [
            tr(
                "Do not add these values up: the voltages of several circuits partly cancel each other, and one alone "
                "can give more than all of them together."
            )
        ]
    text = tr(
        "Do not add these values up: the voltages of several circuits partly cancel each other, and at {spots} one "
        "alone can give more than all of them together."
    )
    return [text.format(spots=joined(cancelling))]


@dataclass(frozen=True, slots=True)
class _Bar:
    """What a circuit or cord gives at a spot, as it is shown there."""

    given: SourceContribution
    amount: Amount


@dataclass(frozen=True, slots=True)
class _Shown:
    """What of a spot is shown.

    Args:
        bars: the largest first.
        unknown: circuits and cords of which the readings do not tell what they give.
        others: what those give that have no bar.
        other_ids: the ids of those.
    """

    bars: tuple[_Bar, ...]
    unknown: tuple[str, ...]
    others: tuple[Amount, ...]
    other_ids: tuple[int, ...] = ()


def _shown_at_spots(data: ReportData) -> list[tuple[SpotPlan, _Shown]]:
    """What is shown of each swept spot; the more spots, the less of each."""
    spots = data.tonight.spots if data.tonight else ()
    return [(spot, _shown_at(spot, data, len(spots))) for spot in spots[:MAX_SPOTS_DRAWN]]


def _count_swept(data: ReportData) -> int:
    return len(data.tonight.spots) if data.tonight else 0


def _shown_at(spot: SpotPlan, data: ReportData, spots: int) -> _Shown:
    """The largest bars of a spot, and what of tonight's list gives more than the target there.

    What would be a bar above the target and cannot be told apart from nothing is named, and not drawn.
    """
    max_bars = max(MAX_BARS // spots, MIN_BARS)
    target = data.setup.target_volts
    plan = data.tonight
    listed = {source.id for source in (*plan.off, *plan.unplug)} if plan is not None else set()
    found = [
        _Bar(given, amount_at(spot, given, data))
        for given in (spot.contributions if spot.is_consistent else ())
    ]
    found.sort(key=lambda bar: -bar.amount.volts)
    unknown = [
        bar
        for bar in found
        if not bar.amount.confirmed
        and not bar.amount.read
        and target < bar.amount.volts <= COVERAGE_FACTOR * bar.amount.u_volts
    ]
    told = [bar for bar in found if bar not in unknown]
    noticed = [bar for bar in told if bar.amount.volts > NEGLIGIBLE_VOLTS]
    bars = [
        bar
        for place, bar in enumerate(noticed)
        if place < MIN_BARS
        or (
            place < MAX_BARS
            and bar.amount.volts > target
            and (place < max_bars or bar.given.source.id in listed)
        )
    ]
    return _Shown(
        tuple(bars),
        tuple(bar.given.source.name for bar in unknown),
        tuple(bar.amount for bar in told if bar not in bars),
        tuple(bar.given.source.id for bar in told if bar not in bars),
    )


def _amount_text(amount: Amount, all_simulated: bool) -> str:
    """Write what a circuit or cord gives, and what is to be known of it.

    Args:
        amount: what it gives.
        all_simulated: the whole visit is simulated, which the page says once.
    """
    if amount.estimate:
        text = tr("about {volts} V, stays on") if amount.stays else tr("about {volts} V")
    elif not amount.confirmed and not amount.read:
        text = tr("{volts} V, stays on, worked out") if amount.stays else tr("{volts} V, worked out")
    elif not amount.confirmed:
        text = tr("{volts} V, stays on, measured") if amount.stays else tr("{volts} V, measured")
    elif amount.simulated and not all_simulated:
        text = (
            tr("{volts} V, stays on, confirmed, simulated")
            if amount.stays
            else tr("{volts} V, confirmed, simulated")
        )
    else:
        text = tr("{volts} V, stays on, confirmed") if amount.stays else tr("{volts} V, confirmed")
    return text.format(volts=fixed(amount.volts, 2))


def _cause_at(spot: SpotPlan, shown: _Shown, data: ReportData, spots: int) -> Cause:
    """Draw the bars of a spot.

    Args:
        spot: the plan there.
        shown: what of it is drawn.
        data: of the report.
        spots: how many were swept; of several `bars_key` says once what holds for more than one.
    """
    title = tr("What gives how much at “{spot}”").format(spot=spot.name)
    if not spot.is_consistent:
        return Cause(title, "", contradiction_reason(spot))
    rows = [
        BarRow(
            bar.given.source.name,
            bar.amount.volts,
            bar.amount.u_volts,
            tr("{amount} (in its circuit)").format(amount=amount) if _is_included(bar, shown) else amount,
            bar.amount.stays,
        )
        for bar in shown.bars
        for amount in (_amount_text(bar.amount, data.all_simulated),)
    ]
    target = data.setup.target_volts
    picture = bar_chart_svg(f"causes-{spot.spot_id}", title, rows, target, WIDTH, key=False) if rows else ""
    said = [
        *([] if rows else [tr("No single circuit or cord gives a noticeable part.")]),
        *([*_others(spot, shown, data), *_unknown(shown.unknown)] if spots <= MAX_SPOTS_NOTED else []),
        *([more_than_all_text(spot)] if spots == 1 else []),
    ]
    return Cause(title, picture, " ".join(filter(None, said)))


def _is_included(bar: _Bar, shown: _Shown) -> bool:
    """Whether a cord's part is in the bar of its circuit beside it; a confirmed switching speaks for itself."""
    return any(
        other.given.source.id == bar.given.source.circuit_id and not other.amount.confirmed
        for other in shown.bars
    )


def _unknown(names: Sequence[str]) -> list[str]:
    """Name the sources of which it is not known what each gives."""
    if not names:
        return []
    text = tr_n(
        "How much {names} gives here by itself is not certain.",
        "How much {names} give here, each by itself, is not certain.",
        len(names),
    )
    return [text.format(names=joined(names))]


def _with_cords(bars: Sequence[_Bar], data: ReportData) -> list[str]:
    """Write which circuits are shown with the cords on them; a confirmed switching speaks for itself."""
    circuits = {bar.given.source.id: bar.given.source.name for bar in bars if not bar.amount.confirmed}
    cords = {
        circuit_id: [cord.name for cord in data.sources if cord.circuit_id == circuit_id]
        for circuit_id in circuits
    }
    with_cords = [(circuits[circuit_id], names) for circuit_id, names in cords.items() if names]
    if len(with_cords) > 1:
        return [tr("A circuit's value includes what is plugged in there.")]
    text = tr("{circuit} includes what is plugged in there: {cords}.")
    return [text.format(circuit=circuit, cords=joined(names)) for circuit, names in with_cords]


def _others(spot: SpotPlan, shown: _Shown, data: ReportData) -> list[str]:
    """Write how much those give that have no bar, or that they may stay on, where it was read that they may."""
    if not shown.others or not shown.bars:
        return []
    plan = data.tonight
    listed = {source.id for source in (*plan.off, *plan.unplug)} if plan is not None else set()
    if (
        plan is not None
        and plan.state is PlanState.CONFIRMED
        and spot.verdict(plan.target_volts) == "below"
        and not listed & set(shown.other_ids)
    ):
        text = tr_n(
            "The other one ({n}) may stay on: with it on it fell below {target} V here.",
            "The other {n} may stay on: with them on it fell below {target} V here.",
            len(shown.others),
        )
        return [text.format(n=grouped(len(shown.others)), target=plain(plan.target_volts))]
    n, at_most = len(shown.others), max(_most_as_shown(one) for one in shown.others)
    if at_most <= NEGLIGIBLE_VOLTS:
        text = tr_n("{n} other: next to nothing.", "{n} others: next to nothing.", n)
    elif all(one.volts <= _expanded(one) for one in shown.others):
        text = tr_n(
            "At {n} more nothing could be seen (if there is something, less than about {volts} V).",
            "At {n} more nothing could be seen (if there is something, less than about {volts} V each).",
            n,
        )
    else:
        text = tr_n("{n} other: at most about {volts} V.", "{n} others: each at most about {volts} V.", n)
    return [text.format(n=grouped(n), volts=fixed(at_most, 2))]


def _most_as_shown(amount: Amount) -> float:
    """The highest that an amount may be, V: the sum of the figures that the section of the sweep shows of it."""
    figures = rounded(amount.volts, _expanded(amount))
    return float(as_number(figures.volts) + as_number(figures.expanded))


def _expanded(amount: Amount) -> float:
    return COVERAGE_FACTOR * amount.u_volts


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
        rows.append(BarRow(name, abs(effect.volts), effect.u_volts, _change_text(effect, data.all_simulated)))
    return sorted(rows, key=lambda row: -row.volts)


def _change_text(effect: Effect, all_simulated: bool) -> str:
    """Write a confirmed change; one that lowers the value is marked as such.

    Args:
        effect: the change.
        all_simulated: the whole visit is simulated, which the page says once.
    """
    marked_so = effect.simulated and not all_simulated
    if effect.volts < 0:
        text = tr("less {volts} V, simulated") if marked_so else tr("less {volts} V")
    else:
        text = tr("{volts} V, simulated") if marked_so else tr("{volts} V")
    return text.format(volts=fixed(abs(effect.volts), 2))
