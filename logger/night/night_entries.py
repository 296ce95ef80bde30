"""What somebody entered of a night: for the one to come, or for one that was recorded. The newest of a night holds.

In: facts of a visit log, which may come from somebody else. Out: the entries of one kind, and what holds of a night.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from logger.clock import NS_PER_S
from logger.visit.storage.visit_log import VisitLog

NEXT_NIGHT_NS = 12 * 3600 * NS_PER_S
"""What was entered before the recording of a night is of the night that begins within this time; later it is of another
evening. No source."""

Value = TypeVar("Value")


@dataclass(frozen=True, slots=True)
class NightEntry(Generic[Value]):
    """What was entered for a night.

    Args:
        value: what is so in it; None: an earlier entry was taken back.
        run_id: a run of that night; None where nothing was recorded yet.
        is_ahead: whether it was entered for the night to come, which may be a run that begins later.
        utc_ns: when it was entered.
    """

    value: Value | None
    run_id: int | None
    is_ahead: bool
    utc_ns: int = 0

    def is_of(self, run_ids: Collection[int], start_utc_ns: int) -> bool:
        """Whether it was entered for the night of these runs, which begins then."""
        is_next = self.is_ahead and 0 <= start_utc_ns - self.utc_ns <= NEXT_NIGHT_NS
        return is_next or self.run_id in run_ids


def keep_entry(log: VisitLog, fact: str, entry: NightEntry[Any], value: Mapping[str, Any]) -> None:
    """Keep what was entered for a night; its time is that of now.

    Args:
        log: the visit log.
        fact: the name of the fact that holds it.
        entry: what was entered, and for which night.
        value: its value as plain values.
    """
    log.facts.set(fact, json.dumps({**value, "run_id": entry.run_id, "is_ahead": entry.is_ahead}))


def entries_of(
    log: VisitLog, fact: str, value_of: Callable[[Mapping[str, Any]], Value | None]
) -> list[NightEntry[Value]]:
    """Return what was entered for the nights of a visit, oldest first; what is no entry is left out.

    Args:
        log: the visit log.
        fact: the name of the fact that holds it.
        value_of: gives the value from what is kept; raises ValueError, KeyError or TypeError where that is none.
    """
    found = []
    for utc_ns, text in log.facts.values_of(fact):
        try:
            kept = json.loads(text)
            run_id = kept["run_id"]
            entry = NightEntry(
                value_of(kept), None if run_id is None else whole(run_id), kept["is_ahead"] is True, utc_ns
            )
        except (ValueError, KeyError, TypeError, RecursionError):
            continue
        found.append(entry)
    return found


def whole(value: object) -> int:
    """A whole number as JSON has it; raises TypeError for anything else."""
    if not isinstance(value, int) or isinstance(value, bool):
        raise TypeError(value)
    return value


def entered_for(
    entries: Sequence[NightEntry[Value]], run_ids: Collection[int], start_utc_ns: int
) -> Value | None:
    """Return what was entered for a night itself; None where nothing was.

    Args:
        entries: those of the visit, oldest first.
        run_ids: the runs of the night's recording.
        start_utc_ns: when the night began.
    """
    of_night = [entry.value for entry in entries if entry.is_of(run_ids, start_utc_ns)]
    return of_night[-1] if of_night else None
