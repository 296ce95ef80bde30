"""Tips in lines of their own: Qt draws a plain one in a single line, over half the window and off its edge."""

from __future__ import annotations

import textwrap

LINE_LETTERS = 56
"""Letters of a line of a tip: about a third of the width of a small screen."""


def in_lines(tip: str) -> str:
    """A tip broken between words; lines that it has already stay.

    Args:
        tip: of a part or an action; a single word may be longer than a line.
    """
    return "\n".join(
        textwrap.fill(line, LINE_LETTERS, break_long_words=False, break_on_hyphens=False)
        for line in tip.split("\n")
    )
