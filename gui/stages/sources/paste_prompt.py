"""What is asked before a pasted table is entered: what would be added and changed, and what of it is not clear."""

from __future__ import annotations

from collections.abc import Callable

from gui.model.circuit_entry import COLUMNS, CircuitEntry, Column
from gui.model.circuit_list_edits import CircuitListEdits, Wanted
from gui.model.circuit_paste import PastePlan
from gui.shell.question import Choice, Question
from logger.name_list import listed
from logger.translation import tr, tr_n

MAX_SHOWN = 10
"""So many rows are shown one by one; the buttons are in sight below them."""


def paste_prompt(plan: PastePlan, edits: CircuitListEdits, then: Callable[[], None]) -> Question:
    """Ask whether a pasted table shall be entered.

    Args:
        plan: what it would do.
        edits: enters it, as one step to undo.
        then: done once it is entered.
    """
    counts = _counts(plan)

    def enter() -> None:
        done = " ".join([tr("Pasted. {counts}").format(counts=counts), *plan.notes])
        undone = tr("What was pasted is taken back.")
        edits.enter(plan.wanted, tr("paste circuits"), done, undone)
        then()

    renamed = [
        tr("“{name}” is named “{now}”: it has the same number. Its readings stay with it.").format(
            name=row.source.name, now=row.entry.name
        )
        for row in plan.wanted
        if row.source is not None and row.entry.name != row.source.name
    ]
    freed = [
        tr("“{name}” would no longer count as staying on.").format(name=row.source.name)
        for row in plan.wanted
        if row.source is not None and row.source.stays and row.entry.stays == ""
    ]
    lines = [_line(row, edits) for row in plan.wanted[:MAX_SHOWN]]
    if len(plan.wanted) > MAX_SHOWN:
        rest = len(plan.wanted) - MAX_SHOWN
        lines.append(tr_n("... and {n} more.", "... and {n} more.", rest).format(n=rest))
    return Question(
        tr("Paste this table?"),
        "\n".join([counts, *freed, *renamed, *plan.notes, "", *lines]),
        (Choice(tr("Enter it; undo takes it back"), enter),),
    )


def _counts(plan: PastePlan) -> str:
    added, changed, same = plan.added, plan.changed, plan.unchanged
    parts = []
    if added:
        parts.append(tr_n("{n} circuit is added.", "{n} circuits are added.", added).format(n=added))
    if changed:
        parts.append(tr_n("{n} row is changed.", "{n} rows are changed.", changed).format(n=changed))
    if same:
        parts.append(tr_n("{n} row stays as it is.", "{n} rows stay as they are.", same).format(n=same))
    return " ".join(parts)


def _line(row: Wanted, edits: CircuitListEdits) -> str:
    """A row of what is pasted: all of a new one, of another what is changed."""
    if row.source is None:
        return tr("New: {circuit}").format(circuit=listed(_texts(row.entry)))
    before, after = edits.entry_of(row.source), row.entry
    changes = [
        tr("{column} {text}").format(column=column.shown, text=after.text(column) or tr("empty"))
        for column in COLUMNS
        if after.text(column) != before.text(column)
    ]
    return tr("Changed: “{name}”: {changes}").format(name=row.source.name, changes=listed(changes))


def _texts(entry: CircuitEntry) -> list[str]:
    """What a row has, in the order of the columns; two poles and why it stays on by their headings."""
    texts = [entry.text(column) for column in COLUMNS if column not in (Column.TWO_POLE, Column.STAYS)]
    if entry.two_pole:
        texts.append(tr("two-pole"))
    if entry.stays:
        texts.append(tr("stays on: {why}").format(why=entry.text(Column.STAYS)))
    return [text for text in texts if text]
