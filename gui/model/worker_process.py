"""One piece of long work in a process of its own: the window stays alive, sees how far it is, and can call it off.

A thread would take turns with the window at Python, and the window would stutter.
"""

from __future__ import annotations

from collections.abc import Callable
from multiprocessing import get_context
from multiprocessing.connection import Connection
from typing import Any, Protocol

from logger.errors import StillvoltError

ProgressCallback = Callable[[str], None]
CancelRequested = Callable[[], bool]

Work = Callable[[ProgressCallback, CancelRequested], Any]
"""To be pickled: a module's function, or a `partial` of one."""


class Job(Protocol):
    """Work that has begun."""

    says: str
    """How far it is, in a few words."""
    done: bool
    result: Any
    refusal: str
    """Why there is no result; empty when nothing is wrong."""

    def poll(self) -> bool:
        """Take in what it has told; whether anything is new."""
        ...

    def call_off(self) -> None:
        """Ask it to end; it keeps what it has."""
        ...

    def kill(self) -> None:
        """End it at once, as when the window closes."""
        ...


class WorkerProcess:
    """See `Job`; in a process of its own.

    Args:
        work: what is done; it is given a way to tell how far it is, and to ask whether it is called off.
    """

    def __init__(self, work: Work) -> None:
        self.says, self.done, self.result, self.refusal = "", False, None, ""
        context = get_context("spawn")
        self._ours, theirs = context.Pipe()
        self._process = context.Process(target=_carry_out, args=(work, theirs), daemon=True)
        self._process.start()
        theirs.close()

    def poll(self) -> bool:
        """See `Job`."""
        news = False
        try:
            while not self.done and self._ours.poll():
                self._take(*self._ours.recv())
                news = True
        except (EOFError, OSError):
            self.done, news = True, True
            self.refusal = "It was ended from outside before it was done. Try again."
        return news

    def call_off(self) -> None:
        """See `Job`."""
        if not self.done:
            try:
                self._ours.send("call off")
            except OSError:  # it has ended just now; `poll` tells how
                return

    def kill(self) -> None:
        """See `Job`."""
        if not self.done:
            self._process.terminate()
            self.done = True

    def _take(self, kind: str, what: Any) -> None:
        if kind == "told":
            self.says = what
            return
        self.done = True
        if kind == "done":
            self.result = what
        else:
            self.refusal = what


def _carry_out(work: Work, connection: Connection) -> None:
    """In the other process."""
    asked_to_end = False

    def called_off() -> bool:
        nonlocal asked_to_end
        asked_to_end = asked_to_end or connection.poll()
        return asked_to_end

    def told(text: str) -> None:
        connection.send(("told", text))

    try:
        connection.send(("done", work(told, called_off)))
    except StillvoltError as error:
        connection.send(("refused", str(error)))
    except OSError as error:  # such as no room, or the window was closed
        connection.send(("refused", f"The system refuses ({error.strerror})."))
