"""Who asks a recorder to stop through the log of its visit."""

from __future__ import annotations

from enum import StrEnum


class StopSource(StrEnum):
    """Who asked; each value is a request as the log keeps it."""

    WINDOW = "stop"
    COMMAND = "stop by command"

    @property
    def end_reason(self) -> str:
        """Why the run ended, as the log keeps it."""
        return {
            StopSource.WINDOW: "stopped from the window",
            StopSource.COMMAND: "stopped from the command line",
        }[self]
