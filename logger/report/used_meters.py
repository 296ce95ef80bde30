"""Which meters the values of a visit were read with: the one answer for the report and the export."""

from __future__ import annotations

from collections.abc import Iterable

from logger.metrology.context import Context
from logger.metrology.setup import ASSUMED_METER, UNKNOWN_METER, MeterFacts
from logger.night.recorded_nights import nights
from logger.visit.storage.visit_log import VisitLog


def used_meters(
    contexts: Iterable[Context | None], recorded: Iterable[MeterFacts], stated: MeterFacts
) -> dict[MeterFacts, list[Context]]:
    """Find the meters, each as it was when readings were taken and nights recorded with it.

    Where neither was: the meters of the recordings, else the one that is stated.

    Args:
        contexts: of the valid readings and the nights.
        recorded: the meter of each recording, as `recorded_meters` has them.
        stated: the visit's.
    """
    used: dict[MeterFacts, list[Context]] = {}
    for context in contexts:
        if context is not None:
            used.setdefault(_as_one(context.setup.meter), []).append(context)
    return used or {_as_one(meter): [] for meter in recorded} or {_as_one(stated): []}


def recorded_meters(log: VisitLog) -> tuple[MeterFacts, ...]:
    """The meter of each recording, as its lines were counted with; each once."""
    setup = log.setup.current()
    return tuple(dict.fromkeys(log.checks.setup_in(setup, run.id).meter for run in log.runs.all()))


def used_meters_of_log(log: VisitLog) -> dict[MeterFacts, list[Context]]:
    """Find the same from an open log."""
    taken = [reading.context for reading in log.readings.all() if reading.void_reason is None]
    of_nights = [night.context for night in nights(log) if night.counts]
    return used_meters([*taken, *of_nights], recorded_meters(log), log.setup.current().meter)


def _as_one(facts: MeterFacts) -> MeterFacts:
    """The meter; one that was said not to be described is the same as one of which nothing was said."""
    return UNKNOWN_METER if facts == ASSUMED_METER else facts
