"""When somebody worked in a home: readings, checks, and switchings that were labelled at once.

In: moments of the records of a visit. Out: pieces of work by the computer's clock.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from logger.clock import NS_PER_S

LABELLED_AT_ONCE_NS = 600 * NS_PER_S
"""A step that was labelled within this time was switched by somebody who was up. A label that a step of the night is
given in the morning shows nothing of the kind. No source."""


@dataclass(frozen=True, slots=True)
class WorkTime:
    """A piece of work by the computer's clock, UTC ns."""

    start_utc_ns: int
    end_utc_ns: int


@dataclass(frozen=True, slots=True)
class LabelTime:
    """When a step was, and when it was labelled.

    Args:
        utc_ns: when the label was given, UTC ns.
        run_id: the run that the step is in.
        t_ns: time of the step since the run's start, ns.
    """

    utc_ns: int
    run_id: int
    t_ns: int


def work_times(
    moments_utc_ns: Iterable[int], labels: Iterable[LabelTime], run_started_utc_ns: Mapping[int, int]
) -> list[WorkTime]:
    """Return when somebody worked.

    Args:
        moments_utc_ns: when each reading was taken, voided ones as well, and each check done, UTC ns. The span that a
            reading rests on does not count: it may have begun hours before.
        labels: labels of steps.
        run_started_utc_ns: start of each run, by its id, UTC ns.
    """
    switched = [
        WorkTime(run_started_utc_ns[label.run_id] + label.t_ns, label.utc_ns)
        for label in labels
        if label.run_id in run_started_utc_ns
    ]
    at_once = [work for work in switched if 0 <= work.end_utc_ns - work.start_utc_ns <= LABELLED_AT_ONCE_NS]
    return [WorkTime(utc_ns, utc_ns) for utc_ns in moments_utc_ns] + at_once
