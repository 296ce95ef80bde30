"""What every part of the visit's controller works on: the open log, what is known of it, and the last outcome."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from gui.model.visit_snapshot import VisitSnapshot
from logger.clock import Clock, SystemClock
from logger.errors import StillvoltError
from logger.translation import marked, tr
from logger.visit import VisitLog

NOTHING_RECORDED = marked("Nothing is being recorded. Stage 1, Connect, starts it.")
"""Why nothing can be taken before a recording."""


@dataclass(frozen=True, slots=True)
class Message:
    """A sentence to the user now: the outcome of the last action."""

    text: str
    refused: bool = False
    """The action was not carried out."""
    is_progress: bool = False
    """How far something is: it is renewed every second or so."""
    beside: str = ""
    """What stands beside it on the page, for who cannot see that: why a check failed, what the next step is."""

    def spoken(self) -> str:
        """The sentence with what stands beside it, as a screen reader says it."""
        return f"{self.text.removesuffix('.')}. {self.beside}" if self.beside else self.text


class VisitAccess:
    """An open visit log, what is known of it, and the outcome of the last action.

    Args:
        log: open visit log.
        clock: injected time.
    """

    def __init__(self, log: VisitLog, clock: Clock | None = None) -> None:
        self.log = log
        self.clock = clock or SystemClock()
        self.snapshot = VisitSnapshot(log, clock)
        self.message = Message("")
        self.after_action: list[Callable[[], None]] = []
        """Called after each action, whether it was carried out or refused."""

    def do(self, action: Callable[[], str]) -> bool:
        """Change the log; what the action returns, or why it was refused, becomes the message to the user.

        Returns:
            Whether the action was carried out.
        """
        carried_out = False
        try:
            self.message = Message(action())
            carried_out = True
            self.snapshot.refresh(force=True)
        except StillvoltError as error:
            self.message = Message(str(error), refused=True)
        except OSError as error:  # such as no room on the disk
            self.message = Message(
                tr("The system refuses ({reason}). Nothing was changed.").format(reason=error.strerror),
                refused=True,
            )
        for call in self.after_action:
            call()
        return carried_out

    def refuse(self, text: str) -> None:
        """Answer an action with the reason why it was not carried out."""
        self.message = Message(text, refused=True)
