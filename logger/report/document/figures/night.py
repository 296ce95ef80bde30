"""A whole night: its range, still level, steps and missing times. In: a night and its summary. Out: SVG text."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from logger.metrology.rounding import fixed, grouped, plain
from logger.night.analysis.night_record import NightRecord
from logger.night.analysis.summary import NightSummary
from logger.night.analysis.value_bands import value_bands
from logger.report.document.figures.svg import (
    GRID,
    INK,
    QUIET,
    REDDISH_PURPLE,
    TARGET_DASH,
    VERMILLION,
    Canvas,
    round_scale,
    text_width,
    ticks,
)
from logger.report.document.report_data import NightData
from logger.translation import marked, tr

Scale = Callable[[float], float]
"""Turns a value or a time into a place in the picture."""

BINS_PER_UNIT = 1.3
"""Columns of the picture of a night: more could not be seen on paper."""

LETTERS = 10.7
"""In the picture's units, which are the narrowest of all in print: 8 points."""

KEY_LINE = LETTERS + 4
"""From a line of the key to the next."""

BAND, BAND_EDGE, MISSING, OVERLOAD = "#A9BCCB", "#7F97A8", "#D9D5CA", "#F0E442"
"""Colours of the range of values, of times without one, and of those beyond the meter's range."""


_KEY = {
    "band": marked("lowest to highest value"),
    "level": marked("steady level"),
    "target": marked("target"),
    "step": marked("step"),
    "missing": marked("not counted"),
    "overload": marked("overload"),
}
"""What is drawn, and what it is called below the picture."""


def night_svg(name: str, title: str, night_data: NightData, target_volts: float, width: float = 680.0) -> str:
    """Draw a night: lowest and highest value of every column as a band, the still level, steps, missing times.

    Args:
        name: an id that no other picture of the page has.
        title: what is read aloud.
        night_data: the night.
        target_volts: drawn as a dashed line.
        width: of the picture, in its units.
    """
    night, summary = night_data.night, night_data.summary
    left = 38.0
    key_lines = _key_lines(_drawn_marks(summary), width - left)
    bottom = 20.0 + len(key_lines) * KEY_LINE
    height = 216.0 + bottom
    end_s = max(summary.end_s, 1.0)
    top_volts = _top_volts(night.record, target_volts)
    description = _description(night_data, end_s)
    canvas = Canvas(width, height, name, title, description)
    body = height - bottom

    def x(time_s: float) -> float:
        return left + time_s / end_s * (width - left - 4)

    def y(volts: float) -> float:
        return 6 + (top_volts - min(volts, top_volts)) / top_volts * (body - 6)

    for volts in ticks(top_volts):
        canvas.line(left, y(volts), width - 4, y(volts), GRID)
        canvas.text(left - 4, y(volts) + 3, plain(volts), LETTERS, QUIET, "end")
    canvas.text(2, 9, "V", LETTERS, QUIET)
    for start_s, stop_s in (*summary.missed, *summary.frozen):
        canvas.box(x(start_s), 6, max(x(stop_s) - x(start_s), 1.5), body - 6, MISSING)
    for start_s, stop_s in summary.overloaded:
        canvas.box(x(start_s), 6, max(x(stop_s) - x(start_s), 1.5), body - 6, OVERLOAD, VERMILLION)
    for times_s, low, high in value_bands(
        night.record.times_s, night.record.volts, end_s, round(width * BINS_PER_UNIT)
    ):
        upper = [(x(t), y(v)) for t, v in zip(times_s, high, strict=True)]
        lower = [(x(t), y(v)) for t, v in zip(times_s, low, strict=True)]
        canvas.area([*upper, *reversed(lower)], BAND)
        canvas.polyline([upper, lower], BAND_EDGE, 0.6)
    canvas.polyline(_still_level(night.record, x, y, end_s / (width * BINS_PER_UNIT)), INK, 1.3)
    for step in summary.steps:
        canvas.area(
            [(x(step.time_s), body), (x(step.time_s) - 3, body + 5), (x(step.time_s) + 3, body + 5)],
            REDDISH_PURPLE,
        )
    canvas.line(left, y(target_volts), width - 4, y(target_volts), VERMILLION, 1.6, TARGET_DASH)
    canvas.line(left, body, width - 4, body, QUIET)
    _draw_hours(canvas, night_data, x, body)
    for number, key_line in enumerate(reversed(key_lines)):
        _draw_key(canvas, key_line, height - 6 - number * KEY_LINE, left)
    return canvas.svg()


def _description(night_data: NightData, end_s: float) -> str:
    """What is read aloud of a night's picture."""
    night, summary = night_data.night, night_data.summary
    sentences = [
        tr("From {start} to {end}.").format(start=night.clock_minute(0.0), end=night.clock_minute(end_s))
    ]
    if summary.level is not None:
        median = tr("Middle value (median) of the steady level: {volts} V.")
        sentences.append(median.format(volts=fixed(summary.level.median_volts, 3)))
    counts = tr(
        "Steps: {steps}. Motion episodes: {motions}. Gaps: {gaps}. Times beyond the meter's range: {overloads}. Times "
        "a display stood still: {frozen}."
    )
    sentences.append(
        counts.format(
            steps=grouped(len(summary.steps)),
            motions=grouped(len(night.record.motions)),
            gaps=grouped(len(summary.missed)),
            overloads=grouped(len(summary.overloaded)),
            frozen=grouped(len(summary.frozen)),
        )
    )
    return " ".join(sentences)


def _draw_hours(canvas: Canvas, night_data: NightData, x: Scale, body: float) -> None:
    night, end_s = night_data.night, night_data.summary.end_s
    started = night.local(0.0)
    first_s = -(started.minute * 60.0 + started.second) % 3600.0
    widest = text_width(night.clock_label(0.0), LETTERS) + 4
    hour = x(3600.0) - x(0.0)
    every = next((hours for hours in (1, 2, 3, 4, 6) if hours * hour >= widest), 12)
    for number, time_s in enumerate(np.arange(first_s, end_s, 3600.0).tolist()):
        canvas.line(x(time_s), body, x(time_s), body + 4, QUIET)
        if number % every == 0:
            # Without the offset, for which there is no room: where the clock changes, the caption has both.
            canvas.text(x(time_s), body + 14, night.clock_label(time_s), LETTERS, QUIET, "middle")


def _drawn_marks(summary: NightSummary) -> list[str]:
    """What of the key is in the picture."""
    absent = {
        "step": not summary.steps,
        "missing": not summary.missed and not summary.frozen,
        "overload": not summary.overloaded,
    }
    return [mark for mark in _KEY if not absent.get(mark, False)]


def _key_lines(marks: Sequence[str], width: float) -> list[list[str]]:
    """Part the key into as many lines as the width asks for."""
    lines: list[list[str]] = []
    used = 0.0
    for mark in marks:
        needed = _key_width(mark)
        if not lines or used + needed > width:
            lines.append([])
            used = 0.0
        lines[-1].append(mark)
        used += needed
    return lines


def _key_width(mark: str) -> float:
    return 32 + text_width(tr(_KEY[mark]), LETTERS)


def _draw_key(canvas: Canvas, marks: Sequence[str], y: float, left: float) -> None:
    at = left
    middle = y - 3
    for mark in marks:
        if mark == "band":
            canvas.box(at, middle - 4, 14, 8, BAND, BAND_EDGE)
        elif mark == "level":
            canvas.line(at, middle, at + 14, middle, INK, 1.6)
        elif mark == "target":
            canvas.line(at, middle, at + 14, middle, VERMILLION, 1.6, TARGET_DASH)
        elif mark == "step":
            canvas.area([(at + 7, middle - 4), (at + 3, middle + 3), (at + 11, middle + 3)], REDDISH_PURPLE)
        elif mark == "overload":
            canvas.box(at, middle - 4, 14, 8, OVERLOAD, VERMILLION)
        else:
            canvas.box(at, middle - 4, 14, 8, MISSING)
        canvas.text(at + 18, y, tr(_KEY[mark]), LETTERS, QUIET)
        at += _key_width(mark)


def _top_volts(record: NightRecord, target_volts: float) -> float:
    """Return the end of the scale: what is still fits, motion may leave the picture at the top."""
    still = record.volts[record.still_mask()]
    highest = float(np.percentile(still, 99.5)) if len(still) else float(record.volts.max(initial=0.0))
    return round_scale(max(1.25 * highest, 1.5 * target_volts))


def _still_level(record: NightRecord, x: Scale, y: Scale, column_s: float) -> list[list[tuple[float, float]]]:
    """Return the still spans as level lines, joined where a column of the picture could not part them."""
    pieces: list[list[tuple[float, float]]] = []
    last_s = -column_s
    for span in record.settled:
        if not pieces or span.start_s - last_s > column_s:
            pieces.append([])
        pieces[-1] += [(x(span.start_s), y(span.volts)), (x(span.end_s), y(span.volts))]
        last_s = span.end_s
    return pieces
