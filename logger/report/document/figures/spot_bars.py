"""The two bars of a spot on the first page: everything on, everything off. In: volts. Out: SVG text."""

from __future__ import annotations

from logger.metrology.rounding import fixed, plain
from logger.report.document.figures.svg import (
    INK,
    ORANGE,
    QUIET,
    RULE,
    SKY_BLUE,
    SMALL,
    TARGET_DASH,
    VERMILLION,
    Canvas,
    text_width,
    ticks,
)
from logger.translation import tr

WIDTH = 230.0
"""Of a spot's bars and of their legend, in the picture's units; the two stand in one column."""


def spot_bars_svg(
    name: str, title: str, on_volts: float | None, off_volts: float | None, target_volts: float, scale_volts: float
) -> str:  # fmt: skip
    """Draw two bars, on above off, with the target as a dashed line.

    Args:
        name: an id that no other picture of the page has.
        title: what is read aloud.
        on_volts: None where it was not read.
        off_volts: likewise.
        target_volts: where the dashed line is.
        scale_volts: the end of the scale, which all spots share.
    """
    height = 20.0
    values = []
    if on_volts is not None:
        values.append(tr("on {volts} V").format(volts=fixed(on_volts, 3)))
    if off_volts is not None:
        values.append(tr("off {volts} V").format(volts=fixed(off_volts, 3)))
    description = tr("{values}; target {target} V; scale to {scale} V.").format(
        values=", ".join(values), target=plain(target_volts), scale=plain(scale_volts)
    )
    canvas = Canvas(WIDTH, height, name, title, description)
    per_volt = (WIDTH - 2) / scale_volts
    canvas.line(1, 1, 1, height - 1, RULE)
    if on_volts is not None:
        canvas.box(1, 2, on_volts * per_volt, 8, ORANGE, INK)
    if off_volts is not None:
        canvas.box(1, 12, off_volts * per_volt, 5, SKY_BLUE, INK)
    at = 1 + target_volts * per_volt
    canvas.line(at, 0, at, height, VERMILLION, 1.6, TARGET_DASH)
    return canvas.svg()


def spot_legend_svg(name: str, target_volts: float, scale_volts: float) -> str:
    """Draw what the bars of `spot_bars_svg` mean, and how far their scale goes.

    Args:
        name: an id that no other picture of the page has.
        target_volts: where the dashed line of the bars is.
        scale_volts: the end of their scale.
    """
    height = 26.0
    canvas = Canvas(
        WIDTH,
        height,
        name,
        tr("Key to the bars"),
        tr("Upper bar: everything on. Lower bar: everything off. Dashed line: target {volts} V.").format(
            volts=plain(target_volts)
        ),
    )
    canvas.box(1, 2, 12, 8, ORANGE, INK)
    at = 17.0
    on, off = tr("on"), tr("off")
    canvas.text(at, 10, on, SMALL)
    at += max(text_width(on, SMALL) + 9, 21)
    canvas.box(at, 4, 12, 5, SKY_BLUE, INK)
    canvas.text(at + 16, 10, off, SMALL)
    at += max(text_width(off, SMALL) + 22, 38)
    canvas.line(at, 1, at, 11, VERMILLION, 1.6, "3 1.5")
    target = tr("target {volts} V").format(volts=plain(target_volts))
    canvas.text(at + 5, 10, target, SMALL)
    canvas.line(1, 25, WIDTH - 1, 25, RULE)
    for volts in ticks(scale_volts):
        x = 1 + volts * (WIDTH - 2) / scale_volts
        anchor = "start" if volts == 0 else "end" if volts > 0.97 * scale_volts else "middle"
        canvas.line(x, 22, x, 25, QUIET)
        canvas.text(x, 21, plain(volts) + (" V" if volts > 0.97 * scale_volts else ""), SMALL, QUIET, anchor)
    return canvas.svg()
