"""What points outside the home's own wiring."""

from __future__ import annotations

from collections.abc import Sequence

from logger.metrology.rounding import fixed
from logger.metrology.uncertainty import Budget, compare_off_with
from logger.name_list import joined
from logger.report.document.nearest_reading import near_spots
from logger.report.document.report_data import ReportData
from logger.report.document.swapped_readings import may_be_swapped
from logger.report.document.wording import some_of
from logger.sweep.advice import AdviceKind
from logger.translation import tr, tr_n
from logger.visit.records.home_records import Spot
from logger.visit.results.off_value_origin import LeftOn, left_on_anywhere, possible_origin
from logger.visit.results.on_off_result import budget_of
from logger.visit.results.outside_walk import walk_meaning

MAX_NAMED = 4
"""Spots below the target that are named; of more only the number is told."""


def outside_sentences(data: ReportData) -> list[str]:
    """Write what is left with everything off, and what was read on a walk outside."""
    out = _with_everything_off(data)
    out += [piece.text for piece in data.advice if piece.kind in (AdviceKind.OUTSIDE, AdviceKind.REFERENCE)]
    if walk := walk_meaning(data.valid_readings, data.spots):
        out.append(walk)
    return out


# long: one sentence for each way in which the values with everything off can lie to the target
def _with_everything_off(data: ReportData) -> list[str]:
    out = []
    target = data.setup.target_volts
    off = [(spot, data.results[spot.id].off) for spot in data.spots]
    quoted = tr("“{name}”")
    apart = [
        quoted.format(name=spot.name) for spot, reading in off if data.results[spot.id].contradicts(reading)
    ]
    swapped = [
        spot.name
        for spot, reading in off
        if reading is not None
        and not data.results[spot.id].contradicts(reading)
        and may_be_swapped(reading, data, compare_off_with)
    ]
    read = [
        (spot.name, budget)
        for spot, reading in off
        if spot.name not in swapped
        and not data.results[spot.id].contradicts(reading)
        and (budget := budget_of(reading)) is not None
    ]
    if apart:
        text = tr(
            "With everything off the readings at {spots} contradict each other: whether something comes from outside "
            "there is not known."
        )
        out.append(text.format(spots=joined(apart)))
    if swapped:
        text = tr(
            "What is left with everything off is not certain yet at {spots}: two values there may have been written "
            "down under each other's name."
        )
        out.append(text.format(spots=joined([quoted.format(name=name) for name in swapped])))
    above = [
        tr("“{name}” ({volts} V)").format(name=name, volts=fixed(b.volts, 2))
        for name, b in read
        if compare_off_with(b, target) == "above"
    ]
    undecided = [
        quoted.format(name=name) for name, b in read if compare_off_with(b, target) == "not distinguishable"
    ]
    left = left_on_anywhere(data.results[spot.id].left_on for spot, reading in off if reading is not None)
    if above:
        text = tr_n(
            "With everything off that may be switched off, {spots} is still above the target: {origin}.",
            "With everything off that may be switched off, {spots} are still above the target: {origin}.",
            len(above),
        )
        out.append(text.format(spots=joined(above), origin=possible_origin(left)))
        if not left.listed:
            out[-1] += " " + tr("So its cause is not known.")
        out += _written_down(data)
    elif undecided:
        text = tr(
            "With everything off no spot is above the target for sure; at {spots} it is too close to tell, so "
            "something from outside cannot be ruled out there."
        )
        out.append(text.format(spots=joined(undecided)))
    elif read and (apart or swapped):
        below = tr("With everything off all other spots are below the target.")
        out.append(f"{below} {_left_below(read, left)}")
    elif read and not all(reading for _, reading in off):
        text = tr_n(
            "With everything off {spots} is below the target.",
            "With everything off {spots} are below the target.",
            len(read),
        )
        out.append(text.format(spots=some_of([quoted.format(name=name) for name, _ in read], MAX_NAMED)))
    elif read:
        below = tr("With everything off every spot is below the target.")
        out.append(f"{below} {_left_below(read, left)}")
    return [*out, *_not_read(data)] if read or swapped else out


def _left_below(read: Sequence[tuple[str, Budget]], left_on: LeftOn) -> str:
    """What values below the target say of a source outside: only one that may be zero shows no sign of it.

    Args:
        read: name and value with everything off of each spot, all below the target.
        left_on: what was still live then.
    """
    left = [(budget.volts, name) for name, budget in read if budget.volts > budget.expanded_volts]
    if not left:
        return tr("No value there can be told from zero: no sign of a source outside.")
    volts, name = max(left)
    text = tr(
        "Up to {volts} V is left (“{spot}”): {origin}. Below the target does not mean that there is no source."
    )
    return text.format(volts=fixed(volts, 2), spot=name, origin=possible_origin(left_on))


def _not_read(data: ReportData) -> list[str]:
    """Name the spots that were read with everything on only."""
    unread = [tr("“{name}”").format(name=spot.name) for spot in data.spots if _is_read_on_only(spot, data)]
    text = tr("Not read with everything off, so not known: {spots}.")
    return [text.format(spots=joined(unread))] if unread else []


def _is_read_on_only(spot: Spot, data: ReportData) -> bool:
    """Whether a spot was read with everything on, and not with everything off."""
    result = data.results[spot.id]
    return result.on is not None and result.off is None


def _written_down(data: ReportData) -> list[str]:
    """What was written down near the readings of the spots that are above the target with everything off."""
    near = near_spots(data)
    text = tr("Written down at “{spot}”: {marks}. Whether that is the cause was not tested.")
    return [
        text.format(spot=spot.name, marks=joined(near[spot.id]))
        for spot in data.spots
        if spot.id in near
        and (reading := data.results[spot.id].off) is not None
        and (budget := budget_of(reading)) is not None
        and compare_off_with(budget, data.setup.target_volts) == "above"
    ]
