"""What is still to be read: one list, for whoever is called and beside the sweep."""

from __future__ import annotations

from logger.clock import format_long_duration
from logger.metrology.rounding import fixed, grouped
from logger.name_list import joined, quoted
from logger.report.document.first_page.doubted_list import spots_in_doubt
from logger.report.document.first_page.in_short import above_without_a_list, stays_above
from logger.report.document.first_page.tonight import MAX_NAMED, label_of, promises_less
from logger.report.document.report_data import ReportData
from logger.report.document.unplugged_cords import unplugged_cords
from logger.report.document.wording import condition_text, reading_text, some_of
from logger.sweep.plan_text import contradiction_text, next_reading_lines, to_be_certain_text
from logger.sweep.switch_off_plan import PlanState, SwitchOffPlan
from logger.translation import tr, tr_kept
from logger.visit.records.condition import OUTSIDE_WALK
from logger.visit.records.home_records import Spot

MAX_OTHERS = 2
"""Spots without a list that are named again where there is little room: the summary of the page names more."""

MAX_LEFT = 4
"""Readings of a sweep that were not taken, and spots, that are named one by one where there is little room."""

MAX_DOUBTED = 4
"""Readings that something speaks against and that are named one by one."""


def still_to_read(data: ReportData, *, every: bool) -> list[str]:
    """Write what is still to be read, in a sentence each.

    Args:
        data: of the report.
        every: each reading is named, as where it stands on a page of its own.
    """
    plan = data.tonight
    said: list[str] = []
    if plan is not None:
        unread = [] if plan.state is PlanState.CONFIRMED else _unread(data, every)
        certain = to_be_certain_text(plan, every=every, at_once=True)
        if certain and plan.state is PlanState.CONFIRMED and not spots_in_doubt(data):
            certain = " ".join((certain, tr("Tonight's list can be used already.")))
        said += [contradiction_text(spot, reading_text) for spot in plan.contradictions]
        said += [*(unread or next_reading_lines(plan)), certain]
    swept = {one.spot.id for one in data.swept}
    only_on = [quoted(s.name) for s in data.spots if s.id not in swept and _is_read_on_only(data, s)]
    if only_on:
        said.append(tr("Read with everything off too: {spots}.").format(spots=_some(only_on, every)))
    if others := [quoted(spot.name) for spot in above_without_a_list(data) if spot.id not in swept]:
        text = tr("Find out what to switch off at {spots}: switch the breakers one by one there too.")
        said.append(text.format(spots=joined(others) if every else some_of(others, MAX_OTHERS)))
    if plan is not None:
        said.append(_calculated_only(plan, data))
    said += [*_by_two_readings(data), _doubted(data), _from_outside(data), _find_loads(data)]
    return [text for text in said if text]


def _unread(data: ReportData, every: bool) -> list[str]:
    """Write which readings of each sweep were not taken."""
    text = tr("Read what is missing at “{spot}”: {readings}.")
    left = {
        swept.spot.name: [quoted(tr_kept(combination.label)) for combination in swept.progress.left]
        for swept in data.swept
    }
    return [text.format(spot=name, readings=_some(labels, every)) for name, labels in left.items() if labels]


def _is_read_on_only(data: ReportData, spot: Spot) -> bool:
    result = data.results[spot.id]
    return result.on is not None and result.off is None and spot.room != OUTSIDE_WALK


def _some(names: list[str], every: bool) -> str:
    return joined(names) if every else some_of(names, MAX_LEFT)


def _by_two_readings(data: ReportData) -> list[str]:
    """Which cords are to be switched again: what they give rests on two readings, and the model tells nothing of it."""
    text = tr(
        "By two readings {cord} gives something at “{spot}” ({on} V with it, {without} V without): unplug it and plug "
        "it in again twice there."
    )
    return [
        text.format(
            cord=found.cord.name,
            spot=swept.spot.name,
            on=fixed(found.on.volts, 2),
            without=fixed(found.without.volts, 2),
        )
        for swept in data.swept
        for found in unplugged_cords(data, swept)
    ]


def load_periods(data: ReportData) -> str:
    """How often the loads come again that the nights show; empty where there is none."""
    loads = [load for night in data.nights for load in night.summary.loads_seen]
    return joined(list(dict.fromkeys(format_long_duration(load.period_s) for load in loads)))


def _find_loads(data: ReportData) -> str:
    periods = load_periods(data)
    return tr("Measure what switches by itself every {periods}.").format(periods=periods) if periods else ""


def _from_outside(data: ReportData) -> str:
    """That somebody has to find where it comes from that is left with everything off."""
    above = left_with_everything_off(data)
    if not above:
        return ""
    text = tr("Find out where that comes from that is left at {spots} with everything off.")
    return text.format(spots=joined(above))


def left_with_everything_off(data: ReportData) -> list[str]:
    """The spots that are above the target with everything off, in quotes."""
    return [quoted(spot.name) for spot in data.spots if stays_above(spot, data)]


def _doubted(data: ReportData) -> str:
    """Which readings something speaks against, so that they are looked at; empty where none."""
    text = tr("{number} (“{condition}” at “{spot}”)")
    numbers = [
        text.format(number=r.id, condition=condition_text(r.condition), spot=r.spot_name)
        for r in data.valid_readings
        if r.id in data.doubts
    ]
    if not numbers:
        return ""
    if len(numbers) > MAX_DOUBTED:
        text = tr(
            "Look at the {n} readings that something speaks against: the section “Readings” says which."
        )
        return text.format(n=grouped(len(numbers)))
    if len(numbers) == 1:
        doubt = next(data.doubts[r.id] for r in data.valid_readings if r.id in data.doubts)
        return tr("Look at reading {number}. {why}").format(number=numbers[0], why=doubt)
    text = tr("Look at readings {numbers}: something speaks against them; the section “Readings” says what.")
    return text.format(numbers=joined(numbers))


def _calculated_only(plan: SwitchOffPlan, data: ReportData) -> str:
    """That the longer list is still to be read."""
    if plan.state is not PlanState.CONFIRMED or not plan.relies_on_cancellation or not promises_less(plan):
        return ""
    tonight_ids = {source.id for source in (*plan.off, *plan.unplug)}
    if not {source.id for source in plan.off_robust} > tonight_ids:
        return ""
    more = [label_of(source, data) for source in plan.off_robust if source.id not in tonight_ids]
    if len(more) > MAX_NAMED:
        text = tr(
            "Measure with the list “{name}” of the section “Breaker sweep” off: it rests less on voltages that cancel."
        )
        return text.format(name=tr("Without relying on cancellation"))
    text = tr("Measure the list with {more} off too: it rests less on voltages that cancel.")
    return text.format(more=joined(more))
