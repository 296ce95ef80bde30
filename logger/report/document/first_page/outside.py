"""What points outside the home's own wiring."""

from __future__ import annotations

from logger.metrology.uncertainty import compare_off_with
from logger.name_list import joined
from logger.report.document.report_data import ReportData
from logger.sweep.advice import AdviceKind
from logger.visit.records.condition import OUTSIDE_WALK
from logger.visit.results.off_value_origin import left_on_anywhere, possible_origin
from logger.visit.results.on_off_result import budget_of, walk_meaning


def outside_sentences(data: ReportData) -> list[str]:
    """Write what is left with everything off, and what was read on a walk outside."""
    out = []
    target = data.setup.target_volts
    off = [(spot, data.results[spot.id].off) for spot in data.spots]
    apart = [f"“{spot.name}”" for spot, reading in off if data.results[spot.id].contradicts(reading)]
    read = [
        (spot.name, budget)
        for spot, reading in off
        if not data.results[spot.id].contradicts(reading) and (budget := budget_of(reading)) is not None
    ]
    if apart:
        out.append(
            f"With everything off the readings at {joined(apart)} contradict each other: whether something comes from "
            "outside there is not known."
        )
    above = [f"“{name}” ({b.volts:.2f} V)" for name, b in read if compare_off_with(b, target) == "above"]
    undecided = [f"“{name}”" for name, b in read if compare_off_with(b, target) == "not distinguishable"]
    left = left_on_anywhere(data.results[spot.id].left_on for spot, reading in off if reading is not None)
    if above:
        out.append(
            f"With everything off that may be switched off, {joined(above)} "
            f"{'is' if len(above) == 1 else 'are'} left above the target: {possible_origin(left)}."
        )
    elif undecided:
        out.append(
            f"With everything off no spot is above the target for sure; at {joined(undecided)} it is too close to "
            "tell, so something from outside cannot be ruled out there."
        )
    elif read:
        every = "every other spot" if apart else "every spot"
        out.append(f"With everything off {every} is below the target: nothing points outside.")
    if data.tonight is not None:
        out += [
            piece.text
            for piece in data.tonight.advice
            if piece.kind in (AdviceKind.OUTSIDE, AdviceKind.REFERENCE)
        ]
    walked = [r for r in data.valid_readings if r.condition == OUTSIDE_WALK]
    if walk := walk_meaning(walked):
        out.append(walk)
    return out
