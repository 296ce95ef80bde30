"""What the groups of the window's actions have in common."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gui.window import Window


class Actions:
    """Actions behind keys: they ask in the window's question panel and act on its session.

    Args:
        window: whole but for its actions.
    """

    def __init__(self, window: Window) -> None:
        self.window = window
        self.session = window.session
        self.question = window.question
        self.sounds = window.sounds
        self.bottom = window.bottom
