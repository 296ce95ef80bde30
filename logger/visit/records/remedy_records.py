"""Remedies: what is to be done about a finding, what was decided and done about it, and what was read before.

A remedy is entered once and never changed. Each decision on it is an entry of its own: planned, done, undone, not
wanted. An entry that was made by mistake is taken back by another one and stays in the log. Distances are metres.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum

from logger.metrology.context import Context
from logger.metrology.posture import Repeatability
from logger.visit.records.home_details import SpotDetails

MAX_DISTANCE_M = 50.0
"""A bed or a cord is moved within the home."""


class RemedyKind(StrEnum):
    """What can be done about a finding; as files have it. `logger.plan.remedy_kinds` has the words."""

    UNPLUG = "unplug for good"
    UNPLUG_AT_NIGHT = "unplug at night"
    SWITCHED_OUTLET = "switched outlet"
    """An outlet or a strip whose switch cuts both poles."""
    MOVE = "move away"
    """Move the cord or the bed, by `distance_m` of the entry."""
    SHIELDED_CORD = "shielded cord"
    """A shielded and earthed cord or lamp."""
    BREAKER_AT_NIGHT = "breaker off at night"
    DISCONNECT = "automatic or remote disconnect"
    WIRING = "move or shield wiring"
    NEIGHBOUR = "ask the neighbour"
    READ_AGAIN = "better reference, read again"
    OWN = "own"
    """In the user's own words."""


ACTING_AT_NIGHT = frozenset(
    (
        RemedyKind.UNPLUG_AT_NIGHT,
        RemedyKind.SWITCHED_OUTLET,
        RemedyKind.BREAKER_AT_NIGHT,
        RemedyKind.DISCONNECT,
    )
)
"""The kinds that act while something is off at night; once another one is done, it acts for good."""


class RemedyDecision(StrEnum):
    """What was decided or done about a remedy."""

    PLANNED = "planned"
    DONE = "done"
    UNDONE = "undone"
    """Not planned any more, or done and undone again, such as plugged in again."""
    NOT_WANTED = "not wanted"


@dataclass(frozen=True, slots=True)
class RemedyEntry:
    """One decision on a remedy.

    Args:
        utc_ns: when it was entered, UTC ns.
        decision: what was decided or done.
        due: planned: until when, an ISO date; empty for none.
        done_on: done or undone: the day, an ISO date; empty: at the moment of the entry.
        by_whom: who does it, or has done it; empty where nobody stated it.
        note: in the user's own words.
        distance_m: of a cord or bed that is moved: how far, m; None where it is not stated.
        entered_by: the practitioner's name; empty where it is not stated.
        id: of the entry; 0 before it is kept.
        corrects: the id of the entry that this one takes back as mistaken; None where it is a decision of its own.
    """

    utc_ns: int
    decision: RemedyDecision
    due: str = ""
    done_on: str = ""
    by_whom: str = ""
    note: str = ""
    distance_m: float | None = None
    entered_by: str = ""
    id: int = 0
    corrects: int | None = None


@dataclass(frozen=True, slots=True)
class RemedyBaseline:
    """What was read at a spot in an earlier visit, before a remedy that this visit took over was done.

    Args:
        remedy_id: of the remedy that it was taken over with.
        spot_id: of the spot in this visit.
        utc_ns: when it was read, UTC ns.
        visit: name of the file of the visit in which it was read.
        condition: what was on.
        live, listed: as in a reading, with the ids of this visit.
        volts: the value, V.
        u_volts: its standard uncertainty from the samples, V.
        context: what held when it was read; None in logs of older versions.
        details: how somebody was at the spot.
        repeatability: of the posture in that visit.
        predicted_volts: with the remedy alone, V; None where nothing predicts it.
        u_predicted_volts: its standard uncertainty, V.
        predicted_together_volts: with all remedies that this visit took over, V; None where nothing predicts it.
        u_predicted_together_volts: its standard uncertainty, V.
    """

    remedy_id: int
    spot_id: int
    utc_ns: int
    visit: str
    condition: str
    live: frozenset[int] | None
    listed: frozenset[int]
    volts: float
    u_volts: float
    context: Context | None
    details: SpotDetails = field(default_factory=SpotDetails)
    repeatability: Repeatability = field(default_factory=Repeatability)
    predicted_volts: float | None = None
    u_predicted_volts: float | None = None
    predicted_together_volts: float | None = None
    u_predicted_together_volts: float | None = None


@dataclass(frozen=True, slots=True)
class Remedy:
    """A remedy with all that was ever decided on it.

    Args:
        id: of the remedy.
        utc_ns: when it was entered, UTC ns.
        kind: what is done.
        source_ids: the circuits and cords that it is about; none for the outside, the reference and most own ones.
        spot_id: the spot that it is about; None where it is about none in particular.
        text: in the user's own words; of the kind `OWN` it is what is done.
        from_visit: name of the file of the visit that it was taken over from; empty where it was entered here.
        entries: all that was ever decided on it, oldest first.
    """

    id: int
    utc_ns: int
    kind: RemedyKind
    source_ids: tuple[int, ...] = ()
    spot_id: int | None = None
    text: str = ""
    from_visit: str = ""
    entries: tuple[RemedyEntry, ...] = ()

    @property
    def standing(self) -> tuple[RemedyEntry, ...]:
        """The decisions that were not taken back as mistaken, oldest first."""
        return standing_entries(self.entries)

    @property
    def newest(self) -> RemedyEntry | None:
        """The decision that holds; None where each was taken back."""
        standing = self.standing
        return standing[-1] if standing else None

    @property
    def decision(self) -> RemedyDecision | None:
        """What holds by now; None where each decision was taken back."""
        return None if self.newest is None else self.newest.decision

    @property
    def done(self) -> RemedyEntry | None:
        """The entry that it was done; None where it is not done, or undone again."""
        return self.newest if self.decision is RemedyDecision.DONE else None

    @property
    def is_open(self) -> bool:
        """Whether it is planned or done: a later visit of the home asks whether it is proven."""
        return self.decision in (RemedyDecision.PLANNED, RemedyDecision.DONE)

    @property
    def due(self) -> str:
        """Until when it is to be done, an ISO date, as stated last; empty where nobody stated it."""
        return self._stated_last("due")

    @property
    def by_whom(self) -> str:
        """Who does it or has done it, as stated last; empty where nobody stated it."""
        return self._stated_last("by_whom")

    @property
    def note(self) -> str:
        """The note of the decision that holds."""
        return "" if self.newest is None else self.newest.note

    @property
    def distance_m(self) -> float | None:
        """How far a cord or bed is moved, as stated last, m; None where nobody stated it."""
        return next((e.distance_m for e in reversed(self.standing) if e.distance_m is not None), None)

    def _stated_last(self, name: str) -> str:
        return next((text for entry in reversed(self.standing) if (text := getattr(entry, name))), "")


def standing_entries(entries: Iterable[RemedyEntry]) -> tuple[RemedyEntry, ...]:
    """The decisions that were not taken back as mistaken, oldest first.

    An entry that takes another one back may be taken back itself: then the first one stands again.

    Args:
        entries: of one remedy, oldest first.
    """
    standing: list[RemedyEntry] = []
    taken_back: set[int] = set()
    for entry in sorted(entries, key=lambda entry: entry.id, reverse=True):
        if entry.id in taken_back:
            continue
        if entry.corrects is None:
            standing.append(entry)
        else:
            taken_back.add(entry.corrects)
    return tuple(reversed(standing))
