"""When somebody worked in a home: readings, checks, and switchings that were labelled at once.

In: moments of the records of a visit. Out: pieces of work by the computer's clock.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from logger.clock import NS_PER_S

LABELLED_AT_ONCE_NS = 600 * NS_PER_S
"""A step that was labelled within this time was switched by somebody who was up, and so was the span of a reading
that was taken within it. A label that a step of the night is given in the morning shows nothing of the kind. No
source."""


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
    readings: Iterable[tuple[int | None, int]],
    checks_utc_ns: Iterable[int],
    labels: Iterable[LabelTime],
    run_started_utc_ns: Mapping[int, int],
) -> list[WorkTime]:
    """Return when somebody worked.

    Args:
        readings: when the span of each reading began, UTC ns, None where it was typed, and when it was taken, UTC ns;
            voided ones as well. A span that was taken at once is work; one that began hours before is not.
        checks_utc_ns: when each check was done, UTC ns.
        labels: labels of steps.
        run_started_utc_ns: start of each run, by its id, UTC ns.
    """
    switched = [
        WorkTime(run_started_utc_ns[label.run_id] + label.t_ns, label.utc_ns)
        for label in labels
        if label.run_id in run_started_utc_ns
    ]
    read = [WorkTime(taken_ns if began_ns is None else began_ns, taken_ns) for began_ns, taken_ns in readings]
    return [
        *(work if _is_at_once(work) else WorkTime(work.end_utc_ns, work.end_utc_ns) for work in read),
        *(WorkTime(utc_ns, utc_ns) for utc_ns in checks_utc_ns),
        *filter(_is_at_once, switched),
    ]


def _is_at_once(work: WorkTime) -> bool:
    return 0 <= work.end_utc_ns - work.start_utc_ns <= LABELLED_AT_ONCE_NS
