"""What was on in a night, as somebody entered it: never assumed, and "not entered" where nobody did.

What was entered for the night itself counts, before it or in the morning; else what was stated for readings, while that
statement holds. In: the facts and readings of a visit log, and when the night was. Out: what was on, piece by piece.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from logger.clock import NS_PER_S
from logger.night.night_entries import NightEntry, entered_for, entries_of, keep_entry
from logger.translation import marked, tr, tr_kept
from logger.visit.records.condition import Statement
from logger.visit.records.fact_names import CONDITION, NIGHT_CONDITION
from logger.visit.storage.visit_log import VisitLog

NOT_ENTERED = marked("not entered")
WHAT_WAS_ON = marked("What was on in the night")


@dataclass(frozen=True, slots=True)
class NightCondition:
    """What was on from a moment of a night until the next one.

    Args:
        since_s: from when, seconds since the night's start.
        condition: what was on; empty where nobody entered it.
    """

    since_s: float
    condition: str

    @property
    def text(self) -> str:
        """What was on, in words."""
        return tr_kept(self.condition) or tr(NOT_ENTERED)


def keep_night_entry(log: VisitLog, entry: NightEntry[str]) -> None:
    """Keep what is on in a night, empty for not known after all; its time is that of now."""
    keep_entry(log, NIGHT_CONDITION, entry, {"condition": entry.value})


def night_entries(log: VisitLog) -> list[NightEntry[str]]:
    """Return what was entered to be on in the nights of a visit, oldest first; what is no entry is left out."""
    return entries_of(log, NIGHT_CONDITION, _condition_of)


def _condition_of(kept: Mapping[str, Any]) -> str | None:
    condition = kept["condition"]
    return None if condition is None else str(condition)


def condition_at(log: VisitLog, run_ids: Collection[int], start_utc_ns: int) -> str:
    """Return what was on when a night began; empty where nobody entered it.

    Args:
        log: the visit log.
        run_ids: the runs of the night's recording.
        start_utc_ns: when the night began.
    """
    entered = entered_for(night_entries(log), run_ids, start_utc_ns)
    if entered is not None:
        return entered
    stated = [
        Statement(condition, utc_ns)
        for utc_ns, condition in log.facts.values_of(CONDITION)
        if utc_ns <= start_utc_ns
    ]
    readings = [reading for reading in log.readings.all() if reading.utc_ns <= start_utc_ns]
    return stated[-1].condition if stated and stated[-1].holds(readings, start_utc_ns) else ""


def night_conditions(
    log: VisitLog, run_ids: Collection[int], start_utc_ns: int, end_utc_ns: int
) -> tuple[NightCondition, ...]:
    """Return what was on in a night: when it began, and each change that was stated during it.

    Args:
        log: the visit log.
        run_ids: the runs of the night's recording.
        start_utc_ns: when the night began.
        end_utc_ns: when it ended.
    """
    found = [NightCondition(0.0, condition_at(log, run_ids, start_utc_ns))]
    for utc_ns, condition in log.facts.values_of(CONDITION):
        if start_utc_ns < utc_ns < end_utc_ns and condition != found[-1].condition:
            found.append(NightCondition((utc_ns - start_utc_ns) / NS_PER_S, condition))
    return tuple(found)
