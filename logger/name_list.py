"""Several names in one line of text: as a person types them, and as a sentence lists them."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from functools import reduce

from logger.errors import StillvoltError
from logger.translation import tr

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
            tr("The names {typed} have a quote that is not closed, or text right behind one.").format(
                typed=repr(text)
            ),
            tr("Nothing was changed."),
            tr('Write a name that has a comma in quotes: "Kitchen, left", Study.'),
        ) from error
    return [" ".join(name.split()) for names in rows for name in names if name.strip()]


def joined(words: Sequence[str]) -> str:
    """Join words as the language that holds does: 'a', 'a and b', 'a, b and c'.

    Args:
        words: what is joined: names, or parts of a sentence that are translated already.
    """
    if len(words) < 2:
        return "".join(words)
    *first, last = words
    if len(first) == 1:
        return tr("{one} and {other}").format(one=first[0], other=last)
    return tr("{names} and {last}").format(names=listed(first), last=last)


def listed(words: Sequence[str]) -> str:
    """Join words by commas alone, as the language that holds does: 'a, b, c'.

    Args:
        words: as for `joined`.
    """
    return (
        reduce(lambda names, name: tr("{names}, {name}").format(names=names, name=name), words)
        if words
        else ""
    )


def in_turn(facts: Sequence[str]) -> str:
    """Put facts one after the other, parted as the language that holds does where they may have commas: 'a; b, c; d'.

    Args:
        facts: parts of a sentence that are translated already.
    """
    return (
        reduce(lambda facts, fact: tr("{facts}; {fact}").format(facts=facts, fact=fact), facts)
        if facts
        else ""
    )


def quoted(name: str) -> str:
    """A name in the quotes of the language that holds, where it stands in a list or by itself; a sentence has its own.

    Args:
        name: as it was typed.
    """
    return tr("“{name}”").format(name=name)
