"""What is done by now, and the value at each spot from which a further remedy starts.

In: a `PlanBasis` and the readings of the sweep. Out: a `DoneState` for each spot. The start is a reading of the home as
it is now (moved, shielded and changed as it is), with nothing off but what is done: the one with most of that off, the
newest of these.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from logger.plan.plan_basis import PlanBasis
from logger.plan.proof_doubts import is_unproved
from logger.plan.remedy_kinds import KINDS, KnownEffect
from logger.plan.values_read import ValueRead, off_state, values_read, why_no_pair
from logger.sweep.sweep_progress import sweep_at
from logger.visit.records.reading_records import Reading
from logger.visit.records.remedy_records import Remedy
from logger.visit.results.contradicting_repeats import repeats_contradict
from logger.visit.results.remedy_in_force import changes_home


@dataclass(frozen=True, slots=True)
class DoneState:
    """What is done by now, as a spot is read with it.

    Args:
        away: ids of the circuits and cords that it takes away.
        weakened: ids of those that were moved or shielded since the sweep.
        not_predicted: remedies since the sweep of which nobody knows what they changed at the spot.
        start: what was read with a part of it, or all; None where nothing was.
        is_read: whether the start was read with all of it.
    """

    away: frozenset[int]
    weakened: frozenset[int]
    not_predicted: tuple[Remedy, ...]
    start: ValueRead | None
    is_read: bool

    @property
    def is_begun(self) -> bool:
        """Whether the start is another value than that of the sweep with nothing done."""
        return self.start is not None and bool(self.start.off or self.weakened)


def done_states(basis: PlanBasis, readings: Sequence[Reading], spot_ids: Sequence[int]) -> list[DoneState]:
    """Return what is done by now at each spot that was swept.

    Args:
        basis: of the visit.
        readings: that the sweep was worked out from.
        spot_ids: of the spots that were swept.
    """
    done = [remedy for remedy in basis.remedies if remedy.done is not None and changes_home(remedy)]
    away = frozenset(
        source_id
        for remedy in done
        if KINDS[remedy.kind].effect is KnownEffect.TAKEN_AWAY
        for source_id in remedy.source_ids
    )
    values = values_read(basis)
    return [_state(basis, spot_id, done, away, readings, values) for spot_id in spot_ids]


def _state(
    basis: PlanBasis,
    spot_id: int,
    done: Sequence[Remedy],
    away: frozenset[int],
    readings: Sequence[Reading],
    values: Sequence[ValueRead],
) -> DoneState:
    swept = sweep_at(readings, spot_id, basis.sources)
    of_sweep = swept.readings if swept is not None else ()
    home_swept = of_sweep[0].home_changes if of_sweep else frozenset()
    changed = [
        remedy
        for remedy in done
        if KINDS[remedy.kind].effect is not KnownEffect.TAKEN_AWAY and remedy.id not in home_swept
    ]
    known = [r for r in changed if r.source_ids and KINDS[r.kind].effect is KnownEffect.AT_BEST]
    here = [value for value in values if value.spot_id == spot_id and value.reading is not None]
    home_now = frozenset(r.id for r in done if KINDS[r.kind].effect is not KnownEffect.TAKEN_AWAY)
    off_now = off_state(basis, away)
    start = _start(basis, here, of_sweep, home_now, off_now)
    return DoneState(
        away,
        frozenset(source_id for remedy in known for source_id in remedy.source_ids) - away,
        tuple(r for r in changed if r not in known and r.spot_id in (None, spot_id)),
        start,
        start is not None and start.off == off_now,
    )


def _start(
    basis: PlanBasis,
    here: Sequence[ValueRead],
    of_sweep: Sequence[Reading],
    home_now: frozenset[int],
    off_now: frozenset[int],
) -> ValueRead | None:
    """The value that a further remedy starts from at a spot; None where there is none.

    Args:
        basis: of the visit.
        here: values read at the spot in this visit, oldest first.
        of_sweep: the readings of its sweep.
        home_now: ids of what was changed for good by now.
        off_now: ids of what carries no voltage with what is done.
    """
    ids = {reading.id for reading in of_sweep}
    rows = [value for value in here if value.reading is not None and value.reading.id in ids]
    fit = [
        value
        for value in here
        if value.reading is not None
        and value.reading.home_changes == home_now
        and value.off is not None
        and value.off <= off_now
        and not is_unproved(value)
        and rows
        and not why_no_pair(rows[-1], value)
    ]
    start = max(fit, key=lambda value: (len(value.off or ()), value.utc_ns), default=None)
    if start is None:
        return None
    alike = [value.reading for value in fit if value.off == start.off and value.reading is not None]
    return None if repeats_contradict(alike, start.repeatability) else start
