"""What a later visit of a home takes over of the plan: the remedies that are open, with what was read before them.

In: an earlier visit log. Out: its planned remedies, and those done that are not decided by a reading, each with the
newest values of the spots that it acts on, and what was predicted there. `continue_home` makes the later visit of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from logger.clock import Clock
from logger.plan.outlook import Outlook
from logger.plan.plan_basis import PlanBasis, read_basis
from logger.plan.planned_remedy import PlannedRemedy, RemedyStatus, SpotPrediction
from logger.plan.proof import Proof
from logger.plan.remedy_plan import plan_and_proof
from logger.plan.values_read import ValueRead, values_read
from logger.visit import VisitLog
from logger.visit.records.remedy_records import Remedy, RemedyBaseline
from logger.visit.results.remedy_in_force import changes_home
from logger.visit.storage import continue_home as _home

TAKEN_OVER = (RemedyStatus.PLANNED, RemedyStatus.DONE)
"""A remedy that is proven, without effect or worse is decided, and stays in the visit that shows it."""


def continue_home(before: Path, new: Path, clock: Clock | None = None) -> None:
    """Make a new visit log of the home of an earlier one, its open remedies too.

    Args:
        before: the earlier visit; it stays as it is.
        new: the new visit log; must not exist.
        clock: injected time.

    Raises:
        StillvoltError: the earlier visit is damaged or none, or the new one cannot be made; then none is left.
    """
    _home.continue_home(before, new, open_remedies, clock)


def open_remedies(earlier: VisitLog) -> list[tuple[Remedy, list[RemedyBaseline]]]:
    """Return the remedies that a later visit takes over, each with what was read before it.

    Args:
        earlier: the earlier visit log.
    """
    if not any(remedy.is_open for remedy in earlier.remedies.all()):
        return []
    basis = read_basis(earlier, with_nights=False)
    plan, proof = plan_and_proof(basis)
    kept = {one.kept.id: one for one in plan.remedies if one.kept is not None and one.status in TAKEN_OVER}
    remedies = [kept[id_] for id_ in sorted(kept)]
    together = {one.spot_id: one for one in proof.outlook.predict(remedies)} if proof.outlook else {}
    return [
        (one.kept, list(_baselines(basis, one, proof, together))) for one in remedies if one.kept is not None
    ]


def _baselines(
    basis: PlanBasis, planned: PlannedRemedy, proof: Proof, together: dict[int, SpotPrediction]
) -> Iterator[RemedyBaseline]:
    """The newest value before a remedy at each spot that it acts on, or what this visit itself took over of it.

    Args:
        basis: of the earlier visit.
        planned: the remedy.
        proof: of the earlier visit.
        together: what all open remedies are predicted to leave, by the id of the spot.
    """
    remedy = planned.kept
    if remedy is None or not changes_home(remedy):
        return
    taken_over = {b.spot_id: b for b in basis.baselines if b.remedy_id == remedy.id}
    alone = _by_spot(proof.outlook, planned)
    for spot_id in proof.affected(remedy):
        values = [v for v in values_read(basis) if v.spot_id == spot_id and proof.is_before(remedy, v)]
        if not values:
            continue
        newest = values[-1]
        if newest.baseline is not None:
            if spot_id in taken_over:
                yield taken_over[spot_id]
            continue
        yield _baseline(basis, remedy, newest, alone.get(spot_id), together.get(spot_id))


def _by_spot(outlook: Outlook | None, planned: PlannedRemedy) -> dict[int, SpotPrediction]:
    if outlook is None or not planned.sources:
        return {}
    return {found.spot_id: found for found in outlook.predict([planned])}


def _baseline(
    basis: PlanBasis,
    remedy: Remedy,
    value: ValueRead,
    alone: SpotPrediction | None,
    together: SpotPrediction | None,
) -> RemedyBaseline:
    reading = value.reading
    assert reading is not None
    return RemedyBaseline(
        remedy_id=remedy.id,
        spot_id=value.spot_id,
        utc_ns=value.utc_ns,
        visit=basis.visit,
        condition=value.condition,
        live=reading.live,
        listed=reading.listed,
        volts=value.volts,
        u_volts=value.u_volts,
        context=value.context,
        details=value.details,
        repeatability=value.repeatability,
        predicted_volts=alone.volts if alone else None,
        u_predicted_volts=alone.u_volts if alone else None,
        predicted_together_volts=together.volts if together else None,
        u_predicted_together_volts=together.u_volts if together else None,
    )
