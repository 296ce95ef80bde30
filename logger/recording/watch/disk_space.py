"""For how long the disk has room for a recording, and when a notice of it is due.

In: free bytes, and what the recording has written. Out: drafts of notices for the log, before the space ends.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

from logger.clock import format_duration
from logger.meter.notice_draft import NoticeDraft
from logger.translation import in_language, kept_text

ROW_BYTES = 48
"""What a line costs in the file besides its own bytes: two times, status, value, row header, its share of pages
(measured with `scripts/bench/recorder.py night`: 16.5 MB for 360,000 lines of 10 bytes is 46 each)."""

USUAL_BYTES_PER_S = 10 * (ROW_BYTES + 12)
"""Before anything is known of the meter: ten lines a second of twelve bytes."""

RESERVE_BYTES = 6_000_000
"""Journal (4 MB between two checkpoints) and its index; a recording stops before the disk's last byte."""

MIN_WATCHED_S = 60.0
"""The recording's own rate counts once it has been watched for so long."""

POLL_EVERY_S = 10.0

WARN_BELOW_S = (12 * 3600.0, 4 * 3600.0, 3600.0, 900.0)
"""A night and its evening; then what still leaves time to do something."""


def free_bytes(folder: Path) -> int:
    """What the disk of that folder still takes from this user."""
    return shutil.disk_usage(folder).free


def lasts_s(free: int, bytes_per_s: float = USUAL_BYTES_PER_S) -> float:
    """For how many seconds of recording so many free bytes last."""
    return max(0, free - RESERVE_BYTES) / bytes_per_s


@in_language("en")
def warning(left_s: float) -> str:
    """The warning for room that lasts `left_s` seconds, as the log keeps it; empty when it is enough for a night."""
    if left_s >= WARN_BELOW_S[0]:
        return ""
    if left_s <= 0:
        return kept_text("The disk is full: make room, or nothing can be recorded.")
    return kept_text(
        "The disk has room for {duration} at this rate. Make room before then, and recording goes on."
    ).format(duration=format_duration(left_s))


def warning_before_start(visit: Path) -> str:
    """The warning before a recording into a file begins, in English; empty when there is room for a night."""
    return warning(lasts_s(free_bytes(visit.resolve().parent)))


class DiskSpaceWatch:
    """Follows the room on the disk through a recording.

    Args:
        free: gives the bytes that the disk still takes.
    """

    def __init__(self, free: Callable[[], int]) -> None:
        self._free = free
        self._polled_s: float | None = None
        self._warned_below_s = float("inf")

    def poll(self, time_s: float, written_bytes: int) -> list[NoticeDraft]:
        """Notices that are due, mostly none; may be called at any rate.

        Args:
            time_s: seconds since the recording began.
            written_bytes: what it has written so far.
        """
        if self._polled_s is not None and time_s - self._polled_s < POLL_EVERY_S:
            return []
        self._polled_s = time_s
        try:
            free = self._free()
        except OSError:  # a disk that went away shows at the next write
            return []
        known = time_s >= MIN_WATCHED_S and written_bytes > 0
        left_s = lasts_s(free, written_bytes / time_s if known else USUAL_BYTES_PER_S)
        passed = [limit_s for limit_s in WARN_BELOW_S if left_s < limit_s]
        if not passed:
            if left_s > 2 * WARN_BELOW_S[0]:
                self._warned_below_s = float("inf")
            return []
        if passed[-1] >= self._warned_below_s:
            return []
        self._warned_below_s = passed[-1]
        return [NoticeDraft("disk short", warning(left_s))]
