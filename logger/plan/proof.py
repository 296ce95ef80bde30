"""What a remedy that is done has brought, by reading again in the same condition.

In: a `PlanBasis` and one of its remedies. Out: a `RemedyResult`.

The condition is the household's everything on before, without what was off at night or unplugged for good by other
remedies by then, and after it the same without what this one takes away; what is about no circuit or cord may also be
read with everything off, both times. What acts at night may be read with it on again at any time: that is a value
before it, too. Before and after are one paired difference (`logger.metrology.difference`): the meter's gain counts
once, the posture twice; another reference, input of the meter, posture, height or person is not comparable.

- **Worse:** a spot that was read before and after rises by more than U, wherever it is.
- **Proven:** no spot rises by more than U, every spot that the remedy acts on is read, and one of them falls by more.
- **No effect:** at every spot that it acts on the difference is within U, and at one of them U is so small that the
  fall that was predicted, less its own U, would have shown (`MIN_SHOWN_FALLS`). Where nobody knows how much a remedy
  leaves, a part of the fall at best has to show.
- Else it stays done: not told apart, not read again, or not comparable.

Where several remedies were done between the readings the verdict is of all of them together. What rests on the user's
word alone, and readings that contradict each other or came after a failed function check, prove nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from logger.metrology.change_verdict import MIN_MATTERING_OF_TARGET, MIN_MATTERING_SHARE
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.plan.outlook import Outlook
from logger.plan.plan_basis import PlanBasis
from logger.plan.planned_remedy import ProofVerdict, RemedyResult, SpotChange, SpotPrediction
from logger.plan.proof_doubts import doubts_between, is_by_word, is_unproved
from logger.plan.remedy_kinds import KINDS, KnownEffect
from logger.plan.solver.prediction import Rise
from logger.plan.values_read import ValueRead, off_state, paired_difference, values_read, why_no_pair
from logger.translation import marked, tr
from logger.visit.records.remedy_records import ACTING_AT_NIGHT, Remedy, RemedyKind
from logger.visit.results.contradicting_repeats import repeats_contradict, repeats_doubt
from logger.visit.results.remedy_in_force import InForce, acts_for_good, changes_home

MIN_SHOWN_FALLS = 2.0
"""A fall would have shown where it is at least this many times the U of the difference: then it is read as no larger
than U in one of forty cases only (it lies two standard uncertainties above U). No source, ours."""

UNPROVED = marked(
    "Not comparable: one was read after the function check had failed. Find out why, do the check again, then read "
    "again."
)

ORDER_NOT_KNOWN = marked(
    "Whether “{remedy}” was done before or after a reading of the same day is not known."
)


@dataclass(frozen=True, slots=True)
class Pair:
    """A value before and one after.

    Args:
        before: the value without the remedy.
        after: the value with it.
        changed: ids of the remedies that the value after was read with and the one before without.
        held: ids of those that both were read with.
        unknown: ids of those of which nobody knows whether they were done in between.
        why_not: why they cannot be subtracted, in a sentence; empty where they can.
        by_word: what was on at one of them is the user's word alone.
    """

    before: ValueRead
    after: ValueRead
    changed: frozenset[int]
    held: frozenset[int]
    unknown: frozenset[int]
    why_not: str
    by_word: bool

    @property
    def rank(self) -> tuple[bool, bool, int, int, int]:
        """Smaller is better: comparable, seen in the trace, with the fewest remedies in between, the newest."""
        return (
            bool(self.why_not),
            self.by_word,
            len(self.changed | self.unknown),
            -self.after.utc_ns,
            -self.before.utc_ns,
        )


# long: which values count before and after, how they pair, and the verdict are one set of rules.
class Proof:
    """Proves the remedies of a visit.

    Args:
        basis: of the visit.
        outlook: predicts, from what was read before anything was done; None where nothing was swept by then.
        names: of the remedies by id, for who reads it.
    """

    def __init__(self, basis: PlanBasis, outlook: Outlook | None, names: Mapping[int, str]) -> None:
        self._basis = basis
        self.outlook = outlook
        self._names = names
        self._by_id = {remedy.id: remedy for remedy in basis.remedies if changes_home(remedy)}
        self._in_force = {remedy.id: InForce(remedy, basis.day) for remedy in self._by_id.values()}
        self._values = values_read(basis)

    def result(self, remedy: Remedy) -> RemedyResult | None:
        """What a remedy has brought; None where it is not done, or changes nothing that could be read.

        Args:
            remedy: of the visit.
        """
        if remedy.done is None or remedy.id not in self._in_force:
            return None
        affected = self.affected(remedy)
        pairs = self._best_pairs(remedy, affected)
        changes = [self._change(remedy, pair, spot_id in affected) for spot_id, pair in pairs.items()]
        together = {other for pair in pairs.values() for other in pair.changed} - {remedy.id}
        unread = [spot_id for spot_id in affected if spot_id not in pairs]
        without_before = [spot_id for spot_id in unread if not self.has_before(remedy, spot_id)]
        return RemedyResult(
            verdict=_verdict(changes, pairs, unread),
            changes=tuple(changes),
            together_with=tuple(self._names[other] for other in sorted(together)),
            unread=tuple(map(self._basis.spot_name, unread)),
            without_before=tuple(map(self._basis.spot_name, without_before)),
            doubts=tuple(dict.fromkeys(doubt for pair in pairs.values() for doubt in self._doubts(pair))),
            simulated=any(pair.after.context.simulated for pair in pairs.values()),
            not_stated=tuple(self._basis.setup.missing()),
            wide_readings=tuple(
                dict.fromkeys(
                    value.reading.id
                    for spot_id in affected
                    if spot_id in pairs
                    for value in (pairs[spot_id].before, pairs[spot_id].after)
                    if value.reading is not None and self.is_wide(value)
                )
            ),
            can_read_before=_can_be_on(remedy),
        )

    def affected(self, remedy: Remedy) -> list[int]:
        """Return the ids of the spots that a remedy acts on, in their order.

        Where the sweep or switching says what its circuits and cords give, those at which that reaches half the target,
        or else the strongest one: by more than that no value can rise there. Where an earlier visit said so, the spots
        that it kept values of; else all spots that were read before.

        Args:
            remedy: of the visit.
        """
        known = self._given(remedy)
        least_volts = MIN_MATTERING_OF_TARGET * self._basis.setup.target_volts
        kept = {b.spot_id for b in self._basis.baselines if b.remedy_id == remedy.id}
        if remedy.spot_id is not None:
            chosen = {remedy.spot_id}
        elif known:
            chosen = {spot_id for spot_id, volts in known.items() if volts >= least_volts}
            chosen = chosen or {max(known, key=lambda spot_id: known[spot_id])}
        elif kept:
            chosen = kept
        else:
            chosen = {value.spot_id for value in self._values if self.is_before(remedy, value)}
        return [spot.id for spot in self._basis.spots if spot.id in chosen]

    def has_before(self, remedy: Remedy, spot_id: int) -> bool:
        """Whether a spot was read before a remedy is done, so that reading it again can prove something.

        Args:
            remedy: of the visit; one that is only planned has all readings before it.
            spot_id: of the spot.
        """
        return any(value.spot_id == spot_id and self.is_before(remedy, value) for value in self._values)

    def newest_before(self, remedy: Remedy, spot_id: int) -> ValueRead | None:
        """The newest value of a spot without a remedy; None without one.

        Args:
            remedy: of the visit.
            spot_id: of the spot.
        """
        found = [v for v in self._values if v.spot_id == spot_id and self.is_before(remedy, v)]
        return found[-1] if found else None

    def newest_after(self, remedy: Remedy, spot_id: int) -> ValueRead | None:
        """The newest value of a spot since a remedy was done, with it; None without one.

        Args:
            remedy: of the visit, that is done.
            spot_id: of the spot.
        """
        found = [v for v in self._values if v.spot_id == spot_id and self._is_after(remedy, v)]
        return found[-1] if found else None

    def is_wide(self, value: ValueRead) -> bool:
        """Whether a value was read before something of the set-up was stated that is stated now.

        Args:
            value: of the visit.
        """
        then, now = value.context.reference_state().not_stated, self._basis.setup.reference_state().not_stated
        return bool(then - now)

    def off_now(self) -> frozenset[int]:
        """The circuits and cords that are to be off where what is done is read: off at night, or unplugged for good."""
        return frozenset(
            source_id
            for remedy in self._by_id.values()
            if remedy.done is not None and KINDS[remedy.kind].effect is KnownEffect.TAKEN_AWAY
            for source_id in remedy.source_ids
        )

    def _given(self, remedy: Remedy) -> dict[int, float]:
        """The most that a circuit or cord of a remedy gives at each spot, V, by the id of the spot."""
        tonight = self.outlook.plan if self.outlook is not None else self._basis.tonight
        found: dict[int, float] = {}
        given = [
            (spot.spot_id, one.volts)
            for spot in (tonight.spots if tonight is not None else ())
            for one in spot.contributions
            if one.source.id in remedy.source_ids
        ]
        given += [
            (spot_id, abs(effect.volts))
            for (spot_id, source_id), effect in self._basis.effects.items()
            if source_id in remedy.source_ids and spot_id is not None
        ]
        for spot_id, volts in given:
            found[spot_id] = max(volts, found.get(spot_id, 0.0))
        return found

    def is_before(self, remedy: Remedy, value: ValueRead) -> bool:
        """Whether a value was read without a remedy, with all else on but what other remedies that are done take away.

        Args:
            remedy: of the visit; one that is only planned has all readings before it, and so has one that acts at
                night: its circuit or cord was on at them.
            value: of the visit.
        """
        is_any_time = remedy.done is None or _can_be_on(remedy)
        if not is_any_time and not self._in_force[remedy.id].is_before_done(value.utc_ns):
            return False
        if value.off is None:
            return not remedy.source_ids
        return self._off_with(value) is not None and not value.off & frozenset(remedy.source_ids)

    def _is_after(self, remedy: Remedy, value: ValueRead) -> bool:
        """Whether a value was read since a remedy was done, and with it; the arguments are those of `is_before`."""
        if not self._in_force[remedy.id].is_after_done(value.utc_ns):
            return False
        off_with = self._off_with(value)
        return off_with is not None and (acts_for_good(remedy) or remedy.id in off_with)

    def _unplugged(self, value: ValueRead) -> frozenset[int]:
        """What carried no voltage at a value since it was unplugged for good."""
        ids = frozenset(
            source_id
            for remedy in self._by_id.values()
            if remedy.kind is RemedyKind.UNPLUG and self._in_force[remedy.id].at(value.utc_ns) is not False
            for source_id in remedy.source_ids
        )
        return off_state(self._basis, ids)

    def _best_pairs(self, remedy: Remedy, affected: Sequence[int]) -> dict[int, Pair]:
        """The two values of each spot that show best what a remedy has brought, by the id of the spot.

        Elsewhere than where it acts only what was done with it there may be in between: another remedy that was read
        there alone would be taken for its effect.

        Args:
            remedy: that is done.
            affected: ids of the spots that it acts on.
        """
        best: dict[int, Pair] = {}
        for spot_id in affected:
            if pairs := list(self._pairs(remedy, spot_id)):
                best[spot_id] = min(pairs, key=lambda pair: pair.rank)
        done = frozenset(id_ for pair in best.values() for id_ in pair.changed)
        for spot in self._basis.spots:
            pairs = [pair for pair in self._pairs(remedy, spot.id) if pair.changed <= done]
            if pairs and spot.id not in affected:
                best[spot.id] = min(pairs, key=lambda pair: pair.rank)
        return {spot.id: best[spot.id] for spot in self._basis.spots if spot.id in best}

    def _pairs(self, remedy: Remedy, spot_id: int) -> Iterator[Pair]:
        """All values of a spot, two by two, that show what a remedy has brought."""
        here = [value for value in self._values if value.spot_id == spot_id]
        befores = [value for value in here if self.is_before(remedy, value)]
        afters = [value for value in here if self._in_force[remedy.id].is_after_done(value.utc_ns)]
        for before, after in product(befores, afters):
            if (before.off is None) != (after.off is None):
                continue
            off_with, off_before = self._off_with(after), self._off_with(before)
            if off_with is None or off_before is None or not off_before <= off_with:
                continue
            lasting, unknown = self._done_between(before, after)
            if before.utc_ns > after.utc_ns and lasting | unknown:
                continue  # what was done for good since the value after speaks for the value before
            changed = lasting | (off_with - off_before)
            if remedy.id in changed:
                held = off_before | self._lasting_at(before)
                why_not = (
                    why_no_pair(before, after)
                    or (tr(UNPROVED) if is_unproved(before) or is_unproved(after) else "")
                    or self._contradiction(before)
                    or self._contradiction(after)
                )
                by_word = is_by_word(before) or is_by_word(after)
                yield Pair(before, after, changed, held, unknown, why_not, by_word)

    def _off_with(self, after: ValueRead) -> frozenset[int] | None:
        """Ids of the remedies that act at night and explain what was off at a value; None where they do not."""
        if after.off is None:
            return frozenset()
        gone = self._unplugged(after)
        rest = after.off - gone
        acting = {
            remedy.id
            for remedy in self._by_id.values()
            if remedy.kind in ACTING_AT_NIGHT
            and remedy.source_ids
            and frozenset(remedy.source_ids) <= after.off
            and self._in_force[remedy.id].at(after.utc_ns) is True
        }
        ids = frozenset(source_id for id_ in acting for source_id in self._by_id[id_].source_ids)
        return frozenset(acting) if off_state(self._basis, ids) - gone == rest else None

    def _done_between(self, before: ValueRead, after: ValueRead) -> tuple[frozenset[int], frozenset[int]]:
        """Ids of the remedies for good that only the later of two values was read with, and of those not known."""
        changed, unknown = set(), set()
        for id_, in_force in self._in_force.items():
            if not acts_for_good(self._by_id[id_]):
                continue
            states = in_force.at(before.utc_ns), in_force.at(after.utc_ns)
            if None in states:
                unknown.add(id_)
            elif states[0] != states[1]:
                changed.add(id_)
        return frozenset(changed), frozenset(unknown)

    def _lasting_at(self, value: ValueRead) -> frozenset[int]:
        """Ids of the remedies for good that a value was read with, and of those of which nobody knows."""
        return frozenset(
            id_
            for id_, in_force in self._in_force.items()
            if acts_for_good(self._by_id[id_]) and in_force.at(value.utc_ns) is not False
        )

    def _contradiction(self, value: ValueRead) -> str:
        """What speaks against a value since repeats of it contradict each other; empty where nothing does."""
        alike = [
            other.reading
            for other in self._values
            if other.reading is not None
            and (other.spot_id, other.off) == (value.spot_id, value.off)
            and not any(self._done_between(*sorted((other, value), key=lambda one: one.utc_ns)))
        ]
        if value.reading is None or not repeats_contradict(alike, value.repeatability):
            return ""
        return repeats_doubt(alike)

    def _change(self, remedy: Remedy, pair: Pair, is_affected: bool) -> SpotChange:
        return SpotChange(
            spot_id=pair.after.spot_id,
            spot_name=self._basis.spot_name(pair.after.spot_id),
            before=pair.before.budget,
            after=pair.after.budget,
            difference=None if pair.why_not else paired_difference(pair.before, pair.after),
            why_not=pair.why_not,
            before_utc_ns=pair.before.utc_ns,
            after_utc_ns=pair.after.utc_ns,
            before_visit=pair.before.visit,
            after_condition=pair.after.condition,
            predicted=self._predicted(remedy, pair),
            is_affected=is_affected,
        )

    def _predicted(self, remedy: Remedy, pair: Pair) -> SpotPrediction | None:
        """What was predicted for the later of two values; None where nothing was."""
        spot_id = pair.after.spot_id
        if pair.after.off is None:
            return None
        if pair.before.baseline is not None:
            return self._predicted_before(remedy, pair, spot_id)
        if self.outlook is None:
            return None
        done = [self._by_id[id_] for id_ in pair.changed | pair.held]
        if any(KINDS[one.kind].effect is KnownEffect.NOT_PREDICTED for one in done):
            return None
        away, weakened = (
            {id_ for one in done if KINDS[one.kind].effect is effect for id_ in one.source_ids}
            for effect in (KnownEffect.TAKEN_AWAY, KnownEffect.AT_BEST)
        )
        found = self.outlook.predict_without(away, weakened - away)
        of_spot = next((one for one in found if one.spot_id == spot_id and not one.refusal), None)
        if of_spot is None or not pair.held:
            return of_spot
        # Whether it rises was worked out against nothing done at all.
        return replace(of_spot, before_volts=pair.before.volts, rises=Rise.NO)

    def _predicted_before(self, remedy: Remedy, pair: Pair, spot_id: int) -> SpotPrediction | None:
        """What an earlier visit predicted for a remedy alone, or for all that was taken over from it together."""
        kept = [b for b in self._basis.baselines if b.visit == pair.before.visit]
        own = next((b for b in kept if (b.remedy_id, b.spot_id) == (remedy.id, spot_id)), None)
        if own is None:
            return None
        together = {b.remedy_id for b in kept}
        if pair.changed == {remedy.id}:
            volts, u_volts = own.predicted_volts, own.u_predicted_volts
        elif pair.changed == together:
            volts, u_volts = own.predicted_together_volts, own.u_predicted_together_volts
        else:
            return None
        if volts is None or u_volts is None:
            return None
        return SpotPrediction(spot_id, self._basis.spot_name(spot_id), volts, u_volts, own.volts)

    def _doubts(self, pair: Pair) -> Iterator[str]:
        removed = frozenset(id_ for changed in pair.changed for id_ in self._by_id[changed].source_ids)
        earlier, later = sorted((pair.before, pair.after), key=lambda value: value.utc_ns)
        yield from doubts_between(self._basis, earlier, later, removed)
        for other in sorted(pair.unknown):
            yield tr(ORDER_NOT_KNOWN).format(remedy=self._names[other])


def _can_be_on(remedy: Remedy) -> bool:
    """Whether what a remedy takes away is on again by day, so that it can be read without the remedy at any time."""
    return remedy.kind in ACTING_AT_NIGHT and bool(remedy.source_ids)


def _verdict(
    changes: Iterable[SpotChange], pairs: Mapping[int, Pair], unread: Collection[int]
) -> ProofVerdict:
    """What reading again shows, by the rules at the head of this file.

    Args:
        changes: of all spots that were read before and after.
        pairs: the values that they rest on, by the id of the spot.
        unread: ids of the spots that it acts on and that were not.
    """
    every = list(changes)
    affected = [change for change in every if change.is_affected]
    seen = [change for change in every if not pairs[change.spot_id].by_word]
    if any(change.rise_volts > 0.0 for change in seen):
        return ProofVerdict.WORSE
    if unread or not affected:
        return ProofVerdict.NOT_READ
    if any(change.difference is None for change in affected):
        return ProofVerdict.NOT_COMPARABLE
    if len(seen) == len(every) and any(change.fall_volts > 0.0 for change in affected):
        return ProofVerdict.PROVEN
    if any(change.fall_volts > 0.0 or change.rise_volts > 0.0 for change in every):
        return ProofVerdict.NOT_TOLD_APART
    corrected = any(
        value.reading is not None and value.reading.condition_corrected
        for pair in pairs.values()
        for value in (pair.before, pair.after)
    )
    shown = any(_would_have_shown(change) for change in affected)
    return ProofVerdict.NO_EFFECT if shown and not corrected else ProofVerdict.NOT_TOLD_APART


def _would_have_shown(change: SpotChange) -> bool:
    """Whether the fall that was predicted at a spot would have shown beside the U of the difference."""
    predicted, difference = change.predicted, change.difference
    if predicted is None or difference is None:
        return False
    if predicted.volts is not None and predicted.u_volts is not None:
        least_fall_volts = change.before.volts - predicted.volts - COVERAGE_FACTOR * predicted.u_volts
    elif predicted.lowest_volts is not None:
        least_fall_volts = MIN_MATTERING_SHARE * (change.before.volts - predicted.lowest_volts)
    else:
        return False
    return least_fall_volts >= MIN_SHOWN_FALLS * difference.expanded_volts
