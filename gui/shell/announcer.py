"""What a screen reader says by itself: outcomes of actions, a value that has settled, a recorder that is lost.

In: a sentence at any time. Out: an announcement of Qt's accessibility, which Qt passes on where a reader is at work.
Nothing is announced every second. What comes too soon waits: each outcome is announced in its turn, of everything else
the newest of its kind alone; of pages that were gone to and of states that go on, after those, what is true by then.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, auto

from PySide6.QtGui import QAccessible, QAccessibleAnnouncementEvent
from PySide6.QtWidgets import QWidget

from gui.model.visit_access import Message
from logger.clock import NS_PER_S, Clock

MIN_GAP_S = 1.5
"""Between two announcements, seconds: a reader needs about so long for a short sentence. No source, ours."""


class Kind(Enum):
    """What an announcement is about; except of outcomes, the newest of a kind makes those that wait untrue."""

    OUTCOME = auto()
    SPOT = auto()
    BUTTON = auto()
    SWITCHING = auto()


@dataclass(frozen=True)
class _Waiting:
    """An announcement whose turn has not come."""

    kind: Kind
    text: Callable[[], str]
    """Gives the sentence as it is when its turn comes; empty where there is nothing to say any more."""
    key: str = ""
    """Of an outcome its sentence: the same one does not wait twice."""


class Announcer:
    """The one place that announces.

    Args:
        window: whose announcements they are.
        clock: injected time.
    """

    def __init__(self, window: QWidget, clock: Clock) -> None:
        self._window = window
        self._clock = clock
        self._happened: list[_Waiting] = []
        self._state: Callable[[], str] | None = None
        self._page: Callable[[], str] | None = None
        self._free_ns = clock.steady_ns()
        """From when on the next one may be announced."""
        self._message: Message | None = None

    def announce(self, text: str, is_true: Callable[[], bool] = lambda: True) -> None:
        """Announce an outcome, in its turn, as soon as the sentence before has had its time.

        Args:
            text: the sentence.
            is_true: asked when its turn comes; where it is not, the sentence is left out.
        """
        if text and all(text != waiting.key for waiting in self._happened):
            self._happened.append(_Waiting(Kind.OUTCOME, lambda: text if is_true() else "", text))
            self.poll()

    def announce_newest(self, kind: Kind, text: Callable[[], str]) -> None:
        """Announce something in its turn, instead of what still waits of the same kind.

        Args:
            kind: what it is about.
            text: gives the sentence as it is when its turn comes; empty where there is nothing to say any more.
        """
        self._happened = [waiting for waiting in self._happened if waiting.kind is not kind]
        self._happened.append(_Waiting(kind, text))
        self.poll()

    def announce_state(self, text: Callable[[], str]) -> None:
        """Announce a state that goes on, unless another one takes its place first.

        Args:
            text: gives the sentence of the state that it is in when its turn comes; empty where that is not announced.
        """
        self._state = text
        self.poll()

    def announce_page(self, text: Callable[[], str]) -> None:
        """Announce what can be done on the page that was gone to, unless another one is shown first.

        Args:
            text: gives the sentence as it is when its turn comes; empty where there is nothing to say any more.
        """
        self._page = text
        self.poll()

    def drop_page(self) -> None:
        """The user has acted: what could be done before that is announced no more."""
        self._page = None

    def follow(self, message: Message) -> None:
        """Announce the outcome of an action, once; progress is left out, since it comes every second."""
        if message is not self._message:
            self._message = message
            if not message.is_progress:
                self.announce(message.spoken())

    def poll(self) -> None:
        """Announce what waits, if it is time."""
        now_ns = self._clock.steady_ns()
        if now_ns < self._free_ns:
            return
        text = self._next_text()
        if not text:
            return
        self._free_ns = now_ns + round(MIN_GAP_S * NS_PER_S)
        self._emit(text)

    def _next_text(self) -> str:
        """The sentence whose turn it is, taken from those that wait; empty where none is left to say."""
        while self._happened:
            if text := self._happened.pop(0).text():
                return text
        page, self._page = self._page, None
        if page is not None and (text := page()):
            return text
        state, self._state = self._state, None
        return state() if state is not None else ""

    def _emit(self, text: str) -> None:
        """Hand a sentence to Qt."""
        announce_at(self._window, text)


def announce_at(part: QWidget, text: str) -> None:
    """Announce a sentence at once: what a dialog says that the user has just asked for.

    Args:
        part: the dialog.
        text: the sentence; nothing is announced where it is empty.
    """
    if text:
        QAccessible.updateAccessibility(QAccessibleAnnouncementEvent(part, text))
