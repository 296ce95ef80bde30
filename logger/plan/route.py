"""The readings that prove remedies: made from what was touched, and nothing more.

In: a `PlanBasis`, its remedies and their results. Out: the spots to read, with what is to be on. What is done is read
where it acts, once for all remedies that act there; what is planned is read before it is done, where nobody has yet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from logger.plan.plan_basis import PlanBasis
from logger.plan.planned_remedy import PlannedRemedy, ProofVerdict, RemedyStatus, RoutePurpose, RouteStop
from logger.plan.proof import Proof
from logger.sweep.sweep_progress import Combination, combination_as_at_night
from logger.visit.records.home_records import Spot
from logger.visit.results.remedy_in_force import changes_home

TO_READ = (ProofVerdict.NOT_READ, ProofVerdict.NOT_COMPARABLE)
"""Verdicts that another reading may decide. One that was not told apart is on the route where its readings were taken
before something of the set-up was stated; all that is done may be read again."""


def route(basis: PlanBasis, remedies: Sequence[PlannedRemedy], proof: Proof) -> list[RouteStop]:
    """Return the readings to take, those before a remedy first, each in the order of the spots.

    Args:
        basis: of the visit.
        remedies: of the plan, with their results.
        proof: of the visit.
    """
    after = list(_after(basis, remedies, proof))
    places = {(stop.spot_id, stop.combination.live) for stop in after}
    again = [
        stop
        for stop in _again(basis, remedies, proof, only_wide=True)
        if (stop.spot_id, stop.combination.live) not in places
    ]
    return [*_before(basis, remedies, proof), *after, *again]


def repeats(basis: PlanBasis, remedies: Sequence[PlannedRemedy], proof: Proof) -> list[RouteStop]:
    """Return the readings that may be taken again of what is done: with it, then without it where possible.

    Args:
        basis: of the visit.
        remedies: of the plan, with their results.
        proof: of the visit.
    """
    return list(_again(basis, remedies, proof, only_wide=False))


def _before(basis: PlanBasis, remedies: Sequence[PlannedRemedy], proof: Proof) -> Iterator[RouteStop]:
    planned = [one for one in remedies if one.status is RemedyStatus.PLANNED]
    everything_on = _without(basis, proof.off_now())
    for spot in basis.spots:
        names = [
            one.shown
            for one in planned
            if one.kept is not None
            and changes_home(one.kept)
            and _acts_at(one, spot, proof)
            and not proof.has_before(one.kept, spot.id)
        ]
        if names:
            yield RouteStop(spot.id, spot.name, everything_on, RoutePurpose.BEFORE, tuple(names))


def _after(basis: PlanBasis, remedies: Sequence[PlannedRemedy], proof: Proof) -> Iterator[RouteStop]:
    combination = _without(basis, proof.off_now())
    waiting = [one for one in remedies if one.result is not None and one.result.verdict in TO_READ]
    for spot in basis.spots:
        names = [one.shown for one in waiting if _is_to_read(one, spot, proof)]
        if names:
            yield RouteStop(spot.id, spot.name, combination, RoutePurpose.AFTER, tuple(names))


def _again(
    basis: PlanBasis, remedies: Sequence[PlannedRemedy], proof: Proof, *, only_wide: bool
) -> Iterator[RouteStop]:
    """The readings with what is done, then those without one of the remedies, each place and condition once.

    Args:
        basis: of the visit.
        remedies: of the plan, with their results.
        proof: of the visit.
        only_wide: only where nothing was told apart, and the newest such reading was taken before something was stated.
    """
    done = [one for one in remedies if one.result is not None and one.kept is not None]
    if only_wide:
        done = [one for one in done if one.result and one.result.verdict is ProofVerdict.NOT_TOLD_APART]
    off = proof.off_now()
    names: dict[tuple[bool, int, frozenset[int]], list[str]] = {}
    for one in done:
        assert one.kept is not None and one.result is not None
        states = [(False, off, proof.newest_after)]
        if one.result.can_read_before:
            states.append((True, off - frozenset(one.kept.source_ids), proof.newest_before))
        for spot in basis.spots:
            if not _acts_at(one, spot, proof):
                continue
            for is_without, away, newest in states:
                value = newest(one.kept, spot.id)
                if not only_wide or (value is not None and proof.is_wide(value)):
                    names.setdefault((is_without, spot.id, away), []).append(one.shown)
    for (_, spot_id, away), shown in sorted(names.items(), key=lambda item: item[0][0]):
        yield RouteStop(
            spot_id, basis.spot_name(spot_id), _without(basis, away), RoutePurpose.AGAIN, tuple(shown)
        )


def _acts_at(remedy: PlannedRemedy, spot: Spot, proof: Proof) -> bool:
    return remedy.kept is not None and spot.id in proof.affected(remedy.kept)


def _is_to_read(remedy: PlannedRemedy, spot: Spot, proof: Proof) -> bool:
    """Whether reading a spot again may prove a remedy: it acts there, was read before, and has no difference yet."""
    assert remedy.kept is not None and remedy.result is not None
    has_difference = any(
        change.spot_id == spot.id and change.difference is not None for change in remedy.result.changes
    )
    return _acts_at(remedy, spot, proof) and proof.has_before(remedy.kept, spot.id) and not has_difference


def _without(basis: PlanBasis, off: frozenset[int]) -> Combination:
    """Everything on without circuits and cords, as at night."""
    circuits = [source.id for source in basis.sources if source.kind == "circuit" and source.id in off]
    cords = [source.id for source in basis.sources if source.kind == "cord" and source.id in off]
    return combination_as_at_night(circuits, basis.sources, cords)
