"""What remedies would bring, and which of them reach the target with the least effort: the solver's answers in words.

In: a `PlanBasis`. Out: predictions by spot, the set of least effort, and why a spot stays above the target. The
numbers are those of `logger.plan.solver`; here its names become circuits, cords and spots again, and the uncertainty of
meter and reference is added.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from logger.metrology.rounding import rounded
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.name_list import joined, quoted
from logger.plan.done_state import DoneState, done_states
from logger.plan.findings import budget_with_context
from logger.plan.plan_basis import PlanBasis
from logger.plan.planned_remedy import PlannedRemedy, SpotPrediction, Unreachable
from logger.plan.remedy_kinds import KINDS, KnownEffect
from logger.plan.solver import prediction as solved
from logger.plan.solver.least_effort import LeastEffort, least_effort
from logger.plan.solver.prediction import Rise
from logger.plan.solver.prediction_from_done import ReadWith, predict_from
from logger.plan.solver.remedies import Refusal
from logger.plan.solver.remedies import Remedy as Choice
from logger.plan.solver.remedy_problem import RemedyProblem, problem_of_houses
from logger.plan.solver.unreachable import Unreachable as SolvedUnreachable
from logger.sweep.spot_plan import SpotPlan
from logger.sweep.sweep_progress import sweep_at
from logger.sweep.switch_off_plan import SwitchOffPlan
from logger.translation import marked, tr
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading
from logger.visit.records.remedy_records import RemedyKind
from logger.visit.results.contradicting_repeats import u_in_sweep_volts

REFUSALS: Mapping[Refusal, str] = {
    Refusal.CONTRADICTORY: marked("Not predicted: readings at this spot contradict each other."),
    Refusal.NO_BACKGROUND: marked("Not predicted: everything off was not read at this spot."),
    Refusal.SUPPLY: marked(
        "Not predicted: the readings fit another kind of supply better than the one entered."
    ),
    Refusal.NOT_READ: marked(
        "Not predicted: it was not switched or unplugged between the readings at this spot."
    ),
    Refusal.NO_BOUND: marked("Not predicted: part of what is live was not read well enough at this spot."),
    Refusal.NOT_FITTING: marked(
        "Not predicted: what was read here since remedies were done does not fit what the sweep says of them."
    ),
    Refusal.ESSENTIAL: marked("Not predicted: it must stay on."),
    Refusal.NOT_SWEPT: marked("Not predicted: it was not part of the sweep."),
    Refusal.UNKNOWN_EFFECT: marked("Not predicted: how much it takes away is not known before it is done."),
    Refusal.NOTHING: marked("It gives next to nothing at every spot."),
}
"""Why nothing is predicted; go through `tr` where they are shown."""

NOT_KNOWN_WHAT_CHANGED = marked("Not predicted: nobody knows what this has changed: {remedies}.")
"""Goes through `tr` where it is shown."""


@dataclass(frozen=True, slots=True)
class BestSet:
    """The set of least effort.

    Args:
        remedies: those in it; none where none meets the target and doing nothing leaves as little.
        proven: whether the whole search shows that no set of less effort is as good.
        meets_target: whether it is predicted to meet the target at every spot.
        predictions: what it leaves at each spot.
        unreachable: the spots that stay above the target, and why.
        may_do: a set of clearly less effort that may meet the target as well; none where none is worth a reading.
        may_do_chance: share of the possible houses in which it does, within 0.03 V.
        may_do_predictions: what it is predicted to leave at each spot.
    """

    remedies: tuple[PlannedRemedy, ...] = ()
    proven: bool = False
    meets_target: bool = False
    predictions: tuple[SpotPrediction, ...] = ()
    unreachable: tuple[Unreachable, ...] = ()
    may_do: tuple[PlannedRemedy, ...] = ()
    may_do_chance: float = 0.0
    may_do_predictions: tuple[SpotPrediction, ...] = ()


class Outlook:
    """Predicts what remedies leave at the spots of a sweep.

    Args:
        basis: of the visit.
        plan: of the sweep whose houses it rests on.
        readings: that the sweep was worked out from.
    """

    def __init__(self, basis: PlanBasis, plan: SwitchOffPlan, readings: Sequence[Reading]) -> None:
        self._basis = basis
        self.plan = plan
        self._sweep_readings = readings
        self._readings = {
            spot.spot_id: [r for r in readings if r.spot_id == spot.spot_id and r.void_reason is None]
            for spot in plan.spots
        }
        self._problem: RemedyProblem = problem_of_houses(
            plan.problem,
            [str(spot.spot_id) for spot in plan.spots],
            [not spot.is_consistent for spot in plan.spots],
            [_exchangeable(spot, readings, basis.sources) for spot in plan.spots],
            supply_in_doubt=bool(plan.supply_doubt),
        )
        self._names = frozenset(self._problem.switching.names)
        self._done: list[DoneState] | None = None

    def predict(self, remedies: Sequence[PlannedRemedy]) -> tuple[SpotPrediction, ...]:
        """What remedies together leave at each spot; those that nothing predicts count as not done.

        Args:
            remedies: of the plan.
        """
        away = _ids(remedies, KnownEffect.TAKEN_AWAY)
        return self.predict_without(away, _ids(remedies, KnownEffect.AT_BEST) - away)

    def predict_without(
        self, away: Collection[int], weakened: Collection[int] = frozenset()
    ) -> tuple[SpotPrediction, ...]:
        """What is left at each spot without circuits and cords.

        Args:
            away: ids of what is taken away.
            weakened: ids of what is moved or shielded.
        """
        names = {str(source_id) for source_id in (*away, *weakened)}
        if not names <= self._names:
            return self._not_swept()
        found = solved.predict(self._problem, set(map(str, away)), set(map(str, weakened)))
        return tuple(self._shown(index, one) for index, one in enumerate(found))

    def predict_next(self, remedies: Sequence[PlannedRemedy]) -> tuple[SpotPrediction, ...]:
        """What remedies leave at each spot on top of all that is done by now, starting from the newest reading of that.

        `before_volts` is that reading, with all that is done (`from_done`) or a part; `rises` is against it. Where no
        reading with anything done counts it starts from nothing done, with what is done taken away as well. U is never
        wider than from nothing done.

        Args:
            remedies: of the plan; those that are done already change nothing, those that nothing predicts count as not
                done.
        """
        if self._done is None:
            self._done = done_states(self._basis, self._sweep_readings, [s.spot_id for s in self.plan.spots])
        done = self._done
        # What carried no voltage in any reading of the sweep is no part of its houses.
        gone = frozenset(map(int, self._problem.named(self._problem.never_live)))
        away = frozenset[int]().union(_ids(remedies, KnownEffect.TAKEN_AWAY), *(s.away for s in done)) - gone
        weakened = [_ids(remedies, KnownEffect.AT_BEST) | state.weakened for state in done]
        if not {str(source_id) for source_id in away.union(*weakened)} <= self._names:
            return self._not_swept()
        found = []
        for index, state in enumerate(done):
            if state.not_predicted:
                found.append(self._refused(index, self._not_known(state)))
                continue
            start = self._read_with(state, gone)
            predicted = predict_from(
                self._problem, index, _named(away), _named(weakened[index] - away), start
            )
            found.append(self._shown(index, predicted, state if start else None))
        return tuple(found)

    def least_effort(self, remedies: Sequence[PlannedRemedy]) -> BestSet:
        """Find the set of least effort among remedies.

        What acts at night comes before unplugging for good, which costs the household the use of the appliance.

        Args:
            remedies: of the plan.
        """
        able = [
            remedy
            for remedy in remedies
            if remedy.sources
            and not remedy.not_wanted
            and remedy.facts.effect is not KnownEffect.NOT_PREDICTED
            and (remedy.kind is not RemedyKind.UNPLUG or remedy.is_chosen)
            and {str(source.id) for source in remedy.sources} <= self._names
        ]
        choices = [
            Choice(
                str(index),
                frozenset(str(source.id) for source in remedy.sources),
                remedy.facts.effort,
                remedy.facts.effect is KnownEffect.TAKEN_AWAY,
            )
            for index, remedy in enumerate(able)
        ]
        found = least_effort(self._problem, choices)
        if found.refusal is not None:
            return BestSet()
        may_do = found.may_do
        return BestSet(
            tuple(able[int(name)] for name in found.remedies),
            found.proven,
            found.meets_target,
            tuple(self._shown(index, one) for index, one in enumerate(found.spots)),
            tuple(self._unreachable(one, found) for one in found.unreachable),
            tuple(able[int(name)] for name in may_do.remedies) if may_do else (),
            may_do.chance if may_do else 0.0,
            tuple(self._shown(index, one) for index, one in enumerate(may_do.spots)) if may_do else (),
        )

    def _not_swept(self) -> tuple[SpotPrediction, ...]:
        why = tr(REFUSALS[Refusal.NOT_SWEPT])
        return tuple(self._refused(index, why) for index in range(len(self.plan.spots)))

    def _refused(self, index: int, why: str) -> SpotPrediction:
        spot = self.plan.spots[index]
        return SpotPrediction(spot.spot_id, spot.name, refusal=why)

    def _not_known(self, state: DoneState) -> str:
        """Why nothing is predicted since remedies were done of which nobody knows what they changed."""
        names = [one.text or tr(KINDS[one.kind].words) for one in state.not_predicted]
        return tr(NOT_KNOWN_WHAT_CHANGED).format(remedies=joined(list(map(quoted, names))))

    def _read_with(self, state: DoneState, gone: frozenset[int]) -> ReadWith | None:
        """The value that a state starts from, as the solver takes it; None where there is none of the sweep's things.

        Args:
            state: of the spot.
            gone: ids of what carried no voltage in any reading of the sweep.
        """
        start = state.start
        if start is None or start.off is None or start.reading is None:
            return None
        off = start.off - gone
        if not _named(off) <= self._names:
            return None
        u_volts = u_in_sweep_volts(start.reading, start.repeatability)
        return ReadWith(_named(off), _named(state.weakened - off), start.volts, u_volts)

    def _shown(
        self, index: int, found: solved.SpotPrediction, state: DoneState | None = None
    ) -> SpotPrediction:
        """A prediction with names and the uncertainty of meter and reference.

        Args:
            index: of the spot.
            found: by the solver.
            state: what is done by now, where it starts from a value that was read with it.
        """
        spot = self.plan.spots[index]
        before = spot.everything_on.volts if spot.everything_on is not None else None
        if state is not None and state.start is not None:
            before = state.start.volts
        if found.refusal is not None:
            return SpotPrediction(
                spot.spot_id, spot.name, before_volts=before, refusal=tr(REFUSALS[found.refusal])
            )
        u_volts = found.u_volts
        if found.volts is not None and u_volts is not None:
            u_volts = budget_with_context(self._readings[spot.spot_id], found.volts, u_volts).u_volts
        return SpotPrediction(
            spot.spot_id,
            spot.name,
            found.volts,
            u_volts,
            before,
            found.at_best.lowest_volts if found.at_best else None,
            found.at_best.highest_volts if found.at_best else None,
            _rise(found.rises, before),
            found.is_read,
            found.is_known,
            from_done=state is not None and state.is_begun and state.is_read,
            may_be_swapped=found.may_be_swapped,
        )

    def _unreachable(self, found: SolvedUnreachable, best: LeastEffort) -> Unreachable:
        spot_id = int(found.spot)
        return Unreachable(
            spot_id,
            self._basis.spot_name(spot_id),
            found.left_volts,
            budget_with_context(self._readings[spot_id], found.left_volts, found.u_left_volts).u_volts,
            self._why(found, best),
        )

    def _why(self, found: SolvedUnreachable, best: LeastEffort) -> str:
        """Why a spot stays above the target, in sentences."""
        background = rounded(found.background_volts, COVERAGE_FACTOR * found.u_background_volts)
        parts = [
            tr(
                "With everything off that may be switched off {volts} V ± {expanded} V are left there."
            ).format(volts=background.volts, expanded=background.expanded)
        ]
        name = self._source_name
        if stays := [*found.in_background, *(part.name for part in found.essential)]:
            parts.append(tr("This must stay on: {names}.").format(names=joined(list(map(name, stays)))))
        if found.without_remedy:
            names = joined([name(part.name) for part in found.without_remedy])
            parts.append(tr("No remedy whose effect is known takes this away: {names}.").format(names=names))
        if not best.proven:
            parts.append(tr("Not every set was tried: there may be a better one."))
        return " ".join(parts)

    def _source_name(self, name: str) -> str:
        source = self._basis.source(int(name))
        return source.name if source is not None else name


def _exchangeable(
    spot: SpotPlan, readings: Sequence[Reading], sources: Sequence[Source]
) -> list[tuple[int, int]]:
    """Numbers of the rows of a spot's sweep, two by two from 1, that may have been exchanged.

    Args:
        spot: of the sweep's plan.
        readings: that the sweep was worked out from.
        sources: circuits and cords of the visit.
    """
    if not spot.exchangeable:
        return []
    swept = sweep_at(readings, spot.spot_id, sources)
    assert swept is not None, "what may have been exchanged was swept"
    number_of = {reading.id: number for number, reading in enumerate(swept.readings, 1)}
    return [(number_of[one.id], number_of[other.id]) for one, other in spot.exchangeable]


def _named(ids: Collection[int]) -> frozenset[str]:
    """The solver's names of circuits and cords."""
    return frozenset(map(str, ids))


def _ids(remedies: Sequence[PlannedRemedy], effect: KnownEffect) -> frozenset[int]:
    return frozenset(
        source.id for remedy in remedies if KINDS[remedy.kind].effect is effect for source in remedy.sources
    )


def _rise(found: Rise | None, before_volts: float | None) -> Rise:
    """Whether a value rises; that it only may says nothing against a value that nobody has read.

    Args:
        found: by the possible houses; None where nothing is predicted.
        before_volts: read with everything on, V; None where nobody read it.
    """
    if found is None or (before_volts is None and found is Rise.MAY):
        return Rise.NO
    return found
