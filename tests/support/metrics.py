"""How well events agree with the truth of a trace. One function scores a trace, scores add up, `Score` has the figures.

Motions and steps are matched one to one. What is matched by what: a motion by one that overlaps it; a step by the
nearest one within 2 s, or, when the body moved meanwhile, within the motion and 3 s beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from statistics import median

import numpy as np
from numpy.typing import NDArray

from logger.settling.events import Event, Motion, Settled, Step
from tests.support.traces import Trace, TrueMotion, TrueStep

LONG_SETTLED_S = 15.0
LEVEL_VOLTS, LEVEL_SHARE = 0.012, 0.02
STEP_VOLTS, STEP_SHARE = 0.025, 0.06
STEP_TIME_S = 2.0
HIDDEN_STEP_TIME_S = 3.0
MOTION_INSIDE_S = 2.0
STEP_INSIDE_VOLTS = 0.03
EVIDENT_WINDOW_S, EVIDENT_STEP_S = 2.0, 0.1
EVIDENT_VOLTS, EVIDENT_SIGMAS, EVIDENT_COUNTS = 0.02, 5.0, 2.0
"""A movement shows where what a perfect meter would read ranges over more than each of these within that window."""

LEVEL_EDGE_S = 2.0
LEVEL_LENGTH_S = 6.0
"""A movement at least this long that shows nowhere but within so much of its ends looks like a level."""

EVENT_VOLTS, EVENT_SIGMAS = 0.05, 5.0
"""Motions and steps at least this large have to be found."""


@dataclass(slots=True)
class Score:
    """Counts and errors over any number of traces."""

    traces: int = 0
    long_settled: int = 0
    long_settled_found: int = 0
    level_errors_volts: list[float] = field(default_factory=list)
    level_errors_in_u: list[float] = field(default_factory=list)
    spans: int = 0
    spans_with_motion: int = 0
    spans_with_evident_motion: int = 0
    motions_like_levels: int = 0
    motions_like_levels_found: int = 0
    false_steps_at_levels: int = 0
    spans_with_step: int = 0
    settled_in_drift_s: float = 0.0
    drift_s: float = 0.0
    delays_s: list[float] = field(default_factory=list)
    motions: int = 0
    motions_found: int = 0
    motions_reported: int = 0
    motions_reported_right: int = 0
    motion_start_errors_s: list[float] = field(default_factory=list)
    steps: int = 0
    steps_found: int = 0
    steps_reported: int = 0
    steps_reported_right: int = 0
    steps_sized_right: int = 0
    step_time_errors_s: list[float] = field(default_factory=list)
    step_size_errors_volts: list[float] = field(default_factory=list)

    def __add__(self, other: Score) -> Score:
        return Score(*(getattr(self, part.name) + getattr(other, part.name) for part in fields(self)))

    @property
    def settled_recall(self) -> float:
        """Share of long settled times found with the right level."""
        return _share(self.long_settled_found, self.long_settled)

    @property
    def motion_recall(self) -> float:
        """Share of the motions large enough that were found."""
        return _share(self.motions_found, self.motions)

    @property
    def motion_precision(self) -> float:
        """Share of the reported motions that were motions."""
        return _share(self.motions_reported_right, self.motions_reported)

    @property
    def step_recall(self) -> float:
        """Share of the steps large enough that were found."""
        return _share(self.steps_found, self.steps)

    @property
    def step_precision(self) -> float:
        """Share of the reported steps that were steps."""
        return _share(self.steps_reported_right, self.steps_reported)

    @property
    def step_size_right(self) -> float:
        """Share of the found steps with the right size."""
        return _share(self.steps_sized_right, self.steps_found)

    @property
    def median_delay_s(self) -> float:
        """Median time in seconds from when the trace has settled to when the detector declares it."""
        return median(self.delays_s) if self.delays_s else 0.0

    @property
    def p95_delay_s(self) -> float:
        """95th percentile of the same."""
        return sorted(self.delays_s)[int(0.95 * (len(self.delays_s) - 1))] if self.delays_s else 0.0


def _share(part: int, whole: int) -> float:
    return part / whole if whole else 1.0


def overlap_s(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Length of the time that two spans share; negative by how far they are apart."""
    return min(a[1], b[1]) - max(a[0], b[0])


def score(trace: Trace, events: Sequence[Event]) -> Score:
    """Compare the events of a trace with its truth."""
    total = Score(traces=1)
    spans = [event for event in events if isinstance(event, Settled)]
    evident = evident_at(trace)
    like_levels = [motion for motion in trace.truth.motions if looks_level(trace, evident, motion)]
    _score_spans(trace, spans, total)
    for span in spans:
        moving_s = sum(
            evident_s(trace, evident, max(span.start_s, motion.start_s), min(span.end_s, motion.end_s))
            for motion in trace.truth.motions
            if overlap_s((span.start_s, span.end_s), (motion.start_s, motion.end_s)) > 0
        )
        total.spans_with_evident_motion += moving_s > MOTION_INSIDE_S
    _score_motions(trace, [event for event in events if isinstance(event, Motion)], like_levels, total)
    _score_steps(trace, [event for event in events if isinstance(event, Step)], like_levels, total)
    return total


def bad_spans(trace: Trace, spans: Sequence[Settled]) -> list[tuple[Settled, TrueMotion | TrueStep]]:
    """Settled spans with more than 2 s of motion or with a step inside, each with what is inside."""
    # A step falls between two samples, so which of them still belongs to the span is a matter of rounding.
    edge_s = max(0.5, 1.5 / trace.rate_hz)
    found: list[tuple[Settled, TrueMotion | TrueStep]] = []
    for span in spans:
        found += [
            (span, motion)
            for motion in trace.truth.motions
            if overlap_s((span.start_s, span.end_s), (motion.start_s, motion.end_s)) > MOTION_INSIDE_S
        ]
        found += [
            (span, step)
            for step in trace.truth.steps
            if span.start_s + edge_s < step.time_s < span.end_s - edge_s
            and abs(step.after_volts - step.before_volts) >= STEP_INSIDE_VOLTS
        ]
    return found


def evident_at(trace: Trace) -> NDArray[np.bool_]:
    """Where the trace evidently moves, at times `EVIDENT_STEP_S` apart from its start on."""
    times_s = np.array(trace.times_s)
    grid_s = np.arange(times_s[0], times_s[-1], EVIDENT_STEP_S)
    clean = np.interp(grid_s, times_s, trace.clean_volts)
    half = round(EVIDENT_WINDOW_S / EVIDENT_STEP_S / 2)
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(clean, half, mode="edge"), 2 * half + 1)
    least = max(EVIDENT_VOLTS, EVIDENT_SIGMAS * trace.noise_volts, EVIDENT_COUNTS * trace.count_volts)
    shows: NDArray[np.bool_] = np.ptp(windows, axis=1) > least
    return shows


def evident_s(trace: Trace, evident: NDArray[np.bool_], start_s: float, end_s: float) -> float:
    """For how many seconds between two times the trace evidently moves.

    Args:
        trace: gives its start.
        evident: from `evident_at`.
        start_s: the earlier time on the trace's clock.
        end_s: the later time.
    """
    first, last = (max(round((at - trace.times_s[0]) / EVIDENT_STEP_S), 0) for at in (start_s, end_s))
    return float(np.sum(evident[first:last])) * EVIDENT_STEP_S


def looks_level(trace: Trace, evident: NDArray[np.bool_], motion: TrueMotion) -> bool:
    """Whether a movement, through the meter's averaging and noise, reads like another level.

    Args:
        trace: gives its start.
        evident: from `evident_at`.
        motion: the movement.
    """
    if motion.end_s - motion.start_s < LEVEL_LENGTH_S:
        return False
    middle = (motion.start_s + LEVEL_EDGE_S, motion.end_s - LEVEL_EDGE_S)
    return evident_s(trace, evident, *middle) == 0.0


def _score_spans(trace: Trace, spans: Sequence[Settled], total: Score) -> None:
    truth = trace.truth
    total.spans = len(spans)
    bad = bad_spans(trace, spans)
    total.spans_with_motion = sum(isinstance(what, TrueMotion) for _, what in bad)
    total.spans_with_step = sum(isinstance(what, TrueStep) for _, what in bad)
    for start_s, end_s in truth.drifts:
        total.drift_s += end_s - start_s
        total.settled_in_drift_s += sum(
            max(0.0, overlap_s((start_s, end_s), (span.start_s, span.end_s))) for span in spans
        )
    for settled in truth.settled:
        where = (settled.start_s, settled.end_s)
        inside = [span for span in spans if overlap_s(where, (span.start_s, span.end_s)) > 0]
        if inside and settled.end_s - settled.start_s >= 8:
            total.delays_s.append(max(0.0, min(span.known_at_s for span in inside) - settled.start_s))
        if settled.end_s - settled.start_s < LONG_SETTLED_S:
            continue
        total.long_settled += 1
        best = max(inside, key=lambda span: overlap_s(where, (span.start_s, span.end_s)), default=None)
        if best is None:
            continue
        error = best.volts - settled.level_volts
        total.level_errors_volts.append(error)
        total.level_errors_in_u.append(error / best.u_volts)
        if abs(error) <= max(LEVEL_VOLTS, LEVEL_SHARE * settled.level_volts):
            total.long_settled_found += 1


def must_be_found(trace: Trace, size_volts: float) -> bool:
    """Whether a motion or step of this size has to be found in this noise."""
    return size_volts >= max(EVENT_VOLTS, EVENT_SIGMAS * trace.noise_volts)


def _score_motions(
    trace: Trace, reported: Sequence[Motion], like_levels: Sequence[TrueMotion], total: Score
) -> None:
    truth = trace.truth
    free = list(reported)
    for motion in truth.motions:
        where = (motion.start_s - 0.5, motion.end_s + 0.5)
        best = max(free, key=lambda event: overlap_s(where, (event.start_s, event.end_s)), default=None)
        found = best is not None and overlap_s(where, (best.start_s, best.end_s)) >= 0
        if found and best is not None:
            free.remove(best)
            total.motions_reported_right += 1
            total.motion_start_errors_s.append(best.start_s - motion.start_s)
        if must_be_found(trace, motion.height_volts):
            total.motions += 1
            total.motions_found += found
            if motion in like_levels:
                total.motions_like_levels += 1
                total.motions_like_levels_found += found
    total.motions_reported = len(reported)
    total.motions_reported_right += sum(
        any(overlap_s((event.start_s, event.end_s), where) > 0 for where in truth.fidgeting) for event in free
    )


def _score_steps(
    trace: Trace, reported: Sequence[Step], like_levels: Sequence[TrueMotion], total: Score
) -> None:
    free = list(reported)
    for step in trace.truth.steps:
        size = step.after_volts - step.before_volts
        best = min(free, key=lambda event: abs(event.time_s - step.time_s), default=None)
        found = best is not None and _near(trace, best, step)
        if found and best is not None:
            free.remove(best)
            total.steps_reported_right += 1
        if not must_be_found(trace, abs(size)):
            continue
        total.steps += 1
        if found and best is not None:
            total.steps_found += 1
            error = best.after_volts - best.before_volts - size
            total.steps_sized_right += abs(error) <= max(STEP_VOLTS, STEP_SHARE * abs(size))
            total.step_size_errors_volts.append(error)
            if not step.hidden:
                total.step_time_errors_s.append(best.time_s - step.time_s)
    total.steps_reported = len(reported)
    total.false_steps_at_levels += sum(
        any(motion.start_s - 1 <= step.time_s <= motion.end_s + 1 for motion in like_levels) for step in free
    )


def _near(trace: Trace, reported: Step, step: TrueStep) -> bool:
    if not step.hidden:
        return abs(reported.time_s - step.time_s) <= STEP_TIME_S
    return any(
        motion.start_s - HIDDEN_STEP_TIME_S <= reported.time_s <= motion.end_s + HIDDEN_STEP_TIME_S
        for motion in trace.truth.motions
        if motion.start_s - 1 <= step.time_s <= motion.end_s + 1
    )
