"""Where a value that is left with everything off may come from: outside the home, or what was not switched off.

In: the reading with everything off, and the circuits and cords of the home. Out: what was still live then, and words
for the first page, the window and the advice.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from logger.name_list import joined, listed
from logger.translation import marked, tr
from logger.visit.records.condition import EVERYTHING_OFF, unlisted_on
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
        later: names of what was listed after it: nobody knows whether that was on.
        must_stay: names of what must stay on as the list is now, where nothing was listed when it was read.
    """

    names: tuple[str, ...] = ()
    listed: bool = False
    later: tuple[str, ...] = ()
    must_stay: tuple[str, ...] = ()

    @property
    def shown_names(self) -> list[str]:
        """The names in the language that holds."""
        return [tr(REMOVED_SOURCE) if name == REMOVED_SOURCE else name for name in self.names]


NOT_LISTED = LeftOn()

REMOVED_SOURCE = marked("what is no longer listed")
"""Stands for the circuits and cords that were live in a reading and were taken off the list since; translated where it
is shown."""


def off_and_must_stay(reading: Reading, sources: Sequence[Source]) -> list[Source]:
    """The circuits that were off in a reading by what is kept with it, and that must stay on as the list is now.

    Args:
        reading: of a spot.
        sources: circuits and cords of the home.
    """
    if reading.live is None:
        return []
    off = reading.listed - reading.live
    return [source for source in sources if source.kind == "circuit" and source.stays and source.id in off]


def is_everything_off(reading: Reading, sources: Sequence[Source]) -> bool:
    """Whether all was off in a reading that may be switched off as the list is now, and nothing that must stay on.

    That is one of "only Kitchen on" too, where Kitchen must stay on by now.

    Args:
        reading: of a spot.
        sources: circuits and cords of the home.
    """
    if off_and_must_stay(reading, sources):
        return False
    if reading.condition == EVERYTHING_OFF:
        return True
    if (
        reading.live is None
        or unlisted_on(reading.condition) is not False
        or ", without " in reading.condition
    ):
        return False
    by_id = {source.id: source for source in sources}
    live = [by_id.get(source_id) for source_id in reading.live]
    return all(source is not None and (source.kind == "cord" or bool(source.stays)) for source in live)


def left_on(off: Reading | None, sources: Sequence[Source]) -> LeftOn:
    """What was live in a reading with everything off.

    What was listed and switched when it was read counts, whatever became of the list since. A cord that stayed plugged
    in is dead with its circuit, so only one counts whose circuit was live or is not known.

    Args:
        off: the reading; None takes what is essential now.
        sources: circuits and cords of the home.
    """
    circuits = [source for source in sources if source.kind == "circuit"]
    if off is not None and off.live is None:
        return LeftOn(must_stay=tuple(source.name for source in circuits if source.stays))
    live = frozenset(source.id for source in sources if source.stays)
    later: list[Source] = []
    if off is not None and off.live is not None:
        live = off.live
        later = [source for source in circuits if source.id not in off.listed]
    on = [source for source in circuits if source.id in live]
    may_be_live = {None, *(source.id for source in (*on, *later))}
    cords = [source for source in sources if source.kind == "cord" and source.circuit_id in may_be_live]
    on += [cord for cord in cords if cord.id in live]
    if off is not None:
        later += [cord for cord in cords if cord.stays and cord.id not in off.listed]
    of_unknown = tr("{name} (not known on which circuit)")
    names = [of_unknown.format(name=s.name) if s.circuit_is_open else s.name for s in on]
    if live - {source.id for source in sources}:
        names.append(REMOVED_SOURCE)
    return LeftOn(tuple(names), off is not None or bool(circuits), tuple(source.name for source in later))


def possible_origin(left: LeftOn) -> str:
    """Where what is left with everything off comes from, as the end of a sentence."""
    if not left.listed and left.must_stay:
        return tr(
            "it comes from outside, or from a circuit that was on. Which ones were off was not written down. These "
            "must stay on: {names}"
        ).format(names=listed(left.must_stay))
    if not left.listed:
        return tr(
            "it comes from outside, or from a circuit that was on (which breakers were off then was not written down)"
        )
    names, later = listed(left.shown_names), joined(left.later)
    if names and later:
        return tr(
            "it comes from outside, or from what stayed on: {names}, or from {later}, which was listed after that and "
            "may have been on"
        ).format(names=names, later=later)
    if names:
        return tr("it comes from outside, or from what stayed on: {names}").format(names=names)
    if later:
        return tr(
            "it comes from outside, or from {later}, which was listed after that and may have been on"
        ).format(later=later)
    return tr("its source is likely outside the home's own wiring")


def why_other_off(before: LeftOn, after: LeftOn) -> str:
    """Why everything off is not the same in two visits, in a sentence; empty where nothing shows that it is not.

    Where neither visit says that anything stayed on, they are compared: somebody who lists the circuits in the later
    visit only did the same at the panel in both, as far as anybody knows.

    Args:
        before: what stayed on in the earlier visit.
        after: what stayed on in the later one.
    """
    if not any((before.names, after.names, before.later, after.later)):
        return ""
    is_known = before.listed and after.listed and REMOVED_SOURCE not in (*before.names, *after.names)
    is_known = is_known and not (before.later or after.later)
    if is_known and set(map(name_key, before.names)) == set(map(name_key, after.names)):
        return ""
    return tr("With everything off, not the same stayed on: {before} before, {after} after.").format(
        before=_stayed_in_words(before), after=_stayed_in_words(after)
    )


def _stayed_in_words(left: LeftOn) -> str:
    if not left.listed:
        return tr("not known what (no circuit was listed)")
    perhaps = [tr("perhaps {names} (listed later)").format(names=joined(left.later))] if left.later else []
    return listed([*left.shown_names, *perhaps]) or tr("nothing")


def left_on_anywhere(left: Iterable[LeftOn]) -> LeftOn:
    """What was still live at any of several spots."""
    every = list(left)
    names = dict.fromkeys(name for one in every for name in one.names)
    later = dict.fromkeys(name for one in every for name in one.later if name not in names)
    must_stay = dict.fromkeys(name for one in every for name in one.must_stay)
    return LeftOn(tuple(names), all(one.listed for one in every), tuple(later), tuple(must_stay))
