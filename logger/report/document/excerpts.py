"""Cuts out of a visit log the trace around what a value rests on."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from logger.clock import NS_PER_S
from logger.night.analysis.night_record import Floats
from logger.report.document.report_data import Excerpt
from logger.visit import VisitLog
from logger.visit.records.reading_records import Reading, Span

MARGIN_S = 15.0
"""So much of the trace is shown before and after the span."""

MAX_SPAN_SHOWN_S = 120.0
"""Of a longer span only its end is shown."""


def excerpt_of_reading(log: VisitLog, reading: Reading, run_started_ns: Mapping[int, int]) -> Excerpt | None:
    """Cut out the trace around a reading.

    Args:
        log: the visit log.
        reading: of the log.
        run_started_ns: start of each run by its id, UTC nanoseconds.

    Returns:
        The trace; None for a value that rests on no samples, or whose samples are gone.
    """
    run_id, start_ns, end_ns = reading.run_id, reading.start_utc_ns, reading.end_utc_ns
    if run_id is None or start_ns is None or end_ns is None:
        return None
    zero_ns = run_started_ns.get(run_id)
    if zero_ns is None:
        return None
    return _excerpt(log, run_id, start_ns - zero_ns, end_ns - zero_ns, reading.volts)


def excerpt_of_span(log: VisitLog, span: Span) -> Excerpt | None:
    """Cut out the trace around a span, such as a step of a check; None where its samples are gone."""
    return _excerpt(log, span.run_id, span.start_t_ns, span.end_t_ns, span.volts)


def _excerpt(
    log: VisitLog, run_id: int, start_t_ns: int, end_t_ns: int, level_volts: float
) -> Excerpt | None:
    shown_from_ns = max(start_t_ns, end_t_ns - round(MAX_SPAN_SHOWN_S * NS_PER_S))
    from_ns = max(shown_from_ns - round(MARGIN_S * NS_PER_S), 0)
    until_ns = end_t_ns + round(MARGIN_S * NS_PER_S)
    samples = log.samples.between(
        log.samples.line_at(run_id, from_ns), log.samples.line_at(run_id, until_ns) - 1
    )
    if not len(samples.volts):
        return None
    zero_ns = log.runs.started_utc_ns(run_id) + from_ns
    times_s: Floats = (samples.steady_utc_ns - zero_ns).astype(np.float64) / NS_PER_S
    still_s = (shown_from_ns - from_ns) / NS_PER_S, (end_t_ns - from_ns) / NS_PER_S
    return Excerpt(times_s, samples.volts, still_s, level_volts)
