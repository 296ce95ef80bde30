"""What is still to be read: one list, for whoever is called and beside the sweep."""

from __future__ import annotations

from logger.name_list import joined, quoted
from logger.report.document.first_page.doubted_list import spots_in_doubt
from logger.report.document.first_page.in_short import above_without_a_list
from logger.report.document.report_data import ReportData
from logger.report.document.wording import reading_text, some_of
from logger.sweep.plan_text import contradiction_text, next_reading_lines, to_be_certain_text
from logger.sweep.switch_off_plan import PlanState
from logger.translation import tr, tr_kept
from logger.visit.records.condition import OUTSIDE_WALK
from logger.visit.records.home_records import Spot

MAX_LEFT = 4
"""Readings of a sweep that were not taken, and spots, that are named one by one where there is little room."""


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
        said.append(text.format(spots=_some(others, every)))
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
