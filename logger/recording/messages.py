"""Messages of a recorder to its terminal, whose failure never ends a recording: the visit log has them already."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path

from logger.diagnostics import log_exception


def print_message(message: str) -> None:
    """Print a message at once, with letters that the terminal does not have written as escapes.

    Raises:
        OSError: nobody reads it any more, or the disk of the file that it goes to is full.
        ValueError: the output was closed.
    """
    try:
        print(message, flush=True)
    except UnicodeEncodeError:
        print(message.encode("ascii", errors="backslashreplace").decode("ascii"), flush=True)


def never_failing(notify: Callable[[str], None]) -> Callable[[str], None]:
    """The same channel of messages, without its errors: they go to the diagnostic log."""

    def send(message: str) -> None:
        try:
            notify(message)
        except Exception:
            log_exception(f"sending the message {message!r}")
            _give_up_a_broken_output()

    return send


def _give_up_a_broken_output() -> None:
    """What an output still holds would fail once more when the program ends, and would change its exit status."""
    try:
        sys.stdout.flush()
    except (OSError, ValueError):
        sys.stdout = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 - for as long as the program runs
