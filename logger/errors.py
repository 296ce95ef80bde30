"""The one kind of error that reaches a user."""

from __future__ import annotations


class StillvoltError(Exception):
    """Something a user must be told, in up to three short sentences.

    Args:
        what: what happened.
        kept: what is safe ("Nothing was changed.", "The log up to 03:12 is kept.").
        next_step: what to do now.
    """

    def __init__(self, what: str, kept: str = "", next_step: str = "") -> None:
        super().__init__(" ".join(part for part in (what, kept, next_step) if part))
        self.what = what
        self.kept = kept
        self.next_step = next_step
