"""The pictures of the report: a spot's on and off, bars of what gives how much, the trace of a reading, the night.

In: numbers. Out: SVG text. Shape, place and word say everything that colour says.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from logger.night.analysis.night_record import Floats, NightRecord
from logger.report.document.report_data import Excerpt, NightFacts
from logger.report.document.svg import (
    BLUISH_GREEN,
    INK,
    ORANGE,
    QUIET,
    REDDISH_PURPLE,
    RULE,
    SKY_BLUE,
    TEXT,
    VERMILLION,
    Canvas,
    cut,
    round_scale,
    text_width,
    ticks,
)

Place = Callable[[float], float]
"""Where in a picture a value or a time lies."""

TARGET_DASH = "5 2.5"
SMALL = 9.0

NIGHT_BINS = 900
"""Columns of the picture of a night: more could not be seen on paper."""

MOST_TRACE_POINTS = 400

TORN_S = 2.5
"""Neighbouring samples further apart are not joined."""


@dataclass(frozen=True, slots=True)
class BarRow:
    """One bar."""

    name: str
    volts: float
    u_volts: float
    """Standard uncertainty; k = 2 is drawn."""
    says: str
    """Value as text, at the bar's end."""
    outlined: bool = False
    """Of something that must stay on or that is predicted: drawn with a border only."""


def spot_picture(
    name: str, title: str, on_volts: float | None, off_volts: float | None, target_volts: float, scale_volts: float
) -> str:  # fmt: skip
    """Two bars on a scale that all spots share, on above off, with the target as a dashed line."""
    width, height = 230.0, 20.0
    said = [
        f"{word} {volts:.3f} V" for word, volts in (("on", on_volts), ("off", off_volts)) if volts is not None
    ]
    canvas = Canvas(
        width,
        height,
        name,
        title,
        f"{', '.join(said)}; target {target_volts:g} V; scale to {scale_volts:g} V.",
    )
    per_volt = (width - 2) / scale_volts
    canvas.line(1, 1, 1, height - 1, RULE)
    if on_volts is not None:
        canvas.box(1, 2, on_volts * per_volt, 8, ORANGE, INK)
    if off_volts is not None:
        canvas.box(1, 12, off_volts * per_volt, 5, SKY_BLUE, INK)
    at = 1 + target_volts * per_volt
    canvas.line(at, 0, at, height, VERMILLION, 1.6, TARGET_DASH)
    return canvas.svg()


def spot_legend(name: str, target_volts: float, scale_volts: float) -> str:
    """What the bars of `spot_picture` mean, and how far their scale goes."""
    width, height = 230.0, 26.0
    canvas = Canvas(
        width,
        height,
        name,
        "Key to the bars",
        f"Upper bar: everything on. Lower bar: everything off. Dashed line: target {target_volts:g} V.",
    )
    canvas.box(1, 2, 12, 8, ORANGE, INK)
    canvas.text(17, 10, "on", SMALL)
    canvas.box(38, 4, 12, 5, SKY_BLUE, INK)
    canvas.text(54, 10, "off", SMALL)
    canvas.line(76, 1, 76, 11, VERMILLION, 1.6, "3 1.5")
    canvas.text(81, 10, f"target {target_volts:g} V", SMALL)
    canvas.line(1, 25, width - 1, 25, RULE)
    for volts in ticks(scale_volts):
        x = 1 + volts * (width - 2) / scale_volts
        anchor = "start" if volts == 0 else "end" if volts > 0.97 * scale_volts else "middle"
        canvas.line(x, 22, x, 25, QUIET)
        canvas.text(x, 21, f"{volts:g}" + (" V" if volts > 0.97 * scale_volts else ""), SMALL, QUIET, anchor)
    return canvas.svg()


def bars_picture(
    name: str,
    title: str,
    rows: Sequence[BarRow],
    target_volts: float,
    width: float = 640.0,
    key: bool = True,
) -> str:
    """Horizontal bars with names before and values behind them; whiskers are k = 2. The target is a dashed line, which
    is named below where `key` says so."""
    names_width = min(max((text_width(row.name) for row in rows), default=0.0) + 8, 0.36 * width)
    says_width = max((text_width(row.says) for row in rows), default=0.0) + 10
    left, right = names_width, width - says_width
    lines = [cut(row.name, names_width - 6) for row in rows]
    heights = [max(len(said), 1) * (TEXT + 2) + (7 if key else 4) for said in lines]
    body, foot = sum(heights), 34.0 if key else 17.0
    most = max([row.volts + 2 * row.u_volts for row in rows] + [1.3 * target_volts, 1e-3])
    scale = round_scale(most)
    per_volt = (right - left) / scale
    description = "; ".join(f"{row.name} {row.says}" for row in rows)
    canvas = Canvas(width, body + foot, name, title, f"{description}.")
    for volts in ticks(scale):
        x = left + volts * per_volt
        canvas.line(x, 0, x, body + 3, "#E4E0D6")
        unit = " V" if volts > 0.97 * scale else ""
        canvas.text(x, body + 14, f"{volts:g}{unit}", SMALL, QUIET, "middle")
    top = 0.0
    for row, said, height in zip(rows, lines, heights, strict=True):
        middle = top + height / 2
        first = middle - (len(said) - 1) * (TEXT + 2) / 2 + TEXT * 0.36
        for number, text in enumerate(said):
            canvas.text(left - 6, first + number * (TEXT + 2), text, anchor="end")
        above = row.volts > target_volts
        fill = "#FFFFFF" if row.outlined else ORANGE if above else SKY_BLUE
        canvas.box(left, middle - 5.5, row.volts * per_volt, 11, fill, INK)
        low, high = max(row.volts - 2 * row.u_volts, 0.0), row.volts + 2 * row.u_volts
        canvas.line(left + low * per_volt, middle, left + high * per_volt, middle, INK, 1.4)
        for end in (low, high):
            canvas.line(left + end * per_volt, middle - 3.5, left + end * per_volt, middle + 3.5, INK, 1.4)
        canvas.text(right + 8, middle + TEXT * 0.36, row.says)
        top += height
    x = left + target_volts * per_volt
    canvas.line(x, 0, x, body + 3, VERMILLION, 1.8, TARGET_DASH)
    if key:
        canvas.line(left + 2, body + 20, left + 2, body + 31, VERMILLION, 1.8, TARGET_DASH)
        canvas.text(left + 7, body + 29, f"target {target_volts:g} V", SMALL, QUIET)
    return canvas.svg()


def trace_picture(name: str, title: str, excerpt: Excerpt, width: float = 208.0) -> str:
    """The trace around a reading, with the still span shaded and its level drawn."""
    height, left, bottom = 74.0, 30.0, 14.0
    times_s, volts = excerpt.times_s, excerpt.volts
    still_from_s, still_to_s = excerpt.still_s
    description = (
        f"Level {excerpt.level_volts:.4f} V over {still_to_s - still_from_s:.0f} s, shaded; "
        f"{len(volts)} samples shown."
    )
    canvas = Canvas(width, height, name, title, description)
    end_s = max(float(times_s[-1]) if len(times_s) else 0.0, still_to_s, 1.0)
    low, high = _range(volts, excerpt.level_volts)
    body = height - bottom

    def x(time_s: float) -> float:
        return left + time_s / end_s * (width - left - 2)

    def y(value: float) -> float:
        return 3 + (high - value) / (high - low) * (body - 6)

    canvas.box(x(still_from_s), 1, x(still_to_s) - x(still_from_s), body - 2, "#D3ECE4")
    canvas.line(left, 1, left, body, RULE)
    canvas.line(left, body, width - 1, body, RULE)
    for value in (low, high):
        canvas.text(left - 3, min(max(y(value) + 3, 9), body - 1), _short(value), 8, QUIET, "end")
    for time_s, anchor in ((0.0, "start"), (end_s, "end")):
        canvas.text(x(time_s), height - 4, f"{time_s:.0f} s", 8, QUIET, anchor)
    canvas.polyline(
        [[(x(t), y(v)) for t, v in piece] for piece in _pieces(*_thinned(times_s, volts))], INK, 0.8
    )
    level = y(excerpt.level_volts)
    canvas.line(x(still_from_s), level, x(still_to_s), level, BLUISH_GREEN, 1.8)
    return canvas.svg()


def night_picture(name: str, title: str, facts: NightFacts, target_volts: float, width: float = 680.0) -> str:
    """The whole night: lowest and highest value of every column as a band, the still level, steps, missing times."""
    night, summary = facts.night, facts.summary
    height, left, bottom = 250.0, 38.0, 34.0
    end_s = max(summary.end_s, 1.0)
    top_volts = _night_top(night.record, target_volts)
    level = summary.level
    description = (
        f"From {night.local(0.0):%H:%M} to {night.local(end_s):%H:%M}. "
        + (f"Median of the still level {level.median_volts:.3f} V. " if level else "")
        + f"{len(summary.steps)} steps, {len(night.record.motions)} motion episodes, {len(summary.missed)} gaps."
    )
    canvas = Canvas(width, height, name, title, description)
    body = height - bottom

    def x(time_s: float) -> float:
        return left + time_s / end_s * (width - left - 4)

    def y(volts: float) -> float:
        return 6 + (top_volts - min(volts, top_volts)) / top_volts * (body - 6)

    for volts in ticks(top_volts):
        canvas.line(left, y(volts), width - 4, y(volts), "#E4E0D6")
        canvas.text(left - 4, y(volts) + 3, f"{volts:g}", SMALL, QUIET, "end")
    canvas.text(2, 9, "V", SMALL, QUIET)
    for start_s, stop_s in summary.missed:
        canvas.box(x(start_s), 6, max(x(stop_s) - x(start_s), 1.5), body - 6, "#D9D5CA")
    for times_s, low, high in _bands(night.record, end_s):
        upper = [(x(t), y(v)) for t, v in zip(times_s, high, strict=True)]
        lower = [(x(t), y(v)) for t, v in zip(times_s, low, strict=True)]
        canvas.area([*upper, *reversed(lower)], "#A9BCCB")
        canvas.polyline([upper, lower], "#7F97A8", 0.6)
    canvas.polyline(_still_level(night.record, x, y, end_s), INK, 1.3)
    for step in summary.steps:
        canvas.area(
            [(x(step.time_s), body), (x(step.time_s) - 3, body + 5), (x(step.time_s) + 3, body + 5)],
            REDDISH_PURPLE,
        )
    canvas.line(left, y(target_volts), width - 4, y(target_volts), VERMILLION, 1.6, TARGET_DASH)
    canvas.line(left, body, width - 4, body, QUIET)
    _hours(canvas, facts, x, body)
    _night_key(canvas, height, left)
    return canvas.svg()


def _hours(canvas: Canvas, facts: NightFacts, x: Place, body: float) -> None:
    night, end_s = facts.night, facts.summary.end_s
    started = night.local(0.0)
    first_s = -(started.minute * 60.0 + started.second) % 3600.0
    every = 1 if end_s <= 14 * 3600 else 3
    for number, time_s in enumerate(np.arange(first_s, end_s, 3600.0).tolist()):
        canvas.line(x(time_s), body, x(time_s), body + 4, QUIET)
        if number % every == 0:
            canvas.text(x(time_s), body + 14, f"{night.local(time_s):%H:%M}", SMALL, QUIET, "middle")


def _night_key(canvas: Canvas, height: float, left: float) -> None:
    y = height - 6
    at = left
    for text in ("lowest to highest value", "still level", "target", "step", "no value"):
        middle = y - 3
        if text == "lowest to highest value":
            canvas.box(at, middle - 4, 14, 8, "#A9BCCB", "#7F97A8")
        elif text == "still level":
            canvas.line(at, middle, at + 14, middle, INK, 1.6)
        elif text == "target":
            canvas.line(at, middle, at + 14, middle, VERMILLION, 1.6, TARGET_DASH)
        elif text == "step":
            canvas.area([(at + 7, middle - 4), (at + 3, middle + 3), (at + 11, middle + 3)], REDDISH_PURPLE)
        else:
            canvas.box(at, middle - 4, 14, 8, "#D9D5CA")
        canvas.text(at + 18, y, text, SMALL, QUIET)
        at += 32 + text_width(text, SMALL)


def _night_top(record: NightRecord, target_volts: float) -> float:
    """The scale of a night: what is still fits, motion may leave the picture at the top."""
    still = record.volts[record.still_mask()]
    most = float(np.percentile(still, 99.5)) if len(still) else float(record.volts.max(initial=0.0))
    return round_scale(max(1.25 * most, 1.5 * target_volts))


def _bands(record: NightRecord, end_s: float) -> list[tuple[Floats, Floats, Floats]]:
    """Middle times, lowest and highest values of the columns that hold samples, in pieces without an empty one."""
    if not len(record.times_s):
        return []
    which = np.minimum((record.times_s / end_s * NIGHT_BINS).astype(np.int64), NIGHT_BINS - 1)
    starts = np.flatnonzero(np.diff(which, prepend=which[0] - 1))
    bins = which[starts]
    low, high = np.minimum.reduceat(record.volts, starts), np.maximum.reduceat(record.volts, starts)
    times_s = (bins + 0.5) * end_s / NIGHT_BINS
    torn = np.flatnonzero(np.diff(bins) > 1) + 1
    pieces = zip(np.split(times_s, torn), np.split(low, torn), np.split(high, torn), strict=True)
    return [piece for piece in pieces if len(piece[0]) > 1]


def _still_level(record: NightRecord, x: Place, y: Place, end_s: float) -> list[list[tuple[float, float]]]:
    """The still spans as level lines, joined where a column of the picture could not part them."""
    pieces: list[list[tuple[float, float]]] = []
    last_s = -end_s
    for span in record.settled:
        if span.start_s - last_s > end_s / NIGHT_BINS:
            pieces.append([])
        pieces[-1] += [(x(span.start_s), y(span.volts)), (x(span.end_s), y(span.volts))]
        last_s = span.end_s
    return pieces


def _range(volts: Floats, level_volts: float) -> tuple[float, float]:
    """What the picture of a trace shows: never less than a few hundredths around the level."""
    low = min(float(volts.min(initial=level_volts)), level_volts)
    high = max(float(volts.max(initial=level_volts)), level_volts)
    room = max(0.02 - (high - low), 0.1 * (high - low), 0.0) / 2
    return max(low - room, 0.0), high + room


def _short(volts: float) -> str:
    return f"{volts:.2f}" if volts < 10 else f"{volts:.1f}"


def _thinned(times_s: Floats, volts: Floats) -> tuple[Floats, Floats]:
    """At most `MOST_TRACE_POINTS` points: lowest and highest of each bin, in the order of time."""
    count = len(volts)
    if count <= MOST_TRACE_POINTS:
        return times_s, volts
    edges = np.linspace(0, count, MOST_TRACE_POINTS // 2 + 1).astype(np.int64)
    kept = np.unique(
        [
            low + int(place(volts[low:high]))
            for low, high in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True)
            for place in (np.argmin, np.argmax)
        ]
    )
    return times_s[kept], volts[kept]


def _pieces(times_s: Floats, volts: Floats) -> list[list[tuple[float, float]]]:
    torn = np.flatnonzero(np.diff(times_s) > TORN_S) + 1
    return [
        list(zip(times.tolist(), values.tolist(), strict=True))
        for times, values in zip(np.split(times_s, torn), np.split(volts, torn), strict=True)
    ]
