"""A picture as inline SVG: a few shapes on a canvas, with a title and a description for those who cannot see it.

Every colour and size is an attribute of its shape: styles of the page do not reach into the pictures of a PDF.
Coordinates are in the picture's own units; text is of `TEXT` units unless another size is given.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from itertools import pairwise

from logger.plain_text import isolated

INK = "#1F2328"
QUIET = "#57606A"
RULE = "#B9B4A7"
GRID = "#E4E0D6"
# Okabe and Ito's colours, as in the window: of shapes only, never of text.
BLUISH_GREEN = "#009E73"
SKY_BLUE = "#56B4E9"
BLUE = "#0072B2"
VERMILLION = "#D55E00"
REDDISH_PURPLE = "#CC79A7"
ORANGE = "#E69F00"

TARGET_DASH = "5 2.5"
"""Of the line of the target, in every picture."""

TEXT = 11.0
SMALL = 10.0
"""Of scales and keys: 8 points in print."""

PHONE_WIDTH = 310.0
"""Of a picture that has a phone's width: its letters are a little larger there than in its own units."""

FONT = "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"

CHARACTER = 0.56
"""Mean width of a character over the size of its text, rather too wide than too narrow."""


class Canvas:
    """Shapes one after the other.

    Args:
        width: in the picture's units.
        height: likewise.
        name: an id that no other picture of the page has.
        title: what is read aloud instead of the picture.
        description: what is read aloud after the title.
    """

    def __init__(self, width: float, height: float, name: str, title: str, description: str) -> None:
        self.width, self.height = width, height
        self._head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(width)} {_n(height)}" '
            f'width="{_n(width)}" height="{_n(height)}" font-family="{FONT}" role="img" '
            f'aria-labelledby="{name}-t {name}-d">'
            f'<title id="{name}-t">{escape(isolated(title))}</title>'
            f'<desc id="{name}-d">{escape(isolated(description))}</desc>'
        )
        self._parts: list[str] = []

    def line(
        self,
        x1: float,
        y1: float,
        x2: float,
        y2: float,
        stroke: str = INK,
        width: float = 1.0,
        dash: str = "",
    ) -> None:
        """Add a straight line.

        Args:
            x1: where it begins.
            y1: likewise.
            x2: where it ends.
            y2: likewise.
            stroke: colour.
            width: of the line.
            dash: lengths of dashes and gaps as in SVG ('4 3'); empty for a whole line.
        """
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self._parts.append(
            f'<path d="M{_n(x1)} {_n(y1)}L{_n(x2)} {_n(y2)}" stroke="{stroke}" stroke-width="{_n(width)}"{dashed}/>'
        )

    def box(self, x: float, y: float, width: float, height: float, fill: str, stroke: str = "") -> None:
        """Add a filled rectangle.

        Args:
            x: left edge.
            y: upper edge.
            width: below 0 it counts as 0.
            height: likewise.
            fill: colour.
            stroke: colour of the edge; empty for none.
        """
        edge = f' stroke="{stroke}" stroke-width="0.8"' if stroke else ""
        size = f'width="{_n(max(width, 0.0))}" height="{_n(max(height, 0.0))}"'
        self._parts.append(f'<rect x="{_n(x)}" y="{_n(y)}" {size} fill="{fill}"{edge}/>')

    def polyline(
        self, pieces: Iterable[Iterable[tuple[float, float]]], stroke: str = INK, width: float = 0.8
    ) -> None:
        """Add points joined by lines.

        Args:
            pieces: each a row of points; two pieces are not joined.
            stroke: colour.
            width: of the line.
        """
        path = "".join(_joined_points(points) for piece in pieces if (points := list(piece)))
        if path:
            self._parts.append(
                f'<path d="{path}" fill="none" stroke="{stroke}" stroke-width="{_n(width)}" stroke-linejoin="round"/>'
            )

    def area(self, points: Iterable[tuple[float, float]], fill: str) -> None:
        """Add a filled polygon."""
        path = "L".join(f"{_n(x)} {_n(y)}" for x, y in points)
        self._parts.append(f'<path d="M{path}Z" fill="{fill}"/>')

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float = TEXT,
        fill: str = INK,
        anchor: str = "start",
    ) -> None:
        """Add text on a base line.

        Args:
            x: where the anchor is.
            y: of the base line.
            text: in plain characters.
            size: of the letters.
            fill: colour.
            anchor: start, middle or end.
        """
        self._parts.append(
            f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(size)}" fill="{fill}" '
            f'text-anchor="{anchor}">{escape(isolated(text))}</text>'
        )

    def svg(self, *, stretches: bool = False) -> str:
        """Return the whole picture.

        Args:
            stretches: it fills whatever width the page gives it, and keeps its height; not for one with text.
        """
        head = (
            self._head.replace(' role="img"', ' preserveAspectRatio="none" role="img"', 1)
            if stretches
            else self._head
        )
        return f"{head}{''.join(self._parts)}</svg>"


def text_width(text: str, size: float = TEXT) -> float:
    """Return about how wide a text is."""
    return len(text) * CHARACTER * size


def wrapped(text: str, width: float, size: float = TEXT) -> list[str]:
    """Part a text at its blanks.

    Args:
        text: in plain characters.
        width: of the widest line, where no single word is wider.
        size: of the letters.

    Returns:
        The lines.
    """
    lines: list[str] = []
    for word in text.split():
        if lines and text_width(f"{lines[-1]} {word}", size) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def round_scale(highest: float) -> float:
    """Return the round number at or above `highest` that a scale goes to."""
    step = 1e-3
    while True:
        for factor in (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0):
            if highest <= factor * step * (1 + 1e-9):
                return factor * step
        step *= 10.0


def ticks(scale: float) -> list[float]:
    """Return round numbers from 0 to the scale's end, four to seven of them."""
    step = round_scale(scale / 5.0)
    count = int(scale / step + 1e-6)
    return [i * step for i in range(count + 1)]


def _joined_points(points: Sequence[tuple[float, float]]) -> str:
    """The path through points, each from the one before it: a trace of hundreds is half as long as with all places."""
    tenths = [(round(10 * x), round(10 * y)) for x, y in points]
    (x, y), steps = tenths[0], pairwise(tenths)
    moves = " ".join(f"{_n((x2 - x1) / 10)} {_n((y2 - y1) / 10)}" for (x1, y1), (x2, y2) in steps)
    # A path needs no blank before a minus, and no nought before a point.
    moves = moves.replace("-0.", "-.").replace(" 0.", " .").replace(" -", "-")
    return f"M{_n(x / 10)} {_n(y / 10)}" + (f"l{moves}" if moves else "")


def _n(value: float) -> str:
    """Write a number as short as it can be."""
    return f"{value:.1f}".rstrip("0").rstrip(".") if value % 1 else f"{value:.0f}"
