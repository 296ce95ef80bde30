"""What a sweep says at one spot: contributions, what the plan's set leaves, and readings that contradict each other.

In: the solver's answer at the spot, and the readings that it rests on. Out: a `SpotPlan`, with circuits and cords in
place of the solver's names and with the uncertainty of meter and reference.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from logger.metrology.uncertainty import Budget, Verdict, compare_with
from logger.sweep.listed_later import ReadBeforeListed, read_before_listed
from logger.sweep.solver.answer import CircuitEffect, SetDoubt, SpotAnswer
from logger.sweep.solver.consistency import Consistency
from logger.sweep.solver.contribution_doubts import contribution_doubts
from logger.sweep.sweep_progress import (
    Combination,
    SpotSweep,
    combination_of,
    effective_live,
    sweep_progress,
)
from logger.sweep.sweep_rows import mean_of_repeats
from logger.visit.records.condition import unlisted_on
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading
from logger.visit.results.contradicting_repeats import why_no_second, why_other_context


@dataclass(frozen=True, slots=True)
class SourceContribution:
    """The contribution of a circuit or a cord at a spot.

    Args:
        source: the circuit or cord.
        volts: magnitude of its contribution, V.
        u_volts: standard uncertainty, V.
        leg: A, B or C, which is not the panel's name; empty where the readings leave it open.
        doubt: why it is not confirmed, in English, after a comma; empty where nothing speaks against it.
        alone: value with it alone on, the background in it; None for a cord, and while nobody read it.
    """

    source: Source
    volts: float
    u_volts: float
    leg: str
    doubt: str = ""
    alone: Budget | None = None


@dataclass(frozen=True, slots=True)
class SpotPlan:
    """The plan at one spot.

    Args:
        spot_id: of the spot.
        name: of the spot.
        contributions: of the circuits and cords that the readings set a bound to, in the order of the panel; none while
            readings contradict each other.
        background: value with everything off that may be switched off; None while nobody read it.
        everything_on: value with everything on; None while nobody read it.
        left: value with the plan's set switched off: the mean of the readings of just that, or the prediction while
            there is none.
        left_robust_volts: prediction with the robust set switched off, V.
        left_plain_volts: prediction with the plain rule's set switched off, V.
        confirming_reading: the newest reading with exactly the plan's set switched off and all else on, of those that a
            change of the value or a new still stretch came before; None while there is none.
        times_confirmed: how many valid readings there are of that which were read alike.
        read_apart: the newest two of them where no two were read alike; none otherwise.
        suspects: readings that contradict the others here, the most likely mistake first; none where all agree.
        is_consistent: whether the readings here agree with each other, and can be held against each other at all.
        why_not_alike: why meter or reference keep them from that, in a sentence; empty where the same were used
            throughout. None of them is suspect then: values against two references can agree by chance.
        exchangeable: readings, two by two, that may have been exchanged here: no other reading would show it, though a
            circuit would give something else.
        read_without_unlisted: the plan's set was read, but only with the circuits that are not listed off as well.
        set_doubt: why the only reading of the plan's set confirms nothing; empty where it does, or where there is none.
        background_doubt: why the only reading of everything off does not confirm the background, and what is counted
            from it; empty where it was read more than once, or not at all.
        read_before_listed: the readings here that do not count, as a circuit that may have stayed on was listed after
            them; None where there is none.
        read_from_utc_ns: when the first of the readings was taken that the plan rests on here.
        read_to_utc_ns: when the last of them was taken.
        swapped: two of the suspects that may have been swapped by mistake, which would resolve it; none otherwise.
        read_by_word: the plan's set was read here, but only by the word of the user that it was switched, without
            anything in the trace that shows it.
    """

    spot_id: int
    name: str
    contributions: tuple[SourceContribution, ...]
    background: Budget | None
    everything_on: Budget | None
    left: Budget
    left_robust_volts: float
    left_plain_volts: float
    confirming_reading: Reading | None
    times_confirmed: int
    read_apart: tuple[Reading, ...]
    suspects: tuple[Reading, ...]
    is_consistent: bool
    why_not_alike: str
    exchangeable: tuple[tuple[Reading, Reading], ...]
    read_without_unlisted: bool
    set_doubt: SetDoubt
    background_doubt: SetDoubt
    read_before_listed: ReadBeforeListed | None
    read_from_utc_ns: int
    read_to_utc_ns: int
    swapped: tuple[Reading, ...]
    read_by_word: bool

    def verdict(self, target_volts: float) -> Verdict:
        """Compare what is left with the target, by the rule that every reading is compared with it."""
        return compare_with(self.left, target_volts)


@dataclass(frozen=True, slots=True)
class ReadElsewhere:
    """What was read with the plan's set switched off at a spot that was not swept, and so is no part of the answer.

    Args:
        spot_id: of the spot.
        name: of the spot.
        left: the mean of the readings of just that.
        confirming_reading: the newest of them.
    """

    spot_id: int
    name: str
    left: Budget
    confirming_reading: Reading

    def verdict(self, target_volts: float) -> Verdict:
        """Compare what is left with the target, as `SpotPlan` does."""
        return compare_with(self.left, target_volts)


def read_elsewhere(
    spots: Sequence[tuple[int, str]],
    goal: Combination,
    readings: Sequence[Reading],
    sources: Sequence[Source],
) -> Iterator[ReadElsewhere]:
    """Look up what was read with the plan's set switched off at other spots.

    Args:
        spots: id and name of the spots that were not swept.
        goal: the combination with the plan's set switched off.
        readings: of the visit, oldest first.
        sources: circuits and cords of the visit.
    """
    for spot_id, name in spots:
        found = [
            reading
            for reading in _readings_of(goal, readings, spot_id, sources)
            if not reading.by_word and unlisted_on(reading.condition) is not False
        ]
        left = mean_of_repeats(found)
        if left is not None:
            yield ReadElsewhere(spot_id, name, left, found[-1])


@dataclass(frozen=True, slots=True)
class SweptSpot:
    """A spot with its sweep.

    Args:
        spot_id: of the spot.
        name: of the spot.
        found: its sweep.
    """

    spot_id: int
    name: str
    found: SpotSweep


def spot_plan(
    swept: SweptSpot,
    answer: SpotAnswer,
    consistency: Consistency,
    goal: Combination,
    readings: Sequence[Reading],
    sources: Sequence[Source],
    *,
    supply_in_doubt: bool,
) -> SpotPlan:
    """Put the plan at one spot together.

    Args:
        swept: the spot.
        answer: of the solver for the spot.
        consistency: of the readings at the spot, which names the suspect rows by their numbers, from 1.
        goal: the combination with the plan's set switched off.
        readings: of the visit, oldest first.
        sources: circuits and cords of the visit.
        supply_in_doubt: the readings fit another supply better than the one that was entered.
    """
    suspects = None if consistency.consistent else consistency.suspects
    contributions = _contributions(swept, answer, readings, sources, supply_in_doubt)
    # What rests on the user's word alone, without a change of the value, confirms nothing.
    every_of_set = _readings_of(goal, readings, swept.spot_id, sources)
    of_set = [reading for reading in every_of_set if not reading.by_word]
    by_word = not of_set and any(unlisted_on(reading.condition) is not False for reading in every_of_set)
    # At night the circuits that are not listed are on: a reading without them is of another state.
    confirming = [reading for reading in of_set if unlisted_on(reading.condition) is not False]
    background = _readings_of(combination_of([], sources), readings, swept.spot_id, sources)
    every = combination_of([source.id for source in sources], sources)
    everything_on = _readings_of(every, readings, swept.spot_id, sources)
    prediction = _with_context(answer.predicted_volts, answer.u_predicted_volts, swept.found.readings)
    # Another meter input, reference or posture gives another value: what needs a repeat is not shown by it.
    alike = max((sum(not why_no_second(r, other) for other in confirming) for r in confirming), default=0)
    # What is read of the set itself stands by itself, with its own meter and reference.
    of_sweep = [r for r in swept.found.readings if suspects is not None or r not in confirming]
    why_not_alike = _why_not_alike(of_sweep)
    is_consistent = suspects is None and not why_not_alike
    times = [reading.utc_ns for reading in (*swept.found.readings, *confirming)]
    return SpotPlan(
        swept.spot_id,
        swept.name,
        contributions if is_consistent else (),
        mean_of_repeats(background),
        mean_of_repeats(everything_on),
        mean_of_repeats(confirming) or prediction,
        answer.predicted_robust_volts,
        answer.predicted_plain_volts,
        confirming[-1] if confirming else None,
        alike,
        tuple(confirming[-2:]) if len(confirming) > 1 and alike == 1 else (),
        tuple(swept.found.readings[number - 1] for number in suspects or () if not why_not_alike),
        is_consistent,
        why_not_alike,
        tuple(
            (swept.found.readings[one - 1], swept.found.readings[other - 1])
            for one, other in answer.exchangeable
        ),
        bool(of_set) and not confirming,
        answer.set_doubt,
        answer.background_doubt,
        read_before_listed(readings, swept.spot_id, sources),
        min(times),
        max(times),
        tuple(swept.found.readings[number - 1] for number in consistency.swapped or () if not why_not_alike),
        by_word,
    )


def _why_not_alike(readings: Sequence[Reading]) -> str:
    """Why the newest of some readings cannot be held against one of the others, in a sentence; empty where it can."""
    return next(filter(None, (why_other_context(reading, readings[-1]) for reading in readings)), "")


def _contributions(
    swept: SweptSpot,
    answer: SpotAnswer,
    readings: Sequence[Reading],
    sources: Sequence[Source],
    supply_in_doubt: bool,
) -> tuple[SourceContribution, ...]:
    """What each circuit and cord gives at a spot; the arguments are those of `spot_plan`."""
    by_name = {str(source.id): source for source in sources}
    effects: dict[str, CircuitEffect] = {effect.name: effect for effect in answer.circuits}
    rows = swept.found.sweep.rows
    doubts = contribution_doubts(
        list(by_name), [row.on for row in rows], answer.exchangeable, supply_in_doubt=supply_in_doubt
    )
    return tuple(
        SourceContribution(
            by_name[key],
            effect.volts,
            effect.u_volts,
            effect.leg or "",
            doubts.get(key, ""),
            _alone(by_name[key], readings, swept.spot_id, sources),
        )
        for key in by_name
        if (effect := effects.get(key)) is not None
        and effect.volts is not None
        and effect.u_volts is not None
    )


def _alone(
    source: Source, readings: Sequence[Reading], spot_id: int, sources: Sequence[Source]
) -> Budget | None:
    """The mean of the readings with a circuit alone on; None for a cord, and while nobody read it."""
    if source.kind != "circuit":
        return None
    return mean_of_repeats(_readings_of(combination_of([source.id], sources), readings, spot_id, sources))


def _readings_of(
    wanted: Combination, readings: Sequence[Reading], spot_id: int, sources: Sequence[Source]
) -> tuple[Reading, ...]:
    """The valid readings of a combination at a spot, oldest first.

    Args:
        wanted: the combination; a cord on a circuit that is off may be plugged in or not.
        readings: of the visit, oldest first.
        spot_id: of the spot.
        sources: circuits and cords of the visit.
    """
    live = effective_live(wanted.live, sources)
    found = [
        reading
        for other, repeats in sweep_progress(readings, spot_id, sources).taken.items()
        if effective_live(other, sources) == live
        for reading in repeats
    ]
    return tuple(sorted(found, key=lambda reading: reading.id))


def _with_context(volts: float, u_volts: float, readings: Sequence[Reading]) -> Budget:
    """The budget of a predicted value, with the meter and reference of the newest reading that it rests on.

    Args:
        volts: the prediction, V.
        u_volts: its standard uncertainty from the readings' own scatter and posture, V.
        readings: at the spot.
    """
    newest = max(readings, key=lambda reading: reading.id)
    if newest.context is None:
        return Budget.of_u("prediction", volts, u_volts)
    return newest.context.budget(volts, u_volts)
