"""Words and numbers as the report writes them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from logger.metrology.uncertainty import Budget

NBSP = "\N{NO-BREAK SPACE}"

EXPANDED = f"U, k{NBSP}={NBSP}2"
"""Head of a column of expanded uncertainties."""


def joined(words: Sequence[str]) -> str:
    """Join words: 'a', 'a and b', 'a, b and c'."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def counted(count: int, thing: str, things: str = "") -> str:
    """Write a number with what it counts: '1 gap', '3 gaps'.

    Args:
        count: how many.
        thing: the singular.
        things: the plural; empty where an s makes it.
    """
    return f"{count:,} {thing if count == 1 else things or f'{thing}s'}"


def value_text(budget: Budget) -> str:
    """Write a value for a lay reader: '0.27 V ± 0.02 V', never ± 0."""
    return f"{budget.volts:.2f} V ± {max(budget.expanded_volts, 0.01):.2f} V".replace(" ", NBSP)


def signed(volts: float) -> str:
    """Write a difference: '+0.0123', '−0.0123'."""
    return f"{'−' if volts < 0 else '+'}{abs(volts):.4f}"


def moment(when: datetime) -> str:
    """Write a moment: '14 Oct 2026, 15:05:09', with spaces that do not break."""
    return f"{when.day} {when:%b %Y, %H:%M:%S}".replace(" ", NBSP)


def day(when: datetime) -> str:
    """Write a day: '14 October 2026'."""
    return f"{when.day} {when:%B %Y}"
