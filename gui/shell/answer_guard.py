"""Which key answers a question: none that was pressed for what was there before it.

In: when a question opened, whether it opened by itself, and the keys that come. Out: whether a key counts now.
"""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from logger.clock import NS_PER_S, Clock

ENTER_KEYS = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
ANSWER_KEYS = (Qt.Key.Key_Space, *ENTER_KEYS)

OWN_GUARD_S = 0.5
"""After a question that the user's own key opened, seconds: a second press of that key. No source, ours."""

UNASKED_GUARD_S = 1.5
"""After a question that opened by itself, and after each key that was typed into it since, seconds: whoever types
without a look at the screen goes on for so long. No source, ours."""

_PASSING = (
    Qt.Key.Key_Tab, Qt.Key.Key_Backtab, Qt.Key.Key_Shift, Qt.Key.Key_Control, Qt.Key.Key_Alt, Qt.Key.Key_AltGr,
    Qt.Key.Key_Meta,
)  # fmt: skip
"""Keys that neither answer nor choose."""


class AnswerGuard:
    """Keeps stray keys from a question.

    Args:
        clock: injected time.
    """

    def __init__(self, clock: Clock) -> None:
        self.clock = clock
        self.is_unasked = False
        """The question opened by itself, not by the user's own key or click."""
        self._until_ns = clock.steady_ns()

    def begin(self, *, is_unasked: bool) -> None:
        """Note that a question has opened now.

        Args:
            is_unasked: it opened by itself.
        """
        self.is_unasked = is_unasked
        self._wait(UNASKED_GUARD_S if is_unasked else OWN_GUARD_S)

    def is_on(self) -> bool:
        """Whether the question has only just opened."""
        return self.clock.steady_ns() < self._until_ns

    def refuses(self, event: QKeyEvent) -> bool:
        """Whether a key does not count, since it was pressed for what was there before."""
        if event.key() in ANSWER_KEYS and event.isAutoRepeat():
            return True  # still held
        if not self.is_on() or event.key() in _PASSING:
            return False
        if self.is_unasked and event.text().isalnum():
            self._wait(UNASKED_GUARD_S)  # a name is being typed, and its Enter is still to come
        return self.is_unasked or event.key() in ANSWER_KEYS

    def _wait(self, seconds: float) -> None:
        self._until_ns = self.clock.steady_ns() + round(seconds * NS_PER_S)
