"""What each kind of remedy is: who does it, how much effort it is, what is known of its effect, and its cautions.

Who does what, and the efforts, are common practice, no source. Wiring is always an electrician's work.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from logger.cautions import (
    BREAKERS_ONLY,
    DIGGING,
    EARTHING_CODES,
    ESSENTIAL_CIRCUITS,
    PANEL,
    THUNDERSTORM,
    WIRING,
)
from logger.plan.solver.remedies import Effort
from logger.translation import marked
from logger.visit.records.home_records import Source
from logger.visit.records.remedy_records import RemedyKind

EFFORT_WORDS: Mapping[Effort, str] = {
    Effort.NONE: marked("no effort"),
    Effort.SMALL: marked("small effort"),
    Effort.ELECTRICIAN: marked("an electrician’s work"),
}
"""Go through `tr` where they are shown."""


class Who(StrEnum):
    """Who does it; as files have it."""

    HOUSEHOLD = "household"
    ELECTRICIAN = "electrician"
    NEIGHBOUR = "household and neighbour"
    PRACTITIONER = "whoever measures"


WHO_WORDS: Mapping[Who, str] = {
    Who.HOUSEHOLD: marked("the household"),
    Who.ELECTRICIAN: marked("a licensed electrician"),
    Who.NEIGHBOUR: marked("the household, with the neighbour"),
    Who.PRACTITIONER: marked("whoever measures"),
}
"""Go through `tr` where they are shown."""


class KnownEffect(StrEnum):
    """What is known of the effect before anybody reads again."""

    TAKEN_AWAY = "taken away"
    """The circuit or cord carries no voltage: its share is gone."""
    AT_BEST = "at best"
    """Its share is gone at best: how much of it is left depends on the work."""
    NOT_PREDICTED = "not predicted"


@dataclass(frozen=True, slots=True)
class KindFacts:
    """What a kind of remedy is.

    Args:
        words: what is done, in a few words that follow the name of a circuit or cord; go through `tr`.
        who: who does it.
        effort: how much effort it is.
        effect: what is known of its effect.
        cautions: go through `tr` where they are shown.
    """

    words: str
    who: Who
    effort: Effort
    effect: KnownEffect
    cautions: tuple[str, ...] = ()


KINDS: Mapping[RemedyKind, KindFacts] = {
    RemedyKind.UNPLUG: KindFacts(
        marked("Unplug for good"), Who.HOUSEHOLD, Effort.NONE, KnownEffect.TAKEN_AWAY
    ),
    RemedyKind.UNPLUG_AT_NIGHT: KindFacts(
        marked("Unplug at night"), Who.HOUSEHOLD, Effort.NONE, KnownEffect.TAKEN_AWAY
    ),
    RemedyKind.SWITCHED_OUTLET: KindFacts(
        marked("Switch off at night at an outlet or strip whose switch cuts both poles"),
        Who.HOUSEHOLD,
        Effort.SMALL,
        KnownEffect.TAKEN_AWAY,
        (WIRING,),
    ),
    RemedyKind.MOVE: KindFacts(
        marked("Move the cord or the bed"), Who.HOUSEHOLD, Effort.SMALL, KnownEffect.AT_BEST
    ),
    RemedyKind.SHIELDED_CORD: KindFacts(
        marked("Fit a shielded and earthed cord or lamp"),
        Who.ELECTRICIAN,
        Effort.ELECTRICIAN,
        KnownEffect.AT_BEST,
        (WIRING,),
    ),
    RemedyKind.BREAKER_AT_NIGHT: KindFacts(
        marked("Switch the breaker off at night"),
        Who.HOUSEHOLD,
        Effort.NONE,
        KnownEffect.TAKEN_AWAY,
        (ESSENTIAL_CIRCUITS, BREAKERS_ONLY, PANEL),
    ),
    RemedyKind.DISCONNECT: KindFacts(
        marked("Fit an automatic or remote disconnect"),
        Who.ELECTRICIAN,
        Effort.ELECTRICIAN,
        KnownEffect.TAKEN_AWAY,
        (ESSENTIAL_CIRCUITS, PANEL),
    ),
    RemedyKind.WIRING: KindFacts(
        marked("Move or shield the wiring"),
        Who.ELECTRICIAN,
        Effort.ELECTRICIAN,
        KnownEffect.AT_BEST,
        (PANEL, WIRING),
    ),
    RemedyKind.NEIGHBOUR: KindFacts(
        marked("Ask the neighbour to switch off for one reading"),
        Who.NEIGHBOUR,
        Effort.SMALL,
        KnownEffect.NOT_PREDICTED,
    ),
    RemedyKind.READ_AGAIN: KindFacts(
        marked("Read again against an earth rod in soil"),
        Who.PRACTITIONER,
        Effort.SMALL,
        KnownEffect.NOT_PREDICTED,
        (DIGGING, THUNDERSTORM, EARTHING_CODES),
    ),
    RemedyKind.OWN: KindFacts(marked("Own remedy"), Who.HOUSEHOLD, Effort.SMALL, KnownEffect.NOT_PREDICTED),
}

MOVE_THE_BED = marked("Move the bed away")
"""In place of the words of `MOVE` where it is about no cord: wiring is not moved by the household."""


def words_of(kind: RemedyKind, sources: Sequence[Source]) -> str:
    """Return what is done, in a few words that go through `tr`.

    Args:
        kind: of the remedy.
        sources: the circuits and cords that it is about.
    """
    if kind is RemedyKind.MOVE and not any(source.kind == "cord" for source in sources):
        return MOVE_THE_BED
    return KINDS[kind].words
