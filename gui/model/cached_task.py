"""A result that is computed beside the window, and computed again when what it depends on has changed."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from typing import Generic, TypeVar

from gui.model.worker_process import begin_worker
from logger.errors import StillvoltError
from logger.translation import marked, shown_language, tr

T = TypeVar("T")

ENDED_FROM_OUTSIDE = marked("What works out the night was ended from outside. Try again.")


class CachedTask(Generic[T]):
    """The newest result of one kind of work.

    Args:
        executor: where the work is done; called when there is something to do.
    """

    def __init__(self, executor: Callable[[], Executor]) -> None:
        self._executor = executor
        self._requested: tuple[object, Future[T]] | None = None
        self._is_reported = True
        """Whether `has_news` has reported the result that was requested last."""
        self.refusal = ""
        """Why the last work has no result; empty when it has one."""

    def request(self, key: object, work: Callable[[], T]) -> None:
        """Begin the work, unless it was begun for the same key already.

        Args:
            key: all that the result depends on; compared by equality.
            work: computes the result; to be pickled where the executor is a process.
        """
        if self._requested is None or self._requested[0] != key:
            self._requested = (key, self._executor().submit(work))
            self._is_reported = False

    def invalidate(self) -> None:
        """Let the next request begin anew, whatever its key."""
        self._requested = None

    @property
    def running(self) -> bool:
        """Whether the result is not there yet."""
        return self._requested is not None and not self._requested[1].done()

    def has_news(self) -> bool:
        """Whether the work has ended since this was last called."""
        if self._is_reported or self.running:
            return False
        self._is_reported = True
        return True

    def result(self) -> T | None:
        """The result; None while there is none, or when it was refused (`refusal` says why)."""
        if self._requested is None or self.running:
            return None
        try:
            found = self._requested[1].result()
        except StillvoltError as error:
            self.refusal = str(error)
            return None
        except BrokenProcessPool:  # it was killed, such as for want of memory
            self.refusal = tr(ENDED_FROM_OUTSIDE)
            return None
        self.refusal = ""
        return found

    def wait(self) -> None:
        """Wait for the result; the window never does, a test and a picture do."""
        if self._requested is not None:
            wait([self._requested[1]])


def single_process() -> Executor:
    """One process of its own: a thread would take turns with the window at Python, and the window would stutter."""
    return ProcessPoolExecutor(1, get_context("spawn"), begin_worker, (shown_language(),))
