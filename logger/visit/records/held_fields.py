"""What held at a moment: a later entry changes nothing of before, but completes what was empty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any, TypeVar

Entered = TypeVar("Entered")


def held_at(entered: Sequence[tuple[int, Entered]], utc_ns: int, nothing: Entered) -> Entered:
    """What held at a moment; for a field that was empty then, what was entered for it first since.

    Args:
        entered: each entry with the UTC ns at which it was made, oldest first.
        utc_ns: the moment, UTC ns.
        nothing: the dataclass with all its fields empty.
    """
    before = [value for entered_ns, value in entered if entered_ns <= utc_ns]
    held = before[-1] if before else nothing
    later = [value for entered_ns, value in entered if entered_ns > utc_ns]
    completed: dict[str, Any] = {}
    for name in (field.name for field in fields(nothing) if field.compare):  # type: ignore[arg-type]
        empty = getattr(nothing, name)
        if getattr(held, name) == empty:
            given = [value for entry in later if (value := getattr(entry, name)) != empty]
            completed |= {name: given[0]} if given else {}
    return replace(held, **completed)  # type: ignore[type-var]
