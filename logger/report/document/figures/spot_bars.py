"""The two bars of a spot on the first page: everything on, everything off. In: volts. Out: SVG text."""

from __future__ import annotations

from logger.metrology.rounding import fixed, plain
from logger.report.document.figures.svg import (
    BLUE,
    INK,
    ORANGE,
    RULE,
    SKY_BLUE,
    SMALL,
    TARGET_DASH,
    VERMILLION,
    Canvas,
    text_width,
)
from logger.translation import tr

WIDTH = 230.0
"""Of a spot's bars, in the picture's units: they are stretched to their column."""

KEY_HEIGHT = 13.0

MIN_BAR = 7.0
"""Of a value above nothing, so that it is seen as a bar; it ends before the target's line if the value is below."""


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
        values.append(tr("on {volts} V").format(volts=fixed(on_volts, 2)))
    if off_volts is not None:
        values.append(tr("off {volts} V").format(volts=fixed(off_volts, 2)))
    description = tr("{values}; target {target} V; scale to {scale} V.").format(
        values=", ".join(values), target=plain(target_volts), scale=plain(scale_volts)
    )
    canvas = Canvas(WIDTH, height, name, title, description)
    per_volt = (WIDTH - 2) / scale_volts
    canvas.line(1, 1, 1, height - 1, RULE)
    # Below the bars, so that it hides none that ends at it.
    at = 1 + target_volts * per_volt
    canvas.line(at, 0, at, height, VERMILLION, 1.6, TARGET_DASH)
    shortest = min(MIN_BAR, 0.8 * target_volts * per_volt)
    if on_volts is not None:
        canvas.box(1, 2, _length(on_volts * per_volt, shortest), 8, ORANGE, INK)
    if off_volts is not None:
        canvas.box(1, 12, _length(off_volts * per_volt, shortest), 5, SKY_BLUE, BLUE)
    return canvas.svg(stretches=True)


def _length(length: float, shortest: float) -> float:
    return max(length, shortest) if length > 0 else 0.0


def spot_key_svg(name: str, target_volts: float) -> str:
    """Draw what the bars of `spot_bars_svg` mean.

    Args:
        name: an id that no other picture of the page has.
        target_volts: where the dashed line of the bars is.
    """
    on, off = tr("on"), tr("off")
    target = tr("target {volts} V").format(volts=plain(target_volts))
    off_at = 17.0 + max(text_width(on, SMALL) + 9, 21)
    line_at = off_at + max(text_width(off, SMALL) + 22, 38)
    canvas = Canvas(
        line_at + text_width(target, SMALL) + 12,
        KEY_HEIGHT,
        name,
        tr("Key to the bars"),
        tr("Upper bar: everything on. Lower bar: everything off. Dashed line: target {volts} V.").format(
            volts=plain(target_volts)
        ),
    )
    canvas.box(1, 2, 12, 8, ORANGE, INK)
    canvas.text(17, 10, on, SMALL)
    canvas.box(off_at, 4, 12, 5, SKY_BLUE, BLUE)
    canvas.text(off_at + 16, 10, off, SMALL)
    canvas.line(line_at, 1, line_at, 11, VERMILLION, 1.6, "3 1.5")
    canvas.text(line_at + 5, 10, target, SMALL)
    return canvas.svg()
