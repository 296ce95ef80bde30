"""The plan of remedies as plain values: what was found, what fits it, what it would bring, and what it brought.

Volts are AC rms; `u_volts` is a standard uncertainty.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from logger.metrology.uncertainty import COVERAGE_FACTOR, Budget, compare_with
from logger.plan.remedy_kinds import KINDS, KindFacts, words_of
from logger.plan.solver.prediction import Rise
from logger.sweep.sweep_progress import Combination
from logger.translation import in_language, marked, tr
from logger.visit.records.home_records import Source
from logger.visit.records.remedy_records import ACTING_AT_NIGHT, Remedy, RemedyKind


class FindingKind(StrEnum):
    """The subject of a finding."""

    CORD = "cord"
    CIRCUIT = "circuit"
    TOGETHER = "several together"
    REFERENCE = "reference"
    OUTSIDE = "outside"
    NIGHT_LOAD = "load at night"


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that was found, with the value on which it is based.

    Args:
        kind: its subject.
        sources: the circuits and cords that it is about; none for the reference, the outside and a load at night.
        spot_id: where it was found strongest; None where it is about no spot.
        spot_name: of that spot.
        volts: what it gives there, V; of several together what is left with them off; of a load at night its rise.
        u_volts: standard uncertainty, V.
        text: the finding in a sentence or two, in the language that holds.
        doubt: why it is not proved, in a sentence; empty where it is.
    """

    kind: FindingKind
    sources: tuple[Source, ...]
    spot_id: int | None
    spot_name: str
    volts: float
    u_volts: float
    text: str
    doubt: str = ""

    @property
    def shown(self) -> str:
        """The finding with what it is about and where: 'Bedside lamp, at “Bed, left”: The cord gives 1.27 V.'."""
        name = self.sources[0].name if self.kind in (FindingKind.CORD, FindingKind.CIRCUIT) else ""
        said = " ".join(filter(None, (self.text, self.doubt)))
        if not name:
            return said
        text = tr("{name}, at “{spot}”: {finding}") if self.spot_name else tr("{name}: {finding}")
        return text.format(name=name, spot=self.spot_name, finding=said)


class RemedyStatus(StrEnum):
    """How far a remedy is; as files have it."""

    PROPOSED = "proposed"
    PLANNED = "planned"
    DONE = "done"
    """Done, and not proven by now: not read again, or the readings do not tell."""
    PROVEN = "proven"
    NO_EFFECT = "no effect"
    WORSE = "worse"


class ProofVerdict(StrEnum):
    """What reading again shows."""

    PROVEN = "proven"
    NO_EFFECT = "no effect"
    WORSE = "worse"
    NOT_TOLD_APART = "not told apart"
    """The difference is within its uncertainty, which is too wide to call it no effect."""
    NOT_READ = "not read again"
    """A spot that it acts on was not read before and after."""
    NOT_COMPARABLE = "not comparable"


STATUS_WORDS = {
    RemedyStatus.PROPOSED: marked("proposed"),
    RemedyStatus.PLANNED: marked("planned"),
    RemedyStatus.DONE: marked("done"),
    RemedyStatus.PROVEN: marked("proven"),
    RemedyStatus.NO_EFFECT: marked("no effect"),
    RemedyStatus.WORSE: marked("worse"),
}
"""Go through `tr` where they are shown."""

OPEN_STATUS_WORDS = {
    ProofVerdict.NOT_READ: marked("done, not read again"),
    ProofVerdict.NOT_COMPARABLE: marked("done, not comparable"),
    ProofVerdict.NOT_TOLD_APART: marked("done, not told apart"),
}
"""Of one that is done and not proven by now: why."""

SHARED_STATUS_WORDS = {
    RemedyStatus.PROVEN: marked("proven together"),
    RemedyStatus.NO_EFFECT: marked("no effect together"),
    RemedyStatus.WORSE: marked("worse together"),
}
"""The same where the readings show it of several remedies together, and of none by itself."""


@dataclass(frozen=True, slots=True)
class SpotPrediction:
    """What is predicted at a spot with everything on but what is taken away.

    Either `volts` has a value, or the range of `lowest_volts` and `highest_volts` where a remedy moves or shields and
    nobody knows how much it leaves, or `refusal` says why nothing is predicted.

    Args:
        spot_id: of the spot.
        spot_name: of the spot.
        volts: the predicted value, V.
        u_volts: its standard uncertainty, V, meter and reference counted.
        before_volts: what it starts from, V: read with everything on and nothing taken away, or with what is done
            (`from_done`), or a part of that; None where nobody read it.
        lowest_volts: at best, V.
        highest_volts: at worst, V.
        rises: whether it is higher than what it starts from: what is taken away cancelled a part of what stays.
        is_read: exactly this was read at the spot, and not `may_be_swapped`.
        is_known: it was read, or the readings fix it to 0.03 V or 5 %; else a reading has to tell.
        refusal: why nothing is predicted, in a sentence; empty where something is.
        from_done: it starts from a value that was read with all that is done by now.
        may_be_swapped: it was read, but that reading may have been swapped with another, and nothing shows whether it
            was.
    """

    spot_id: int
    spot_name: str
    volts: float | None = None
    u_volts: float | None = None
    before_volts: float | None = None
    lowest_volts: float | None = None
    highest_volts: float | None = None
    rises: Rise = Rise.NO
    is_read: bool = False
    is_known: bool = False
    refusal: str = ""
    from_done: bool = False
    may_be_swapped: bool = False

    @property
    def tells_nothing(self) -> bool:
        """Whether a number would mislead: nobody read it, and its U is as large as itself."""
        if self.volts is None or self.u_volts is None or self.is_read or self.is_known:
            return False
        return COVERAGE_FACTOR * self.u_volts >= self.volts

    def is_below(self, target_volts: float) -> bool:
        """Whether what is left is below the target beyond doubt, as every reading is compared with it.

        Args:
            target_volts: of the visit, V.
        """
        if self.volts is None or self.u_volts is None or self.may_be_swapped:
            return False
        return compare_with(Budget.of_u("prediction", self.volts, self.u_volts), target_volts) == "below"


@dataclass(frozen=True, slots=True)
class SpotChange:
    """A spot read before a remedy was done, and after.

    Args:
        spot_id: of the spot.
        spot_name: of the spot.
        before: the value before.
        after: the value after.
        difference: after minus before, with what both have in common; None where they cannot be compared.
        why_not: why they cannot be compared, in a sentence; empty where they can.
        before_utc_ns: when it was read before, UTC ns.
        after_utc_ns: when it was read after, UTC ns.
        before_visit: file of the earlier visit in which it was read before; empty for this visit.
        after_condition: what was on after, as the log keeps it.
        predicted: what was predicted for it; None where nothing was.
        is_affected: whether the remedy acts on this spot; else it was read as well.
    """

    spot_id: int
    spot_name: str
    before: Budget
    after: Budget
    difference: Budget | None
    why_not: str
    before_utc_ns: int
    after_utc_ns: int
    before_visit: str
    after_condition: str
    predicted: SpotPrediction | None = None
    is_affected: bool = True

    @property
    def fall_volts(self) -> float:
        """By how much more than its uncertainty the value fell, V; 0 where it did not, or nobody knows."""
        return max(0.0, -self._difference_volts - self._expanded_volts)

    @property
    def rise_volts(self) -> float:
        """By how much more than its uncertainty the value rose, V; 0 where it did not, or nobody knows."""
        return max(0.0, self._difference_volts - self._expanded_volts)

    @property
    def _difference_volts(self) -> float:
        return 0.0 if self.difference is None else self.difference.volts

    @property
    def _expanded_volts(self) -> float:
        return 0.0 if self.difference is None else self.difference.expanded_volts


@dataclass(frozen=True, slots=True)
class RemedyResult:
    """What a remedy that is done has brought.

    Args:
        verdict: what reading again shows, of all that was done between the readings.
        changes: the spots that were read before and after.
        together_with: names of the other remedies that were done between the readings: the verdict is of all together,
            and says of none that it alone was the cause.
        unread: names of the spots that it acts on and that are not read before and after.
        without_before: names of those of them that were not read before, so that reading them again proves nothing.
        doubts: what else changed between the readings, or speaks against them; a sentence each.
        simulated: whether the readings are simulated.
        not_stated: what is not stated in the set-up yet and makes the uncertainty of both readings wide, in words.
        wide_readings: ids of the readings of this visit that it rests on and that were taken before something of the
            set-up was stated that is stated now: taken again, or corrected, their uncertainty is smaller.
        can_read_before: whether what was read before it can be read again: it acts at night, and is on by day.
    """

    verdict: ProofVerdict
    changes: tuple[SpotChange, ...] = ()
    together_with: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    without_before: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    simulated: bool = False
    not_stated: tuple[str, ...] = ()
    wide_readings: tuple[int, ...] = ()
    can_read_before: bool = False

    @property
    def deciding(self) -> SpotChange | None:
        """The spot that the verdict is best told by: of a rise the largest, else the largest fall where it acts."""
        compared = [change for change in self.changes if change.difference is not None]
        if self.verdict is ProofVerdict.WORSE:
            return max(compared, key=lambda change: change.rise_volts, default=None)
        affected = [change for change in compared if change.is_affected] or compared
        return max(affected, key=lambda change: change.before.volts - change.after.volts, default=None)


@dataclass(frozen=True, slots=True)
class PlannedRemedy:
    """A remedy that fits a finding, or that somebody entered.

    Args:
        kind: what is done.
        sources: the circuits and cords that it is about.
        spot_id: the spot that it is about; None where it is about none in particular.
        spot_name: of that spot.
        text: in the user's own words.
        kept: what the log keeps of it; None where it is only proposed.
        status: how far it is.
        findings: what it answers; none of an own one.
        predictions: what it alone would bring at each spot that was swept, on top of what is done and read there; none
            where nothing predicts it.
        result: what it has brought; None until it is done.
        not_wanted: somebody stated that it is not wanted; its status is then `PROPOSED`.
        doubt: why the finding is not proved, in a sentence; empty where it is.
    """

    kind: RemedyKind
    sources: tuple[Source, ...]
    spot_id: int | None
    spot_name: str
    text: str
    kept: Remedy | None
    status: RemedyStatus
    findings: tuple[Finding, ...] = ()
    predictions: tuple[SpotPrediction, ...] = ()
    result: RemedyResult | None = None
    not_wanted: bool = False
    doubt: str = ""

    @property
    def facts(self) -> KindFacts:
        """What its kind is."""
        return KINDS[self.kind]

    @property
    def status_words(self) -> str:
        """How far it is, in the language that holds; what only several together have shown is said so."""
        is_shared = self.result is not None and bool(self.result.together_with)
        if is_shared and self.status in SHARED_STATUS_WORDS:
            return tr(SHARED_STATUS_WORDS[self.status])
        if self.status is RemedyStatus.DONE and self.result is not None:
            return tr(OPEN_STATUS_WORDS[self.result.verdict])
        return tr(STATUS_WORDS[self.status])

    @property
    def acts_at_night(self) -> bool:
        """Whether it is done each evening; else for good."""
        return self.kind in ACTING_AT_NIGHT

    @property
    def about(self) -> str:
        """Names of the circuits and cords that it is about, or of the spot; empty for the outside and the reference."""
        return ", ".join(source.name for source in self.sources) or self.spot_name

    @property
    def shown(self) -> str:
        """What is done, in the language that holds: 'Bedside lamp: Unplug at night'."""
        what = self.text if self.kind is RemedyKind.OWN else tr(words_of(self.kind, self.sources))
        return f"{self.about}: {what}" if self.about else what

    @property
    @in_language("en")
    def name(self) -> str:
        """The same for other programs, whatever language holds."""
        return self.shown

    @property
    def code(self) -> str:
        """By which a command names it, the same as long as the visit is: 'breaker-off-at-night-3'."""
        if self.kind is RemedyKind.OWN and self.kept is not None:
            place = [self.kept.id]
        elif self.sources:
            place = sorted(source.id for source in self.sources)
        else:
            place = [self.spot_id] if self.spot_id is not None else []
        kind = self.kind.replace(",", "").replace(" ", "-")
        return "-".join((kind, *map(str, place)))

    @property
    def is_done(self) -> bool:
        """Whether it is stated that it is done."""
        return self.kept is not None and self.kept.done is not None

    @property
    def is_chosen(self) -> bool:
        """Whether it is planned or done: it is part of what the plan as a whole is predicted to bring."""
        return self.kept is not None and self.kept.is_open


@dataclass(frozen=True, slots=True)
class Unreachable:
    """A spot at which no remedy of the plan reaches the target, and why.

    Args:
        spot_id: of the spot.
        spot_name: of the spot.
        volts: the lowest value that is predicted there, V.
        u_volts: its standard uncertainty, V.
        why: in a sentence.
    """

    spot_id: int
    spot_name: str
    volts: float
    u_volts: float
    why: str


class RoutePurpose(StrEnum):
    """What a reading of the route is for."""

    BEFORE = "before"
    """Before a remedy is done: without it nothing can prove it."""
    AFTER = "after"
    """After remedies were done."""
    AGAIN = "again"
    """Once more, with or without what is done: what was read does not tell, or is to be read once more."""


@dataclass(frozen=True, slots=True)
class RouteStop:
    """A reading that proves remedies.

    Args:
        spot_id: where it is taken.
        spot_name: of the spot.
        combination: what is to be on, as the sweep has it; its `shown` is a label for the user.
        purpose: before or after.
        remedies: names of the remedies that it proves, in the language that holds.
    """

    spot_id: int
    spot_name: str
    combination: Combination
    purpose: RoutePurpose
    remedies: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RemedyPlan:
    """All remedies of a visit.

    Args:
        target_volts: of the visit, V.
        findings: what was found, the strongest first.
        remedies: proposed, planned and done ones, in the order of the findings; then own ones.
        chosen: what all planned and done remedies together are predicted to leave at each spot that was swept.
        least_effort: the remedies that reach the target everywhere with the least effort; none where none do, or while
            the readings leave it open.
        least_effort_proven: whether no set of less effort can reach it, by the whole search; else it is the best that
            was found in the time given.
        least_effort_predictions: what they are predicted to leave.
        smallest_breakers: the smallest list of breakers to switch off, beside it; none until it is confirmed.
        meets_target: whether the set of least effort is predicted to meet the target at every spot.
        may_do: a set of clearly less effort that may meet the target too, though nothing makes it certain; none where
            none is worth a reading.
        may_do_chance: share of the possible houses in which it does, within 0.03 V.
        may_do_predictions: what it is predicted to leave.
        unreachable: the spots that no proposed remedy brings to the target.
        route: the readings that prove what is done, and that have to be taken before what is planned is done.
        repeats: the readings that may be taken again of what is done, whatever they have shown.
        why_open: why there are no proposals, or why they are not proved, in a sentence or two; empty where they are.
        simulated: whether it rests on simulated readings.
    """

    target_volts: float
    findings: tuple[Finding, ...]
    remedies: tuple[PlannedRemedy, ...]
    chosen: tuple[SpotPrediction, ...] = ()
    least_effort: tuple[PlannedRemedy, ...] = ()
    least_effort_proven: bool = False
    least_effort_predictions: tuple[SpotPrediction, ...] = ()
    smallest_breakers: tuple[Source, ...] = ()
    meets_target: bool = False
    may_do: tuple[PlannedRemedy, ...] = ()
    may_do_chance: float = 0.0
    may_do_predictions: tuple[SpotPrediction, ...] = ()
    unreachable: tuple[Unreachable, ...] = ()
    route: tuple[RouteStop, ...] = ()
    repeats: tuple[RouteStop, ...] = ()
    why_open: str = ""
    simulated: bool = field(default=False)

    @property
    def reaches_target(self) -> bool:
        """Whether the set of least effort reaches it beyond doubt, as every reading is compared with it."""
        return self.meets_target and all(
            found.is_below(self.target_volts) for found in self.least_effort_predictions
        )
