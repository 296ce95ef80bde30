"""Who asks a recorder to stop through the log of its visit."""

from __future__ import annotations

import signal
from enum import StrEnum

from logger.translation import kept_text

TIME_WAS_UP = kept_text("the time was up")
"""Why a run ended that was to last for a stated time."""


class StopSource(StrEnum):
    """Who asked; each value is a request as the log keeps it."""

    WINDOW = "stop"
    COMMAND = "stop by command"

    @property
    def end_reason(self) -> str:
        """Why the run ended, as the log keeps it."""
        return {
            StopSource.WINDOW: kept_text("stopped from the window"),
            StopSource.COMMAND: kept_text("stopped from the command line"),
        }[self]


def by_signal(number: signal.Signals) -> str:
    """Why a run ended that a signal of the system stopped, as the log keeps it."""
    if number == signal.SIGINT:
        return kept_text("stopped with Ctrl+C")
    return kept_text("stopped by a signal of the system ({signal})").format(signal=number.name)


def is_on_purpose(end_reason: str) -> bool:
    """Whether a run ended because its user wanted it: not cut off, by an error, or as the computer shut down."""
    return end_reason in _ON_PURPOSE


_ON_PURPOSE = frozenset(
    {"stopped", TIME_WAS_UP, by_signal(signal.SIGINT), *(source.end_reason for source in StopSource)}
)
