"""What a section of the report is made of; `blocks.html.jinja` has the HTML of each kind."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

MAX_SHORT_LETTERS = 900
"""Of all cells of a table that is not parted."""

MAX_SHORT_ROWS = 9
"""Likewise."""

MAX_SHORT_PAIRS = 5
"""Of a list of pairs that is not parted."""

MIN_COLUMN_ROWS = 16
"""Of a narrow table that is set in two columns on paper."""

MAX_NARROW_LETTERS = 60
"""Of a line of a table that two thirds of the page's width are enough for."""

MANY_COLUMNS = 7
"""Of a table whose cells of a few words can stay in one line."""

MANY_FIGURES = 60
"""From more small pictures on each is smaller: those of a sweep of 40 breakers would fill ten pages."""

MAX_UNFOLDED = 6
"""Of rows or pictures on a phone, where each row is a card: more would be screens that everybody has to pass."""


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph."""

    kind: ClassVar[str] = "text"
    text: str


@dataclass(frozen=True, slots=True)
class Items:
    """A list."""

    kind: ClassVar[str] = "items"
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pairs:
    """Names with what is stated of them."""

    kind: ClassVar[str] = "pairs"
    pairs: tuple[tuple[str, str], ...]

    @property
    def is_short(self) -> bool:
        """Whether no end of a page parts it: about an eighth of a page."""
        return len(self.pairs) <= MAX_SHORT_PAIRS


@dataclass(frozen=True, slots=True)
class TableBlock:
    """A table; the first cell of each row is its head."""

    kind: ClassVar[str] = "table"
    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[int] = frozenset()
    """Columns that hold numbers."""
    small: bool = False
    """Set in smaller letters, for many columns."""

    @property
    def is_folded(self) -> bool:
        """Whether a phone shows it only when it is asked for."""
        return len(self.rows) > MAX_UNFOLDED

    @property
    def wordiest(self) -> int:
        """Which column has most text: a word a line would make its rows the highest of all."""
        return max(range(len(self.heads)), key=lambda place: sum(len(row[place]) for row in self.rows))

    @property
    def max_brief_letters(self) -> int:
        """Of a cell that is not broken: of many columns that are as wide as their text, not all have room."""
        return 20 if len(self.heads) <= MANY_COLUMNS else 12

    @property
    def is_narrow(self) -> bool:
        """Whether the whole width would put its columns so far apart that the eye loses the line."""
        return all(sum(map(len, row)) <= MAX_NARROW_LETTERS for row in (self.heads, *self.rows))

    @property
    def is_in_columns(self) -> bool:
        """Whether paper sets it in two columns, as it would leave half of several pages empty."""
        return self.is_narrow and len(self.rows) >= MIN_COLUMN_ROWS

    @property
    def is_short(self) -> bool:
        """Whether it is so short that no end of a page parts it: about a sixth of a page."""
        return (
            len(self.rows) <= MAX_SHORT_ROWS
            and sum(len(cell) for row in self.rows for cell in row) <= MAX_SHORT_LETTERS
        )


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture with what it shows."""

    kind: ClassVar[str] = "figure"
    svg: str
    caption: str
    narrow_svg: str = ""
    """The same for a phone, of one that stands by itself: the letters of the wide one would be too small there."""


@dataclass(frozen=True, slots=True)
class Figures:
    """Small pictures side by side."""

    kind: ClassVar[str] = "figures"
    figures: tuple[Figure, ...]

    @property
    def is_folded(self) -> bool:
        """Whether a phone shows them only when they are asked for."""
        return len(self.figures) > MAX_UNFOLDED

    @property
    def is_many(self) -> bool:
        """Whether there are so many that four stand beside each other instead of three."""
        return len(self.figures) > MANY_FIGURES


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo with what is read aloud instead of it and what stands below it."""

    jpeg_base64: str
    alt: str
    caption: str


@dataclass(frozen=True, slots=True)
class Photos:
    """Photos side by side."""

    kind: ClassVar[str] = "photos"
    photos: tuple[Photo, ...]

    @property
    def is_folded(self) -> bool:
        """Whether a phone shows them only when they are asked for."""
        return len(self.photos) > MAX_UNFOLDED


@dataclass(frozen=True, slots=True)
class HeadingBlock:
    """Begins a part of a section."""

    kind: ClassVar[str] = "heading"
    text: str


Block = Text | Items | Pairs | TableBlock | Figure | Figures | Photos | HeadingBlock


@dataclass(frozen=True, slots=True)
class Section:
    """A section with its heading."""

    id: str
    title: str
    blocks: tuple[Block, ...]
