"""The diagnostic log: tracebacks of mistakes inside the program, for whoever mends it.

In: an exception that is being handled, and what was being done. Out: an entry in `log_path()`, a file that only its
user can read, rotated so that it never grows beyond some megabytes. Nothing is imported, made or opened before the
first entry, and a folder that cannot be written never disturbs the program: the entry is lost then.
"""

from __future__ import annotations

import os
import sys
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from io import TextIOWrapper
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from logger.plain_text import visible

if TYPE_CHECKING:
    import logging

MAX_BYTES = 1_000_000
"""Size of one file of the log."""

MAX_FILES = 3
"""Files in all: the one that is written and those before it."""

MAX_REPEATS = 3
"""Entries of one process about one place: a mistake that happens for every line of a night must not push out the
others."""

_repeats: Counter[tuple[str, str, int]] = Counter()


def log_path() -> Path:
    """Where the diagnostic log is; the file need not exist."""
    import platformdirs  # noqa: PLC0415  start-up time: nothing is logged in nearly every run

    return Path(platformdirs.user_state_dir("stillvolt", appauthor=False)) / "diagnostics.log"


def log_exception(doing: str) -> None:
    """Write the exception that is being handled, with its traceback, to the diagnostic log.

    Call it inside an `except` block. It never raises.

    Args:
        doing: what the program was doing, to complete "an exception while ...".
    """
    error = sys.exc_info()[1]
    if error is not None:
        _write(doing, error)


def log_event(sentence: str) -> None:
    """Write to the diagnostic log what happened to the program outside it; never raises."""
    try:
        _logger(log_path()).error(sentence)
    except Exception:  # as in `_write`
        return


@contextmanager
def logged(doing: str) -> Iterator[None]:
    """Suppress every exception inside, and log it; `doing` as in `log_exception`."""
    try:
        yield
    except Exception:
        log_exception(doing)


def log_uncaught_exceptions() -> None:
    """Log what ends the program, a thread, or a handler of the window as well; it is printed as before."""
    print_exception, print_thread_exception = sys.excepthook, threading.excepthook

    def on_exception(
        kind: type[BaseException], error: BaseException, traceback: TracebackType | None
    ) -> None:
        if not issubclass(kind, KeyboardInterrupt):
            _write("running", error)
        print_exception(kind, error, traceback)

    def on_thread_exception(arguments: threading.ExceptHookArgs) -> None:
        if arguments.exc_value is not None:
            _write("running a thread", arguments.exc_value)
        print_thread_exception(arguments)

    sys.excepthook, threading.excepthook = on_exception, on_thread_exception


def _write(doing: str, error: BaseException) -> None:
    place = error.__traceback__
    while place is not None and place.tb_next is not None:
        place = place.tb_next
    where = (place.tb_frame.f_code.co_filename, place.tb_lineno) if place is not None else ("", 0)
    key = (type(error).__qualname__, *where)
    _repeats[key] += 1
    if _repeats[key] > MAX_REPEATS:
        return
    try:
        logger = _logger(log_path())
        logger.error("An exception while %s", doing, exc_info=(type(error), error, error.__traceback__))
    except (
        Exception
    ):  # a log that cannot be written must not be a second mistake, and there is nowhere to log it
        return


@cache
def _logger(path: Path) -> logging.Logger:
    import logging  # noqa: PLC0415  start-up time, as in `log_path`
    from logging.handlers import RotatingFileHandler  # noqa: PLC0415  start-up time, as in `log_path`

    class PrivateRotatingFile(RotatingFileHandler):
        """Readable for its user only, and closed after each entry: recorder and window write the same file."""

        def _open(self) -> TextIOWrapper:
            file = Path(self.baseFilename)
            file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
            return os.fdopen(descriptor, "a", encoding="utf-8")

        def emit(self, record: logging.LogRecord) -> None:
            super().emit(record)
            if self.stream is not None:
                self.stream.close()
                self.stream = None

        def handleError(self, record: logging.LogRecord) -> None:
            """Lose the entry: the folder cannot be written."""

    handler = PrivateRotatingFile(
        path, maxBytes=MAX_BYTES, backupCount=MAX_FILES - 1, encoding="utf-8", delay=True
    )

    class VisibleText(logging.Formatter):
        """An error may quote a name or a line that would steer the terminal that shows the log."""

        def format(self, record: logging.LogRecord) -> str:
            return visible(super().format(record))

    handler.setFormatter(VisibleText("%(asctime)s process %(process)d: %(message)s"))
    logger = logging.getLogger(f"stillvolt.diagnostics.{path}")
    logger.propagate = False
    logger.addHandler(handler)
    return logger
