"""Conditions that name circuits and cords, by the sweep: 'only Kitchen on', 'everything on, without Lamp'."""

from __future__ import annotations

import re

NAMED = re.compile(
    r"(?:only (?P<circuits>.+?) (?P<state>on|off)|everything on|everything off)(?:, without (?P<out>.+))?"
)
"""The label of a condition that was stated one by one, as `logger.sweep.sweep_progress.combination_of` writes it."""


def form_of_named(condition: str) -> str | None:
    """What of such a label is not a name; None where the text is none, or names nothing.

    Args:
        condition: as the log keeps it.
    """
    match = NAMED.fullmatch(condition)
    if match is None or (match["circuits"], match["out"]) == (None, None):
        return None
    form = condition
    for part in ("out", "circuits"):  # the last part first: the places before it stay
        if match[part] is not None:
            form = f"{form[: match.start(part)]}\0{form[match.end(part) :]}"
    return form
