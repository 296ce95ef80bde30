"""The trace around a settled span, with its level. In: samples. Out: SVG text."""

from __future__ import annotations

import numpy as np

from logger.metrology.rounding import fixed, grouped, plain
from logger.night.analysis.night_record import Floats
from logger.report.document.figures.svg import BLUISH_GREEN, INK, QUIET, RULE, Canvas, round_scale
from logger.report.document.report_data import Excerpt
from logger.translation import tr

MAX_TRACE_POINTS = 400

ROOM_ABOVE = 1.3
"""So much more than the highest level the pictures of one scale show."""

WIDE, NARROW = (208.0, 66.0), (154.0, 42.0)
"""Width and height of a picture where three stand beside each other, and where four do: its letters stay as large."""

LETTERS = 10.4
"""Of the scales, in the picture's units: 8 points in print."""

_LEAST_VOLTS = 0.02
"""No picture shows less: its line would be the display's last digit going up and down."""

TOP = 3.0
"""Room above the end of the scale, for the thickness of a line there."""

TICK = 3.0
"""Length of the mark at either end of the scale."""

MAX_JOINED_S = 2.5
"""Neighbouring samples further apart are not joined."""


def trace_svg(
    name: str,
    title: str,
    excerpt: Excerpt,
    highest_volts: float | None = None,
    shape: tuple[float, float] = WIDE,
) -> str:
    """Draw the trace around a settled span, which is shaded, and its level.

    Args:
        name: an id that no other picture of the page has.
        title: what is read aloud.
        excerpt: the samples and the span.
        highest_volts: the picture goes from 0 V to this, whatever of the trace is above it; None shows all of it.
        shape: `WIDE` or `NARROW`.
    """
    (width, height), left, bottom = shape, 43.0, 16.0
    times_s, volts = excerpt.times_s, excerpt.volts
    still_from_s, still_to_s = excerpt.still_s
    description = tr("Level {volts} V over {seconds} s, shaded; samples shown: {n}.").format(
        volts=fixed(excerpt.level_volts, 2),
        seconds=fixed(still_to_s - still_from_s, 0),
        n=grouped(len(volts)),
    )
    canvas = Canvas(width, height, name, title, description)
    end_s = max(float(times_s[-1]) if len(times_s) else 0.0, still_to_s, 1.0)
    low, high = _range(volts, excerpt.level_volts)
    if highest_volts is not None:
        low, high = 0.0, round_scale(max(highest_volts, _LEAST_VOLTS))
    body = height - bottom

    def x(time_s: float) -> float:
        return left + time_s / end_s * (width - left - 2)

    def y(value: float) -> float:
        return max(TOP + (high - value) / (high - low) * (body - TOP), 1.0)

    canvas.box(x(still_from_s), 1, x(still_to_s) - x(still_from_s), body - 2, "#D3ECE4")
    canvas.line(left, 1, left, body, RULE)
    canvas.line(left, body, width - 1, body, RULE)
    for value in (low, high):
        unit = " V" if value == high else ""
        canvas.line(left - TICK, y(value), left, y(value), RULE)
        text = _short(value) if highest_volts is None else plain(value)
        canvas.text(
            left - TICK - 1, min(max(y(value) + 3, 9), body - 1), f"{text}{unit}", LETTERS, QUIET, "end"
        )
    for time_s, anchor in ((0.0, "start"), (end_s, "end")):
        canvas.text(x(time_s), height - 4, f"{time_s:.0f} s", LETTERS, QUIET, anchor)
    canvas.polyline(
        [[(x(t), y(v)) for t, v in piece] for piece in _pieces(*_thinned(times_s, volts))], INK, 0.8
    )
    level = y(excerpt.level_volts)
    canvas.line(x(still_from_s), level, x(still_to_s), level, BLUISH_GREEN, 1.8)
    return canvas.svg()


def _range(volts: Floats, level_volts: float) -> tuple[float, float]:
    """Return lowest and highest volts of the picture: never less than a few hundredths around the level."""
    low = min(float(volts.min(initial=level_volts)), level_volts)
    high = max(float(volts.max(initial=level_volts)), level_volts)
    margin = max(0.02 - (high - low), 0.1 * (high - low), 0.0) / 2
    return max(low - margin, 0.0), high + margin


def _short(volts: float) -> str:
    return fixed(volts, 2 if volts < 10 else 1)


def _thinned(times_s: Floats, volts: Floats) -> tuple[Floats, Floats]:
    """Return at most `MAX_TRACE_POINTS` points: lowest and highest of each bin, in the order of time."""
    count = len(volts)
    if count <= MAX_TRACE_POINTS:
        return times_s, volts
    edges = np.linspace(0, count, MAX_TRACE_POINTS // 2 + 1).astype(np.int64)
    kept = np.unique(
        [
            low + int(place(volts[low:high]))
            for low, high in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True)
            for place in (np.argmin, np.argmax)
        ]
    )
    return times_s[kept], volts[kept]


def _pieces(times_s: Floats, volts: Floats) -> list[list[tuple[float, float]]]:
    """Part the points where neighbours are further apart than `MAX_JOINED_S`."""
    breaks = np.flatnonzero(np.diff(times_s) > MAX_JOINED_S) + 1
    return [
        list(zip(times.tolist(), values.tolist(), strict=True))
        for times, values in zip(np.split(times_s, breaks), np.split(volts, breaks), strict=True)
    ]
