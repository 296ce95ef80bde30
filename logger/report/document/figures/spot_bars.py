"""The two bars of a spot on the first page: everything on, everything off. In: volts. Out: SVG text."""

from __future__ import annotations

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
    ticks,
)

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
    values = [
        f"{word} {volts:.3f} V" for word, volts in (("on", on_volts), ("off", off_volts)) if volts is not None
    ]
    canvas = Canvas(
        WIDTH,
        height,
        name,
        title,
        f"{', '.join(values)}; target {target_volts:g} V; scale to {scale_volts:g} V.",
    )
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
        "Key to the bars",
        f"Upper bar: everything on. Lower bar: everything off. Dashed line: target {target_volts:g} V.",
    )
    canvas.box(1, 2, 12, 8, ORANGE, INK)
    canvas.text(17, 10, "on", SMALL)
    canvas.box(38, 4, 12, 5, SKY_BLUE, INK)
    canvas.text(54, 10, "off", SMALL)
    canvas.line(76, 1, 76, 11, VERMILLION, 1.6, "3 1.5")
    canvas.text(81, 10, f"target {target_volts:g} V", SMALL)
    canvas.line(1, 25, WIDTH - 1, 25, RULE)
    for volts in ticks(scale_volts):
        x = 1 + volts * (WIDTH - 2) / scale_volts
        anchor = "start" if volts == 0 else "end" if volts > 0.97 * scale_volts else "middle"
        canvas.line(x, 22, x, 25, QUIET)
        canvas.text(x, 21, f"{volts:g}" + (" V" if volts > 0.97 * scale_volts else ""), SMALL, QUIET, anchor)
    return canvas.svg()
