"""Several names in one line of text: as a person types them, and as a sentence lists them."""

from __future__ import annotations

import csv
from collections.abc import Sequence

from logger.errors import StillvoltError

QUOTE = '"'
"""Stands around a name that has a comma."""


def names_in(text: str) -> list[str]:
    """Split names that are joined by commas: 'Bedroom, Study' gives ['Bedroom', 'Study'].

    A name that has a comma itself is written in double quotes, as in a CSV file: '"Kitchen, left", Study'.

    Raises:
        StillvoltError: a quote that is opened is not closed, or text follows the closing one.
    """
    try:
        rows = list(csv.reader(text.splitlines(), skipinitialspace=True, strict=True))
    except csv.Error as error:
        raise StillvoltError(
            f"The names {text!r} have a quote that is not closed, or text right behind one.",
            "Nothing was changed.",
            'Write a name that has a comma in quotes: "Kitchen, left", Study.',
        ) from error
    return [" ".join(name.split()) for names in rows for name in names if name.strip()]


def joined(words: Sequence[str]) -> str:
    """Join words: 'a', 'a and b', 'a, b and c'."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
