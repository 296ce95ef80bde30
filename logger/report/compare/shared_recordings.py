"""Recordings of which both visits hold a copy, such as a visit and its backup: no reading of them shows a change.

In: two visit logs. Out: whether two readings are of one recording, or are one value that was entered by hand; and
whether the visits hold anything else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from logger.translation import marked, tr
from logger.visit.records.reading_records import Reading
from logger.visit.storage.visit_log import VisitLog

_RunKey = tuple[int, str, str]
"""Start, port and settings of a run: alike in each copy of it."""

WHY_NOT = marked("Not comparable: both are of one recording, of which both files hold a copy.")

NOTE = marked("The files hold copies of one recording. Readings of it are not compared with each other.")


@dataclass(frozen=True, slots=True)
class SharedRecordings:
    """What two visits have in common.

    Args:
        before: ids of the shared runs in the earlier visit, each with its key.
        after: the same of the later visit.
        by_hand: moments and values of the readings by hand that are in both.
    """

    before: dict[int, _RunKey]
    after: dict[int, _RunKey]
    by_hand: frozenset[tuple[int, float]]

    @classmethod
    def of(cls, before: VisitLog, after: VisitLog) -> SharedRecordings:
        """Find what two open logs have in common."""
        first, second = _run_keys(before), _run_keys(after)
        shared = set(first.values()) & set(second.values())
        entered = [{_entry_key(r) for r in log.readings.all() if r.run_id is None} for log in (before, after)]
        return cls(
            {run_id: key for run_id, key in first.items() if key in shared},
            {run_id: key for run_id, key in second.items() if key in shared},
            frozenset(entered[0] & entered[1]),
        )

    def __bool__(self) -> bool:
        """Whether they have anything in common."""
        return bool(self.before or self.by_hand)

    def why_not(self, before: Reading | None, after: Reading | None) -> str:
        """Return why two readings are not compared, in a sentence; empty where they are of two recordings.

        Args:
            before: of the earlier visit.
            after: of the later visit.
        """
        if before is None or after is None:
            return ""
        if before.run_id is None or after.run_id is None:
            is_one = before.run_id is after.run_id and _entry_key(before) == _entry_key(after)
        else:
            key = self.before.get(before.run_id)
            is_one = key is not None and key == self.after.get(after.run_id)
        return tr(WHY_NOT) if is_one else ""

    def is_everything(self, before: Sequence[Reading], after: Sequence[Reading]) -> bool:
        """Return whether every reading of both visits is of what they have in common.

        Args:
            before: the readings of the earlier visit.
            after: the readings of the later visit.
        """
        return all(
            reading.run_id in runs if reading.run_id is not None else _entry_key(reading) in self.by_hand
            for readings, runs in ((before, self.before), (after, self.after))
            for reading in readings
        )


def _run_keys(log: VisitLog) -> dict[int, _RunKey]:
    return {run.id: (run.started_utc_ns, run.port, run.settings) for run in log.runs.all()}


def _entry_key(reading: Reading) -> tuple[int, float]:
    return reading.utc_ns, reading.volts
