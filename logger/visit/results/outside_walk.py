"""What the readings of the walk outside say of where a source lies: whether the value rises along the path.

In: the readings of a visit and its spots in the order of the path. Out: sentences. Each point counts by its newest
reading, and not at all where its readings contradict each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from logger.metrology.context import why_not_comparable
from logger.metrology.difference import Term, difference
from logger.metrology.posture import Repeatability
from logger.metrology.rounding import grouped
from logger.metrology.uncertainty import Budget, shown
from logger.translation import tr, tr_n
from logger.visit.records.condition import OUTSIDE_WALK
from logger.visit.records.home_records import Spot
from logger.visit.records.reading_records import Reading
from logger.visit.results.contradicting_repeats import repeats_contradict, repeats_doubt
from logger.visit.results.on_off_result import budget_of
from logger.visit.results.posture_repeats import repeatability_on_site
from logger.visit.results.simulated_readings import measured_or_all_simulated

LEAST_POINTS = 3
"""Two points have a direction whatever they are: one more has to agree with them. No source, ours."""

LABELS = ("later", "earlier")


def walk_meaning(readings: Sequence[Reading], spots: Sequence[Spot]) -> str:
    """Whether the value rises along the path of the outside walk, in sentences; empty while no point of it was read.

    Args:
        readings: of the visit, oldest first; voided ones do not count.
        spots: of the visit, along the path.
    """
    walked = measured_or_all_simulated([r for r in readings if r.condition == OUTSIDE_WALK])
    repeatability = repeatability_on_site(readings)
    said: list[str] = []
    points: list[Reading] = []
    any_read = False
    for spot in spots:
        here = [reading for reading in walked if reading.spot_id == spot.id]
        any_read = any_read or bool(here)
        if _contradict(here):
            text = tr("Outside walk, “{spot}”: {doubt}")
            said.append(text.format(spot=spot.name, doubt=repeats_doubt(here)))
        elif here and budget_of(here[-1]) is not None:
            points.append(here[-1])
    if any_read:
        said.append(_along(points, repeatability))
    return " ".join(said)


def is_point_apart(readings: Sequence[Reading], spot: Spot) -> bool:
    """Whether the valid readings of a point of the walk contradict each other, so that its value is not known.

    Args:
        readings: of the visit.
        spot: the point.
    """
    walked = [r for r in readings if r.condition == OUTSIDE_WALK and r.spot_id == spot.id]
    return _contradict(measured_or_all_simulated(walked))


def _contradict(here: Sequence[Reading]) -> bool:
    return repeats_contradict(here, repeatability_on_site(here))


def _along(points: Sequence[Reading], repeatability: Repeatability) -> str:
    """What the points with one value each say together.

    Args:
        points: a reading of each, along the path; their budgets are known.
        repeatability: of the posture, which is taken up again at each point.
    """
    budgets = [budget for point in points if (budget := budget_of(point)) is not None]
    if len(points) < LEAST_POINTS:
        text = tr_n(
            "Outside walk: {n} point has a value that counts. Whether the value rises along the path can be told from "
            "{least} points on.",
            "Outside walk: {n} points have a value that counts. Whether the value rises along the path can be told "
            "from {least} points on.",
            len(points),
        )
        return text.format(n=grouped(len(points)), least=grouped(LEAST_POINTS))
    newest = max(points, key=lambda point: point.utc_ns)
    if why := next(filter(None, (why_not_comparable(point.context, newest.context) for point in points)), ""):
        return tr("Outside walk: the values do not show in which direction the source lies. {why}").format(
            why=why
        )
    terms = [
        Term(budget, point.context, repeatability)
        for point, budget in zip(points, budgets, strict=True)
        if point.context is not None
    ]
    changes = [
        difference(later, earlier, LABELS, same_visit=True) for earlier, later in combinations(terms, 2)
    ]
    whole = difference(terms[-1], terms[0], LABELS, same_visit=True)
    if any(map(_is_rise, changes)) and any(map(_is_fall, changes)):
        text = tr(
            "Outside walk: the value both rises and falls along the path of {n} points, so it "
            "does not show in which direction the source lies."
        )
    elif _is_rise(whole):
        text = tr(
            "Outside walk: rising along the path, from {first} to {last} over {n} points: the source may lie that way."
        )
    elif _is_fall(whole):
        text = tr(
            "Outside walk: falling along the path, from {first} to {last} over {n} points: the source is not that way."
        )
    else:
        text = tr(
            "Outside walk: neither rising nor falling for sure, from {first} to {last} over {n} points."
        )
    return text.format(first=shown(budgets[0]), last=shown(budgets[-1]), n=grouped(len(budgets)))


def _is_rise(change: Budget) -> bool:
    return change.volts > change.expanded_volts


def _is_fall(change: Budget) -> bool:
    return change.volts < -change.expanded_volts
