"""Where a value that is left with everything off may come from: outside the home, or what was not switched off.

In: the reading with everything off, and the circuits and cords of the home. Out: what was still live then, and words
for the first page, the window and the advice.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from logger.visit.records.home_records import Source
from logger.visit.records.name_key import name_key
from logger.visit.records.reading_records import Reading


@dataclass(frozen=True, slots=True)
class LeftOn:
    """What was still live with everything off.

    Args:
        names: of the circuits and cords that stayed on, in the order of the list.
        listed: the circuits of the home were listed when it was read; where they were not, nobody knows what was
            switched off, and a list that was made later does not change that.
    """

    names: tuple[str, ...] = ()
    listed: bool = False


NOT_LISTED = LeftOn()

REMOVED_SOURCE = "what is no longer listed"
"""Stands for the circuits and cords that were live in a reading and were taken off the list since."""


def left_on(off: Reading | None, sources: Sequence[Source]) -> LeftOn:
    """What was live in a reading with everything off.

    What was listed and switched when it was read counts, whatever became of the list since: what was added later was
    as it always is. A cord that stayed plugged in is dead with its circuit, so only one counts whose circuit was live
    or is not known.

    Args:
        off: the reading; None takes what is essential now.
        sources: circuits and cords of the home.
    """
    circuits = [source for source in sources if source.kind == "circuit"]
    if off is not None and off.live is None:
        return NOT_LISTED
    essential = frozenset(source.id for source in sources if source.stays)
    live, were_live = essential, essential
    if off is not None and off.live is not None:
        were_live = off.live
        live = were_live | {source.id for source in sources if source.id not in off.listed}
    on = [source for source in circuits if source.id in live]
    live_circuits = {source.id for source in on}
    on += [
        source
        for source in sources
        if source.kind == "cord"
        and source.id in (were_live | (essential & live))
        and (source.circuit_id is None or source.circuit_id in live_circuits)
    ]
    names = [f"{s.name} (not known on which circuit)" if s.circuit_is_open else s.name for s in on]
    if were_live - {source.id for source in sources}:
        names.append(REMOVED_SOURCE)
    return LeftOn(tuple(names), off is not None or bool(circuits))


def possible_origin(left: LeftOn) -> str:
    """Where what is left with everything off comes from, as the end of a sentence."""
    if not left.listed:
        return "it comes from outside, or from a circuit that was not switched off (none was listed when it was read)"
    if left.names:
        return f"it comes from outside, or from what stayed on: {', '.join(left.names)}"
    return "its source is likely outside the home's own wiring"


def why_other_off(before: LeftOn, after: LeftOn) -> str:
    """Why everything off is not the same in two visits, in a sentence; empty where nothing shows that it is not.

    Where neither visit says that anything stayed on, they are compared: somebody who lists the circuits in the later
    visit only did the same at the panel in both, as far as anybody knows.

    Args:
        before: what stayed on in the earlier visit.
        after: what stayed on in the later one.
    """
    if not before.names and not after.names:
        return ""
    is_known = before.listed and after.listed and REMOVED_SOURCE not in (*before.names, *after.names)
    if is_known and set(map(name_key, before.names)) == set(map(name_key, after.names)):
        return ""
    return (
        "With everything off, not the same stayed on: "
        f"{_stayed_in_words(before)} before, {_stayed_in_words(after)} after."
    )


def _stayed_in_words(left: LeftOn) -> str:
    if not left.listed:
        return "not known what (no circuit was listed)"
    return ", ".join(left.names) or "nothing"


def left_on_anywhere(left: Iterable[LeftOn]) -> LeftOn:
    """What was still live at any of several spots."""
    every = list(left)
    names = dict.fromkeys(name for one in every for name in one.names)
    return LeftOn(tuple(names), all(one.listed for one in every))
