"""When a remedy was in force, from the moment at which it was done until it was undone, and so which home was read.

In: the entries of a remedy. Out: whether it was in force at a moment, or that nobody knows. A day that is stated is
that whole day: which came first, the remedy or a reading of that day, is not known. Without a day, or with the day of
the entry itself, the moment of the entry counts: whoever enters it at once reads again afterwards.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from logger.visit.records.reading_records import Reading
from logger.visit.records.remedy_records import (
    ACTING_AT_NIGHT,
    Remedy,
    RemedyDecision,
    RemedyEntry,
    RemedyKind,
)

DayOf = Callable[[int], date]
"""The local day of a moment, UTC ns."""


@dataclass(frozen=True, slots=True)
class InForce:
    """When a remedy was in force.

    Args:
        remedy: with its entries.
        day_of: gives the local day of a moment.
    """

    remedy: Remedy
    day_of: DayOf

    def at(self, utc_ns: int) -> bool | None:
        """Whether it was in force at a moment, UTC ns; None where nobody knows."""
        state: bool | None = False
        for entry in self.remedy.standing:
            order = self._order(entry, utc_ns)
            if order is None and _is_in_force(entry) != state:
                return None
            if order is not None and order <= 0:
                state = _is_in_force(entry)
        return state

    def is_before_done(self, utc_ns: int) -> bool:
        """Whether a moment, UTC ns, lies before it was done; False where it is not done now, or nobody knows."""
        done = self.remedy.done
        return done is not None and self._order(done, utc_ns) == 1

    def is_after_done(self, utc_ns: int) -> bool:
        """Whether a moment, UTC ns, lies after it was done; False where it is not done now, or nobody knows."""
        done = self.remedy.done
        return done is not None and self._order(done, utc_ns) == -1

    def _order(self, entry: RemedyEntry, utc_ns: int) -> int | None:
        """Whether an entry took effect after a moment (1) or before it (-1); None where nobody knows."""
        if not entry.done_on or date.fromisoformat(entry.done_on) == self.day_of(entry.utc_ns):
            return 1 if entry.utc_ns > utc_ns else -1
        done, day = date.fromisoformat(entry.done_on), self.day_of(utc_ns)
        return None if done == day else 1 if done > day else -1


def _is_in_force(entry: RemedyEntry) -> bool:
    return entry.decision is RemedyDecision.DONE


def changes_home(remedy: Remedy) -> bool:
    """Whether a remedy changes what is read: a better reference changes the reading of it only.

    Args:
        remedy: of the visit.
    """
    return remedy.kind is not RemedyKind.READ_AGAIN


def acts_for_good(remedy: Remedy) -> bool:
    """Whether the home is another one once it is done; what acts at night is a matter of what is on.

    Args:
        remedy: of the visit.
    """
    return changes_home(remedy) and remedy.kind not in ACTING_AT_NIGHT


def in_its_home(readings: Sequence[Reading], remedies: Sequence[Remedy], day_of: DayOf) -> list[Reading]:
    """Add to readings what had been done for good when they were taken: those of two homes are no repeats.

    A remedy of which nobody knows counts as done.

    Args:
        readings: of the visit.
        remedies: of the visit.
        day_of: gives the local day of a moment.
    """
    lasting = [InForce(remedy, day_of) for remedy in remedies if acts_for_good(remedy)]
    if not lasting:
        return list(readings)
    out = []
    for reading in readings:
        changes, unplugged = _home_of([r.remedy for r in lasting if r.at(reading.utc_ns) is not False])
        out.append(replace(reading, home_changes=changes, unplugged=unplugged))
    return out


def in_present_home(readings: Sequence[Reading], remedies: Sequence[Remedy]) -> list[Reading]:
    """Return the readings of the home as it is now: what was done for good then is done now, and nothing else.

    Args:
        readings: of the visit, as `in_its_home` gives them.
        remedies: of the visit.
    """
    now = _home_of([remedy for remedy in remedies if acts_for_good(remedy) and remedy.done is not None])
    return [reading for reading in readings if (reading.home_changes, reading.unplugged) == now]


def _home_of(done: Sequence[Remedy]) -> tuple[frozenset[int], frozenset[int]]:
    """Ids of the remedies that make another home of it, and of the circuits and cords that are unplugged for good."""
    unplugged = [remedy for remedy in done if remedy.kind is RemedyKind.UNPLUG]
    return (
        frozenset(remedy.id for remedy in done if remedy not in unplugged),
        frozenset(source_id for remedy in unplugged for source_id in remedy.source_ids),
    )
