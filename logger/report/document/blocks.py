"""What a section of the report is made of. The template knows how each kind is drawn; the parts fill them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from logger.metrology.uncertainty import Budget


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph."""

    kind: ClassVar[str] = "text"
    said: str


@dataclass(frozen=True, slots=True)
class Items:
    """A list."""

    kind: ClassVar[str] = "items"
    said: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pairs:
    """Names with what is stated of them."""

    kind: ClassVar[str] = "pairs"
    pairs: tuple[tuple[str, str], ...]


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
    """Has many columns: set smaller."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture with what it shows."""

    kind: ClassVar[str] = "figure"
    svg: str
    caption: str


@dataclass(frozen=True, slots=True)
class Figures:
    """Small pictures side by side."""

    kind: ClassVar[str] = "figures"
    figures: tuple[Figure, ...]


@dataclass(frozen=True, slots=True)
class HeadingBlock:
    """Begins a part of a section."""

    kind: ClassVar[str] = "heading"
    said: str


Block = Text | Items | Pairs | TableBlock | Figure | Figures | HeadingBlock


@dataclass(frozen=True, slots=True)
class Section:
    """A section with its heading."""

    id: str
    title: str
    blocks: tuple[Block, ...]


NBSP = "\N{NO-BREAK SPACE}"

EXPANDED = f"U, k{NBSP}={NBSP}2"
"""Head of a column of expanded uncertainties."""


def joined(words: Sequence[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def counted(count: int, thing: str, things: str = "") -> str:
    """'1 gap', '3 gaps'; `things` where an s does not make the plural."""
    return f"{count:,} {thing if count == 1 else things or f'{thing}s'}"


def value_text(budget: Budget) -> str:
    """For a lay reader: '0.27 V ± 0.02 V', never ± 0."""
    return f"{budget.volts:.2f} V ± {max(budget.expanded_volts, 0.01):.2f} V".replace(" ", NBSP)


def signed(volts: float) -> str:
    """'+0.0123', '−0.0123'."""
    return f"{'−' if volts < 0 else '+'}{abs(volts):.4f}"


def moment(when: datetime) -> str:
    """'14 Oct 2026, 15:05:09', never parted."""
    return f"{when.day} {when:%b %Y, %H:%M:%S}".replace(" ", NBSP)


def day(when: datetime) -> str:
    """'14 October 2026'."""
    return f"{when.day} {when:%B %Y}"
