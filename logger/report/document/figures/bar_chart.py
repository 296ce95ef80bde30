"""Horizontal bars with whiskers: what gives how much. In: names, volts, uncertainties. Out: SVG text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from logger.metrology.rounding import plain
from logger.report.document.figures.svg import (
    GRID,
    INK,
    QUIET,
    SMALL,
    TARGET_DASH,
    TEXT,
    VERMILLION,
    Canvas,
    round_scale,
    text_width,
    ticks,
    wrapped,
)
from logger.translation import tr

PLAIN = "#9AA4AE"
"""Of a bar: none of the colours that mean something on the page."""


NARROW_TEXT = 10.0
"""Size of the letters of a chart beside the household's table, which is narrower: 8 points in print."""


@dataclass(frozen=True, slots=True)
class BarRow:
    """One bar of a chart."""

    name: str
    volts: float
    u_volts: float
    """Standard uncertainty; k = 2 is drawn."""
    value_text: str
    """Stands at the bar's end."""
    outlined: bool = False
    """Of something that must stay on or that is predicted: drawn with a border only."""


def bar_chart_svg(
    name: str,
    title: str,
    rows: Sequence[BarRow],
    target_volts: float,
    width: float = 640.0,
    key: bool = True,
) -> str:
    """Draw horizontal bars with names before and values behind them; whiskers are k = 2.

    Args:
        name: an id that no other picture of the page has.
        title: what is read aloud.
        rows: the bars from above.
        target_volts: drawn as a dashed line.
        width: of the picture, in its units.
        key: whether the dashed line is named below the bars.
    """
    size = TEXT if key else NARROW_TEXT
    names_width = min(max((text_width(row.name, size) for row in rows), default=0.0) + 8, 0.36 * width)
    values_width = min(
        max((text_width(row.value_text, size) for row in rows), default=0.0) + 10, 0.36 * width
    )
    left, right = names_width, width - values_width
    lines = [
        (wrapped(row.name, names_width - 6, size), wrapped(row.value_text, values_width - 8, size))
        for row in rows
    ]
    heights = [max(len(names), len(values), 1) * (size + 2) + (7 if key else 4) for names, values in lines]
    body, foot = sum(heights), 34.0 if key else 17.0
    highest = max([row.volts + 2 * row.u_volts for row in rows] + [1.3 * target_volts, 1e-3])
    scale = round_scale(highest)
    per_volt = (right - left) / scale
    description = "; ".join(f"{row.name} {row.value_text}" for row in rows)
    canvas = Canvas(width, body + foot, name, title, f"{description}.")
    marks = ticks(scale)
    # Where the figures would touch, only the first and the last line have one.
    widest = max(text_width(f"{plain(volts)} V", SMALL) for volts in marks)
    touch = len(marks) > 1 and widest > (marks[1] - marks[0]) * per_volt
    for volts in marks:
        x = left + volts * per_volt
        canvas.line(x, 0, x, body + 3, GRID)
        if touch and volts not in (marks[0], marks[-1]):
            continue
        unit = " V" if volts > 0.97 * scale else ""
        canvas.text(x, body + 14, f"{plain(volts)}{unit}", SMALL, QUIET, "middle")
    # Below the bars, so that it hides none that ends at it.
    x = left + target_volts * per_volt
    canvas.line(x, 0, x, body + 3, VERMILLION, 1.8, TARGET_DASH)
    top = 0.0
    for row, (names, values), height in zip(rows, lines, heights, strict=True):
        middle = top + height / 2
        _draw_lines(canvas, left - 6, middle, names, "end", size)
        # The colours of “on” and “off” mean something else; what is above the target passes its dashed line.
        fill = "#FFFFFF" if row.outlined else PLAIN
        canvas.box(left, middle - 5.5, row.volts * per_volt, 11, fill, INK)
        low, high = max(row.volts - 2 * row.u_volts, 0.0), row.volts + 2 * row.u_volts
        canvas.line(left + low * per_volt, middle, left + high * per_volt, middle, INK, 1.4)
        for end in (low, high):
            canvas.line(left + end * per_volt, middle - 3.5, left + end * per_volt, middle + 3.5, INK, 1.4)
        _draw_lines(canvas, right + 8, middle, values, "start", size)
        top += height
    if key:
        canvas.line(left + 2, body + 20, left + 2, body + 31, VERMILLION, 1.8, TARGET_DASH)
        canvas.text(
            left + 7, body + 29, tr("target {volts} V").format(volts=plain(target_volts)), SMALL, QUIET
        )
    return canvas.svg()


def _draw_lines(
    canvas: Canvas, x: float, middle: float, lines: Sequence[str], anchor: str, size: float
) -> None:
    """Draw lines of text one below the other, around the middle of a bar."""
    first = middle - (len(lines) - 1) * (size + 2) / 2 + size * 0.36
    for number, text in enumerate(lines):
        canvas.text(x, first + number * (size + 2), text, size, anchor=anchor)
