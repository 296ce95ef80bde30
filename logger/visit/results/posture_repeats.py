"""The repeatability of the posture as a visit has measured it: counted by itself where a spot was read twice.

In: the readings of a visit. Out: a `Repeatability`. A repeat is a reading of the same spot in the same condition, with
the same meter and reference, before which the posture was left and taken up again.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from logger.clock import NS_PER_S
from logger.metrology.context import why_not_comparable
from logger.metrology.posture import DEFAULT_SHARE, Repeatability, pooled_repeatability
from logger.visit.records.condition import HOLDS_S, OUTSIDE_WALK
from logger.visit.records.reading_records import Reading
from logger.visit.results.detail_differences import other_body
from logger.visit.results.simulated_readings import measured_or_all_simulated

MIN_AWAY_S = 5.0
"""Nobody gets up and lies down again in less. A spot that is read again after a shorter break, or from the same settled
span, has the same posture. No source, ours."""

MAX_NOISE_SHARE = DEFAULT_SHARE / 2
"""A reading whose own standard uncertainty is a larger share of it shows its noise and not its posture."""


_RepeatKey = tuple[int, str, frozenset[int] | None, frozenset[int], frozenset[int]]
"""Spot, condition, what was live, and what had been done for good until then."""


def repeatability_on_site(readings: Sequence[Reading]) -> Repeatability:
    """Pool all repeats of a visit with the default.

    Args:
        readings: of the visit, oldest first; voided ones, and those of the outside walk, do not count.
    """
    # A simulated body repeats its posture as it was programmed to: that says nothing of a real one.
    groups = repeat_groups(measured_or_all_simulated(readings))
    return pooled_repeatability([[reading.volts for reading in group] for group in groups])


def repeat_groups(readings: Sequence[Reading]) -> list[list[Reading]]:
    """Readings of one spot in one condition, each of which had its posture taken up anew; groups of two and more.

    Between the readings of a group either another spot was read, or nothing else was read and the trace was not settled
    for a while. What was switched in between is not counted as getting up: somebody else may have been at the panel.

    Args:
        readings: of the visit, oldest first.
    """
    valid = _that_count(readings)
    groups: dict[_RepeatKey, list[list[Reading]]] = {}
    last_at: dict[_RepeatKey, int] = {}
    for index, reading in enumerate(valid):
        key = _key(reading)
        runs = groups.setdefault(key, [])
        between = valid[last_at[key] + 1 : index] if key in last_at else []
        last_at[key] = index
        if not _shows_posture(reading):
            continue
        if runs and _same_circumstances(runs[-1][-1], reading):
            if _taken_up_again(runs[-1][-1], reading, between):
                runs[-1].append(reading)
        else:
            runs.append([reading])
    return [group for runs in groups.values() for group in runs if len(group) > 1]


class WhyNoRepeat(StrEnum):
    """Why a spot that was read again in one condition shows nothing of the posture."""

    NOISE = "noise"
    """A value is no larger than tells its posture from its noise."""
    SAME_POSTURE = "same posture"
    """The posture was not left, or meter, reference or body were others."""


def uncounted_repeats(readings: Sequence[Reading]) -> list[tuple[WhyNoRepeat, list[Reading]]]:
    """Readings of one spot in one condition that `repeat_groups` leaves out, each group with why.

    Args:
        readings: of the visit, oldest first.
    """
    counted = {reading.id for group in repeat_groups(readings) for reading in group}
    alike: dict[_RepeatKey, list[Reading]] = {}
    for reading in _that_count(readings):
        alike.setdefault(_key(reading), []).append(reading)
    return [
        (WhyNoRepeat.SAME_POSTURE if all(map(_shows_posture, group)) else WhyNoRepeat.NOISE, group)
        for group in alike.values()
        if len(group) > 1 and not all(reading.id in counted for reading in group)
    ]


def _key(reading: Reading) -> _RepeatKey:
    return reading.spot_id, reading.condition, reading.live, reading.home_changes, reading.unplugged


def _that_count(readings: Sequence[Reading]) -> list[Reading]:
    return [r for r in readings if r.void_reason is None and r.condition not in ("", OUTSIDE_WALK)]


def _shows_posture(reading: Reading) -> bool:
    return reading.taken != "override" and 0.0 < reading.u_volts <= MAX_NOISE_SHARE * reading.volts


def _same_circumstances(before: Reading, after: Reading) -> bool:
    """Whether a statement of what is on still holds from the one to the other, with the same meter and reference."""
    soon = abs(after.utc_ns - before.utc_ns) <= HOLDS_S * NS_PER_S
    same_body = other_body(before.details, after.details) is None
    return soon and same_body and not why_not_comparable(before.context, after.context)


def _taken_up_again(before: Reading, after: Reading, between: Sequence[Reading]) -> bool:
    if between:
        return any(reading.spot_id != after.spot_id for reading in between)
    if before.end_utc_ns is None or after.start_utc_ns is None:
        return False
    return after.start_utc_ns - before.end_utc_ns >= MIN_AWAY_S * NS_PER_S
