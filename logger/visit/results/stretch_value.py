"""The value of a stretch of the trace that somebody has selected.

In: the trace, the detector's settled spans, and a stretch. Out: the mean of the stretch; and its whole uncertainty
where the detector called all of it still, with meter, reference and checks as they were then. A stretch that moved has
a mean and no uncertainty: nobody knows what the mean is the value of.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import Enum, auto

from logger.metrology.context import Context
from logger.metrology.uncertainty import Budget
from logger.settling.events import Settled
from logger.settling.limits import BLOCK_S
from logger.settling.resolution import learned_count_volts
from logger.settling.stretch_level import StretchLevel, stretch_level
from logger.visit.trace import Placed, Trace

EDGE_S = BLOCK_S
"""Seconds. An end of a stretch that lies no further outside a settled span is its end: the span is known in blocks."""


class StretchState(Enum):
    """What the detector says of a stretch."""

    EMPTY = auto()
    """No sample lies in it."""
    UNSETTLED = auto()
    """Not all of it was called still."""
    SHORT = auto()
    """It was still, but is too short for an uncertainty."""
    SETTLED = auto()
    """All of it was called still."""


@dataclass(frozen=True, slots=True)
class StretchValue:
    """The value of a stretch.

    Args:
        start_s: start of the stretch, on the trace's time line.
        end_s: its end.
        state: what the detector says of it.
        samples: how many samples lie in it.
        mean_volts: their mean; None without any.
        budget: the uncertainty of the mean; only for a settled stretch.
    """

    start_s: float
    end_s: float
    state: StretchState
    samples: int
    mean_volts: float | None = None
    budget: Budget | None = None


def stretch_value(
    trace: Trace,
    settled: Sequence[Placed],
    start_s: float,
    end_s: float,
    context_at: Callable[[int, int], Context],
) -> StretchValue:
    """Work out the value of a stretch.

    Args:
        trace: the samples.
        settled: the settled spans that touch the stretch, also one that still grows.
        start_s: start of the stretch, on the trace's time line.
        end_s: its end.
        context_at: gives what held at a moment, by the run and its steady time in UTC ns.
    """
    times_s, volts = trace.samples_between(start_s, end_s)
    count = len(volts)
    if not count:
        return StretchValue(start_s, end_s, StretchState.EMPTY, 0)
    mean_volts = float(volts.mean())
    around = next((p for p in settled if p.start_s - EDGE_S <= start_s and end_s <= p.end_s + EDGE_S), None)
    if around is None:
        return StretchValue(start_s, end_s, StretchState.UNSETTLED, count, mean_volts)
    span = around.event
    assert isinstance(span, Settled)
    is_whole = start_s <= around.start_s + EDGE_S and around.end_s - EDGE_S <= end_s
    level = StretchLevel(span.volts, span.u_volts) if is_whole else stretch_level(times_s, volts)
    if level is None:
        return StretchValue(start_s, end_s, StretchState.SHORT, count, mean_volts)
    context = context_at(trace.run_at(end_s), trace.utc_ns(end_s))
    context = replace(context, count_volts=learned_count_volts(volts.tolist()))
    # A part of a span is never known better than the whole that it was called still in.
    u_volts = max(level.u_volts, span.u_volts)
    return StretchValue(
        start_s, end_s, StretchState.SETTLED, count, level.volts, context.budget(level.volts, u_volts)
    )
