"""When the display of a run stood still, from the recorder's notices that it is, or may be, frozen.

In: notices, in the order written. Out: stretches, in seconds since the start of the run, from when the value stopped.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import inf

from logger.clock import NS_PER_S, format_long_duration
from logger.frozen_value import MIN_FROZEN_S
from logger.meter.frozen_display import CONSTANT_NOTICE, FROZEN_NOTICE, frozen_for_s
from logger.translation import tr
from logger.visit.records.recording_records import Notice


@dataclass(frozen=True, slots=True)
class FrozenStretch:
    """A time in which the display was, or may have been, frozen, in seconds since the start of its run."""

    start_s: float
    end_s: float = inf
    """Infinite while it goes on, and where the run ended with it."""
    is_sure: bool = True
    """False where it is only doubted: so coarse a digit may hide what the body does, and the value counts."""

    @property
    def length_text(self) -> str:
        """How long it was, as far as that is known."""
        for_s = self.end_s - self.start_s
        if for_s == inf:
            return tr("more than {seconds} s").format(seconds=f"{MIN_FROZEN_S:.0f}")
        if for_s >= MAX_LENGTH_IN_S:
            return format_long_duration(for_s)
        return tr("{seconds} s").format(seconds=f"{for_s:.0f}")


MAX_LENGTH_IN_S = 600.0
"""A longer time is given in minutes and hours."""


def is_of_frozen_display(notice: Notice) -> bool:
    """Whether a notice is that the display is, or may be, frozen, or that it moves again."""
    return notice.kind in (FROZEN_NOTICE, CONSTANT_NOTICE)


def frozen_by_run(notices: Iterable[Notice]) -> dict[int, list[FrozenStretch]]:
    """The stretches of each run in which its display stood still, by the run's id; of notices in the order written."""
    found: dict[int, list[FrozenStretch]] = {}
    for notice in notices:
        if is_of_frozen_display(notice):
            found[notice.run_id] = with_notice(found.get(notice.run_id, []), notice)
    return found


def with_notice(stretches: Sequence[FrozenStretch], notice: Notice) -> list[FrozenStretch]:
    """The stretches of a run with what one more notice of a frozen display says.

    Args:
        stretches: by the notices before, in order.
        notice: the next one of the same run.
    """
    out = list(stretches)
    for_s = frozen_for_s(notice.message)
    noticed_s = (notice.steady_utc_ns - notice.run_started_utc_ns) / NS_PER_S
    is_open = bool(out) and out[-1].end_s == inf
    if for_s is None:
        if is_open:
            out[-1] = replace(out[-1], end_s=noticed_s)
    elif not is_open:
        out.append(FrozenStretch(noticed_s - for_s, is_sure=notice.kind == FROZEN_NOTICE))
    elif notice.kind == FROZEN_NOTICE:  # a display that was doubted turns out to be frozen: it is one stretch
        out[-1] = replace(out[-1], is_sure=True)
    return out
