"""Takes out of a table the columns that say next to nothing, and says in a line what stood in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from logger.name_list import in_turn, listed
from logger.report.document.blocks import TableBlock
from logger.report.document.wording import NBSP
from logger.translation import marked, tr

DASH = "–"
"""Of a cell: there is nothing to say."""

WITHOUT_ANSWER = (marked("not recorded"), marked("not known yet"), marked("not stated"))
"""Of a cell: it could have been answered."""

MAX_FILLED = 0.3
"""Of the cells of a column that goes: a reader finds the few faster in a line than in a column of blanks."""

MIN_ROWS = 6
"""A shorter table is seen at once, whatever stands in it."""


def says_nothing(cell: str) -> bool:
    """Whether a cell has no answer."""
    return cell.replace(NBSP, " ") in ("", DASH, *map(tr, WITHOUT_ANSWER))


def condensed(table: TableBlock) -> tuple[TableBlock, tuple[str, ...]]:
    """Return the table without nearly empty columns, and a sentence on each of those that had something.

    The first column and those of numbers stay. Nothing is left out where two rows have the same head, since the
    sentence names rows by it.

    Args:
        table: as the section has it.
    """
    kept, sentences = [], []
    names = [row[0] for row in table.rows]
    for place, head in enumerate(table.heads):
        cells = [row[place] for row in table.rows]
        filled = sum(not says_nothing(cell) for cell in cells)
        is_sparse = (
            place not in table.numbers
            and len(cells) >= MIN_ROWS
            and filled <= MAX_FILLED * len(cells)
            and len(set(names)) == len(names)
        )
        if not cells or place == 0 or (any(cells) and not is_sparse):
            kept.append(place)
        elif filled:
            sentences.append(_in_a_line(head, names, cells))
        elif answers := {cell for cell in cells if cell not in ("", DASH)}:
            sentences.append(tr("{column}: {value}.").format(column=head, value=listed(sorted(answers))))
    if len(kept) == len(table.heads):
        return table, ()
    return (
        replace(
            table,
            heads=tuple(table.heads[place] for place in kept),
            rows=tuple(tuple(row[place] for place in kept) for row in table.rows),
            numbers=frozenset(new for new, place in enumerate(kept) if place in table.numbers),
        ),
        tuple(sentences),
    )


def _in_a_line(head: str, names: Sequence[str], cells: Sequence[str]) -> str:
    """Write what stands in a column: each answer with the rows that have it."""
    found: dict[str, list[str]] = {}
    for name, cell in zip(names, cells, strict=True):
        if not says_nothing(cell):
            found.setdefault(cell, []).append(name)
    answers = in_turn(
        [
            tr("{value} ({names})").format(value=value.rstrip("."), names=listed(of))
            for value, of in found.items()
        ]
    )
    unanswered = sorted({cell for cell in cells if says_nothing(cell) and cell not in ("", DASH)})
    if unanswered:
        text = tr("{column}: {unanswered}, but for these: {answers}.")
        return text.format(column=head, unanswered=listed(unanswered), answers=answers)
    return tr("{column}, only of these: {answers}.").format(column=head, answers=answers)
