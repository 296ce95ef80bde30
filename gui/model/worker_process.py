"""One piece of long work in a process of its own: the window stays alive, shows its progress and can cancel it.

A thread would take turns with the window at Python, and the window would stutter.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from multiprocessing import get_context, parent_process
from multiprocessing.connection import Connection, wait
from typing import Any, Protocol

from logger.errors import StillvoltError
from logger.translation import set_language, shown_language, tr

ProgressCallback = Callable[[str], None]
CancelRequested = Callable[[], bool]

Work = Callable[[ProgressCallback, CancelRequested], Any]
"""Reports its progress in a few words, looks now and then whether it is to be cancelled, and returns its result.

It is pickled: a function of a module, or a `partial` of one.
"""


class Job(Protocol):
    """Work that has begun."""

    progress: str
    """How far it is, in a few words."""
    done: bool
    result: Any
    """What the work returned; None before it is done."""
    refusal: str
    """Why there is no result; empty when nothing is wrong."""

    def poll(self) -> bool:
        """Take in its progress and result; True when anything is new."""
        ...

    def cancel(self) -> None:
        """Ask it to end; it keeps what it has."""
        ...

    def kill(self) -> None:
        """End it at once, as when the window closes."""
        ...


class WorkerProcess:
    """See `Job`; in a process of its own.

    Args:
        work: what is done.
    """

    def __init__(self, work: Work) -> None:
        self.progress, self.done, self.result, self.refusal = "", False, None, ""
        context = get_context("spawn")
        self._ours, theirs = context.Pipe()
        self._process = context.Process(target=_carry_out, args=(work, theirs, shown_language()), daemon=True)
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
            self.refusal = tr("It was ended from outside before it was done. Try again.")
        return news

    def wait(self, timeout_s: float) -> bool:
        """Wait until it is done, or for so long; the window never does, a test does. Returns whether it is done."""
        end_s = time.monotonic() + timeout_s
        while not self.done and (left_s := end_s - time.monotonic()) > 0:
            self._ours.poll(left_s)
            self.poll()
        return self.done

    def cancel(self) -> None:
        """See `Job`."""
        if not self.done:
            try:
                self._ours.send("cancel")
            except OSError:  # it has ended just now; `poll` tells how
                return

    def kill(self) -> None:
        """See `Job`."""
        if not self.done:
            self._process.terminate()
            self.done = True

    def _take(self, kind: str, what: Any) -> None:
        if kind == "progress":
            self.progress = what
            return
        self.done = True
        if kind == "done":
            self.result = what
        else:
            self.refusal = what


def begin_worker(language: str) -> None:
    """Have this process end when the one that has started it has gone, however it went; else it would wait for ever.

    Args:
        language: in which it words what is shown, as the window does; see `shown_language`.
    """
    set_language(language)
    window = parent_process()
    assert window is not None

    def end() -> None:
        wait([window.sentinel])
        os._exit(1)

    threading.Thread(target=end, daemon=True).start()


def _carry_out(work: Work, connection: Connection, language: str) -> None:
    """Do the work in the other process, and send progress and result.

    Where it is ended early, what it has begun to write is cleared away: it ends by an exception, not at once.
    """
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    begin_worker(language)
    is_cancelled = False

    def cancel_requested() -> bool:
        nonlocal is_cancelled
        is_cancelled = is_cancelled or connection.poll()
        return is_cancelled

    def send(kind: str, what: Any) -> None:
        try:
            connection.send((kind, what))
        except OSError:  # the window has gone
            sys.exit(1)

    try:
        send("done", work(lambda text: send("progress", text), cancel_requested))
    except StillvoltError as error:
        send("refused", str(error))
    except OSError as error:  # such as no room
        send("refused", tr("The system refuses ({reason}).").format(reason=error.strerror))
