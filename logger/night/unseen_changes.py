"""Changes of level over a time in which nothing was recorded: no step, since nobody saw when and how it changed.

In: a night. Out: each such change, and it in words for the night's facts and the report.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from logger.metrology.posture import DEFAULT_SHARE
from logger.metrology.rounding import fixed
from logger.metrology.uncertainty import COVERAGE_FACTOR
from logger.night.analysis.night_record import NightRecord
from logger.night.recorded_nights import Night
from logger.settling.limits import STEP_VOLTS
from logger.translation import tr


@dataclass(frozen=True, slots=True)
class UnseenChange:
    """A level that is another one after a silence than before it.

    Args:
        start_s: start of the silence, s.
        end_s: its end, s.
        before_volts: the settled level before it, V.
        after_volts: the settled level after it, V.
    """

    start_s: float
    end_s: float
    before_volts: float
    after_volts: float


def unseen_changes(record: NightRecord) -> list[UnseenChange]:
    """The changes over silences in which no step was found, in order.

    A change counts where it is a step by its size, and more than the scatter and a posture that was taken up again
    explain: whoever lay still before need not have lain the same way after.

    Args:
        record: of the night.
    """
    found = []
    for start_s, end_s in record.silent:
        if any(start_s <= step.time_s <= end_s for step in record.steps):
            continue
        before = next((span for span in reversed(record.settled) if span.end_s <= start_s), None)
        after = next((span for span in record.settled if span.start_s >= end_s), None)
        if before is None or after is None:
            continue
        posture_volts = DEFAULT_SHARE * max(before.volts, after.volts)
        explained_volts = COVERAGE_FACTOR * hypot(before.u_volts, after.u_volts, posture_volts)
        if abs(after.volts - before.volts) >= max(STEP_VOLTS, explained_volts):
            found.append(UnseenChange(start_s, end_s, before.volts, after.volts))
    return found


def unseen_change_text(night: Night, change: UnseenChange) -> str:
    """Format a change with its times and both levels, in a sentence.

    Args:
        night: that it is of.
        change: it.
    """
    return tr(
        "Nothing was recorded from {start} to {end}: {before} V before, {after} V after. When and how it changed is "
        "not known."
    ).format(
        start=night.clock_time(change.start_s),
        end=night.clock_time(change.end_s),
        before=fixed(change.before_volts, 3),
        after=fixed(change.after_volts, 3),
    )
