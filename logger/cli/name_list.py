"""Names in one word of the command line."""

from __future__ import annotations


def names_in(text: str) -> list[str]:
    """Names joined by commas: 'Bedroom, Study' gives ['Bedroom', 'Study']."""
    return [name.strip() for name in text.split(",") if name.strip()]
