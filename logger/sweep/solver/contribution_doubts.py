"""Why what a single circuit gives is not confirmed, from what the readings of the sweep cannot show.

In: what was live in each row, and the rows that may have been exchanged. Out: a doubt for each circuit that has one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

EXCHANGED_DOUBT = "not confirmed: a reading that it rests on may have been exchanged"
"""Stands behind what a circuit gives, after a comma."""


def exchange_doubts(
    circuits: Sequence[str], rows: Sequence[frozenset[str]], exchangeable: Sequence[tuple[int, int]]
) -> Mapping[str, str]:
    """The circuits of which an exchange that nothing shows changes what they give, each with the doubt in words.

    Args:
        circuits: names on the panel.
        rows: what was live in each reading, in their order.
        exchangeable: numbers of the rows that may have been exchanged, two by two, from 1.
    """
    if not exchangeable:
        return {}
    least = min(rows, key=len)
    doubted: set[str] = set()
    for pair in exchangeable:
        one, other = (rows[number - 1] for number in pair)
        # Each circuit is what its readings are above those with the least on.
        doubted |= set(circuits) if least in (one, other) else one ^ other
    return {name: EXCHANGED_DOUBT for name in circuits if name in doubted}


def read_once(circuits: Sequence[str], rows: Sequence[frozenset[str]]) -> list[str]:
    """The circuits that were live in one reading only, beside those of everything on.

    Args:
        circuits: names on the panel.
        rows: what was live in each reading.
    """
    partial = [row for row in rows if len(row) < len(circuits)]
    return [name for name in circuits if sum(name in row for row in partial) == 1]


def read_once_line(names: Sequence[str]) -> str:
    """What the figures of circuits that were read once rest on, as a sentence; empty for none.

    Args:
        names: of the circuits.
    """
    if not names:
        return ""
    each = "rests on one reading" if len(names) == 1 else "rests on one reading each"
    return (
        f"What {', '.join(names)} {'gives' if len(names) == 1 else 'give'} {each}, and on the word that exactly the "
        "named circuits were live in it: one that was forgotten need not show."
    )
