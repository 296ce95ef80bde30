"""The edits of a window go with it, in an order in which none is freed twice."""

from __future__ import annotations

import gc
from functools import partial
from weakref import ref

from gui.model.undo_history import UndoableEdit, UndoHistory
from gui.model.visit_access import VisitAccess
from logger.visit import VisitLog


def test_history_in_a_circle_is_emptied_before_it_is_freed(log: VisitLog) -> None:
    history = UndoHistory(VisitAccess(log))
    for name in ("add “Bed”", "add “Desk”"):
        history.remember_edit(UndoableEdit(name, history.undo_name, history.redo_name))
    stack, gone = history.stack, ref(history)
    assert stack.count() == 2
    del history
    gc.collect()
    assert gone() is None
    assert stack.count() == 0


def test_edits_that_can_no_longer_be_redone_are_dropped(log: VisitLog) -> None:
    history = UndoHistory(VisitAccess(log))
    done: list[str] = []
    for name in ("first", "second", "third"):
        history.remember_edit(UndoableEdit(name, partial(done.append, name), history.redo_name))
        if name == "second":
            assert history.undo()
    assert history.undo_name() == "third"
    assert history.undo()
    assert history.undo()
    assert done == ["second", "third", "first"]
    assert history.undo_name() == ""
