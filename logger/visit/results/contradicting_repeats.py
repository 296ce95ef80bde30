"""Whether valid readings of one spot in one condition contradict each other: for window, report, export and archive.

In: the readings. Out: whether neither their uncertainties nor the posture explain how far they are apart, and that in
words. No value and no ± holds for them until the mistaken one is voided.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot

from logger.metrology.context import why_not_comparable
from logger.metrology.posture import Repeatability
from logger.metrology.rounding import DECIMALS_WITHOUT_UNCERTAINTY, fixed
from logger.name_list import joined
from logger.repeats import MIN_U_VOLTS, combine
from logger.translation import tr
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.reading_records import Reading
from logger.visit.results.detail_differences import other_body, why_other_way
from logger.visit.results.posture_repeats import repeatability_on_site
from logger.visit.results.simulated_readings import measured_or_all_simulated

RepeatKey = tuple[str, frozenset[int] | None, frozenset[int], frozenset[int]]
"""A condition, the ids of what was live, None where that is not known or does not count, and what had been done for
good until then: remedies, and cords that were unplugged."""

MAX_POSTURE_SHARE = 0.1
"""Repeats that scatter by more than this share of the value show a mistake rather than the posture: one wrong decimal
place must not make every other contradiction look like posture. No source, ours."""


def u_in_sweep_volts(reading: Reading, repeatability: Repeatability) -> float:
    """Standard uncertainty of a reading relative to the others of its sweep, V: scatter and posture.

    Whoever sweeps gets up for every breaker. The posture counts by its standard deviation, without the factor for few
    degrees of freedom: that belongs to an interval, and in a test of consistency it would hide what contradicts. Meter
    and reference are the same for all readings of a sweep, so they do not count here.

    Args:
        reading: of the sweep.
        repeatability: of the posture in this visit.
    """
    return hypot(reading.u_volts, min(repeatability.share, MAX_POSTURE_SHARE) * abs(reading.volts))


def contradicting_repeats(readings: Sequence[Reading]) -> list[tuple[Reading, ...]]:
    """Group the valid readings of a visit by spot and by what was on; return the groups that contradict each other.

    Args:
        readings: of the visit, oldest first.
    """
    found: list[tuple[Reading, ...]] = []
    for spot_id in dict.fromkeys(reading.spot_id for reading in readings):
        here = measured_or_all_simulated([r for r in readings if r.spot_id == spot_id])
        groups: list[list[Reading]] = []
        for reading in (reading for reading in here if reading.condition):
            same = next((group for group in groups if is_repeat(group[-1], reading)), None)
            if same is None:
                groups.append([reading])
            else:
                same.append(reading)
        repeatability = repeatability_on_site([reading for same in groups for reading in same])
        found += [tuple(same) for same in groups if repeats_contradict(same, repeatability)]
    return found


def is_repeat(one: Reading, other: Reading) -> bool:
    """Return whether two readings of one spot are repeats of each other.

    They have the same on, are of the same body, and meter and reference do not keep them from being compared.
    """
    if repeat_key(one) != repeat_key(other) or other_body(one.details, other.details) is not None:
        return False
    return not why_other_context(one, other)


def why_other_context(one: Reading, other: Reading) -> str:
    """Why meter or reference keep two readings from being held against each other, in a sentence; empty where not.

    Of readings without what meter and reference were, as older logs have them, nobody knows of a difference.

    Args:
        one: of the two.
        other: of the same spot.
    """
    contexts = one.context, other.context
    return "" if None in contexts else why_not_comparable(*contexts)


def why_no_second(one: Reading, other: Reading) -> str:
    """Why two readings of the same do not count as two of it, in one sentence; empty where they do.

    Args:
        one: of the two.
        other: of the same spot, with the same on.
    """
    return why_other_context(one, other) or why_other_way(one.details, other.details)


def repeat_key(reading: Reading) -> RepeatKey:
    """Return what readings of one spot share that are repeats of each other: what was on.

    Everything on is the same whatever was listed. With everything off something may have stayed on, and while no
    circuit was listed nobody knows what. The two stay apart also where the same listed circuits were live in both: what
    is not listed was on in the one and off in the other.

    Args:
        reading: of the spot.
    """
    home = reading.home_changes, reading.unplugged
    if reading.condition == EVERYTHING_ON:
        return EVERYTHING_ON, None, *home
    is_named_by_live = reading.live is not None and reading.condition != EVERYTHING_OFF
    return "" if is_named_by_live else reading.condition, reading.live, *home


def repeats_contradict(repeats: Sequence[Reading], repeatability: Repeatability) -> bool:
    """Return whether readings of one spot in one condition contradict each other.

    Args:
        repeats: the readings.
        repeatability: of the posture at the spot.
    """
    if len(repeats) < 2:
        return False
    return combine(
        [(r.volts, max(u_in_sweep_volts(r, repeatability), MIN_U_VOLTS)) for r in repeats]
    ).contradict


def repeats_doubt(repeats: Sequence[Reading]) -> str:
    """Format what speaks against each of some readings that contradict each other, in two sentences."""
    values = joined([f"{fixed(reading.volts, DECIMALS_WITHOUT_UNCERTAINTY)} V" for reading in repeats])
    return tr(
        "Its valid readings ({values}) contradict each other, so that no ± holds. Something else changed between "
        "them, or one is mistaken: read again, and void the mistaken one."
    ).format(values=values)
