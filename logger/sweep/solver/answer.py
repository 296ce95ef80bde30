"""The answer to a breaker sweep: what gives how much, what to switch off tonight, and what to read next.

In: the readings at one spot, or at several (two sides of a bed, another bedroom on the same circuits), the supply, the
circuits that must stay on, the target. Out: a `SweepAnswer`, or a `MultiSpotAnswer` for several spots.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from math import isfinite
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from logger.errors import StillvoltError
from logger.metrology.supply import SupplyKey
from logger.metrology.target import TARGET_VOLTS
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.repeats import combine
from logger.sweep.solver.ambiguity import tolerance_volts
from logger.sweep.solver.check_reading import Alternatives, allowed_mistakes, check_reading
from logger.sweep.solver.consistency import Consistency, check_consistency
from logger.sweep.solver.contribution_limits import contribution_limits, covering
from logger.sweep.solver.decision import Decision, decide
from logger.sweep.solver.exchanges import (
    exchange_check,
    hidden_exchanges,
    rows_of_set,
    undetected_exchanges,
)
from logger.sweep.solver.leg_names import agreed_leg_names, legs_by_agreement
from logger.sweep.solver.next_readings import (
    SpotReading,
    all_off_readings,
    background_readings,
    confirming_readings,
    solo_readings,
)
from logger.sweep.solver.own_readings import is_strained, is_unchecked, own_u_volts
from logger.sweep.solver.plain_rule import plain_rule
from logger.sweep.solver.posterior import infer
from logger.sweep.solver.reading_influence import ReadingInfluence, reading_influence
from logger.sweep.solver.readings import Sweep, SweepReading, repeats_by_combination, times_alike
from logger.sweep.solver.supply_fit import check_supply, supply_doubt
from logger.sweep.solver.sweep_fit import NO_CORDS, SweepFit, fit_sweep
from logger.sweep.solver.switching_problem import (
    SwitchingProblem,
    background_reading,
    live_under,
    readings_of,
    set_reading,
)
from logger.translation import shown_number, tr

NO_ANSWER: Mapping[str, Any] = {
    "off_tonight": (), "predicted_volts": None, "u_predicted_volts": None, "relies_on_cancellation": False,
    "off_robust": (), "predicted_robust_volts": None, "ambiguous": True,
    "unplug_tonight": (), "unplug_robust": (), "unplug_instead": (),
}  # fmt: skip
"""What the JSON gives in place of an answer: where readings contradict each other, or nobody read everything off."""


SetDoubt = Literal["", "exchanged", "to be read again", "read once"]
"""Why the only reading of the chosen set confirms nothing: it may have been exchanged with another, it may be mistaken
and is asked for again, or it is that of everything off, from which all else is counted: a slip in it agrees with all
others. Two readings that agree confirm it."""


NextReason = Literal[
    "", "contradicts", "misfit", "swapped", "mistake", "not read", "decides", "list", "background"
]
"""What the first of the readings to take decides: which of the readings that contradict each other is mistaken, whether
an earlier reading that fits badly is, whether two were swapped, whether any other mistake was made that agrees with all
readings, what was never read, which set is best and what it leaves, what the set itself leaves, and what is left with
everything off. Empty where nothing is to be read."""


@dataclass(frozen=True, slots=True)
class CircuitEffect:
    """What a circuit (with the cords on it) or a cord gives at a spot.

    Args:
        name: of the circuit or cord.
        volts: its contribution, V; None where the readings set no bound to it.
        u_volts: standard uncertainty, V, wide enough for whatever the readings do not exclude; None with `volts`.
        leg: A, B or C, which is not the panel's name; None where the readings leave it open.
    """

    name: str
    volts: float | None
    u_volts: float | None
    leg: str | None


@dataclass(frozen=True, slots=True)
class SpotAnswer:
    """The contributions and predictions at one spot.

    Args:
        spot: of the answer.
        circuits: contribution of each circuit and cord.
        background_volts: value that was read with everything off, V; None where nobody read it, since no model stands
            in for it.
        u_background_volts: its standard uncertainty, V; None with `background_volts`.
        predicted_volts: value with tonight's set switched off, V.
        u_predicted_volts: its standard uncertainty, V.
        predicted_robust_volts: value with the robust set switched off, V.
        predicted_plain_volts: value with the plain rule's set for all spots switched off, V.
        exchangeable: numbers of rows, two by two, that may have been exchanged without anything that shows it, though
            a circuit would give something else; none where the readings contradict each other.
        is_read: tonight's set itself was read, so that the predicted value is a reading.
        set_doubt: why a reading of tonight's set confirms nothing; empty where it does, or where there is none.
        background_doubt: why the only reading of everything off does not confirm the background, and what is counted
            from it; empty where it was read more than once, or not at all.
    """

    spot: str
    circuits: tuple[CircuitEffect, ...]
    background_volts: float | None
    u_background_volts: float | None
    predicted_volts: float
    u_predicted_volts: float
    predicted_robust_volts: float
    predicted_plain_volts: float
    exchangeable: tuple[tuple[int, int], ...]
    is_read: bool
    set_doubt: SetDoubt
    background_doubt: SetDoubt


@dataclass(frozen=True, slots=True)
class MultiSpotAnswer:
    """One smallest set for all spots."""

    spots: tuple[SpotAnswer, ...]
    off_tonight: tuple[str, ...]
    unplug_tonight: tuple[str, ...]
    """Cords; only where breakers alone do not reach the target."""
    meets_target: bool
    relies_on_cancellation: bool
    off_robust: tuple[str, ...]
    unplug_robust: tuple[str, ...]
    unplug_instead: tuple[tuple[str, tuple[str, ...]], ...]
    """A circuit of `off_tonight`, and the cords on it that may be unplugged instead of switching it off."""
    ambiguous: bool
    next_readings: tuple[tuple[str, tuple[str, ...]], ...]
    """Spot and what should be live there."""
    consistency: tuple[tuple[str, Consistency], ...]
    """Whether the readings of each spot agree with each other."""
    better_supplies: frozenset[SupplyKey]
    """Supplies that the readings fit clearly better than the one that was entered."""
    why_next: NextReason
    """What the first of `next_readings` decides."""
    problem: SwitchingProblem = field(compare=False, repr=False)
    """The possible houses that the answer rests on, so that other sets are predicted without solving again. Its
    `u_sizes` are as wide as what is stated of each circuit and cord, infinite where no bound is."""

    @property
    def consistent(self) -> bool:
        """Whether the readings of every spot agree with each other."""
        return all(found.consistent for _, found in self.consistency)


@dataclass(frozen=True, slots=True)
class SweepAnswer:
    """The answer to a sweep; `as_json` gives the fields that `stillvolt sources --json` prints."""

    circuits: tuple[CircuitEffect, ...]
    background_volts: float | None
    """Value that was read with everything off, V; None where nobody read it."""
    u_background_volts: float | None
    """Its standard uncertainty, V; where its readings contradict each other, twice of it holds each of them."""
    off_tonight: tuple[str, ...]
    predicted_volts: float
    u_predicted_volts: float
    relies_on_cancellation: bool
    off_robust: tuple[str, ...]
    predicted_robust_volts: float
    ambiguous: bool
    next_readings: tuple[tuple[str, ...], ...]
    consistent: bool
    """False where readings contradict each other; the other fields are no answer then."""
    suspects: tuple[int, ...]
    """Rows that resolve the contradiction when they are taken away, the most likely first; 1 is the first reading."""
    unplug_tonight: tuple[str, ...] | None = None
    """Cords to be unplugged as well; None where no cord was given."""
    unplug_robust: tuple[str, ...] | None = None
    unplug_instead: tuple[tuple[str, tuple[str, ...]], ...] | None = None
    """A circuit of `off_tonight`, and the cords on it that may be unplugged instead of switching it off."""
    exchangeable: tuple[tuple[int, int], ...] = ()
    """Rows, two by two, that may have been exchanged without anything that shows it."""
    is_read: bool = False
    """Whether `off_tonight` itself was read: `predicted_volts` is that reading then."""
    set_doubt: SetDoubt = ""
    """Why that reading confirms nothing; empty where it does, or where there is none."""
    background_doubt: SetDoubt = ""
    """Why the only reading of everything off does not confirm the background; empty for two, or for none."""
    contradicting_repeats: tuple[tuple[str, ...], ...] = ()
    """What was live where readings of one combination contradict each other by their own uncertainties, although the
    allowance for uncertainties that are understated leaves it possible: each is to be read again."""
    supply: SupplyKey = "split"
    """That the answer was worked out with."""
    better_supplies: tuple[SupplyKey, ...] = ()
    """Supplies that the readings fit clearly better than that."""

    @property
    def supply_doubt(self) -> str:
        """That the readings fit another supply better, a sentence in English; empty where they do not."""
        return supply_doubt(self.supply, self.better_supplies)

    @property
    def predicts_from_one_background(self) -> bool:
        """Whether the prediction rests on the only reading of everything off: no other reading of the set is sound."""
        return bool(self.background_doubt) and (not self.is_read or bool(self.set_doubt))

    @property
    def has_set(self) -> bool:
        """Whether a set is given: the readings agree, and the background was read, for which no model stands in."""
        return self.consistent and self.background_volts is not None

    def as_json(self) -> dict[str, Any]:
        """The fields by name; those about cords only where cords were given.

        `rests_on_one_background` names the fields that rest on the only reading of everything off. Where the readings
        contradict each other, or everything off was not read, no set and no prediction is given: lists are empty,
        values null.
        """
        about_cords = {"unplug_tonight", "unplug_robust", "unplug_instead"}
        fields = {
            name: value
            for name, value in asdict(self).items()
            if name not in {"is_read", "set_doubt", "background_doubt", "supply"}
            and (value is not None or name not in about_cords)
        }
        resting = ["background_volts", "circuits"] if self.background_doubt else []
        if self.predicts_from_one_background and self.has_set:
            resting.append("predicted_volts")
        fields["rests_on_one_background"] = resting
        if self.has_set:
            return fields
        return {name: NO_ANSWER.get(name, value) for name, value in fields.items()}


def solve_sweep(
    sweep: Sweep,
    supply: SupplyKey = "split",
    keep: frozenset[str] = frozenset(),
    target_volts: float = TARGET_VOLTS,
    cords: Mapping[str, str] = NO_CORDS,
) -> SweepAnswer:
    """Find from the readings at one spot what gives how much, what to switch off, and what to read next.

    Args:
        sweep: readings at one spot in one posture.
        supply: of the home.
        keep: circuits that must stay on, cords that must stay plugged in.
        target_volts: what the value shall not exceed.
        cords: which of the sweep's names are cords, and the circuit that each is plugged into; empty where that is not
            known. In a reading a cord is among what was live when it was plugged in.

    Raises:
        StillvoltError: a name that is not on the panel must stay on or has a cord, or the target is no voltage.
    """
    found = solve_spots([("", sweep)], supply, keep, target_volts, cords)
    (here,) = found.spots
    apart = _apart(sweep) if found.consistent else ()
    return SweepAnswer(
        here.circuits,
        here.background_volts,
        here.u_background_volts,
        found.off_tonight,
        here.predicted_volts,
        here.u_predicted_volts,
        found.relies_on_cancellation,
        found.off_robust,
        here.predicted_robust_volts,
        found.ambiguous or bool(apart),
        tuple(dict.fromkeys((*apart, *(live for _, live in found.next_readings)))),
        found.consistent,
        found.consistency[0][1].suspects,
        found.unplug_tonight if cords else None,
        found.unplug_robust if cords else None,
        found.unplug_instead if cords else None,
        here.exchangeable,
        here.is_read,
        here.set_doubt,
        here.background_doubt,
        apart,
        supply,
        tuple(sorted(found.better_supplies)),
    )


def _apart(sweep: Sweep) -> tuple[tuple[str, ...], ...]:
    """What was live in each combination whose repeats contradict each other by their own uncertainties."""
    return tuple(
        tuple(name for name in sweep.circuits if name in live)
        for live, repeats in repeats_by_combination(sweep.rows).items()
        if repeats.contradict
    )


def _u_holding(reading: SweepReading, rows: Sequence[SweepReading]) -> float:
    """Standard uncertainty of a mean of repeats, V: where these contradict each other, twice of it holds each of them.

    Args:
        reading: the mean.
        rows: the readings of the sweep.
    """
    repeats = [(row.volts, row.u_volts) for row in rows if row.on == reading.on]
    if not repeats or not combine(repeats).contradict:
        return reading.u_volts
    farthest_volts = max(abs(volts - reading.volts) for volts, _ in repeats)
    return max(reading.u_volts, farthest_volts / COVERAGE_FACTOR)


# long: the stages of one answer in their order, each on the results of those before it.
def solve_spots(
    sweeps: Sequence[tuple[str, Sweep]],
    supply: SupplyKey = "split",
    keep: frozenset[str] = frozenset(),
    target_volts: float = TARGET_VOLTS,
    cords: Mapping[str, str] = NO_CORDS,
) -> MultiSpotAnswer:
    """Find one smallest set for which every spot stays at or under the target.

    Args:
        sweeps: each spot's name and readings. A circuit that one of them does not name is one that was not read there.
        supply: of the home.
        keep: circuits that must stay on, cords that must stay plugged in.
        target_volts: what the value shall not exceed at any of the spots.
        cords: as in `solve_sweep`.

    Raises:
        StillvoltError: as in `solve_sweep`, or there is no spot.
    """
    if not sweeps:
        raise StillvoltError(tr("No spot was read."), next_step=tr("Begin at one spot with everything off."))
    names = tuple(dict.fromkeys(name for _, sweep in sweeps for name in sweep.circuits))
    _check(names, keep, target_volts, cords)
    read = [replace(sweep, circuits=names) for _, sweep in sweeps]
    is_cord = np.array([name in cords for name in names], bool)
    fitted = [fit_sweep(sweep, supply, cords) for sweep in read]
    checked = check_supply(read, fitted, cords)
    decision = decide(
        [(infer(found), sweep) for found, sweep in zip(fitted, read, strict=True)],
        keep,
        target_volts,
        is_cord,
    )
    consistency = [check_consistency(sweep, found, cords) for found, sweep in zip(fitted, read, strict=True)]
    influences = [reading_influence(sweep, found, cords) for found, sweep in zip(fitted, read, strict=True)]
    u_sizes = [_u_sizes(decision, s, influence) for s, influence in enumerate(influences)]
    chosen, robust = decision.chosen, decision.robust_off
    allowed: list[Alternatives] = []
    wanted = [(s, _named(names, live)) for s, live in decision.wanted]
    why = _why_wanted(decision)
    again = _read_again(names, consistency)
    if not all(found.consistent for found in consistency):
        wanted, why = again, "contradicts"
    elif doubtful := _doubtful_readings(decision, u_sizes, influences):
        wanted, why = [*doubtful, *wanted], "misfit"
    elif not decision.undecided:
        allowed = [
            allowed_mistakes(sweep, fitted[s], checked.misfits[s], cords, target_volts)
            for s, sweep in enumerate(read)
        ]
        exchanges = [
            hidden_exchanges(decision.problem, s, mistakes, u_sizes[s], chosen.off)
            for s, mistakes in enumerate(allowed)
        ]
        checks = _check_readings(decision, allowed, exchanges)
        wanted = [*((s, live) for s, live, _ in checks), *wanted]
        why = checks[0][2] if checks else why
    exchangeable = [
        undetected_exchanges(sweep, fitted[s], checked.misfits[s], cords, allowed[s] if allowed else None)
        if consistency[s].consistent
        else ()
        for s, sweep in enumerate(read)
    ]
    doubts = [_set_doubt(decision, s, pairs, wanted) for s, pairs in enumerate(exchangeable)]
    # A second reading of the set settles for certain what the answer relies on, whatever else is left open.
    if not wanted:
        wanted, why = [(s, _set_live(decision, s)) for s, doubt in enumerate(doubts) if doubt], "list"
    background_doubts = [_background_doubt(decision, s, pairs) for s, pairs in enumerate(exchangeable)]
    if not wanted and not chosen.meets_target:
        # That no set reaches the target rests on everything off, whatever was read of the set that comes nearest.
        wanted = [
            (s, _named(names, _background_live(decision, s)))
            for s, doubt in enumerate(background_doubts)
            if doubt
        ]
        why = "background"
    shown = [_shown(found, decision.problem.sizes[s], u_sizes[s]) for s, found in enumerate(fitted)]
    legs = agreed_leg_names(
        [legs_by_agreement(posterior, is_cord) for posterior in decision.problem.posteriors]
    )
    plain_names = {name for sweep in read for name in plain_rule(sweep, keep, target_volts, cords)}
    plain = np.array([name in plain_names for name in names], bool)
    return MultiSpotAnswer(
        tuple(
            _spot_answer(
                decision,
                s,
                spot,
                legs[s],
                plain,
                shown[s],
                exchangeable[s],
                doubts[s],
                background_doubts[s],
            )
            for s, (spot, _) in enumerate(sweeps)
        ),
        _named(names, chosen.off & ~is_cord),
        _named(names, chosen.off & is_cord),
        chosen.meets_target,
        decision.relies_on_cancellation,
        _named(names, robust & ~is_cord),
        _named(names, robust & is_cord),
        tuple(
            (names[circuit], tuple(names[cord] for cord in instead)) for circuit, instead in decision.instead
        ),
        bool(wanted),
        tuple((sweeps[s][0], live) for s, live in wanted),
        tuple((spot, found) for (spot, _), found in zip(sweeps, consistency, strict=True)),
        checked.better,
        why if wanted else "",
        replace(
            decision.problem,
            u_sizes=np.array([_u_around(shown[s], sizes) for s, sizes in enumerate(decision.problem.sizes)]),
        ),
    )


def _check_readings(
    decision: Decision, allowed: Sequence[Alternatives], exchanges: Sequence[Alternatives]
) -> list[tuple[int, tuple[str, ...], NextReason]]:
    """Index of the spot and combination of each reading that would notice a mistake that nothing shows, and what it is.

    Args:
        decision: for all spots.
        allowed: the mistakes that the readings allow, for each spot.
        exchanges: those of them that are exchanges which nothing shows, for each spot.
    """
    problem = decision.problem
    checks: list[tuple[int, tuple[str, ...], NextReason]] = []
    for s, mistakes in enumerate(allowed):
        if (live := check_reading(problem, s, mistakes, decision.chosen.off)) is not None:
            checks.append((s, _named(problem.names, live), "mistake"))
        elif (live := exchange_check(problem, s, exchanges[s], decision.chosen.off)) is not None:
            checks.append((s, _named(problem.names, live), "swapped"))
    return checks


def _why_wanted(decision: Decision) -> NextReason:
    """What the first reading that the decision asks for decides; empty where it asks for none."""
    if not decision.wanted:
        return ""
    problem = decision.problem

    def is_first(readings: Sequence[SpotReading]) -> bool:
        first_s, first = decision.wanted[0]
        return any(s == first_s and (live == first).all() for s, live in readings)

    if is_first(confirming_readings(problem, decision.chosen)):
        return "list"
    if is_first(background_readings(problem)) or is_first(all_off_readings(problem)):
        return "background"
    return "not read" if is_first(solo_readings(problem)) else "decides"


def _set_live(decision: Decision, s: int) -> tuple[str, ...]:
    """Names of what the chosen set leaves live at a spot; `s` is its index."""
    problem = decision.problem
    return _named(problem.names, live_under(problem, problem.posteriors[s], decision.chosen.off))


def _set_doubt(
    decision: Decision,
    s: int,
    exchangeable: Sequence[tuple[int, int]],
    wanted: Sequence[tuple[int, tuple[str, ...]]],
) -> SetDoubt:
    """Why the reading of the chosen set at a spot confirms nothing; empty where it does, or where there is none.

    Args:
        decision: for all spots.
        s: index of the spot.
        exchangeable: numbers of the rows there that may have been exchanged, two by two.
        wanted: index of the spot and combination of each reading that is asked for.
    """
    own = rows_of_set(decision.problem, s, decision.chosen.off)
    # Another meter input, reference or posture gives another value: such readings do not settle each other.
    if times_alike(decision.problem.sweeps[s].rows[at] for at in own) != 1:
        return ""
    if any(at + 1 in pair for at in own for pair in exchangeable):
        return "exchanged"
    if (s, _set_live(decision, s)) in wanted:
        return "to be read again"
    return "read once" if len(own) == 1 and own[0] in _background_rows(decision, s) else ""


def _background_doubt(decision: Decision, s: int, exchangeable: Sequence[tuple[int, int]]) -> SetDoubt:
    """Why the only reading of everything off at a spot does not confirm the background.

    Args:
        decision: for all spots.
        s: index of the spot.
        exchangeable: numbers of the rows there that may have been exchanged, two by two.
    """
    own = _background_rows(decision, s)
    if len(own) != 1:
        return ""
    return "exchanged" if any(own[0] + 1 in pair for pair in exchangeable) else "read once"


def _background_rows(decision: Decision, s: int) -> list[int]:
    """Indices of the rows with everything off that may be switched off, at a spot; `s` is its index."""
    problem, sweep = decision.problem, decision.problem.sweeps[s]
    if background_reading(problem, s) is None:
        return []
    live = _background_live(decision, s)
    read = {reading.on for reading in readings_of(sweep, live, problem.names, problem.circuit_of)}
    return [at for at, row in enumerate(sweep.rows) if row.on in read]


def _background_live(decision: Decision, s: int) -> NDArray[np.bool_]:
    """What was live in the reading of everything off at a spot that has one, shape (n,); `s` is its index."""
    background = background_reading(decision.problem, s)
    on = background.on if background is not None else frozenset()
    return np.array([name in on for name in decision.problem.names], bool)


def _read_again(
    names: tuple[str, ...], consistency: Sequence[Consistency]
) -> list[tuple[int, tuple[str, ...]]]:
    """Index of the spot and combination of each suspect row, each once, the most suspect one first."""
    return list(
        dict.fromkeys(
            (s, tuple(name for name in names if name in live))
            for s, found in enumerate(consistency)
            for live in found.read_again
        )
    )


def _u_sizes(decision: Decision, s: int, influence: ReadingInfluence) -> NDArray[np.float64]:
    """Standard uncertainty of what each circuit gives at a spot, wide enough for one mistaken reading, V, shape (n,).

    Args:
        decision: for all spots.
        s: index of the spot.
        influence: of single mistakes there.
    """
    problem = decision.problem
    is_null = ~np.isnan(problem.posteriors[s].null_volts)
    return influence.widened(problem.sizes[s], problem.u_sizes[s], is_null)


def _shown(
    found: SweepFit, sizes: NDArray[np.float64], u_sizes: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """What is stated of each circuit at a spot: volts and standard uncertainty, shape (n,) each; NaN for no bound.

    Args:
        found: the model fitted to the readings there.
        sizes: what each circuit gives by all readings together, V, shape (n,).
        u_sizes: standard uncertainty of these, V, shape (n,).
    """
    design, misfit = found.design, found.misfit()
    limits = contribution_limits(design, found.supply, any_phase=is_strained(misfit))
    volts, u_volts = covering(design, limits, sizes, u_sizes)
    if is_unchecked(misfit):
        u_volts = np.maximum(u_volts, own_u_volts(design))
    return volts, u_volts


def _u_around(
    stated: tuple[NDArray[np.float64], NDArray[np.float64]], sizes: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Standard uncertainty around what the readings together give, as wide as what is stated, V, shape (n,).

    Args:
        stated: volts and standard uncertainty of each circuit and cord, shape (n,) each; NaN for no bound.
        sizes: what all readings together give, V, shape (n,).
    """
    volts, u_volts = stated
    return np.nan_to_num(np.hypot(u_volts, (volts - sizes) / COVERAGE_FACTOR), nan=np.inf)


def _doubtful_readings(
    decision: Decision, u_sizes: Sequence[NDArray[np.float64]], influences: Sequence[ReadingInfluence]
) -> list[tuple[int, tuple[str, ...]]]:
    """Index of the spot and combination of each reading to take again, since without it the answer would be another.

    One that was read twice in the same way is not asked for again: its repeats agree with each other.

    Args:
        decision: for all spots.
        u_sizes: wide enough for a mistake, for each spot, V, shape (n,).
        influences: of single mistakes, for each spot.
    """
    problem = decision.problem
    wanted: list[tuple[int, tuple[str, ...]]] = []
    for s, influence in enumerate(influences):
        shift = COVERAGE_FACTOR * (u_sizes[s] - problem.u_sizes[s])
        if (shift <= tolerance_volts(problem.sizes[s])).all():
            continue
        rows = problem.sweeps[s].rows
        doubted = dict.fromkeys(rows[at].on for at in influence.rows)
        once = [on for on in doubted if times_alike(row for row in rows if row.on == on) == 1]
        wanted += [(s, tuple(name for name in problem.names if name in on)) for on in once]
    return wanted


def _spot_answer(
    decision: Decision,
    s: int,
    spot: str,
    legs: Sequence[str | None],
    plain: NDArray[np.bool_],
    stated: tuple[NDArray[np.float64], NDArray[np.float64]],
    exchangeable: tuple[tuple[int, int], ...],
    set_doubt: SetDoubt,
    background_doubt: SetDoubt,
) -> SpotAnswer:
    """The answer at one spot.

    Args:
        decision: for all spots.
        s: index of the spot.
        spot: its name.
        legs: of each circuit and cord there.
        plain: what the plain rule switches off, shape (n,).
        stated: what each circuit gives and its standard uncertainty, V, shape (n,) each; NaN where it is not known.
        exchangeable: numbers of the rows that may have been exchanged, two by two.
        set_doubt: why a reading of the chosen set there confirms nothing.
        background_doubt: why the reading of everything off there does not confirm the background.
    """
    problem = decision.problem
    predicted, u_predicted = decision.predictions[s]
    background = background_reading(problem, s)
    effects = zip(problem.names, *stated, legs, strict=True)
    return SpotAnswer(
        spot,
        tuple(
            CircuitEffect(name, None, None, None)
            if np.isnan(volts)
            else CircuitEffect(name, float(volts), float(u), leg)
            for name, volts, u, leg in effects
        ),
        background.volts if background is not None else None,
        _u_holding(background, problem.sweeps[s].rows) if background is not None else None,
        predicted,
        u_predicted,
        _left_volts(decision, s, decision.robust_off),
        _left_volts(decision, s, plain),
        exchangeable,
        set_reading(problem, s, decision.chosen.off) is not None,
        set_doubt,
        background_doubt,
    )


def _left_volts(decision: Decision, s: int, off: NDArray[np.bool_]) -> float:
    """What a set leaves at a spot, V: its reading where it was read, else what the readings lead to expect.

    Args:
        decision: for all spots.
        s: index of the spot.
        off: which circuits and cords are off or unplugged, shape (n,).
    """
    if (off == decision.chosen.off).all():
        return decision.predictions[s][0]
    if (reading := set_reading(decision.problem, s, off)) is not None:
        return reading.volts
    posterior = decision.problem.posteriors[s]
    return float(posterior.predict(~off[None, :])[0] @ posterior.weights)


def _check(
    names: tuple[str, ...], keep: frozenset[str], target_volts: float, cords: Mapping[str, str]
) -> None:
    if not names:
        raise StillvoltError(tr("No circuit is named."), next_step=tr("List the circuits of the panel."))
    unknown = sorted(keep - set(names))
    if unknown:
        raise StillvoltError(
            tr("{name} must stay on, but is not among the circuits of the sweep.").format(
                name=repr(unknown[0])
            )
        )
    for cord, circuit in cords.items():
        if cord not in names:
            raise StillvoltError(
                tr("The cord {cord} is not among the names of the sweep.").format(cord=repr(cord))
            )
        if circuit and (circuit not in names or circuit in cords):
            raise StillvoltError(
                tr("{circuit}, which {cord} is plugged into, is not among the circuits.").format(
                    circuit=repr(circuit), cord=repr(cord)
                )
            )
    if not (isfinite(target_volts) and target_volts > 0.0):
        raise StillvoltError(
            tr("A target is a voltage above zero, not {target}.").format(
                target=shown_number(str(target_volts))
            )
        )


def _named(names: tuple[str, ...], which: NDArray[np.bool_]) -> tuple[str, ...]:
    return tuple(name for name, chosen in zip(names, which, strict=True) if chosen)
