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


def described_at(entered: Sequence[tuple[int, Entered]], utc_ns: int, nothing: Entered) -> Entered:
    """What a description was at a moment: a later entry completes it as a whole, as long as it changes nothing of it.

    Args:
        entered: each entry with the UTC ns at which it was made, oldest first.
        utc_ns: the moment, UTC ns.
        nothing: the dataclass with all its fields empty.
    """
    before = [value for entered_ns, value in entered if entered_ns <= utc_ns]
    held = before[-1] if before else nothing
    for later in (value for entered_ns, value in entered if entered_ns > utc_ns):
        if not completes(later, held, nothing):
            break
        held = later
    return held


def completes(later: Entered, earlier: Entered, nothing: Entered) -> bool:
    """Whether a later entry changes nothing that an earlier one has.

    Args:
        later: the one.
        earlier: the other.
        nothing: the dataclass with all its fields empty.
    """
    names = [field.name for field in fields(nothing) if field.compare]  # type: ignore[arg-type]
    known = [name for name in names if getattr(earlier, name) != getattr(nothing, name)]
    return all(getattr(later, name) == getattr(earlier, name) for name in known)
