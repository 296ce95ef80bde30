"""The plan of remedies of a visit: what fits what was found, what was decided and done, and what it brings.

Window, command line, report, export and archive all call `remedy_plan` (or `remedy_plan_of` for a whole log).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from logger.plan.findings import findings_of, why_open
from logger.plan.outlook import BestSet, Outlook
from logger.plan.plan_basis import PlanBasis, read_basis
from logger.plan.planned_remedy import PlannedRemedy, ProofVerdict, RemedyPlan, RemedyStatus, SpotPrediction
from logger.plan.proof import Proof
from logger.plan.proposals import Proposal, proposals
from logger.plan.remedy_kinds import KnownEffect
from logger.plan.route import repeats, route
from logger.sweep.switch_off_plan import switch_off_plan
from logger.visit import VisitLog
from logger.visit.records.home_records import Source
from logger.visit.records.remedy_records import Remedy, RemedyDecision
from logger.visit.results.remedy_in_force import InForce

PROVED = {
    ProofVerdict.PROVEN: RemedyStatus.PROVEN,
    ProofVerdict.NO_EFFECT: RemedyStatus.NO_EFFECT,
    ProofVerdict.WORSE: RemedyStatus.WORSE,
}
"""What reading again makes of a remedy that is done; with any other verdict it stays done."""


def remedy_plan_of(log: VisitLog, *, with_nights: bool = True) -> RemedyPlan:
    """Work out the plan of a visit.

    Args:
        log: an open visit log; nothing is written.
        with_nights: also the loads that came again at night, which takes seconds for a long night.
    """
    return remedy_plan(read_basis(log, with_nights=with_nights))


def remedy_plan(basis: PlanBasis) -> RemedyPlan:
    """Work out the plan of remedies.

    Args:
        basis: of the visit.
    """
    return plan_and_proof(basis)[0]


def plan_and_proof(basis: PlanBasis) -> tuple[RemedyPlan, Proof]:
    """Work out the plan, and what its results rest on.

    Args:
        basis: of the visit.
    """
    findings = findings_of(basis)
    plan = basis.tonight
    outlook = Outlook(basis, plan, basis.readings) if plan is not None else None
    remedies = [_with_outlook(one, outlook) for one in _planned(basis, proposals(findings, basis.sources))]
    proof = Proof(basis, _outlook_before(basis, outlook), {r.kept.id: r.shown for r in remedies if r.kept})
    remedies = [_with_result(one, proof) for one in remedies]
    chosen = [remedy for remedy in remedies if remedy.is_chosen]
    best = BestSet() if outlook is None or basis.function_check_failed else outlook.least_effort(remedies)
    found = RemedyPlan(
        target_volts=basis.setup.target_volts,
        findings=tuple(findings),
        remedies=tuple(remedies),
        chosen=_together(chosen, outlook) if outlook is not None and chosen else (),
        least_effort=best.remedies,
        least_effort_proven=best.proven,
        least_effort_predictions=best.predictions,
        meets_target=best.meets_target,
        may_do=best.may_do,
        may_do_chance=best.may_do_chance,
        may_do_predictions=best.may_do_predictions,
        unreachable=best.unreachable,
        route=tuple(route(basis, remedies, proof)),
        repeats=tuple(repeats(basis, remedies, proof)),
        smallest_breakers=plan.off if plan is not None else (),
        why_open=why_open(basis),
        simulated=any(reading.simulated for reading in basis.readings if reading.void_reason is None),
    )
    return found, proof


def _with_outlook(remedy: PlannedRemedy, outlook: Outlook | None) -> PlannedRemedy:
    if outlook is None or not remedy.sources or remedy.facts.effect is KnownEffect.NOT_PREDICTED:
        return remedy
    alone = outlook.predict([remedy])
    if remedy.is_done:
        return replace(remedy, predictions=alone)
    # Where not all that is done was read it would have the merit of what was not.
    found = zip(outlook.predict_next([remedy]), alone, strict=True)
    return replace(
        remedy, predictions=tuple(after if after.from_done or after.refusal else one for after, one in found)
    )


def _together(chosen: Sequence[PlannedRemedy], outlook: Outlook) -> tuple[SpotPrediction, ...]:
    """What all that is planned and done leaves: worked out from what is read of it, told against nothing done."""
    found = zip(outlook.predict_next(chosen), outlook.predict(chosen), strict=True)
    return tuple(
        after
        if after.refusal
        else replace(after, before_volts=one.before_volts, rises=one.rises, from_done=False)
        for after, one in found
    )


def _outlook_before(basis: PlanBasis, outlook: Outlook | None) -> Outlook | None:
    """What was predicted before anything was done: one that rests on what it is held against proves nothing."""
    in_force = [InForce(remedy, basis.day) for remedy in basis.remedies if remedy.done is not None]
    since = [r for r in basis.readings if any(not one.is_before_done(r.utc_ns) for one in in_force)]
    if not since:
        return outlook
    readings = [reading for reading in basis.readings if reading not in since]
    spots = [(spot.id, spot.name) for spot in basis.spots]
    plan = switch_off_plan(readings, spots, basis.sources, basis.setup)
    return Outlook(basis, plan, readings) if plan is not None else None


def _with_result(remedy: PlannedRemedy, proof: Proof) -> PlannedRemedy:
    if remedy.kept is None or (result := proof.result(remedy.kept)) is None:
        return remedy
    return replace(remedy, result=result, status=PROVED.get(result.verdict, RemedyStatus.DONE))


def _planned(basis: PlanBasis, found: Sequence[Proposal]) -> list[PlannedRemedy]:
    """The proposals with what was decided on them, then what was entered otherwise, each in its order."""
    kept: dict[tuple[str, tuple[int, ...], int | None], list[Remedy]] = {}
    for remedy in basis.remedies:
        if remedy.newest is not None:
            kept.setdefault(_key(remedy), []).append(remedy)
    out: list[PlannedRemedy] = []
    for proposal in found:
        ids = (proposal.source.id,) if proposal.source else ()
        # A remedy that was undone may be entered anew: both are there, each with its own history.
        of_log: list[Remedy | None] = [*kept.pop((proposal.kind, ids, proposal.spot_id), ())]
        sources = (proposal.source,) if proposal.source else ()
        out += [_of(basis, proposal, remedy, sources) for remedy in of_log or [None]]
    for remedies in kept.values():
        out += [_of(basis, None, remedy, _sources_of(basis, remedy)) for remedy in remedies]
    return out


def _key(remedy: Remedy) -> tuple[str, tuple[int, ...], int | None]:
    return remedy.kind, remedy.source_ids, None if remedy.source_ids else remedy.spot_id


def _sources_of(basis: PlanBasis, remedy: Remedy) -> tuple[Source, ...]:
    found = (basis.source(source_id) for source_id in remedy.source_ids)
    return tuple(source for source in found if source is not None)


def _of(
    basis: PlanBasis, proposal: Proposal | None, remedy: Remedy | None, sources: tuple[Source, ...]
) -> PlannedRemedy:
    """A remedy of the plan.

    Args:
        basis: of the visit.
        proposal: that it is; None where it was entered otherwise.
        remedy: what the log keeps of it; None where nothing was decided on it.
        sources: the circuits and cords that it is about.
    """
    kind = remedy.kind if remedy is not None else proposal.kind if proposal is not None else None
    assert kind is not None
    spot_id = remedy.spot_id if remedy is not None else proposal.spot_id if proposal is not None else None
    findings = proposal.findings if proposal is not None else ()
    return PlannedRemedy(
        kind=kind,
        sources=sources,
        spot_id=spot_id,
        spot_name=basis.spot_name(spot_id),
        text=remedy.text if remedy is not None else "",
        kept=remedy,
        status=_status(remedy),
        findings=findings,
        not_wanted=remedy is not None and remedy.decision is RemedyDecision.NOT_WANTED,
        doubt=next((finding.doubt for finding in findings if finding.doubt), ""),
    )


def _status(remedy: Remedy | None) -> RemedyStatus:
    """How far a remedy is, by what was decided on it alone."""
    if remedy is None or not remedy.is_open:
        return RemedyStatus.PROPOSED
    return RemedyStatus.PLANNED if remedy.decision is RemedyDecision.PLANNED else RemedyStatus.DONE
