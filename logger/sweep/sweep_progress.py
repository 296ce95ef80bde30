"""The breaker sweep at a spot: what has been read, what to switch next, and the readings as the model wants them.

In: the circuits and cords of the home and the standing readings of a spot. Out: what is read and what is left, the next
combination to set with what has to be switched for it, and a `Sweep`. Everything is worked out from the log anew, so
that an interrupted sweep goes on where it was, in any order and with any number of repeats.

A circuit that must stay on is live in every reading. What it gives is then part of the background, and is counted so.
The same goes for a cord that is never unplugged: it is part of its circuit.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot

from logger.metrology.posture import STILL_SHARE
from logger.metrology.uncertainty import RECTANGULAR
from logger.sweep.solver.readings import Sweep, sweep_of_sets
from logger.visit.records.condition import EVERYTHING_OFF, EVERYTHING_ON
from logger.visit.records.records import Reading, Source

MAX_LISTED_NAMES = 2
"""Circuits that must stay on are said one by one up to that many: the list shows them all."""


@dataclass(frozen=True, slots=True)
class Combination:
    """What is live: circuits that are on, and cords that are plugged in."""

    live: frozenset[int]
    """Ids of sources."""
    label: str
    """'everything off', 'only Kitchen on', ... as it stands with the reading."""


def circuits_of(sources: Sequence[Source]) -> list[Source]:
    """The circuits, in the order of the panel."""
    return [source for source in sources if source.kind == "circuit"]


def cords_of(sources: Sequence[Source]) -> list[Source]:
    """The cords."""
    return [source for source in sources if source.kind == "cord"]


def combination_of(
    on: Iterable[int], sources: Sequence[Source], unplugged: Iterable[int] = ()
) -> Combination:
    """Those circuits on and the other ones off, those cords unplugged and the other ones plugged in; what must stay on
    stays on.

    Args:
        on: ids of circuits.
        sources: of the home.
        unplugged: ids of cords.
    """
    circuits, cords = circuits_of(sources), cords_of(sources)
    staying = frozenset(s.id for s in sources if s.stays)
    out = frozenset(unplugged) - staying
    live = (frozenset(on) & {c.id for c in circuits}) | staying | ({c.id for c in cords} - out)
    switchable = [c for c in circuits if not c.stays]
    chosen = [c.name for c in switchable if c.id in live]
    if not chosen:
        label = EVERYTHING_OFF
    elif len(chosen) == len(switchable):
        label = EVERYTHING_ON
    elif len(chosen) <= len(switchable) / 2:
        label = f"only {_joined(chosen)} on"
    else:
        label = f"only {_joined(c.name for c in switchable if c.id not in live)} off"
    without = [c.name for c in cords if c.id in out]
    return Combination(live, f"{label}, without {_joined(without)}" if without else label)


def switching_instructions(
    before: frozenset[int] | None, after: frozenset[int], sources: Sequence[Source]
) -> str:
    """What has to be switched to come from one combination to another, for the person at the panel.

    Args:
        before: live circuits as they are; None when nobody knows.
        after: live circuits as they are to be.
        sources: of the home.
    """
    circuits, cords = circuits_of(sources), cords_of(sources)
    plugs = []
    if before is not None:
        plugs = [
            f"{word}: {_joined(names)}."
            for word, names in (
                ("Unplug", [c.name for c in cords if c.id in before - after]),
                ("Plug in", [c.name for c in cords if c.id in after - before]),
            )
            if names
        ]
    elif out := [c.name for c in cords if c.id not in after]:
        plugs = [f"Unplug: {_joined(out)}."]
    return " ".join([*_breakers(before, after, circuits), *plugs]) or "Nothing has to be switched."


def _breakers(before: frozenset[int] | None, after: frozenset[int], circuits: Sequence[Source]) -> list[str]:
    on = [c.name for c in circuits if c.id in after]
    off = [c.name for c in circuits if c.id not in after]
    staying = [c for c in circuits if c.stays]
    if len(staying) == len(on) and off:
        names = _joined(on) if len(on) <= MAX_LISTED_NAMES else "what must stay on"
        everything_off = f"Everything off except {names}." if on else "Everything off."
    else:
        everything_off = ""
    if before is None and everything_off:
        return [everything_off]
    if before is None:
        return [
            f"On: {_joined(on)}. Everything else off."
            if on and off
            else "Everything " + ("on." if on else "off.")
        ]
    to_on = [c.name for c in circuits if c.id in after - before]
    to_off = [c.name for c in circuits if c.id in before - after]
    many = len(circuits) // 2
    if len(to_on) > many and not to_off:
        return [f"Everything on except {_joined(off)}." if off else "Everything on."]
    if len(to_off) > many and not to_on:
        return [f"Everything off except {_joined(on)}." if on else "Everything off."]
    return [f"{word}: {_joined(names)}." for word, names in (("Off", to_off), ("On", to_on)) if names]


@dataclass(frozen=True, slots=True)
class SweepProgress:
    """How far the sweep at a spot is."""

    taken: dict[frozenset[int], tuple[Reading, ...]]
    """Standing readings by the circuits that were live, oldest first."""
    left: tuple[Combination, ...]
    """What the plain sweep still asks for, in order."""

    @property
    def complete(self) -> bool:
        """Every combination of the plain sweep was read."""
        return not self.left


def sweep_progress(readings: Sequence[Reading], spot_id: int, sources: Sequence[Source]) -> SweepProgress:
    """What has been read at a spot and what is left.

    Args:
        readings: all readings of the visit.
        spot_id: the spot of the sweep.
        sources: circuits and cords of the visit.
    """
    taken: dict[frozenset[int], tuple[Reading, ...]] = {}
    for reading in readings:
        live = (
            live_at_reading(reading, sources)
            if reading.spot_id == spot_id and reading.void_reason is None
            else None
        )
        if live is not None:
            taken[live] = (*taken.get(live, ()), reading)
    plan = plain_sweep(sources)
    return SweepProgress(taken, tuple(c for c in plan if c.live not in taken))


def plain_sweep(sources: Sequence[Source]) -> list[Combination]:
    """Everything off, then one circuit at a time, then everything on (common practice, no source); then each cord
    unplugged by itself, where it is known which circuit it is on.
    """
    switchable = [c.id for c in circuits_of(sources) if not c.stays]
    if not switchable:
        return []
    singles = [combination_of([c], sources) for c in switchable] if len(switchable) > 1 else []
    cords = [
        combination_of(switchable, sources, [cord.id])
        for cord in cords_of(sources)
        if cord.circuit_id is not None and not cord.stays
    ]
    return [combination_of([], sources), *singles, combination_of(switchable, sources), *cords]


def live_at_reading(reading: Reading, sources: Sequence[Source]) -> frozenset[int] | None:
    """Which circuits were live at a reading; None where that was not stated one by one.

    A reading with everything on or off says it as well, if it was taken before the circuits were listed.
    """
    if reading.live is None:
        return live_in_condition(reading.condition, sources)
    # What was listed only afterwards was on, or plugged in: nobody had it in hand.
    return reading.live | {source.id for source in sources if source.id not in reading.listed}


def live_in_condition(condition: str, sources: Sequence[Source]) -> frozenset[int] | None:
    """Which circuits are live while everything is on, or off; None under another condition, or while no circuit is
    listed.
    """
    if not circuits_of(sources):
        return None
    if condition == EVERYTHING_OFF:
        return combination_of([], sources).live
    if condition == EVERYTHING_ON:
        return frozenset(source.id for source in sources)
    return None


def sweep_at(readings: Sequence[Reading], spot_id: int, sources: Sequence[Source]) -> Sweep | None:
    """The readings of a spot as the model takes them, each circuit and cord named by its id; None while there is none.

    Circuits that were never off are part of the background, cords that were never unplugged part of their circuit. A
    reading in which something was off that must stay on, as was found out later, is of another background: left out.

    Args:
        readings: all readings of the visit.
        spot_id: the spot of the sweep.
        sources: circuits and cords of the visit.
    """
    staying = frozenset(source.id for source in sources if source.stays)
    read = sweep_progress(readings, spot_id, sources).taken
    taken = {live: repeats for live, repeats in read.items() if staying <= live}
    if not taken:
        return None
    always = frozenset.intersection(*taken)
    names = [str(source.id) for source in sources if source.id not in always]
    rows = [
        (frozenset(map(str, live)) & frozenset(names), reading.volts, _u_in_sweep_volts(reading))
        for live, repeats in taken.items()
        for reading in repeats
    ]
    return sweep_of_sets(rows, names)


def _u_in_sweep_volts(reading: Reading) -> float:
    """Meter and reference are the same for all readings of a sweep; what is new each time is scatter and posture."""
    return hypot(reading.u_volts, STILL_SHARE * abs(reading.volts) / RECTANGULAR)


def _joined(names: Iterable[str]) -> str:
    return ", ".join(names)
