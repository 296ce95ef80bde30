"""The breaker sweep at a spot: what has been read, what to switch next, and the readings as the solver takes them.

In: the circuits and cords of the home and the valid readings of a spot. Out: which combinations are read and which are
left, the instructions for switching to the next one, and a `Sweep`. Everything is computed from the log each time, so
that an interrupted sweep resumes where it was, in any order and with any number of repeats.

An essential circuit is live in every reading, so its contribution is part of the background. A cord that is never
unplugged is part of its circuit in the same way.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from logger.sweep.solver.readings import Sweep, sweep_of_sets
from logger.translation import kept_text, tr, tr_kept
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON, unlisted_on
from logger.visit.records.essential_circuits import why_it_stays
from logger.visit.records.home_records import Source
from logger.visit.records.reading_records import Reading
from logger.visit.results.contradicting_repeats import u_in_sweep_volts, why_no_second
from logger.visit.results.on_off_result import has_failed_function_check
from logger.visit.results.posture_repeats import repeatability_on_site
from logger.visit.results.simulated_readings import measured_or_all_simulated

MAX_LISTED_NAMES = 2
"""Up to this many essential circuits are named one by one in an instruction; the list of circuits shows them all."""


MIN_COMBINATIONS = 3
"""A spot with fewer combinations read (on, off and one between) does not count: it does not separate the circuits."""

MIN_CIRCUITS_OF_A_LIST = 2
"""From so many circuits on that may be switched off, everything on and everything off read before the list was made are
part of the sweep."""


@dataclass(frozen=True, slots=True)
class Combination:
    """What is live: the circuits that are on and the cords that are plugged in.

    Args:
        live: ids of these sources.
        label: the condition that is kept with a reading: 'everything off', 'only Kitchen on', ...
    """

    live: frozenset[int]
    label: str

    @property
    def shown(self) -> str:
        """The label in the language that holds."""
        return tr_kept(self.label)

    @property
    def unlisted_on(self) -> bool | None:
        """Whether the circuits of the panel that are not listed are on; None where the label does not define it."""
        return unlisted_on(self.label)


def circuits_of(sources: Sequence[Source]) -> list[Source]:
    """Return the circuits, in the order of the panel."""
    return [source for source in sources if source.kind == "circuit"]


def cords_of(sources: Sequence[Source]) -> list[Source]:
    """Return the cords, in the order of the list."""
    return [source for source in sources if source.kind == "cord"]


def combination_of(
    on: Iterable[int], sources: Sequence[Source], unplugged: Iterable[int] = ()
) -> Combination:
    """Return the combination with these circuits on and these cords unplugged; essential ones stay live regardless.

    Args:
        on: ids of the circuits that are on; the others are off.
        sources: circuits and cords of the home.
        unplugged: ids of the cords that are unplugged; the others are plugged in.
    """
    circuits, cords = circuits_of(sources), cords_of(sources)
    essential = frozenset(s.id for s in sources if s.stays)
    out = frozenset(unplugged) - essential
    live = (frozenset(on) & {c.id for c in circuits}) | essential | ({c.id for c in cords} - out)
    switchable = [c for c in circuits if not c.stays]
    chosen = [c.name for c in switchable if c.id in live]
    without = [c.name for c in cords if c.id in out]
    if not chosen:
        label = _whole_label(without, is_on=False)
    elif len(chosen) == len(switchable):
        label = _whole_label(without, is_on=True)
    elif len(chosen) <= len(switchable) / 2:
        label = _label(chosen, without, is_on=True)
    else:
        label = _label([c.name for c in switchable if c.id not in live], without, is_on=False)
    return Combination(live, label)


def combination_as_at_night(
    off: Iterable[int], sources: Sequence[Source], unplugged: Iterable[int] = ()
) -> Combination:
    """Return the combination with only these circuits off and all else on, also what is not listed.

    That is how the home is at night with a list of circuits switched off. `combination_of` names the same live circuits
    as 'only Kitchen on' where that is shorter, and then the circuits that are not listed are off.

    Args:
        off: ids of the circuits that are off.
        sources: circuits and cords of the home.
        unplugged: ids of the cords that are unplugged; the others are plugged in.
    """
    chosen = frozenset(off)
    circuits, cords = circuits_of(sources), cords_of(sources)
    live = combination_of([c.id for c in circuits if c.id not in chosen], sources, unplugged).live
    names = [c.name for c in circuits if c.id not in live]
    without = [c.name for c in cords if c.id not in live]
    label = _label(names, without, is_on=False) if names else _whole_label(without, is_on=True)
    return Combination(live, label)


def _whole_label(without: Sequence[str], *, is_on: bool) -> str:
    """The condition with everything on, or off.

    Args:
        without: names of the cords that are unplugged.
        is_on: everything is on.
    """
    if not without:
        return EVERYTHING_ON if is_on else EVERYTHING_OFF
    text = (
        kept_text("everything on, without {cords}") if is_on else kept_text("everything off, without {cords}")
    )
    return text.format(cords=_joined(without))


def _label(circuits: Sequence[str], without: Sequence[str], *, is_on: bool) -> str:
    """The condition with some circuits on and the others off, or the other way round.

    Args:
        circuits: names of those that are named.
        without: names of the cords that are unplugged.
        is_on: those that are named are on.
    """
    if without:
        text = (
            kept_text("only {circuits} on, without {cords}")
            if is_on
            else kept_text("only {circuits} off, without {cords}")
        )
    else:
        text = kept_text("only {circuits} on") if is_on else kept_text("only {circuits} off")
    return text.format(circuits=_joined(circuits), cords=_joined(without))


def switching_instructions(
    before: Combination | None, after: Combination, sources: Sequence[Source], *, is_still_set: bool = True
) -> str:
    """Format what has to be on and what off, so that one combination follows another.

    The state of the panel is named whole, never as a difference alone: "Switch on Kitchen" beside what was read before
    can be taken for the whole state, and is then switched otherwise than it is kept.

    Args:
        before: what was live last; None when that is not known.
        after: what is to be live.
        sources: circuits and cords of the home.
        is_still_set: whether that is still so, as far as was stated.
    """
    cords = cords_of(sources)
    plug_in = [c.name for c in cords if before is not None and c.id in after.live - before.live]
    out = [c.name for c in cords if c.id not in after.live]
    plugs = [tr("Plug in: {cords}.").format(cords=_joined(plug_in))] if plug_in else []
    plugs += [tr("Unplug: {cords}.").format(cords=_joined(out))] if out else []
    is_set = (
        is_still_set
        and before is not None
        and (before.live, before.unlisted_on) == (after.live, after.unlisted_on)
    )
    return " ".join([_panel_state(after, circuits_of(sources), is_set=is_set), *plugs])


def _panel_state(wanted: Combination, circuits: Sequence[Source], *, is_set: bool) -> str:
    """Name what is to be on and what off at the panel, both: what the label names, and that the rest is the other way.

    Args:
        wanted: what is to be live.
        circuits: of the home.
        is_set: it is so already, as far as was stated: nothing is to be switched.
    """
    on = [c for c in circuits if c.id in wanted.live]
    off = [c for c in circuits if c.id not in wanted.live]
    if off and wanted.unlisted_on:
        to_do = tr("Switch off {names}. Everything else on.")
        text = tr("Leave it as it is: {names} off, everything else on.") if is_set else to_do
        return text.format(names=_joined(c.name for c in off))
    if not on:
        return tr("Leave it as it is: everything off.") if is_set else tr("Everything off.")
    if not off:
        return tr("Leave it as it is: everything on.") if is_set else tr("Everything on.")
    names = [c.name for c in on]
    stays = [c.name for c in on if c.stays]
    if len(stays) > MAX_LISTED_NAMES:
        names = [*(name for name in names if name not in stays), tr("what must stay on")]
    if len(stays) == len(on):
        to_do = tr("Everything off except {names}.")
        text = tr("Leave it as it is: everything off except {names}.") if is_set else to_do
    else:
        to_do = tr("Switch on {names}. Everything else off.")
        text = tr("Leave it as it is: {names} on, everything else off.") if is_set else to_do
    return text.format(names=_joined(names))


@dataclass(frozen=True, slots=True)
class SweepProgress:
    """How far the sweep at a spot is.

    Args:
        taken: the valid readings of each combination, by the ids of its live sources, oldest first; without those
            that were taken after the function check had failed.
        left: the combinations that the plain sweep still asks for, in order.
    """

    taken: dict[frozenset[int], tuple[Reading, ...]]
    left: tuple[Combination, ...]

    @property
    def complete(self) -> bool:
        """Whether every combination of the plain sweep was read."""
        return not self.left


def sweep_progress(readings: Sequence[Reading], spot_id: int, sources: Sequence[Source]) -> SweepProgress:
    """Find out what has been read at a spot and what is left.

    Args:
        readings: all readings of the visit.
        spot_id: the spot of the sweep.
        sources: circuits and cords of the visit.
    """
    plan = plain_sweep(sources)
    if not plan:
        # What stays on is live with everything on and with everything off: the two would be taken for repeats.
        return SweepProgress({}, ())
    taken: dict[frozenset[int], tuple[Reading, ...]] = {}
    here = measured_or_all_simulated([r for r in readings if r.spot_id == spot_id])
    for reading in _of_one_home(here):
        if has_failed_function_check(reading):
            continue
        live = live_at_reading(reading, sources)
        if live is not None and _is_of_the_list(reading, live, switchable_ids(sources)):
            taken[live] = (*taken.get(live, ()), reading)
    return SweepProgress(taken, tuple(c for c in plan if c.live not in taken))


def _of_one_home(readings: Sequence[Reading]) -> list[Reading]:
    """The readings of one home: what a remedy for good has changed since is another one.

    The newest home counts of which everything off and enough combinations were read; else the one of which most were:
    values that were read again to prove a remedy make no sweep, and leave the one before them. What was unplugged is no
    such change: the readings after it are those without it.

    Args:
        readings: of the spot, oldest first.
    """
    homes: dict[frozenset[int], list[Reading]] = {}
    for reading in readings:
        homes.setdefault(reading.home_changes, []).append(reading)
    if len(homes) < 2:
        return list(readings)

    def combinations(of_home: Sequence[Reading]) -> int:
        return len({(reading.condition, reading.live) for reading in of_home})

    newest_first = list(reversed(homes.values()))
    swept = [
        of_home
        for of_home in newest_first
        if combinations(of_home) >= MIN_COMBINATIONS
        and any(unlisted_on(reading.condition) is False for reading in of_home)
    ]
    return swept[0] if swept else max(newest_first, key=combinations)


def _is_of_the_list(reading: Reading, live: frozenset[int], switchable: Sequence[int]) -> bool:
    """Whether a reading is of the combination that its live sources make in the list as it is now.

    One circuit is no list of a panel: what was read before it was listed would be credited to it alone. Where the rest
    of the panel was off and the list has become shorter, all that is left of it may have been on: that is not
    everything on, and not a repeat of it.

    Args:
        reading: of the spot.
        live: ids of its live sources.
        switchable: ids of the circuits that may be switched off.
    """
    if reading.live is None:
        return len(switchable) >= MIN_CIRCUITS_OF_A_LIST
    return unlisted_on(reading.condition) is not False or not live.issuperset(switchable)


def plain_sweep(sources: Sequence[Source]) -> list[Combination]:
    """List the combinations of a plain sweep: everything off, one circuit at a time, everything on, cords unplugged.

    Cords are unplugged one at a time, where their circuit is known. The order is common practice, without a source.
    """
    switchable = switchable_ids(sources)
    if not switchable:
        return []
    singles = [combination_of([c], sources) for c in switchable] if len(switchable) > 1 else []
    cords = [
        combination_of(switchable, sources, [cord.id])
        for cord in cords_of(sources)
        if cord.circuit_id is not None and not cord.stays
    ]
    return [combination_of([], sources), *singles, combination_of(switchable, sources), *cords]


def is_between(condition: str) -> bool:
    """Return whether a part of the home was on; everything on and everything off alone separate no circuits."""
    return condition not in (EVERYTHING_ON, EVERYTHING_OFF)


def switchable_ids(sources: Sequence[Source]) -> list[int]:
    """Return the ids of the circuits that may be switched off, in the order of the panel."""
    return [circuit.id for circuit in circuits_of(sources) if not circuit.stays]


def live_at_reading(reading: Reading, sources: Sequence[Source]) -> frozenset[int] | None:
    """Return the ids of the sources that were live at a reading; None where nobody knows them.

    A reading that was taken before the circuits were listed counts where its condition is everything on or off.
    """
    return None if not_known_at_reading(reading, sources) else supposed_live_at_reading(reading, sources)


def supposed_live_at_reading(reading: Reading, sources: Sequence[Source]) -> frozenset[int] | None:
    """Return what `live_at_reading` does, without the circuits of which nobody knows whether they were on.

    None where the condition of the reading does not define what was live.
    """
    if reading.live is None:
        live = live_with_everything(reading.condition, sources)
        not_known = {s.id for s in not_known_at_reading(reading, sources)}
        return None if live is None else live - not_known - reading.unplugged
    later = [source for source in sources if source.id not in reading.listed]
    if unlisted_on(reading.condition) is False:
        # The rest of the panel was switched off; no cord was unplugged for it.
        later = cords_of(later)
    return (reading.live | {source.id for source in later}) - reading.unplugged


def not_known_at_reading(reading: Reading, sources: Sequence[Source]) -> list[Source]:
    """Return the circuits of which nobody knows whether they were on at a reading.

    Those are listed since, the rest of the panel was off, and they must stay on, or their name suggests it: whoever
    switched everything off may have left them on, and a mark that is set or removed later does not change what was.
    """
    if unlisted_on(reading.condition) is not False:
        return []
    return [
        circuit
        for circuit in circuits_of(sources)
        if not reading.was_listed(circuit.id) and (circuit.stays or why_it_stays(circuit.name))
    ]


def live_with_everything(condition: str, sources: Sequence[Source]) -> frozenset[int] | None:
    """Return the ids of the sources that are live with everything on or everything off; None in another condition.

    While no circuit is listed the answer is None as well. What words name is known to the log, which has the names of
    their time: see `NameHistory.live_in_words`.
    """
    if not circuits_of(sources):
        return None
    if condition == EVERYTHING_OFF:
        return combination_of([], sources).live
    return frozenset(source.id for source in sources) if condition == EVERYTHING_ON else None


@dataclass(frozen=True, slots=True)
class SpotSweep:
    """The sweep at a spot as the solver takes it.

    Args:
        sweep: each source is named by its id.
        readings: the reading of each row of the sweep, in the order of the rows.
        has_background: whether a reading was taken with everything off that may be switched off.
    """

    sweep: Sweep
    readings: tuple[Reading, ...]
    has_background: bool


def sweep_at(readings: Sequence[Reading], spot_id: int, sources: Sequence[Source]) -> SpotSweep | None:
    """Put the readings of a spot together for the solver; None while there is none.

    Circuits that were never off are part of the background, cords that were never unplugged part of their circuit. One
    that was off in a reading and was declared essential later is a part of its own, as it was read.

    Args:
        readings: all readings of the visit.
        spot_id: the spot of the sweep.
        sources: circuits and cords of the visit.
    """
    essential = frozenset(source.id for source in sources if source.stays)
    read = sweep_progress(readings, spot_id, sources).taken
    taken = read if any(essential <= live for live in read) else {}
    if not taken:
        return None
    always = frozenset.intersection(*taken)
    names = [str(source.id) for source in sources if source.id not in always]
    repeatability = repeatability_on_site(readings)
    rows = [(live, reading) for live, repeats in taken.items() for reading in repeats]
    sweep = sweep_of_sets(
        [
            (
                frozenset(map(str, live)) & frozenset(names),
                reading.volts,
                u_in_sweep_volts(reading, repeatability),
            )
            for live, reading in rows
        ],
        names,
    )
    everything_off = effective_live(combination_of([], sources).live, sources)
    ways = [way for repeats in taken.values() for way in _ways(repeats)]
    read_so = tuple(replace(row, way=way) for row, way in zip(sweep.rows, ways, strict=True))
    return SpotSweep(
        replace(sweep, rows=read_so, understated=1.0),
        tuple(reading for _, reading in rows),
        any(essential <= live and effective_live(live, sources) <= everything_off for live in taken),
    )


def _ways(repeats: Sequence[Reading]) -> list[int]:
    """For each of some readings of one combination the index of the first one that was taken in the same way."""
    return [
        next(at for at, earlier in enumerate(repeats) if not why_no_second(earlier, reading))
        for reading in repeats
    ]


def effective_live(live: frozenset[int], sources: Sequence[Source]) -> frozenset[int]:
    """Return the ids of what carries voltage: a cord that is plugged into a circuit that is off does not."""
    dead = {
        cord.id for cord in cords_of(sources) if cord.circuit_id is not None and cord.circuit_id not in live
    }
    return live - dead


def _joined(names: Iterable[str]) -> str:
    return ", ".join(names)
